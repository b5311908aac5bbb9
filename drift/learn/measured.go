package learn

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"windfall/drift"
)

// Measured is one measurement made on the ground that speaks of a factor: a
// device timed in a drop. It is a draw like a flight's own value, seen with an
// error: from run to run a device is not the same.
type Measured struct {
	Entry    int64   `json:"entry"` // of the logbook, with its revision: what a learning has seen
	Revision int     `json:"revision"`
	Factor   string  `json:"factor"`          // deviceFactor's
	Group    string  `json:"group,omitempty"` // the member of its pool: the device
	Value    float64 `json:"value"`           // of the logarithm where the factor multiplies, else in its unit
	SD       float64 `json:"sd"`              // of the measurement's error alone, likewise
}

// MeasuredDrag is a drop in which a device had exp(log) times the drag area that
// the flight gives it; sd is the error of log.
func MeasuredDrag(d *drift.Device, log, sd float64) Measured {
	return Measured{Factor: deviceFactor(d), Group: deviceName(d), Value: log, SD: sd}
}

// Likelihood returns the log density of what was measured, where flights have
// the factor with this mean and run-to-run spread, and its slopes by the mean
// and by the logarithm of the spread; all in default spreads, as the sampler
// has them.
func (m *Measured) Likelihood(mean, spread float64) (log, byMean, byLogSpread float64) {
	unit := specOf(m.Factor).SD
	v := spread*spread + m.SD*m.SD/(unit*unit)
	e := m.Value/unit - mean
	return -0.5*e*e/v - 0.5*math.Log(2*math.Pi*v), e / v, (e*e/v - 1) * spread * spread / v
}

// UseMeasured puts what was measured of a flight's devices into its Learned,
// on top of what Apply has put there: r's own measurements are in that already,
// and those of them that have been taken back since are taken out of it.
// It returns a sentence for each device that it moves or tells of; Apply's of
// that device holds no longer: see Unsaid. The zero Result has learned nothing.
func (r *Result) UseMeasured(f *drift.Flight, all []Measured) (used []string) {
	fresh, gone := without(all, r.Measured), without(r.Measured, all)
	for i := range f.Recovery {
		d := &f.Recovery[i]
		b := r.beliefOf(f, i)
		own, others := 0, 0
		for _, m := range of(all, deviceFactor(d)) {
			if m.Group == deviceName(d) {
				own++
			} else {
				others++
			}
		}
		seen, back := of(fresh, deviceFactor(d)), of(gone, deviceFactor(d))
		if !b.taught { // maps do not use what was learned of it
			seen, back = of(all, deviceFactor(d)), nil
		}
		if len(back) > 0 {
			b.forget(back, r.priorOf(f, i))
		}
		if len(seen) > 0 {
			b.update(seen, deviceName(d))
		}
		if len(seen)+len(back) > 0 {
			for len(f.Learned.Devices) <= i {
				f.Learned.Devices = append(f.Learned.Devices, drift.Adjust{})
			}
			f.Learned.Devices[i] = drift.Adjust{Bias: b.mean, Scale: math.Hypot(b.sd, b.run) / f.DragSpread(i)}
		}
		if own+others+len(back) > 0 {
			used = append(used, b.says(d.Kind, own, others, r.Flights > 0))
		}
	}
	return used
}

// Unsaid returns Apply's sentences without those of the factors that UseMeasured
// tells of.
func Unsaid(applied, measured []string) (still []string) {
	for _, a := range applied {
		tells := func(m string) bool {
			kind, _, _ := strings.Cut(m, dragSuffix+":")
			return strings.HasPrefix(a, learnedOf(kind+dragSuffix)) || strings.HasPrefix(a, learnedOf(kind+rateSuffix))
		}
		if !slices.ContainsFunc(measured, tells) {
			still = append(still, a)
		}
	}
	return still
}

// Saw tells whether r was learned with just these measurements.
func (r *Result) Saw(all []Measured) bool {
	return len(without(all, r.Measured))+len(without(r.Measured, all)) == 0
}

// without returns the measurements of all that are not among the others, as they
// stand there.
func without(all, others []Measured) (out []Measured) {
	for _, m := range all {
		same := func(o Measured) bool { return m.Entry == o.Entry && m.Revision == o.Revision }
		if !slices.ContainsFunc(others, same) {
			out = append(out, m)
		}
	}
	return out
}

// of returns the measurements of a factor.
func of(all []Measured, factor string) (out []Measured) {
	for _, m := range all {
		if m.Factor == factor {
			out = append(out, m)
		}
	}
	return out
}

// dragBelief is what is believed of a device's drag, of its logarithm: its mean
// and how well that is known, and the spread from run to run.
type dragBelief struct {
	mean, sd, run float64
	taught        bool // by a learning
}

// priorOf is what maps are drawn with before any find. A spread that the flight
// file gives is taken for the whole of it.
func (r *Result) priorOf(f *drift.Flight, i int) dragBelief {
	bias, run := f.Recovery[i].DragBias()
	b := dragBelief{sd: bias * math.Sqrt(biasDegrees/(biasDegrees-2)), run: run}
	if f.Spread.DeviceCdS != nil {
		share := *f.Spread.DeviceCdS / math.Hypot(b.sd, b.run)
		b.sd, b.run = b.sd*share, b.run*share
	}
	return b
}

