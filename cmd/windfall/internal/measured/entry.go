// Package measured keeps what was measured on the ground of a flight: a device
// timed in a drop, a mass on the scales, a motor's delay by the stop-watch, the
// lean of the rail. It reads it from words, says it in a sentence, and puts it
// into the flights that it speaks of. Storing is the logbook's, the fall is
// drift/sink's, the pooling of drops drift/learn's.
package measured

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"regexp"
	"strings"

	"windfall/drift"
	"windfall/drift/sink"
)

// What an Entry measures.
const (
	Drag  = "drag"
	Mass  = "mass"
	Delay = "delay"
	Lean  = "lean"
)

// Entry is the body of a logbook entry: what was read off, and what else is
// needed to make something of it, so that it needs no flight file to be
// understood. SI units, angles in degrees; each has the standard deviation of
// its error. What the flight file had when it was logged tells later whether it
// still speaks of the same thing.
type Entry struct {
	What string `json:"what"`
	Note string `json:"note,omitempty"`
	drop
	weighing
	delay
	lean
}

// drop is a device timed in a fall.
type drop struct {
	Device   string  `json:"device,omitempty"` // kind, as the flight file has it
	Vehicle  string  `json:"vehicle,omitempty"`
	DropM    float64 `json:"drop_m,omitempty"`
	Settled  bool    `json:"settled,omitempty"` // timed at its steady speed, not from rest
	TimeS    float64 `json:"time_s,omitempty"`
	TimeSD   float64 `json:"time_sd_s,omitempty"`
	HeightSD float64 `json:"height_sd_m,omitempty"`
	HungKg   float64 `json:"hung_kg,omitempty"` // in all, that fell
	HungSD   float64 `json:"hung_sd_kg,omitempty"`
	HungArea float64 `json:"hung_drag_area_m2,omitempty"` // of what hung, without the device
	FileArea float64 `json:"file_drag_area_m2,omitempty"` // of the device
	Diameter float64 `json:"diameter_m,omitempty"`
	Rate     float64 `json:"descent_rate_mps,omitempty"`
	OpeningS float64 `json:"opening_s,omitempty"`
	FillS    float64 `json:"fill_s,omitempty"`
	FillM    float64 `json:"fill_m,omitempty"`
	Air      float64 `json:"air_kgm3,omitempty"`
	Gravity  float64 `json:"gravity_mps2,omitempty"`
}

// weighing is a mass.
type weighing struct {
	Of       string  `json:"of,omitempty"` // vehicle, propellant, or a part's name
	MassKg   float64 `json:"mass_kg,omitempty"`
	MassSD   float64 `json:"mass_sd_kg,omitempty"`
	FileMass float64 `json:"file_mass_kg,omitempty"`
}

// delay is a motor's, from burnout to its charge.
type delay struct {
	Motor     string  `json:"motor,omitempty"` // its designation; empty: not known
	DelayS    float64 `json:"delay_s,omitempty"`
	DelaySD   float64 `json:"delay_sd_s,omitempty"`
	FileDelay float64 `json:"file_delay_s,omitempty"`
}

// lean is the rail's. Toward where it leans was not measured where its error is 0.
type lean struct {
	LeanDeg    float64 `json:"lean_deg,omitempty"`
	LeanSD     float64 `json:"lean_sd_deg,omitempty"`
	TowardDeg  float64 `json:"toward_deg,omitempty"`
	TowardSD   float64 `json:"toward_sd_deg,omitempty"`
	FileLean   float64 `json:"file_lean_deg,omitempty"`
	FileToward float64 `json:"file_toward_deg,omitempty"`
}

// Decode reads the body of a logbook entry. Errors name the field that is wrong
// and say what to write.
func Decode(body []byte) (e Entry, err error) {
	d := json.NewDecoder(bytes.NewReader(body))
	d.DisallowUnknownFields()
	if err := d.Decode(&e); err != nil {
		var t *json.UnmarshalTypeError
		if errors.As(err, &t) {
			field := t.Field[strings.LastIndex(t.Field, ".")+1:]
			return e, fmt.Errorf("%s is a %s; write it as 'windfall log --json' does", field, t.Value)
		}
		return e, fmt.Errorf("it is not JSON of a measurement (%s); write it as 'windfall log --json' does",
			strings.TrimPrefix(err.Error(), "json: "))
	}
	return e, e.Check()
}

// Shape is a pointer to a struct of the fields that a measurement of its kind
// has, by the body of an entry.
func Shape(body []byte) any {
	var e struct {
		What string `json:"what"`
	}
	_ = json.Unmarshal(body, &e) // of another shape: what it is is not known
	type head struct {
		What string `json:"what"`
		Note string `json:"note"`
	}
	switch e.What {
	case Drag:
		return &struct {
			head
			drop
		}{}
	case Mass:
		return &struct {
			head
			weighing
		}{}
	case Delay:
		return &struct {
			head
			delay
		}{}
	case Lean:
		return &struct {
			head
			lean
		}{}
	}
	return &Entry{}
}

