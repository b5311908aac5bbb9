package measured

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift"
	"windfall/drift/learn"
	"windfall/drift/motorcode"
	"windfall/geo"
	"windfall/geo/compass"
	"windfall/geo/magnetic"
	"windfall/geo/quantity"
)

// Words are what was said of a measurement, by the name of the flag that it was
// said with.
type Words map[string]string

// How far off a measurement is taken to be that does not say: choices of ours
// for a person with a stop-watch, a tape, kitchen scales, a clinometer and a
// compass. Two presses of a practised hand miss by a tenth of a second each.
const (
	timeSD   = 0.15  // s
	heightSD = 0.02  // of the height
	massSD   = 0.005 // of the mass
	delaySD  = 0.2   // s
	leanSD   = 0.3   // degrees
	towardSD = 5.0   // degrees
)

// Flags are the names of the words that have a value; packed is there or not.
var Flags = []string{"device", "drop", "descent", "time", "time-sd", "height-sd", "mass", "mass-sd", "under", "of",
	"delay", "delay-sd", "lean", "lean-sd", "toward", "toward-sd", "note"}

// kinds are the flags that say what is measured, and those that no other has.
var kinds = []struct {
	flag string
	own  []string
}{
	{"drop", []string{"device", "time", "time-sd", "height-sd", "under", "packed"}},
	{"descent", []string{"device", "time", "time-sd", "height-sd", "under"}},
	{"mass", []string{"of", "mass-sd"}},
	{"delay", []string{"delay-sd"}},
	{"lean", []string{"lean-sd", "toward", "toward-sd"}},
}

// Read makes an entry of words. f is the flight as its file has it, as the model
// with what else was weighed: the body that hangs from a device is its.
func Read(w Words, f *flightfile.File, as *drift.Model) (e Entry, err error) {
	kind, err := w.kind()
	if err != nil {
		return e, err
	}
	r := &reader{w: w, f: f}
	e.Note = w["note"]
	switch kind {
	case "mass":
		e.What = Mass
		r.mass(&e.weighing)
	case "delay":
		e.What = Delay
		r.delay(&e.delay)
	case "lean":
		e.What = Lean
		r.lean(&e.lean)
	default:
		e.What = Drag
		r.drop(kind, as, &e.drop)
	}
	if r.err == nil {
		r.err = w.byFlag(e.Check())
	}
	return e, r.err
}

// kind tells which flag says what is measured; --mass beside a fall is what
// hangs.
func (w Words) kind() (string, error) {
	var is []string
	for _, k := range kinds {
		if _, ok := w[k.flag]; ok {
			is = append(is, k.flag)
		}
	}
	if len(is) == 2 && is[1] == "mass" && is[0] != "mass" {
		is = is[:1]
	}
	if len(is) > 1 {
		return "", fmt.Errorf("--%s are measurements of their own; log them one at a time", strings.Join(is, " and --"))
	}
	if flag, of := w.alone(is); flag != "" {
		return "", fmt.Errorf("--%s belongs to --%s: give that with it, such as --%s, or leave it out", flag, of, example[of])
	}
	if len(is) == 0 {
		return "", errors.New("nothing to log; give --drop or --descent with --time, --mass, --delay or --lean")
	}
	return is[0], nil
}

// alone returns a flag that none of the kinds that are measured has, and the
// kind that it belongs to.
func (w Words) alone(is []string) (flag, of string) {
	may := map[string]bool{"mass-sd": w["mass"] != ""}
	for _, k := range kinds {
		for _, flag := range k.own {
			may[flag] = may[flag] || slices.Contains(is, k.flag)
		}
	}
	for _, k := range kinds {
		for _, flag := range k.own {
			if _, ok := w[flag]; ok && !may[flag] {
				return flag, k.flag
			}
		}
	}
	return "", ""
}

// example is what is given with a flag that stands alone.
var example = map[string]string{"drop": "drop '20 m'", "mass": "mass '1.85 kg'", "delay": "delay '6.4 s'",
	"lean": "lean '5 deg'"}

// reader reads words and keeps the first error.
type reader struct {
	w   Words
	f   *flightfile.File
	err error
}

func (r *reader) fail(flag, format string, args ...any) {
	if r.err == nil {
		r.err = fmt.Errorf("--"+flag+" %q: "+format, append([]any{r.w[flag]}, args...)...)
	}
}

// positive reads a quantity above zero; other where it was not given.
func (r *reader) positive(flag string, k quantity.Kind, other float64) float64 {
	if _, ok := r.w[flag]; !ok {
		return other
	}
	v, err := quantity.Parse(r.w[flag], k)
	switch {
	case err != nil && r.err == nil:
		r.err = fmt.Errorf("--%s: %w", flag, err)
	case err == nil && !(v > 0):
		why := "write what was measured"
		if strings.HasSuffix(flag, "-sd") {
			why = "nobody measures without error; give the standard deviation"
		}
		r.fail(flag, "is not above zero; %s", why)
	}
	return v
}

