package main

import (
	"fmt"
	"io"
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"
)

const (
	patience = 2 * time.Second        // a command that answers sooner shows no progress: a choice of ours
	beat     = 500 * time.Millisecond // how often work of unknown length shows that it goes on
)

// meter shows progress on a terminal: nothing in the first two seconds, then a
// bar of the stage that is told of, else that work goes on. It is told by
// several goroutines.
type meter struct {
	w   io.Writer
	now func() time.Time

	mu      sync.Mutex
	begun   time.Time // zero: nobody has asked for progress
	over    bool
	stage   string // "": none is under way
	total   int
	bar     *progressbar.ProgressBar
	drawn   string // the stage that the bar shows
	working bool   // the line shown is that of unknown work
}

// begin starts the clock; work of unknown length shows from then on too.
func (m *meter) begin() {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.begun.IsZero() && !m.over {
		m.begun = m.now()
		go m.run()
	}
}

// run beats until the meter is stopped.
func (m *meter) run() {
	t := time.NewTicker(beat)
	defer t.Stop()
	for range t.C {
		if !m.tick() {
			return
		}
	}
}

// tick shows that work goes on where no stage is under way; false: it is over.
func (m *meter) tick() bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	if past := m.now().Sub(m.begun); !m.over && m.stage == "" && past >= patience {
		fmt.Fprintf(m.w, "\rworking, %.0f s ", past.Seconds())
		m.working = true
	}
	return !m.over
}

// tell takes progress.
func (m *meter) tell(stage string, done, total int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.over {
		return
	}
	if m.stage = stage; done >= total {
		m.stage = ""
	}
	if m.now().Sub(m.begun) < patience {
		return
	}
	m.clear()
	if m.bar == nil || m.drawn != stage {
		m.drawn = stage
		m.bar = progressbar.NewOptions(total, progressbar.OptionSetWriter(m.w),
			progressbar.OptionSetDescription(stage), progressbar.OptionClearOnFinish())
	}
	m.bar.ChangeMax(total)
	m.bar.Set(done)
}

// clear takes the line of unknown work off the terminal.
func (m *meter) clear() {
	if m.working {
		fmt.Fprintf(m.w, "\r%24s\r", "")
		m.working = false
	}
}

// stop clears the terminal for what is printed next; nothing more is shown.
func (m *meter) stop() {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.over {
		return
	}
	m.over = true
	m.clear()
	if m.bar != nil && m.stage != "" {
		m.bar.Clear()
	}
}

// before is w, which stops the meter when it is first written to.
func (m *meter) before(w io.Writer) io.Writer { return stopping{w, m} }

type stopping struct {
	io.Writer
	m *meter
}

func (s stopping) Write(b []byte) (int, error) {
	s.m.stop()
	return s.Writer.Write(b)
}
