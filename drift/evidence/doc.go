// Package evidence turns what people saw of a lost flight into a smaller map.
//
//	[]Sighting ---\
//	drift.Model ---> Locate -> *Posterior: weighted landings, outcome chances,
//	                           what each sighting did, which one disagrees
//	drift.Model, candidates --> Spotters -> where watchers would help most
//
// A run of the model is a point: one outcome and a vector of independent
// standard normal inputs. A Sighting says how likely its words are under a run
// (its likelihood, the table in docs/evidence.md); Locate draws runs from the
// posterior of both, by importance sampling from a mixture of normals that a
// tempered population of runs has found (population Monte Carlo, Cappe,
// Guillin, Marin and Robert 2004; the tempering ladder of Neal 2001).
// Landings come weighted; the effective number of runs is the square of the
// sum of the weights over the sum of their squares (Kish 1965).
//
// A kind of sighting is one file (bearing.go, timing.go, height.go, nothingin.go,
// part.go, looks.go): a Kind says what was told and what it may be, its law what
// a run of a model makes of it. The next kind is one more file and a row in the
// list kinds.
//
// Units are SI, bearings degrees true, heights metres above the pad, times
// seconds after ignition. For a seed the result is the same on any number of
// cores and for any order of the sightings.
//
// Not here: files, printing, the logbook, search plans.
package evidence
