package drift

import "math"

// What is believed of a device's drag area before any find: one belief, from
// which maps are drawn and learning starts. Standard deviations of the
// logarithm, all choices of ours.
//
// Drag that was computed from a size may be wrong for every flight alike: a
// streamer's coefficient in print goes from below 0.1 to above 0.4 with its
// cloth, folds and length, a canopy's by a quarter about 0.8 (from memory).
// Drag that a measured rate of descent stands for has no such bias to speak of.
const (
	dragRun       = 0.15  // from run to run
	streamerBias  = 0.375 // of all flights alike
	canopyBias    = 0.15
	measuredBias  = 0.075
	beliefDegrees = 30.0 // of the Student t that the bias has
)

// DragBias returns the scale of what all flights of this device may be off by,
// and the spread from run to run, both of the logarithm of the drag area.
func (d *Device) DragBias() (bias, run float64) {
	switch {
	case d.DescentRate != nil:
		return measuredBias, dragRun
	case d.Kind == "streamer":
		return streamerBias, dragRun
	}
	return canopyBias, dragRun
}

// dragSpread is the spread of a flight before any find: bias and run to run
// together. A measured rate keeps that of the runs, which counts its bias.
func (d *Device) dragSpread() float64 {
	bias, run := d.DragBias()
	if d.DescentRate != nil {
		return run
	}
	return math.Sqrt(bias*bias*beliefDegrees/(beliefDegrees-2) + run*run)
}

// DragSpread is the standard deviation of the logarithm of device i's drag
// area in a flight with nothing learned: the flight's own, else the belief's.
func (f *Flight) DragSpread(i int) float64 {
	if f.Spread.DeviceCdS != nil {
		return *f.Spread.DeviceCdS
	}
	return f.Recovery[i].dragSpread()
}
