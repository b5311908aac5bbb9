package measured

import (
	"fmt"
	"math"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/geo"
)

// leans are the leans measured of one rail: with their direction as the tips of
// arrows on the ground, and without it as angles.
type leans struct {
	east, north, angle pooled
	toward             bool // any has its direction
}

func (l *leans) add(x *Entry) {
	if x.TowardSD == 0 {
		l.angle.add(x.LeanDeg, x.LeanSD)
		return
	}
	s, c := math.Sincos(x.TowardDeg * math.Pi / 180)
	sd := math.Hypot(x.LeanSD, x.LeanDeg*x.TowardSD*math.Pi/180) / math.Sqrt2
	sd = max(sd, x.LeanSD)
	l.east.add(x.LeanDeg*s, sd)
	l.north.add(x.LeanDeg*c, sd)
	l.toward = true
}

// mean returns the lean in degrees, and toward where, which stays as it was
// where none has its direction.
func (l *leans) mean(toward float64) (lean, to float64) {
	p := l.angle
	if l.toward {
		tip := geo.XY{X: l.east.mean(), Y: l.north.mean()}
		if tip.Norm() > 0 {
			toward = tip.BearingDeg()
		}
		p.add(tip.Norm(), l.east.sd())
	}
	return p.mean(), toward
}

// useLeans takes the rail's lean as measured in the file's place; what a launch
// moves it by stays. Its spread, the same in all directions, narrows only where
// the direction was measured.
func (all All) useLeans(f *flightfile.File) {
	rail := &f.Flight.Rail
	was := *rail
	var l leans
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
		l.add(&x.Entry)
		n++
	}
	if n == 0 {
		return
	}
	rail.LeanDeg, rail.TowardDeg = l.mean(was.TowardDeg)
	if !l.toward {
		f.Measured = append(f.Measured, fmt.Sprintf("rail lean: %.1f deg as measured, the file has %.1f deg; toward %03.0f "+
			"as the file has it, which was not measured", rail.LeanDeg, was.LeanDeg, geo.NormDeg(was.TowardDeg)))
		return
	}
	spread := defaultLean
	if f.Flight.Spread.LeanDeg != nil {
		spread = *f.Flight.Spread.LeanDeg
	}
	spread = min(math.Hypot(spread*math.Sqrt(1-setUp), l.east.sd()), spread)
	f.Flight.Spread.LeanDeg = &spread
	f.Measured = append(f.Measured, fmt.Sprintf("rail lean: %.1f deg toward %03.0f as measured, the file has %.1f deg "+
		"toward %03.0f", rail.LeanDeg, math.Mod(rail.TowardDeg, 360), was.LeanDeg, geo.NormDeg(was.TowardDeg)))
}
