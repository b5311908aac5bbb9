// Package drift flies a rocket many times on paper: one flight from ignition
// to landing, and the cloud of landings that its uncertain inputs make.
//
// Prepare checks a Flight, fills its gaps with stated assumptions and returns a
// Model. Nominal is the flight with every input at its median; Draw and Fly are
// one run of many; Run is all of them, a Cloud. SI units; x east, y north, z up
// from the pad in metres, seconds from ignition; directions in degrees true.
//
// A run is a function of its Input: the outcome and independent standard
// normals, named by Coords. Runs 0, 16, 32, ... are one scrambled Sobol
// sequence, runs 1, 17, 33, ... another, sixteen in all, over the first 39
// inputs and the outcome; the rest, the fine shape of the wind, is pseudo-random.
// Each point is uniform by itself, so means are unbiased, and the scatter
// between the sixteen is the standard error that Scatter gives.
//
// Two integrators share the work. On the rail and nose first, the pair of order
// 5(4) of Dormand and Prince (1980): adaptive, explicit, cheap where nothing is
// stiff. Under a device, RODAS3 (Sandu and others 1997), a linearly implicit
// method of order 3(2): terminal speed is reached in a second and held for
// minutes, and an explicit method would crawl in steps of that second. Steps
// end at the known times, at jumps and kinks of the thrust and, falling, where
// the wind bends; rail exit, apogee, heights and the ground are roots of the
// step's cubic in time. The nominal flight runs to tolerances of 1e-7 m, the
// Monte Carlo's runs to some centimetres a step.
//
// Not here: the Earth's rotation, gusts shorter than the wind's profile, spin,
// wind tunnels' corrections to drag, more than one stage.
package drift
