// Package learn refits the spreads and biases of the flight model from all that was
// logged of flights, found or not, and from what was measured on the ground.
//
//	[]Case, []Measured -> Fit -> *Posterior -> Report -> *Result -> Apply -> drift.Flight
//
// For each flight Fit draws runs of the model that agree with what was logged:
// with the find exactly (hit.go), with sightings and searches by the weights of
// package evidence (draw.go). A few narrow normals in their place (smooth.go) give
// the flight's likelihood under any factors on trial (points.go), and what the
// inputs of all flights have in common is sampled (prior.go, gibbs.go, move.go): a
// bias and a spread for each factor, moved a little by place, vehicle and device,
// the chances of the outcomes, and which finds are wrong. Report leaves flights
// out in turn (score.go), withholds factors that make those less likely (keep.go),
// tells what taught what (teach.go), which entries do not fit (doubt.go) and how
// people's sightings are off (observer.go).
//
// Units: a factor lives in units of its default spread, so 1 is 15 % of wind
// speed, 10 degrees of direction, and so on. What leaves the package (Factor,
// Result.Apply) is in the factor's own unit again: degrees, or of the logarithm
// for factors that multiply.
//
// Not here: reading flight files, the logbook, printing.
package learn