// limit is the range of a field.
type limit struct {
	name      string
	v         float64
	low, high float64
	remedy    string
}

// check says which of the fields is outside its range; NaN is outside of all.
func check(all ...limit) error {
	for _, l := range all {
		if !(l.v >= l.low && l.v <= l.high) {
			return &outside{l}
		}
	}
	return nil
}

// outside is the error of a field outside its range.
type outside struct{ limit }

func (o *outside) Error() string { return fmt.Sprintf("%s %.4g; %s", o.name, o.v, o.remedy) }

// byFlag names the field of an error by the flag it was said with; what no flag
// says is the flight file's.
func (w Words) byFlag(err error) error {
	var o *outside
	if !errors.As(err, &o) {
		return err
	}
	name := strings.NewReplacer("hung", "mass", "_", "-").Replace(unit.ReplaceAllString(o.name, ""))
	if _, ok := w["descent"]; ok && name == "drop" {
		name = "descent"
	}
	if _, ok := w[name]; !ok {
		return err
	}
	return fmt.Errorf("--%s %q; %s", name, w[name], o.remedy)
}

var unit = regexp.MustCompile(`_(deg|m|s|kg)$`)

// Ranges wide enough for anything that is dropped, weighed or launched by hand.
const (
	leastSD    = 1e-6 // nobody measures without error
	mostHeight = 5000.0
	mostTime   = 3600.0
	leastMass  = 1e-4
	mostMass   = 2000.0
	mostArea   = 1000.0
	mostDelay  = 60.0
	mostLean   = 60.0
)

// Check refuses what cannot be.
func (e *Entry) Check() error {
	switch e.What {
	case Drag:
		return e.drop.check()
	case Mass:
		if e.Of == "" {
			return errors.New("of is missing; write vehicle, propellant or a part's name")
		}
		return check(limit{"mass_kg", e.MassKg, leastMass, mostMass, "write what the scales say, such as 1.85"},
			limit{"mass_sd_kg", e.MassSD, leastSD, mostMass, "write how far the scales may be off, such as 0.01"},
			limit{"file_mass_kg", e.FileMass, 0, mostMass, "write what the flight file says"})
	case Delay:
		return check(limit{"delay_s", e.DelayS, 0.1, mostDelay, "write seconds from burnout to the charge, such as 6.4"},
			limit{"delay_sd_s", e.DelaySD, leastSD, mostDelay, "write how far the stop-watch may be off, such as 0.2"},
			limit{"file_delay_s", e.FileDelay, 0, mostDelay, "write what the flight file says"})
	case Lean:
		least := leastSD
		if e.TowardDeg == 0 && e.TowardSD == 0 {
			least = 0
		}
		return check(limit{"lean_deg", e.LeanDeg, 0, mostLean, "write degrees from the vertical, such as 5"},
			limit{"lean_sd_deg", e.LeanSD, leastSD, mostLean, "write how far it may be off, such as 0.3"},
			limit{"toward_deg", e.TowardDeg, 0, 360, "write degrees true, such as 250"},
			limit{"toward_sd_deg", e.TowardSD, least, 180, "write how far it may be off, such as 5"},
			limit{"file_lean_deg", e.FileLean, 0, mostLean, "write what the flight file says"},
			limit{"file_toward_deg", e.FileToward, -360, 360, "write what the flight file says"})
	}
	return fmt.Errorf("what %q; write drag, mass, delay or lean", e.What)
}

func (d *drop) check() error {
	if d.Device == "" {
		return errors.New("device is missing; write its kind, such as streamer")
	}
	err := check(limit{"drop_m", d.DropM, 0.5, mostHeight, "write metres of fall, such as 20"},
		limit{"time_s", d.TimeS, 0.01, mostTime, "write seconds, such as 2.6"},
		limit{"time_sd_s", d.TimeSD, leastSD, mostTime, "write how far the stop-watch may be off, such as 0.15"},
		limit{"height_sd_m", d.HeightSD, leastSD, mostHeight, "write how far the height may be off, such as 0.2"},
		limit{"hung_kg", d.HungKg, leastMass, mostMass, "write the mass that fell, such as 0.5"},
		limit{"hung_sd_kg", d.HungSD, leastSD, mostMass, "write how far it may be off, such as 0.005"},
		limit{"hung_drag_area_m2", d.HungArea, 0, mostArea, "write the drag area of what hung, or 0"},
		limit{"file_drag_area_m2", d.FileArea, 1e-6, mostArea, "write the device's as the flight file has it"},
		limit{"diameter_m", d.Diameter, 0, 100, "write the canopy's, or leave it out"},
		limit{"descent_rate_mps", d.Rate, 0, 500, "write the flight file's, or leave it out"},
		limit{"opening_s", d.OpeningS, 0, mostTime, "write seconds until it opens, or leave it out"},
		limit{"fill_s", d.FillS, 0, mostTime, "write seconds of filling, or leave it out"},
		limit{"fill_m", d.FillM, 0, mostHeight, "write metres of filling, or leave it out"},
		limit{"air_kgm3", d.Air, 0.1, 2, "write the air's density, such as 1.2"},
		limit{"gravity_mps2", d.Gravity, 9.7, 9.9, "write that of the place, such as 9.81"})
	if err != nil {
		return err
	}
	_, _, err = d.estimate()
	return err
}

