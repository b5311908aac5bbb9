// Package search plans who walks or flies over which ground, and in which order,
// to find what lies somewhere on a map of chance.
//
// A Problem goes in: the map, the searchers, the target and the ground. Make
// gives a Plan: for each searcher a few blocks, which are lanes side by side or
// an expanding rectangle, with the ways between them, as legs in time. In between
//
//	ready     checks the problem and makes its agents: sweep widths and speeds by
//	          cover (search/detect), the ways of their world (search/route)
//	lay       gives the agents blocks (search/internal/blocks), then walks them
//	          exactly: legs of one cover, times, charges, the way home
//	finish    sends the legs over the map in the order of time and says what each
//	          leg and block meets and finds, so that all that is found and all
//	          that is left sum to one
//
// Replan says what is left when a plan was carried out up to a change; Searched,
// Missed and LookedAt take ground gone over out of a map. Pattern gives standard
// patterns the same account. Key tells whether a plan was made before.
//
// Metres, seconds, chances from 0 to 1; places are geo.XY, metres east and north
// of the map's origin, bearings degrees true. Minutes stand only in what is
// written out. The same problem and options give the same plan on any number of
// cores. Not here: rockets, files, the clock, drawing, how people talk to each
// other, and whether going there is safe or allowed.
package search
