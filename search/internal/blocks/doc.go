// Package blocks lays the blocks of a search plan: who goes over which piece of
// ground, in parallel lanes or in an expanding rectangle, and in which order, so
// that what lies on a map of chance is found as soon as possible.
//
// A Task goes in: the chance, the ground as functions of a place, the searchers
// with their sweep widths and paces by cover class, and the axes that lanes may
// have. A Layout comes out: one axis and, for each searcher, blocks in the order
// they are walked. In between the ground is laid on a raster whose rows run
// along the axis, a third of a sweep width apart, where a lane is a run of cells
// and what it finds a short sum; simulated annealing moves whole blocks about
// and keeps what finds sooner. The raster's times are near enough to choose by;
// whoever takes a Layout walks it again with exact ones.
//
// Units are metres and seconds. Places outside are geo.XY, metres east and
// north; inside, u runs along the axis and v across it, to its left. The work is
// bounded by counts and seeded: the same task gives the same layout on any
// number of cores.
//
// Detection is the exponential law whatever law the plan is judged by. Ways
// between blocks find nothing. The package knows no legs, minutes or names.
package blocks