// drop reads a fall timed from rest (--drop) or at the steady speed (--descent).
func (r *reader) drop(kind string, as *drift.Model, d *drop) {
	i := r.device()
	if _, ok := r.w["time"]; !ok && r.err == nil {
		r.err = fmt.Errorf("--%s without a time; give what the stop-watch says, such as --time '2.6 s'", kind)
	}
	d.DropM = r.positive(kind, quantity.Length, 0)
	d.TimeS = r.positive("time", quantity.Time, 0)
	d.TimeSD = r.positive("time-sd", quantity.Time, timeSD)
	d.HeightSD = r.positive("height-sd", quantity.Length, heightSD*d.DropM)
	if r.err != nil {
		return
	}
	if long := r.length(i); d.DropM <= long {
		r.fail(kind, "is no more than the device's own %.3g m: it has not opened by then; let it fall farther", long)
		return
	}
	v := &r.f.Flight.Recovery[i]
	fall := as.Drop(i, d.DropM, r.w["packed"] == "true")
	d.Device, d.Vehicle, d.Settled = v.Kind, learn.VehicleName(&r.f.Flight), kind == "descent"
	d.FileArea, d.Diameter, d.Air, d.Gravity = fall.CdS, v.Diameter, fall.Air, fall.Gravity
	d.OpeningS, d.FillS, d.FillM = fall.Delay, fall.Fill, fall.Way
	if v.DescentRate != nil {
		d.Rate = *v.DescentRate
	}
	d.HungKg, d.HungArea = fall.Mass, fall.Body
	under := r.w["under"]
	if under == "" && r.w["mass"] != "" {
		under = "weight"
	}
	switch under {
	case "", "vehicle":
	case "weight":
		if d.HungArea = 0; r.w["mass"] == "" {
			r.err = errors.New("--under weight without its mass; give it with the device's, such as --mass '500 g'")
		}
	default:
		r.fail("under", "is not known; write vehicle, or weight for a bottle or bag that has next to no drag itself")
	}
	d.HungKg = r.positive("mass", quantity.Mass, d.HungKg)
	d.HungSD = r.positive("mass-sd", quantity.Mass, massSD*d.HungKg)
}

// device finds the device that is meant: by kind, number, or both.
func (r *reader) device() int {
	all := r.f.Flight.Recovery
	text := strings.ToLower(strings.TrimSpace(r.w["device"]))
	var have []string
	var is []int
	for i, d := range all {
		name := d.Kind
		others := slices.Delete(slices.Clone(all), i, i+1)
		if slices.ContainsFunc(others, func(o drift.Device) bool { return o.Kind == d.Kind }) {
			name = fmt.Sprintf("%s %d", d.Kind, i+1)
		}
		have = append(have, name)
		if text == "" || text == name || text == d.Kind || text == strconv.Itoa(i+1) {
			is = append(is, i)
		}
	}
	switch {
	case len(is) == 1:
		return is[0]
	case len(all) == 0 && r.err == nil:
		r.err = errors.New("the flight has no recovery device to drop; write recovery: in the flight file")
	case text == "" && r.err == nil:
		r.err = fmt.Errorf("which device was dropped? The flight has %s: name one with --device", strings.Join(have, " and "))
	case len(is) == 0:
		r.fail("device", "is not in the flight; name one that is: %s", strings.Join(have, ", "))
	default:
		r.fail("device", "there are several; write %s", strings.Join(have, " or "))
	}
	return 0
}

// length is how long device i is of itself, m; 0: not known.
func (r *reader) length(i int) float64 {
	said := flightfile.Flat(r.f.Text)
	for _, path := range []string{fmt.Sprintf("recovery[%d].length", i), "recovery.length"} {
		if v, err := quantity.Parse(said[path], quantity.Length); err == nil {
			return v
		}
	}
	return r.f.Flight.Recovery[i].Diameter
}

// The names of masses that every flight file has.
const (
	vehicleMass    = "vehicle"
	propellantMass = "propellant"
)

