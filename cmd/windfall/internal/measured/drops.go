package measured

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"windfall/drift"
	"windfall/drift/learn"
)

// correctedTo is how much of what a drop was off the flight file may be left
// for the file to have been corrected by it since: a choice of ours.
const correctedTo = 0.3

// drops are what was timed, as the learning takes it. Where the file has been
// brought to what was measured of this vehicle's device, it says so itself: the
// drop then counts beside the file's new value.
func (all All) drops(f *drift.Flight) (out pooledDrops) {
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
		_, run := x.device().DragBias()
		out.Measured, out.run = append(out.Measured, m), append(out.run, run)
	}
	out.widen()
	return out
}

// pooledDrops are drops as the learning takes them.
type pooledDrops struct {
	Measured []learn.Measured
	run      []float64          // of each: the spread of its device from run to run, of the logarithm
	scale    map[string]float64 // of the errors, by device, where its drops disagree
}

// allowed is the chance with which drops that agree scatter no more than is
// taken for chance: a choice of ours.
const allowed = 0.95

// widen enlarges the errors of drops of one device that scatter more than their
// errors and its runs explain, until they do: by the square root of chi-squared
// over its degrees of freedom, Birge's ratio (Physical Review 40, 207, 1932, from
// memory). Which of them is wrong the figures do not tell.
func (d *pooledDrops) widen() {
	of := map[string][]int{}
	for i, m := range d.Measured {
		of[m.Factor+m.Group] = append(of[m.Factor+m.Group], i)
	}
	d.scale = map[string]float64{}
	for name, is := range of {
		var mean pooled
		variance := func(i int) float64 { return d.Measured[i].SD*d.Measured[i].SD + d.run[i]*d.run[i] }
		for _, i := range is {
			mean.add(d.Measured[i].Value, math.Sqrt(variance(i)))
		}
		chi2, free := 0.0, float64(len(is)-1)
		for _, i := range is {
			e := d.Measured[i].Value - mean.mean()
			chi2 += e * e / variance(i)
		}
		if free == 0 || chi2 <= (distuv.ChiSquared{K: free}).Quantile(allowed) {
			continue
		}
		d.scale[name] = math.Sqrt(chi2 / free)
		for _, i := range is {
			d.Measured[i].SD = math.Sqrt(variance(i)*chi2/free - d.run[i]*d.run[i])
		}
	}
}

// disagree says of a flight's devices whose drops disagree.
func (d *pooledDrops) disagree(f *drift.Flight) (said []string) {
	for i := range f.Recovery {
		m := learn.MeasuredDrag(&f.Recovery[i], 0, 1)
		if by := d.scale[m.Factor+m.Group]; by > 0 {
			said = append(said, fmt.Sprintf("%s drag: its drops differ by more than their errors and its runs explain; "+
				"they count as if each was %.1f times as far off, until a wrong one is withdrawn", f.Recovery[i].Kind, by))
		}
	}
	return said
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
func (all All) ForLearning() []learn.Measured { return all.drops(&drift.Flight{}).Measured }
