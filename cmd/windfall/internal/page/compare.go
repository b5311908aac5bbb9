package page

import (
	"net/http"
	"strconv"
	"time"

	"windfall/cmd/windfall/internal/choice"
	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/record"
	"windfall/drift/compare"
	"windfall/geo/chance"
)

// compareBody asks for hours of the forecast, or for tries, side by side.
type compareBody struct {
	draftBody
	Hours string    `json:"hours"` // as compare --hours
	Tries []tryKept `json:"tries"`
	Runs  int       `json:"runs"` // of each row; 0: 2000
	Seed  uint64    `json:"seed"` // 0: 1
}

// tryKept is a draft with a name.
type tryKept struct {
	Label string `json:"label"`
	draftBody
}

// compareDoc has the rows best first, as far as the runs can tell.
type compareDoc struct {
	RankedBy string       `json:"ranked_by"` // field, or area: the smallest 90 % area
	Runs     int          `json:"runs"`
	Rows     []compareRow `json:"rows"`
	Verdict  string       `json:"verdict"`
}

type compareRow struct {
	Label       string          `json:"label"`
	Hour        *time.Time      `json:"hour,omitempty"`
	Probability *float64        `json:"probability"` // of the field; null: none is drawn
	SE          *float64        `json:"se"`
	Places      []chance.Chance `json:"places"`
	Distance    float64         `json:"distance_m"` // of the landings' middle from the pad
	Area        float64         `json:"area_m2"`    // that holds 90 %
	Best        bool            `json:"best"`
	Equal       bool            `json:"equal"` // no worse than the first beyond twice the error of the difference
}

const (
	quickRuns = 2000
	mostTries = 24
)

func (s *Server) postCompare(r *http.Request) (any, error) {
	var b compareBody
	if err := readJSON(r, &b); err != nil {
		return nil, err
	}
	if b.Runs == 0 {
		b.Runs = quickRuns
	}
	if b.Runs < 100 || b.Runs > mostRuns {
		return nil, refuse(http.StatusBadRequest, "runs %d is out of range; write 100 to %d", b.Runs, mostRuns)
	}
	if (b.Hours == "") == (len(b.Tries) == 0) || len(b.Tries) > mostTries {
		return nil, refuse(http.StatusBadRequest, "a comparison takes hours, or up to %d tries", mostTries)
	}
	in, err := s.triesInput(b)
	if b.Hours != "" {
		in, err = s.hoursInput(b)
	}
	if err != nil {
		return nil, err
	}
	done, err := s.enter(r.Context())
	if err != nil {
		return nil, err
	}
	defer done()
	t, err := compare.Run(r.Context(), in, compare.Options{Runs: b.Runs, Seed: orOne(b.Seed)})
	if err != nil {
		return nil, flown(err)
	}
	return tableDoc(t, b), nil
}

// hoursInput compares hours of the forecast of a draft.
func (s *Server) hoursInput(b compareBody) (in compare.Input, err error) {
	d, err := s.draft(b.draftBody)
	if err != nil {
		return in, err
	}
	f, err := s.read(d)
	if err != nil {
		return in, err
	}
	if in.Hours, err = choice.Hours(b.Hours, f.File.Flight.When, f.File.Hours); err != nil {
		return in, faulty(err)
	}
	in.Base = f.Input.Model
	in.Vary = func(settings []compare.Setting) (compare.Flight, error) {
		var set []flightfile.Setting
		for _, x := range settings {
			set = append(set, flightfile.Setting(x))
		}
		v, err := s.read(d, set...)
		if err != nil {
			return compare.Flight{}, err
		}
		return ready(v)
	}
	return in, nil
}

// triesInput compares drafts.
func (s *Server) triesInput(b compareBody) (in compare.Input, err error) {
	const key = "try"
	var flights []compare.Flight
	axis := compare.Axis{Key: key}
	for i, t := range b.Tries {
		d, err := s.draft(t.draftBody)
		if err != nil {
			return in, err
		}
		f, err := s.read(d)
		if err != nil {
			return in, err
		}
		if i == 0 {
			in.Base = f.Input.Model
		}
		v, err := ready(f)
		if err != nil {
			return in, err
		}
		flights, axis.Values = append(flights, v), append(axis.Values, strconv.Itoa(i))
	}
	in.Axes = []compare.Axis{axis}
	in.Vary = func(settings []compare.Setting) (compare.Flight, error) {
		k, err := strconv.Atoi(settings[0].Value)
		return flights[k], err
	}
	return in, nil
}

// ready makes a flight a row of a comparison. Its parts cost time and do not
// move the vehicle.
func ready(f *record.Flight) (compare.Flight, error) {
	f.File.Flight.Parts = nil
	v, err := record.Prepare(f.File)
	if err != nil {
		return compare.Flight{}, faulty(err)
	}
	return compare.Flight{
		Model:    v.Input.Model,
		Field:    v.Input.Field,
		Ground:   v.Input.Ground,
		Warnings: f.File.Warnings,
	}, nil
}

func tableDoc(t *compare.Table, b compareBody) compareDoc {
	doc := compareDoc{RankedBy: "area", Runs: b.Runs, Rows: []compareRow{}}
	if t.ByField {
		doc.RankedBy = "field"
	}
	v := t.Verdict()
	for i, r := range t.Rows {
		row := compareRow{Label: r.Label, Places: r.Places, Distance: r.Moments.Mean.Norm(), Area: r.Area, Best: i == 0}
		if k, err := strconv.Atoi(r.Set["try"]); err == nil && b.Hours == "" {
			row.Label = clipped(b.Tries[k].Label, 200)
		}
		if !r.Hour.IsZero() {
			row.Hour = &r.Hour
		}
		if t.ByField {
			row.Probability, row.SE = &r.Places[0].Probability, &r.Places[0].SE
		}
		for _, k := range v.Equal {
			row.Equal = row.Equal || k == i
		}
		doc.Rows = append(doc.Rows, row)
	}
	switch n := len(v.Equal); {
	case len(t.Rows) > 1 && n > 0:
		doc.Verdict = strconv.Itoa(n+1) + " are as good as each other, as far as the runs can tell"
	case len(t.Rows) > 1 && t.ByField:
		doc.Verdict = "the first is better than the rest beyond the error of the runs"
	case !t.ByField:
		doc.Verdict = "no field is drawn, so the smallest area to search is first"
	}
	return doc
}
