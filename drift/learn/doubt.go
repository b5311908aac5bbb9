package learn

import (
	"fmt"

	"gonum.org/v1/gonum/floats"
)

// doubtful is an entry of a flight that the rest of what was logged speaks against.
type doubtful struct {
	Flight  string  `json:"flight"`
	Entry   int64   `json:"entry"` // of the logbook
	By      string  `json:"by,omitempty"`
	Says    string  `json:"says"`
	Mistake float64 `json:"mistake"` // chance that it is one
}

// doubts are the entries that are more likely a mistake than not, of all flights.
func (p *Posterior) doubts() (out []doubtful) {
	var st state
	p.problem.makeRoom(&st)
	for i := range p.cases {
		c := &p.cases[i]
		if len(c.Entries) == 0 {
			continue
		}
		mistake := make([]float64, len(c.Entries))
		for k := range watchDraws {
			st.take(&p.draws[k*len(p.draws)/watchDraws])
			p.problem.addMistakes(&st, i, mistake)
		}
		for j, m := range mistake {
			if m /= watchDraws; m > 0.5 {
				e := c.Entries[j]
				out = append(out, doubtful{c.Flight, e.ID, e.By, e.Says, m})
			}
		}
	}
	return out
}

// addMistakes adds to out the chance of every entry of site i to be a mistake.
func (p *problem) addMistakes(st *state, i int, out []float64) {
	w := p.runWeights(st, i)
	sum := floats.Sum(w)
	if !(sum > 0) {
		return
	}
	at := 0
	for k := range p.sites[i].flown {
		f := &p.sites[i].flown[k]
		for j := range f.len() {
			floats.AddScaled(out, w[at]/sum, f.mistake[j*f.entries:(j+1)*f.entries])
			at++
		}
	}
}

// enoughRuns is how many effective runs a flight needs for what it teaches to be
// more than rough: a choice of ours.
const enoughRuns = 6

// thin names the flights whose likelihood rests on few effective runs.
func (p *Posterior) thin() (out []thinFlight) {
	for i, n := range p.effective {
		if n < enoughRuns && len(p.problem.sites[i].ways) > 0 {
			out = append(out, thinFlight{p.cases[i].Flight, n})
		}
	}
	return out
}

// thinFlight is a flight whose likelihood rests on few effective runs.
type thinFlight struct {
	Flight    string  `json:"flight"`
	Effective float64 `json:"effective_runs"`
}

// doubtSays names the entries that do not fit, and the flights that teach roughly.
func (r *Result) doubtSays() (out []string) {
	for _, d := range r.Doubts {
		what := d.Says
		if d.Entry != 0 {
			what = fmt.Sprintf("entry %d, %s", d.Entry, d.Says)
		}
		out = append(out, fmt.Sprintf("what was seen of %s (%s) does not fit the rest: chance %.2f that it is a mistake; "+
			"it counts for little", d.Flight, what, d.Mistake))
	}
	for _, t := range r.Thin {
		out = append(out, fmt.Sprintf("what %s teaches is rough: it rests on %.0f effective runs", t.Flight, t.Effective))
	}
	return out
}