// beliefOf is what is believed of device i: what was learned of it or, with
// nothing learned, what maps are drawn with before any find.
func (r *Result) beliefOf(f *drift.Flight, i int) dragBelief {
	b := r.priorOf(f, i)
	_, run := f.Recovery[i].DragBias()
	ratio := 1.0
	if f.Spread.DeviceCdS != nil {
		ratio = *f.Spread.DeviceCdS / run
	}
	for _, k := range r.Factors {
		if k.Name == deviceFactor(&f.Recovery[i]) && i < len(f.Learned.Devices) && f.Learned.Devices[i].Scale != 0 {
			a := f.Learned.Devices[i]
			total := a.Scale * f.DragSpread(i)
			b.run = ratio * math.Sqrt(max(k.SD*k.SD-k.MeanSE*k.MeanSE, 0))
			b.mean, b.sd, b.taught = a.Bias, math.Sqrt(max(total*total-b.run*b.run, 0)), true
		}
	}
	return b
}

// pooled is what the measurements of one device say of it together: their mean
// weighted by precision, and its variance.
type pooled struct {
	group     string
	value     float64
	variance  float64
	precision float64
}

// pool pools measurements by device, in the order of each device's first; run is
// the spread from run to run, which each has beside its error.
func pool(seen []Measured, run float64) (out []pooled) {
	for _, m := range seen {
		i := slices.IndexFunc(out, func(p pooled) bool { return p.group == m.Group })
		if i < 0 {
			i = len(out)
			out = append(out, pooled{group: m.Group})
		}
		w := 1 / (run*run + m.SD*m.SD)
		out[i].value += w * m.Value
		out[i].precision += w
	}
	for i := range out {
		out[i].value /= out[i].precision
		out[i].variance = 1 / out[i].precision
	}
	return out
}

// update conditions the mean on measurements, those of the device itself and
// those of others of its kind, which differ from it by the pool's scatter: all
// are normal, so the conditional mean and variance are exact.
func (b *dragBelief) update(seen []Measured, group string) {
	each := pool(seen, b.run)
	n := len(each)
	apart := min(poolMedian*specOf(seen[0].Factor).SD, b.sd)
	shared := b.sd*b.sd - apart*apart
	cov := mat.NewSymDense(n, nil)
	with, miss := mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)
	for i, m := range each {
		for j := range i {
			cov.SetSym(i, j, shared)
		}
		cov.SetSym(i, i, b.sd*b.sd+m.variance)
		if with.SetVec(i, shared); m.group == group {
			with.SetVec(i, b.sd*b.sd)
		}
		miss.SetVec(i, m.value-b.mean)
	}
	var c mat.Cholesky
	var gain mat.VecDense
	if !c.Factorize(cov) || c.SolveVecTo(&gain, with) != nil {
		return // no error at all in what was measured: nothing sane to take from it
	}
	b.mean += mat.Dot(&gain, miss)
	b.sd = math.Sqrt(max(b.sd*b.sd-mat.Dot(&gain, with), 0))
}

// forget takes measurements out of a learning that was made with them, as if each
// had told of this very device: nearly so until it is learned anew. No less is
// known than before any.
func (b *dragBelief) forget(gone []Measured, prior dragBelief) {
	was := 1 / max(b.sd*b.sd, 1e-12)
	precision, sum := was, was*b.mean
	for _, m := range gone {
		w := 1 / (b.run*b.run + m.SD*m.SD)
		precision, sum = precision-w, sum-w*m.Value
	}
	least := 1 / (prior.sd * prior.sd)
	if precision <= least {
		b.mean, b.sd = 0, prior.sd
		return
	}
	b.mean, b.sd = sum/precision, 1/math.Sqrt(precision)
}

// says tells in a sentence how a device's drag stands.
func (b *dragBelief) says(kind string, own, others int, flown bool) string {
	s := fmt.Sprintf("%s: %.2f of the file's (%.2f to %.2f in 9 flights of 10), from ", dragFactor(kind),
		math.Exp(b.mean), math.Exp(b.mean-1.645*math.Hypot(b.sd, b.run)), math.Exp(b.mean+1.645*math.Hypot(b.sd, b.run)))
	flown = flown && b.taught
	switch {
	case own+others == 0 && flown:
		return s + "what flights taught, without what was taken back"
	case own+others == 0:
		return s + "what is believed before any drop"
	case flown:
		return s + from(own, others) + " and what flights taught"
	}
	return s + from(own, others)
}

func from(own, others int) string {
	switch {
	case others == 0:
		return drops(own)
	case own == 0:
		return drops(others) + " of another of its kind"
	}
	return drops(own) + " and " + drops(others) + " of another of its kind"
}

var numbers = [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}

func drops(n int) string {
	switch {
	case n == 1:
		return "one drop"
	case n < len(numbers):
		return numbers[n] + " drops"
	}
	return fmt.Sprintf("%d drops", n)
}
