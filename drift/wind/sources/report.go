package sources

import (
	"time"

	"github.com/paulmach/orb"

	"windfall/drift/wind"
)

// Options say for which launch a source is read. The zero value reads the
// newest wind in it and leaves heights as the source has them.
type Options struct {
	When        time.Time  // launch; zero: the newest report, the first hour of a forecast
	Elevation   *float64   // pad, m above mean sea level; nil: not known
	Pad         *orb.Point // nil: not known; used for the hemisphere and the distance to a station
	Declination *float64   // degrees east of true, for bearings marked "mag"; nil: not known
	Balloon     bool       // the file is a table of a balloon's angles, whatever its heading says
	Rise        float64    // m/s, rate of ascent of a balloon whose file gives none; 0: not known
}

// Kind is a kind of source.
type Kind uint8

// The kinds.
const (
	Levels   Kind = iota // heights and winds by hand, from CSV
	Airport              // METAR or SPECI: one wind 10 m above ground
	Sounding             // a radiosonde ascent
	Forecast             // a model's hourly forecast
)

// String names the kind for messages.
func (k Kind) String() string {
	return [...]string{"levels", "airport report", "sounding", "forecast"}[k]
}

// Level is the wind at one height as a source reports it.
type Level struct {
	// m above the pad if its elevation is known or the source counts from the ground, else above the lowest level
	Height    float64
	Elevation float64 // m above mean sea level; NaN: not known
	FromDeg   float64 // degrees true, [0, 360]; 0 when calm; NaN: variable
	Speed     float64 // m/s
	SD        float64 // m/s, of each component, from run to run with the default spread
}

// Report is one source, read. Levels are ascending by Height; heights may be
// equal, and may be below the pad in a sounding.
type Report struct {
	Kind         Kind
	Source       string      // what it is, for people
	Label        string      // short, for alternatives: a model's or a file's name
	Valid        time.Time   // zero: not known
	Made         time.Time   // of a sounding's release, where it is not Valid; zero: Valid
	Place        *orb.Point  // where it was observed; nil: not known
	Hours        []time.Time // a forecast's hours, ascending; empty for other kinds
	Levels       []Level     // at least one
	Alternatives [][]Level   // members of an ensemble or several models; empty: Levels alone
	Labels       []string    // one for each alternative
	FromLowest   bool        // heights count from the lowest level, for want of the pad's elevation
	Gust         *float64    // m/s at the surface
	Sector       *[2]float64 // degrees true, clockwise: limits of a varying direction
	Temperature  *float64    // K at the surface
	QNH          *float64    // Pa
	Warnings     []string    // one line each, naming the file

	errors   []wind.SD // of a component at the levels, beside the default; nil: none
	aboveSea bool      // levels by elevation: they may lie below the pad
}

// warn adds a warning.
func (r *Report) warn(s string) { r.Warnings = append(r.Warnings, s) }
