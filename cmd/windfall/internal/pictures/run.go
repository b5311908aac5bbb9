package pictures

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
)

// Run looks at the files and returns one Picture for each, in their order. What
// is done is kept in the file at kept as it comes, and taken from there when
// the same files are looked at again with the same settings: a run that was
// stopped goes on. done is told of every picture; nil: nobody is.
func (s *Settings) Run(ctx context.Context, files []string, kept string, done func(done, total int)) (out []Picture,
	err error) {
	old := readKept(kept, s.Key)
	w := &keeper{path: kept, key: s.Key, more: old != nil}
	defer func() { err = errors.Join(err, w.Close()) }()
	out = make([]Picture, len(files))
	r := &run{s: s, old: old, w: w, ready: func(int) {}}
	if done != nil {
		n := 0
		r.ready = func(int) { n++; done(n, len(files)) }
	}
	next := make(chan int)
	var wait sync.WaitGroup
	for range max(1, s.workers()) {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := range next {
				out[i] = r.one(files[i], i)
			}
		}()
	}
	for i := range files {
		if ctx.Err() != nil {
			break
		}
		next <- i
	}
	close(next)
	wait.Wait()
	return out, errors.Join(ctx.Err(), r.failed)
}

func (s *Settings) workers() int {
	if s.Workers > 0 {
		return s.Workers
	}
	return 2
}

// run is what the workers of one Run share.
type run struct {
	s      *Settings
	old    map[string]Picture
	mu     sync.Mutex
	w      io.Writer
	ready  func(int)
	failed error
	memory sync.RWMutex
}

// one looks at a file, or takes what is kept of it.
func (r *run) one(path string, n int) Picture {
	p, ok := r.was(path, n)
	if !ok {
		r.memory.RLock()
		// A large picture waits until it is alone.
		p = r.s.lookAt(path, n, func() func() {
			r.memory.RUnlock()
			r.memory.Lock()
			return func() { r.memory.Unlock(); r.memory.RLock() }
		})
		r.memory.RUnlock()
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if !ok && p.Error == "" {
		text, err := json.Marshal(line{Number: n, Picture: p})
		if err == nil {
			_, err = r.w.Write(append(text, '\n'))
		}
		r.failed = errors.Join(r.failed, err)
	}
	r.ready(n)
	return p
}

// was returns what is kept of a file whose bytes are still the same.
func (r *run) was(path string, n int) (Picture, bool) {
	if len(r.old) == 0 {
		return Picture{}, false
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return Picture{}, false
	}
	p, ok := r.old[keptName(hashOf(data), n, r.s)]
	p.File = path
	return p, ok
}

// keptName is how a result is found again; a frame of a film is also known by
// its number, which tells its time.
func keptName(hash string, n int, s *Settings) string {
	if s.Every > 0 {
		return fmt.Sprintf("%s %d", hash, n)
	}
	return hash
}

// line is one line of the file of what is done; the first has the key alone.
type line struct {
	Key     string  `json:"key,omitempty"`
	Number  int     `json:"number"`
	Picture Picture `json:"picture"`
}

// mostLine bounds a line: a few crops.
const mostLine = 8 << 20

// readKept reads the results of the same settings. A file that is not there,
// that is of other settings, or whose last line was cut by a stop is no error:
// what cannot be used is looked at again.
func readKept(path, key string) map[string]Picture {
	f, err := os.Open(path)
	if err != nil {
		return nil
	}
	defer f.Close()
	sc := bufio.NewScanner(f)
	sc.Buffer(nil, mostLine)
	out := map[string]Picture{}
	for first := true; sc.Scan(); first = false {
		var l line
		if json.Unmarshal(sc.Bytes(), &l) != nil {
			continue
		}
		if first {
			if l.Key != key {
				return nil
			}
			continue
		}
		out[l.Picture.SHA256] = l.Picture
		out[fmt.Sprintf("%s %d", l.Picture.SHA256, l.Number)] = l.Picture
	}
	return out
}

// keeper is the file of what is done, opened with the first result: a run that
// has none leaves what was there.
type keeper struct {
	path, key string
	more      bool // what is in the file can be used: go on with it
	f         *os.File
}

func (k *keeper) Write(text []byte) (int, error) {
	if k.f == nil {
		if err := k.open(); err != nil {
			return 0, err
		}
	}
	return k.f.Write(text)
}

func (k *keeper) open() (err error) {
	if err := os.MkdirAll(filepath.Dir(k.path), 0o755); err != nil {
		return err
	}
	flag := os.O_WRONLY | os.O_CREATE | os.O_APPEND
	if !k.more {
		flag |= os.O_TRUNC
	}
	if k.f, err = os.OpenFile(k.path, flag, 0o644); err != nil {
		return err
	}
	if k.more {
		_, err = k.f.WriteString("\n") // after a line that a stop may have cut
		return err
	}
	text, err := json.Marshal(struct {
		Key string `json:"key"`
	}{k.key})
	if err != nil {
		return err
	}
	_, err = k.f.Write(append(text, '\n'))
	return err
}

// Close closes the file, if it was opened.
func (k *keeper) Close() error {
	if k.f == nil {
		return nil
	}
	return k.f.Close()
}
