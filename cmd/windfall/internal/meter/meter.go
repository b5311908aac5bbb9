// Package meter shows on a terminal that work goes on: nothing in the first two
// seconds, then a bar of the stage that is told of, else a line with the time.
// It draws on the writer it is given and knows no commands.
package meter

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

// Meter shows progress on a terminal: nothing in the first two seconds, then a
// bar of the stage that is told of, else that work goes on. It is told by
// several goroutines.
type Meter struct {
	w   io.Writer
	now func() time.Time

	mu      sync.Mutex
	begun   time.Time // zero: nobody has asked for progress
	over    bool
	stage   string // "": none is under way
	bar     *progressbar.ProgressBar
	drawn   string // the stage that the bar shows
	working bool   // the line shown is that of unknown work
}

// New is a meter that draws on w; now is the clock.
func New(w io.Writer, now func() time.Time) *Meter { return &Meter{w: w, now: now} }

// Begin starts the clock; work of unknown length shows from then on too.
func (m *Meter) Begin() {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.begun.IsZero() && !m.over {
		m.begun = m.now()
		go m.run()
	}
}

// run beats until the meter is stopped.
func (m *Meter) run() {
	t := time.NewTicker(beat)
	defer t.Stop()
	for range t.C {
		if !m.tick() {
			return
		}
	}
}

// tick shows that work goes on where no stage is under way; false: it is over.
func (m *Meter) tick() bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	if past := m.now().Sub(m.begun); !m.over && m.stage == "" && past >= patience {
		fmt.Fprintf(m.w, "\rworking, %.0f s ", past.Seconds())
		m.working = true
	}
	return !m.over
}

// Tell takes progress.
func (m *Meter) Tell(stage string, done, total int) {
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
func (m *Meter) clear() {
	if m.working {
		fmt.Fprintf(m.w, "\r%24s\r", "")
		m.working = false
	}
}

// Stop clears the terminal for what is printed next; nothing more is shown.
func (m *Meter) Stop() {
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

// Before is w, which stops the meter when it is first written to.
func (m *Meter) Before(w io.Writer) io.Writer { return stopping{w, m} }

type stopping struct {
	io.Writer
	m *Meter
}

func (s stopping) Write(b []byte) (int, error) {
	s.m.Stop()
	return s.Writer.Write(b)
}
