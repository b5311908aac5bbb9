// Package look finds in photographs of the ground what does not belong there.
//
//	picture -> Ready -> Picture -> Find -> []Candidate, in pixels
//	places of candidates -> Join -> []Find, the same thing in several pictures told as one
//	pixels across -> Seen, the measured chance that the thing is among the candidates
//
// The detector is that of Reed and Yu (1990), the distance of a pixel's colour
// from its background's in the background's own spread, taken in a perceptual
// colour space (Oklab), at four sizes of pixel, against the ground near by and
// against every kind of ground in the picture. How rare a distance is comes
// from the picture itself, so that one threshold serves lawn and scree. What it
// finds was measured on photographs of ground: docs/pictures.md.
//
// Pixels count from the middle of the top left corner of the picture as it is
// stored; lengths are pixels or, where said, metres. It reads no files, knows no
// map and no rockets: sizes and colours are all it is told of a thing.
package look
