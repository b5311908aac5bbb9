package sources

import (
	"math"
	"strings"
	"time"

	"windfall/drift/wind"
)

// Reading is what reports say of the wind together.
type Reading struct {
	Reports  []Report
	Choices  []wind.Choice // what a flight draws from
	Options  Options       // what they were read with
	Name     string        // where there are no reports: whose wind it is
	Cautions []string
}

// Combined reads reports as one wind.
func Combined(reports []Report, o Options) (Reading, error) {
	r := Reading{Reports: reports, Options: o}
	var items []Item
	for _, x := range reports {
		items = append(items, Item{Report: x})
		r.Cautions = append(r.Cautions, x.Warnings...)
	}
	var err error
	r.Choices, err = Combine(items, o)
	return r, err
}

// Levels are those of the one report as it has them, or what the winds combine
// to.
func (r Reading) Levels() []Level {
	if len(r.Reports) == 1 {
		return r.Reports[0].Levels
	}
	return Mean(r.Choices, r.Options)
}

// Source says in words where the wind is from.
func (r Reading) Source() string {
	if len(r.Reports) == 0 {
		return "wind of " + r.Name
	}
	var names []string
	for _, x := range r.Reports {
		names = append(names, x.Source)
	}
	return strings.Join(names, "; ")
}

// Valid is the time of the newest report, or of the launch; zero: not known.
func (r Reading) Valid() time.Time {
	var t time.Time
	for _, x := range r.Reports {
		if x.Valid.After(t) {
			t = x.Valid
		}
	}
	if len(r.Reports) == 0 {
		t = r.Options.When
	}
	return t.UTC()
}

// FromLowest says that heights count from the lowest level, not from the pad.
func (r Reading) FromLowest() bool { return len(r.Reports) == 1 && r.Reports[0].FromLowest }

// Document is the JSON of a reading; heights and elevations in m, speeds in
// m/s, rounded to a thousandth.
type Document struct {
	Levels      []documentLevel `json:"levels"`
	Source      string          `json:"source"`
	Valid       *string         `json:"valid"`
	Gust        *float64        `json:"gust_mps,omitempty"`
	Temperature *float64        `json:"temperature_c,omitempty"`
	QNH         *float64        `json:"qnh_hpa,omitempty"`
	Winds       int             `json:"alternatives"`
	Cautions    []string        `json:"cautions"`
	Files       []string        `json:"files"`
}

type documentLevel struct {
	Height    float64  `json:"height_m"`
	Elevation *float64 `json:"elevation_m"` // null: the pad's elevation is not known
	From      *float64 `json:"from_deg"`    // null: variable
	Speed     float64  `json:"speed_mps"`
	SD        float64  `json:"sd_mps"`
}

// Document returns the reading's JSON, without files.
func (r Reading) Document() Document {
	d := Document{Levels: []documentLevel{}, Source: r.Source(), Winds: len(r.Choices),
		Cautions: append([]string{}, r.Cautions...), Files: []string{}}
	if t := r.Valid(); !t.IsZero() {
		s := t.Format(time.RFC3339)
		d.Valid = &s
	}
	for _, l := range r.Levels() {
		d.Levels = append(d.Levels, documentLevel{round3(l.Height), finite(l.Elevation), finite(l.FromDeg), round3(l.Speed),
			round3(l.SD)})
	}
	if len(r.Reports) == 1 {
		x := r.Reports[0]
		scaled := func(v *float64, k, add float64) *float64 {
			if v == nil {
				return nil
			}
			return finite(*v*k + add)
		}
		d.Gust, d.Temperature, d.QNH = scaled(x.Gust, 1, 0), scaled(x.Temperature, 1, -273.15), scaled(x.QNH, 0.01, 0)
	}
	return d
}

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }

// finite is null for NaN.
func finite(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	v = round3(v)
	return &v
}
