// Package spread says how wrong a wind may be at the hour and place of a
// launch, by its kind: one reading near the ground, an airport report some
// hours old, a profile of another hour or place, a profile that ends below the
// flight, a forecast of some lead, and each of these corrected by a
// measurement at the pad. Heights are in metres above the pad, winds in m/s,
// ages in hours; the error of a wind is a vector field by height.
//
// The numbers are fitted on radiosondes, masts and airport reports by
// testdata/winds, which prints them with their source, count and interval.
// Nothing here reads files or flies anything; wind.Spread is what it makes.
package spread