// mass reads what was weighed.
func (r *reader) mass(m *weighing) {
	if m.Of = strings.TrimSpace(r.w["of"]); m.Of == "" {
		m.Of = vehicleMass
	}
	at := fileMass(&r.f.Flight, m.Of)
	if at == nil {
		have := []string{vehicleMass}
		if r.f.Flight.Motor.Propellant != nil {
			have = append(have, propellantMass)
		}
		for _, p := range r.f.Flight.Parts {
			have = append(have, p.Name)
		}
		r.fail("of", "the flight file has no mass of that; write %s", strings.Join(have, ", "))
		return
	}
	m.FileMass = *at
	m.MassKg = r.positive("mass", quantity.Mass, 0)
	m.MassSD = r.positive("mass-sd", quantity.Mass, massSD*m.MassKg)
	if r.err == nil && m.Of == propellantMass && m.MassKg >= r.f.Flight.Vehicle.Mass {
		r.fail("mass", "of propellant is no less than the vehicle's %s with it in; correct one of them",
			kg(r.f.Flight.Vehicle.Mass))
	}
	if p := r.f.Flight.Motor.Propellant; r.err == nil && m.Of == vehicleMass && p != nil && m.MassKg <= *p {
		r.fail("mass", "of the vehicle with its motor in is no more than the propellant's %s; correct one of them", kg(*p))
	}
	if r.err == nil && (m.MassKg > farMass*m.FileMass || m.MassKg < m.FileMass/farMass) {
		r.fail("mass", "is far from the %s of the flight file; correct whichever is wrong", kg(m.FileMass))
	}
}

// farMass is how many times the flight file's a mass may be before it is taken
// for a slip: a choice of ours.
const farMass = 3.0

// fileMass is where a flight keeps a mass; nil where it has none of that name.
func fileMass(f *drift.Flight, of string) *float64 {
	switch of {
	case vehicleMass:
		return &f.Vehicle.Mass
	case propellantMass:
		return f.Motor.Propellant
	}
	for i := range f.Parts {
		if strings.EqualFold(f.Parts[i].Name, of) {
			return &f.Parts[i].Mass
		}
	}
	return nil
}

// delay reads a motor's delay.
func (r *reader) delay(d *delay) {
	label := fileDelay(&r.f.Flight)
	if label == nil {
		r.fail("delay", "the flight file's motor has none; write motor.delay there first")
		return
	}
	d.Motor, d.FileDelay = r.f.Flight.Motor.Designation, *label
	d.DelayS = r.positive("delay", quantity.Time, 0)
	d.DelaySD = r.positive("delay-sd", quantity.Time, delaySD)
	if r.err == nil && math.Abs(d.DelayS-*label) > max(0.5**label, 3) {
		r.fail("delay", "is far from the %g s of the flight file (certified delays stray by at most 20 %% or 1.5 s, NFPA "+
			"1125, from memory); time from burnout, not from ignition", *label)
	}
}

// fileDelay is the motor's delay as a flight has it, from its designation where
// it says no other; nil: none.
func fileDelay(f *drift.Flight) *float64 {
	if f.Motor.Delay != nil {
		return f.Motor.Delay
	}
	if code, ok := motorcode.Read(f.Motor.Designation); ok {
		return code.Delay
	}
	return nil
}

// lean reads the rail's lean.
func (r *reader) lean(l *lean) {
	rail := r.f.Flight.Rail
	l.FileLean, l.FileToward = rail.LeanDeg, rail.TowardDeg
	l.LeanDeg = r.angle("lean", rail.LeanDeg)
	l.LeanSD = r.positive("lean-sd", quantity.Angle, leanSD)
	sd := r.positive("toward-sd", quantity.Angle, towardSD)
	text, ok := r.w["toward"]
	if !ok {
		r.angleAlone(l)
	}
	if !ok || r.err != nil {
		return
	}
	d, err := compass.Parse(text)
	if err == nil && d.Magnetic {
		var east float64
		east, err = magnetic.Declination(r.f.Flight.Site.Pad, r.f.Flight.Site.Elevation, r.f.Flight.When)
		d.Deg = geo.NormDeg(d.Deg + east)
	}
	if err != nil {
		r.err = fmt.Errorf("--toward: %w", err)
	}
	l.TowardDeg, l.TowardSD = d.Deg, math.Hypot(sd, d.SD)
}

// angleAlone refuses a lean without its direction where that is needed.
func (r *reader) angleAlone(l *lean) {
	switch _, sd := r.w["toward-sd"]; {
	case r.err != nil:
	case sd:
		r.err = errors.New("--toward-sd without --toward; give the direction with it, such as --toward '255 deg'")
	case l.LeanDeg > 0 && l.FileLean == 0 && l.FileToward == 0:
		r.err = errors.New("--lean needs --toward here: the rail of the flight file stands upright and tells no direction")
	}
}

// angle reads degrees, zero included.
func (r *reader) angle(flag string, other float64) float64 {
	text, ok := r.w[flag]
	if !ok {
		return other
	}
	v, err := quantity.Parse(text, quantity.Angle)
	switch {
	case err != nil && r.err == nil:
		r.err = fmt.Errorf("--%s: %w", flag, err)
	case err == nil && !(v >= 0 && v <= mostLean):
		r.fail(flag, "is no lean to launch from; write 0 to %.0f deg from the vertical", mostLean)
	}
	return v
}
