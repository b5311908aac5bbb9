// Package learn refits the spreads and biases of the flight model from finds.
//
// Every find enters through the flight model itself: for each flight, Fit looks
// for the likeliest inputs that land exactly on the find (hit.go), makes the
// model linear there (tangent.go), and then samples what the inputs of all
// flights have in common (prior.go, gibbs.go, move.go): a bias and a
// spread for each factor, moved a little by place, vehicle and device, the
// chances of the outcomes, and which entries are wrong.
//
// Units: a factor lives in units of its default spread, so 1 is 15 % of wind
// speed, 10 degrees of direction, and so on (Specs). What leaves the package
// (Factor, Result.Apply) is in the factor's own unit again: degrees, or of the
// logarithm for factors that multiply.
//
// Not here: reading flight files, the logbook, printing. A flight never found
// teaches nothing here, though it may well differ from those that were.
package learn
