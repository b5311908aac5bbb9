package measured

import (
	"fmt"
	"math"
	"strings"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift/learn"
)

// Logged is an entry of the logbook.
type Logged struct {
	ID       int64
	Revision int
	Flight   string // id
	Entry
}

// All is what a logbook has measured, in the order it was logged.
type All []Logged

// Of what a flight's inputs vary by, these shares are known on the ground:
// choices of ours. A rail is set and then moves under a launch, a motor is one of
// a batch: half the variance each.
const (
	setUp = 0.5
	batch = 0.5
)

// Use puts what was measured into a flight that has been read; r is what finds
// have put into it before, the zero Result for nothing. It is said in the file.
func (all All) Use(f *flightfile.File, r *learn.Result) {
	all.UseInputs(f)
	drops := all.drops(&f.Flight)
	f.Measured = append(f.Measured, drops.disagree(&f.Flight)...)
	said := r.UseMeasured(&f.Flight, drops.Measured)
	f.Measured, f.Learned.Used = append(f.Measured, said...), learn.Unsaid(f.Learned.Used, said)
}

// UseInputs is Use without the drops: what a flight that is learned from was
// known to be.
func (all All) UseInputs(f *flightfile.File) {
	all.useMasses(f)
	all.useDelays(f)
	all.useLeans(f)
}

// near tells whether the flight file still says what it did, but for rounding.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-6*max(math.Abs(a), math.Abs(b)) }

// pooled is a mean weighted by the inverse squares of the errors.
type pooled struct{ sum, weight float64 }

func (p *pooled) add(v, sd float64) {
	p.sum, p.weight = p.sum+v/(sd*sd), p.weight+1/(sd*sd)
}

func (p *pooled) mean() float64 { return p.sum / p.weight }
func (p *pooled) sd() float64   { return 1 / math.Sqrt(p.weight) }

// useMasses takes what the scales say of this flight in the file's place.
func (all All) useMasses(f *flightfile.File) {
	of := map[string]*pooled{}
	var order []string
	for _, x := range all {
		if x.What != Mass || x.Flight != f.Flight.ID {
			continue
		}
		at := fileMass(&f.Flight, x.Of)
		if at == nil || !near(*at, x.FileMass) {
			f.Measured = append(f.Measured, fmt.Sprintf("entry %d is left out: the flight file has another mass of the %s "+
				"now than when it was weighed", x.ID, x.Of))
			continue
		}
		if of[x.Of] == nil {
			of[x.Of] = &pooled{}
			order = append(order, x.Of)
		}
		of[x.Of].add(x.MassKg, x.MassSD)
	}
	for _, name := range order {
		p, at := of[name], fileMass(&f.Flight, name)
		f.Measured = append(f.Measured, fmt.Sprintf("mass of the %s: %s as weighed, the file has %s", name, kg(p.mean()),
			kg(*at)))
		*at = p.mean()
		if name == vehicleMass {
			share := p.sd() / p.mean()
			f.Flight.Spread.Mass = &share
		}
	}
}

// useDelays narrows the delay of a motor by others of its kind, timed on the
// ground: a motor's is the label's, times what its batch is off by, times its
// own scatter.
func (all All) useDelays(f *flightfile.File) {
	label := fileDelay(&f.Flight)
	if label == nil || *label == 0 {
		return
	}
	spread := defaultDelay
	if f.Flight.Spread.Delay != nil {
		spread = *f.Flight.Spread.Delay
	}
	of := pooled{}
	n := 0
	own := spread * math.Sqrt(1-batch)
	var timed []string
	for _, x := range all {
		sameMotor := x.Flight == f.Flight.ID
		if m := f.Flight.Motor.Designation; m != "" && x.Motor != "" {
			sameMotor = strings.EqualFold(m, x.Motor)
		}
		if x.What == Delay && sameMotor && near(x.FileDelay, *label) {
			of.add(x.DelayS/(*label)-1, math.Hypot(own, x.DelaySD/(*label)))
			timed = append(timed, fmt.Sprintf("%.2f s", x.DelayS))
			n++
		}
	}
	if n == 0 || spread == 0 {
		return
	}
	of.add(0, spread*math.Sqrt(batch))
	now := *label * (1 + of.mean())
	share := math.Hypot(of.sd(), own) / (1 + of.mean())
	f.Measured = append(f.Measured, fmt.Sprintf("motor delay: %.2f s, the file has %.2f s, from %s timed at %s", now,
		*label, count(n, "motor"), strings.Join(timed, ", ")))
	f.Flight.Motor.Delay, f.Flight.Spread.Delay = &now, &share
}

// The spreads of the flight model's table that a flight file may leave out.
const (
	defaultDelay = 0.10
	defaultLean  = 1.0 // degrees
)

func count(n int, what string) string {
	if n == 1 {
		return "one " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