// fall is the drop as physics has it.
func (d *drop) fall() sink.Drop {
	return sink.Drop{Height: d.DropM, Settled: d.Settled, Mass: d.HungKg, Body: d.HungArea, CdS: d.FileArea,
		Delay: d.OpeningS, Fill: d.FillS, Way: d.FillM, Air: d.Air, Gravity: d.Gravity}
}

// estimate returns the logarithm of the factor of the flight file's drag area,
// and its error's standard deviation.
func (d *drop) estimate() (log, sd float64, err error) {
	log, sd, err = d.fall().Estimate(sink.Timed{Time: d.TimeS, TimeSD: d.TimeSD, HeightSD: d.HeightSD,
		MassSD: d.HungSD / d.HungKg})
	var e *sink.Error
	switch {
	case !errors.As(err, &e):
		return log, sd, err
	case e.Why == "short":
		err = fmt.Errorf("a fall of %g m %w; let it fall farther, or hang less from it", d.DropM, e)
	default:
		err = fmt.Errorf("a fall of %g m under %s %w; correct the height, the time or the mass", d.DropM,
			kg(d.HungKg), e)
	}
	return 0, 0, err
}

// device is the one dropped, as the flight file had it.
func (d *drop) device() *drift.Device {
	v := &drift.Device{Kind: d.Device, CdS: d.FileArea, Diameter: d.Diameter}
	if d.Rate > 0 {
		v.DescentRate = &d.Rate
	}
	return v
}

// Result is what a drop says of a device; nil for what is no drop.
type Result struct {
	Factor   float64 `json:"factor"`    // of the drag area that the flight file gives
	FactorSD float64 `json:"factor_sd"` // of its logarithm
	AreaM2   float64 `json:"drag_area_m2"`
	SinksMps float64 `json:"sinks_mps"` // steady, with what hung
}

// Result works out what a drop says.
func (e *Entry) Result() *Result {
	if e.What != Drag {
		return nil
	}
	log, sd, err := e.estimate()
	if err != nil {
		return nil
	}
	f := math.Exp(log)
	return &Result{f, sd, f * e.FileArea, e.fall().SteadySpeed(f)}
}

// subject is what a sentence about the measured input begins with.
func (e *Entry) subject() string {
	switch e.What {
	case Drag:
		return e.Device + " drag"
	case Mass:
		return "mass of the " + e.Of
	case Delay:
		return "motor delay"
	}
	return "rail lean"
}

// About returns those of the sentences about measured inputs (a flight file's
// Measured) that are about what the entry of a number measured.
func (e *Entry) About(id int64, said []string) (out []string) {
	for _, s := range said {
		if strings.HasPrefix(s, e.subject()+":") || strings.HasPrefix(s, fmt.Sprintf("entry %d ", id)) {
			out = append(out, s)
		}
	}
	return out
}

// Sentence says the entry as a person would.
func (e *Entry) Sentence(by string) string {
	if by == "" {
		by = "(no name)"
	}
	s := by
	switch e.What {
	case Drag:
		how := "fell"
		if e.Settled {
			how = "sank, at its steady speed,"
		}
		s += fmt.Sprintf(": the %s %s %.4g m in %.2f s under %s", e.Device, how, e.DropM, e.TimeS, kg(e.HungKg))
		if r := e.Result(); r != nil {
			s += fmt.Sprintf(", %.2f of the file's drag (this drop alone, standard deviation %.2f)", r.Factor,
				r.Factor*r.FactorSD)
		}
	case Mass:
		s += fmt.Sprintf(": the %s weighs %s, the file has %s", e.Of, kg(e.MassKg), kg(e.FileMass))
	case Delay:
		s += fmt.Sprintf(": the motor's delay took %.2f s, the file has %.2f s", e.DelayS, e.FileDelay)
	case Lean:
		toward := ", toward where was not measured"
		if e.TowardSD > 0 {
			toward = fmt.Sprintf(" toward %03.0f", e.TowardDeg)
		}
		s += fmt.Sprintf(": the rail leans %.1f deg%s, the file has %.1f deg toward %03.0f", e.LeanDeg, toward,
			e.FileLean, math.Mod(e.FileToward+360, 360))
	}
	if e.Note != "" {
		s += " (" + e.Note + ")"
	}
	return s
}

// kg writes a mass for people.
func kg(v float64) string {
	if v < 1 {
		return fmt.Sprintf("%.4g g", 1000*v)
	}
	return fmt.Sprintf("%.4g kg", v)
}
