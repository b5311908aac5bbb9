package measured

import (
	"fmt"
	"math"
	"strings"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift"
	"windfall/drift/learn"
	"windfall/geo"
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
	f.Measured = append(f.Measured, r.UseMeasured(&f.Flight, all.drops(&f.Flight))...)
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

// useLeans takes the rail's lean as measured in the file's place; what a launch
// moves it by stays. Leans are pooled as the tips of arrows on the ground.
func (all All) useLeans(f *flightfile.File) {
	rail := &f.Flight.Rail
	was := *rail
	var east, north pooled
	n := 0
	for _, x := range all {
		if x.What != Lean || x.Flight != f.Flight.ID {
			continue
		}
		if !near(was.LeanDeg, x.FileLean) || !near(geo.NormDeg(was.TowardDeg), geo.NormDeg(x.FileToward)) {
			f.Measured = append(f.Measured, fmt.Sprintf("entry %d is left out: the flight file has another lean now than "+
				"when it was measured", x.ID))
			continue
		}
		s, c := math.Sincos(x.TowardDeg * math.Pi / 180)
		sd := math.Hypot(x.LeanSD, x.LeanDeg*x.TowardSD*math.Pi/180) / math.Sqrt2
		sd = max(sd, x.LeanSD)
		east.add(x.LeanDeg*s, sd)
		north.add(x.LeanDeg*c, sd)
		n++
	}
	if n == 0 {
		return
	}
	tip := geo.XY{X: east.mean(), Y: north.mean()}
	if rail.LeanDeg = tip.Norm(); rail.LeanDeg > 0 {
		rail.TowardDeg = tip.BearingDeg()
	}
	spread := defaultLean
	if f.Flight.Spread.LeanDeg != nil {
		spread = *f.Flight.Spread.LeanDeg
	}
	spread = min(math.Hypot(spread*math.Sqrt(1-setUp), east.sd()), spread)
	f.Flight.Spread.LeanDeg = &spread
	f.Measured = append(f.Measured, fmt.Sprintf("rail lean: %.1f deg toward %03.0f as measured, the file has %.1f deg "+
		"toward %03.0f", rail.LeanDeg, math.Mod(rail.TowardDeg, 360), was.LeanDeg, geo.NormDeg(was.TowardDeg)))
}

// correctedTo is how much of what a drop was off the flight file may be left
// for the file to have been corrected by it since: a choice of ours.
const correctedTo = 0.3

// drops are what was timed, as the learning takes it. Where the file has been
// brought to what was measured of this vehicle's device, it says so itself: the
// drop then counts beside the file's new value.
func (all All) drops(f *drift.Flight) (out []learn.Measured) {
	for _, x := range all {
		if x.What != Drag {
			continue
		}
		log, sd, err := x.estimate()
		if err != nil {
			continue
		}
		d := x.device()
		for i := range f.Recovery {
			now := &f.Recovery[i]
			if x.Vehicle != learn.VehicleName(f) || now.Kind != d.Kind || now.DescentRate != nil || d.DescentRate != nil {
				continue
			}
			left := log + math.Log(d.CdS/now.CdS)
			if d.Diameter > 0 && near(d.Diameter, now.Diameter) || math.Abs(left) < correctedTo*math.Abs(log) {
				d, log = now, left
				break
			}
		}
		m := learn.MeasuredDrag(d, log, sd)
		m.Entry, m.Revision = x.ID, x.Revision
		out = append(out, m)
	}
	return out
}

// Disagreeing are the drops of the same device that the last one, just logged,
// disagrees with: they differ by more than three standard deviations of both
// errors and of the device itself.
func (all All) Disagreeing() (ids []int64) {
	if len(all) == 0 || all[len(all)-1].What != Drag {
		return nil
	}
	last := &all[len(all)-1]
	log, sd, err := last.estimate()
	if err != nil {
		return nil
	}
	_, run := last.device().DragBias()
	for i := range all[:len(all)-1] {
		x := &all[i]
		was, wasSD, err := x.estimate()
		if x.What != Drag || err != nil || x.Device != last.Device || x.Vehicle != last.Vehicle ||
			!near(x.FileArea, last.FileArea) {
			continue
		}
		if math.Abs(log-was) > 3*math.Sqrt(sd*sd+wasSD*wasSD+2*run*run) {
			ids = append(ids, x.ID)
		}
	}
	return ids
}

// ForLearning is what the finds are learned with: each drop as it was logged.
func (all All) ForLearning() []learn.Measured { return all.drops(&drift.Flight{}) }
