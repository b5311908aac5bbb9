// Package hindcast sets what the program says of a wind against what the air
// then did: winds of the past, read with ReadProfiles or ReadIGRA, are paired
// into cases (what a flier would have had, and the truth), and each case is
// scored by the mean wind of the layer that a flight falls through, or by a
// whole flight. Heights are m above the ground, winds m/s, ages hours. It draws
// no conclusions for a flight: drift/wind/spread holds what was fitted.
package hindcast
