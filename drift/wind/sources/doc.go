// Package sources reads wind from whatever a flier has: levels in a CSV file,
// airport reports (METAR, SPECI), radiosonde soundings in three archive
// formats, hourly forecasts in JSON; it combines them and asks a forecast
// service for one.
//
// Data flows: a reader turns a file into a Report (its levels with heights and
// spread, when it is valid, what it warns of); Choices turns reports into the
// wind.Choice list that a flight draws from; Combine corrects a forecast with a
// measurement at the pad. Directions are where the wind blows from, degrees
// true; heights and elevations in metres, speeds in m/s.
//
// It opens no files and reads no clock: callers pass a reader, a name for
// messages, and the launch time. It forecasts nothing of its own.
package sources
