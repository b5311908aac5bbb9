package track

import (
	"fmt"
	"math"

	"windfall/geo"
	"windfall/geo/plane"
)

// Limits of Clean: choices of ours.
const (
	AwayM      = 50e3 // m from the pad: farther fixes are of another place
	gapS       = 90.0 // s without a fix, if the searcher is then elsewhere
	gapM       = 60.0 // m between such fixes
	farM       = 250.0
	spikeM     = 30.0 // m that a fix jumps away and back
	windowS    = 60.0 // s over which speed is taken
	looseM     = 4.0  // m, the wander of a phone's fixes that is smoothed away
	shortM     = 10.0 // m, the shortest stretch that counts
	walkerMps  = 2.8  // m/s: above it nobody searches on foot
	jumpFactor = 3.0  // times the limit: no fix is that fast
)

// Limit returns the speed (m/s) above which a stretch does not count as
// searched: 2.8 for a walker, half as much again as its search speed for a
// drone.
func Limit(drone bool, speed float64) float64 {
	if drone {
		return math.Max(1.5*speed, walkerMps)
	}
	return walkerMps
}

// Walked is what a track comes to: lines of straight ways that were gone over
// at searching speed, in metres of a frame.
type Walked struct {
	Lines   [][]geo.XY
	Metres  float64 // m, length of Lines
	Seconds float64 // s spent on them; 0 when the track has no times
	Notes   []string
}

type fix struct {
	p geo.XY
	t float64 // s, NaN: not known
}

// Clean keeps what was searched of a track: it drops fixes of another place and
// fixes that jump away and back, cuts at gaps, takes out stretches faster than
// limit (m/s), and smooths away the wander of the fixes. It is an error when
// nothing remains; Notes say what was taken out.
func Clean(t *Track, f geo.Frame, limit float64) (*Walked, error) {
	w := &Walked{}
	var away, spikes, gaps int
	var fast, nearest float64 = 0, math.Inf(1)
	var zero *float64
	for _, seg := range t.Segments {
		var run []fix
		for _, x := range seg {
			q := fix{f.ToXY(x.At), math.NaN()}
			nearest = math.Min(nearest, q.p.Norm())
			if q.p.Norm() > AwayM {
				away++
				continue
			}
			if !x.Time.IsZero() {
				s := float64(x.Time.UnixMilli()) / 1000
				if zero == nil {
					zero = &s
				}
				q.t = s - *zero
			}
			run = append(run, q)
		}
		run, n := despike(run, limit)
		spikes += n
		for _, r := range cut(run, &gaps) {
			for _, s := range slow(r, limit, &fast) {
				w.add(s)
			}
		}
	}
	note := func(n int, one, many string) {
		if n == 1 {
			w.Notes = append(w.Notes, "1 "+one)
		} else if n > 1 {
			w.Notes = append(w.Notes, fmt.Sprintf("%d %s", n, many))
		}
	}
	if math.IsInf(nearest, 1) || len(w.Lines) == 0 && away > 0 && fast == 0 {
		return nil, fmt.Errorf("the track comes no nearer than %.0f km to the pad; it is of another place", nearest/1000)
	}
	note(away, "fix far from the site left out", "fixes far from the site left out")
	note(spikes, "fix that jumps away and back left out", "fixes that jump away and back left out")
	note(gaps, "gap without fixes, not counted as searched", "gaps without fixes, not counted as searched")
	if fast > 0 {
		w.Notes = append(w.Notes, fmt.Sprintf("%.0f m faster than %.1f m/s left out: that is no search", fast, limit))
	}
	if len(w.Lines) == 0 && gaps > 0 {
		return nil, fmt.Errorf("nothing of the track counts as searched: it has %d gaps of more than %.0f s or %.0f m "+
			"between fixes; set the recorder to a fix every few seconds", gaps, gapS, farM)
	}
	if len(w.Lines) == 0 {
		return nil, fmt.Errorf("nothing of the track is a search: no stretch of at least %.0f m at up to %.1f m/s; "+
			"check that it is the right track", shortM, limit)
	}
	return w, nil
}

// despike drops fixes that lie far from both neighbours while these are close
// to each other, by distance or by speed.
func despike(in []fix, limit float64) (out []fix, dropped int) {
	for i, q := range in {
		if len(out) > 0 && i+1 < len(in) {
			a, c := out[len(out)-1], in[i+1]
			ab, bc, ac := q.p.Sub(a.p).Norm(), c.p.Sub(q.p).Norm(), c.p.Sub(a.p).Norm()
			jumps := ab > spikeM && bc > spikeM && ac < (ab+bc)/3
			if jumps && (math.IsNaN(q.t+a.t) || ab > jumpFactor*limit*math.Max(1, q.t-a.t)) {
				dropped++
				continue
			}
		}
		out = append(out, q)
	}
	return out, dropped
}

// cut splits a run where fixes are missing.
func cut(in []fix, gaps *int) [][]fix {
	var out [][]fix
	from := 0
	for i := 1; i < len(in); i++ {
		d, dt := in[i].p.Sub(in[i-1].p).Norm(), in[i].t-in[i-1].t
		if d > farM || d > gapM && dt > gapS || dt < 0 {
			*gaps++
			out = append(out, in[from:i])
			from = i
		}
	}
	if from < len(in) {
		out = append(out, in[from:])
	}
	return out
}

// slow returns the parts of a run that are slower than limit over a window of
// time; runs without times pass whole.
func slow(in []fix, limit float64, fast *float64) [][]fix {
	if len(in) < 2 {
		return nil
	}
	for _, q := range in {
		if math.IsNaN(q.t) {
			return [][]fix{in}
		}
	}
	way := make([]float64, len(in))
	for i := 1; i < len(in); i++ {
		way[i] = way[i-1] + in[i].p.Sub(in[i-1].p).Norm()
	}
	var out [][]fix
	var part []fix
	lo, hi := 0, 0
	for i := 1; i < len(in); i++ {
		mid := (in[i].t + in[i-1].t) / 2
		for in[lo].t < mid-windowS/2 && lo < i-1 {
			lo++
		}
		for hi < len(in)-1 && (hi < i || in[hi].t < mid+windowS/2) {
			hi++
		}
		v := (way[hi] - way[lo]) / math.Max(1, in[hi].t-in[lo].t)
		if v > limit {
			*fast += way[i] - way[i-1]
			if len(part) > 1 {
				out = append(out, part)
			}
			part = nil
			continue
		}
		if len(part) == 0 {
			part = append(part, in[i-1])
		}
		part = append(part, in[i])
	}
	if len(part) > 1 {
		out = append(out, part)
	}
	return out
}

// add smooths a stretch and keeps it if it leads anywhere.
func (w *Walked) add(in []fix) {
	var line plane.Line
	for _, q := range in {
		// A searcher who stands still draws a knot of fixes: one will do.
		if n := len(line); n > 0 && line[n-1].Sub(q.p).Norm() < looseM {
			continue
		}
		line = append(line, q.p)
	}
	if len(line) < 2 {
		return
	}
	line = line.Simplify(looseM)
	length := line.Length()
	if length < shortM {
		return
	}
	w.Lines = append(w.Lines, line)
	w.Metres += length
	if s := in[len(in)-1].t - in[0].t; s > 0 {
		w.Seconds += s
	}
}
