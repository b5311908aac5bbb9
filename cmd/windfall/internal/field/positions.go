package field

import (
	"errors"
	"fmt"
	"sync"
	"time"
)

// Positions are where people were last. They are in memory alone, and nowhere
// once they are wiped or the program ends. The zero value is ready to use.
type Positions struct {
	mu      sync.Mutex
	last    map[string]Place
	doubted map[string]Place // that jumped, until the next one agrees with it
	changed int
}

// Place is where somebody was last.
type Place struct {
	Point
	Accuracy float64 // m; 0: not said
	At       time.Time
}

// A fix that is farther away than jumpM, and faster than jumpMps, is a jump:
// choices of ours. A car on a field track is not.
const (
	jumpM   = 300.0 // m
	jumpMps = 40.0  // m/s
)

// Put takes where somebody is. One that jumps is refused, until the next one
// says the same.
func (p *Positions) Put(who string, s Said) Result {
	if s.Lat == nil || s.Lon == nil || !(*s.Lat >= -90 && *s.Lat <= 90 && *s.Lon >= -180 && *s.Lon <= 180) {
		return refused(s.Key, errors.New("a position without a place; write lat and lon"))
	}
	now := Place{Point: Point{*s.Lat, *s.Lon}, At: s.At}
	setTo(&now.Accuracy, s.Accuracy)
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.last == nil {
		p.last, p.doubted = map[string]Place{}, map[string]Place{}
	}
	was, ok := p.last[who]
	if ok && !now.At.After(was.At) {
		return Result{Key: s.Key, State: Known}
	}
	if ok && now.jumps(was) {
		if doubt, ok := p.doubted[who]; !ok || now.jumps(doubt) {
			p.doubted[who] = now
			return refused(s.Key, fmt.Errorf("%.1f km in %.0f s: a position that jumps is left out until the next one says "+
				"the same", away(was.Point, now.Point)/1000, now.At.Sub(was.At).Seconds()))
		}
	}
	delete(p.doubted, who)
	p.last[who] = now
	p.changed++
	return Result{Key: s.Key, State: Logged}
}

func (p Place) jumps(was Place) bool {
	d := away(was.Point, p.Point) - p.Accuracy - was.Accuracy
	return d > jumpM && d > jumpMps*p.At.Sub(was.At).Seconds()
}

// All returns where everybody was last, and a number that grows with each
// change.
func (p *Positions) All() (map[string]Place, int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	out := make(map[string]Place, len(p.last))
	for who, at := range p.last {
		out[who] = at
	}
	return out, p.changed
}

// Wipe forgets everybody's, and returns how many that were.
func (p *Positions) Wipe() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	n := len(p.last)
	p.last, p.doubted = nil, nil
	p.changed++
	return n
}

// Forget forgets somebody's.
func (p *Positions) Forget(who string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.last, who)
	delete(p.doubted, who)
	p.changed++
}
