// Package photo makes a camera of a photograph: where it stood, which way it
// looked and how wide, from what the file says of itself (EXIF, and the XMP of
// drones), and what a pixel of it means: a bearing and an elevation angle, or a
// place on the ground.
//
// Data flows one way: Read gives Meta, what the file says; Meta and what is
// Given beside it make a Camera with its Spread; a Camera turns pixels into
// directions and places. Pixels are those of the picture held upright, as a
// viewer shows it, from the middle of its top left corner: x to the right, y
// downward. Lengths are metres in a geo.Frame, heights metres above its pad,
// angles degrees; directions are true.
//
// It reads no pixels, draws nothing and knows no rockets.
package photo
