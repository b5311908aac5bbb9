package flightfile

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"windfall/cmd/windfall/internal/nearest"
	"windfall/drift"
	"windfall/drift/trigger"
	"windfall/geo/quantity"
)

// Drag coefficients taken where a device's own is not given: Knacke 1991 gives
// 0.75 to 0.80 for flat circular canopies on their cloth area (from memory); a
// streamer's on one side of its cloth is a guess of ours.
const (
	canopyCd   = 0.8
	streamerCd = 0.15
)

var deviceKinds = []string{"parachute", "streamer", "drogue", "main"}

func (f *File) recovery(d *decoder) {
	n := f.root.get("recovery")
	if n == nil {
		d.assume("recovery: none, the vehicle falls ballistic")
		return
	}
	items := n.items
	if n.kind == mapping {
		items = []*node{n}
	} else if n.kind != list {
		d.fail(n, "must be a list of devices, such as - {device: parachute, trigger: ejection, diameter: 60 cm, drag: 0.8}")
		return
	}
	if !d.atMost(n, maxDevices, "devices") {
		return
	}
	for _, it := range items {
		f.Flight.Recovery = append(f.Flight.Recovery, f.device(d, it))
	}
}

func (f *File) device(d *decoder, n *node) (v drift.Device) {
	if !d.keys(n, "recovery[]") {
		return v
	}
	kind := d.need(n, "device", "parachute")
	v.Kind = d.text(kind)
	if kind != nil && !contains(deviceKinds, v.Kind) {
		d.fail(kind, "%q is not a device; %s", v.Kind, nearest.Hint(v.Kind, deviceKinds))
	}
	v.Canopy = v.Kind != "streamer"
	if t := n.get("trigger"); t != nil {
		v.Trigger = d.trigger(t)
	} else {
		v.Trigger.Kind = trigger.Apogee
		if f.ejects() {
			v.Trigger.Kind = trigger.Ejection
		}
		d.assume("%s.trigger: %s", n.path, [...]string{trigger.Ejection: "ejection",
			trigger.Apogee: "apogee"}[v.Trigger.Kind])
	}
	v.OpeningDelay = d.value(n.get("opening_delay"), quantity.Time, nonNeg)
	v.FillTime = d.pointer(n.get("fill_time"), quantity.Time, nonNeg)
	v.Releases = d.boolean(n.get("releases"))
	v.Diameter = d.value(n.get("diameter"), quantity.Length, positive)
	for _, key := range []string{"width", "length"} {
		if x := n.get(key); x != nil && v.Canopy {
			d.fail(x, "is for a streamer; leave it out, a canopy has a diameter")
		}
	}
	v.DescentRate = d.pointer(n.get("descent_rate"), quantity.Speed, positive)
	if x := n.get("drag_area"); x != nil {
		v.CdS = d.value(x, quantity.Area, positive)
	} else if v.DescentRate == nil {
		v.CdS = d.dragArea(n, &v)
	}
	if v.DescentRate != nil && (n.get("drag_area") != nil || n.get("drag") != nil) {
		d.fail(n.get("descent_rate"), "and a drag are both given; keep one")
	}
	return v
}

// ejects says whether the motor has an ejection charge: a delay of its own or
// one in its designation.
func (f *File) ejects() bool {
	m := f.Flight.Motor
	if m.Delay != nil {
		return true
	}
	_, after, ok := strings.Cut(m.Designation, "-")
	_, err := strconv.ParseFloat(after, 64)
	return ok && err == nil
}

func (d *decoder) dragArea(n *node, v *drift.Device) float64 {
	cd, given := d.number(n.get("drag"), positive)
	if v.Canopy {
		diameter := d.value(d.need(n, "diameter", "60 cm"), quantity.Length, positive)
		if !given && n.get("drag") == nil {
			cd = canopyCd
			d.assume("%s.drag: %g on the cloth area", n.path, cd)
		}
		return cd * math.Pi / 4 * diameter * diameter
	}
	width := d.value(d.need(n, "width", "180 mm"), quantity.Length, positive)
	length := d.value(d.need(n, "length", "3 m"), quantity.Length, positive)
	if !given && n.get("drag") == nil {
		cd = streamerCd
		d.assume("%s.drag: %g on width x length", n.path, cd)
	}
	return cd * width * length
}

// trigger reads "ejection", "apogee", "apogee + 1 s", "height 150 m",
// "burnout", "time 12 s".
func (d *decoder) trigger(n *node) (t trigger.Trigger) {
	s := d.text(n)
	word, rest, _ := strings.Cut(s, " ")
	rest = strings.TrimSpace(rest)
	read := func(k quantity.Kind) {
		v, err := quantity.Parse(rest, k)
		if err != nil {
			d.fail(n, "%q: %v", s, err)
		} else if v < 0 {
			d.fail(n, "%q must not be negative; write one such as height 150 m", s)
		}
		t.Value = v
	}
	switch {
	case s == "ejection":
		t.Kind = trigger.Ejection
	case s == "burnout":
		t.Kind = trigger.Burnout
	case s == "apogee":
		t.Kind = trigger.Apogee
	case strings.HasPrefix(s, "apogee") && strings.HasPrefix(strings.TrimSpace(s[6:]), "+"):
		t.Kind = trigger.Apogee
		rest = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(s[6:]), "+"))
		read(quantity.Time)
	case word == "height":
		t.Kind = trigger.Height
		read(quantity.Length)
	case word == "time":
		t.Kind = trigger.AtTime
		read(quantity.Time)
	default:
		d.fail(n, "%q is not a trigger; write ejection, apogee, apogee + 1 s, height 150 m, burnout or time 12 s", s)
	}
	return t
}

func (f *File) parts(d *decoder) {
	n := f.root.get("parts")
	if n == nil {
		return
	}
	if n.kind != list {
		d.fail(n, "must be a list, such as - {name: camera, mass: 70 g, drag_area: 50 cm2, sheds: apogee, chance: 5 %%}")
		return
	}
	if !d.atMost(n, maxParts, "parts") {
		return
	}
	seen := map[string]bool{}
	for _, it := range n.items {
		p := f.part(d, it)
		if seen[p.Name] {
			d.fail(it, "has the name %q of another part; give each its own", p.Name)
		}
		seen[p.Name] = true
		f.Flight.Parts = append(f.Flight.Parts, p)
	}
}

func (f *File) part(d *decoder, n *node) (p drift.Part) {
	if !d.keys(n, "parts[]") {
		return p
	}
	p.Name = d.text(d.need(n, "name", "camera pod"))
	p.Mass = d.value(d.need(n, "mass", "70 g"), quantity.Mass, positive)
	if r, ok := d.quantity(n.get("descent_rate"), quantity.Speed, positive); ok {
		p.CdS = 2 * p.Mass * 9.80665 / (1.225 * r * r)
	} else {
		p.CdS = d.value(d.need(n, "drag_area", "50 cm2"), quantity.Area, positive)
	}
	if c := n.get("chance"); c != nil {
		p.Chance = d.chance(c)
	} else {
		p.Chance = 1
		d.assume("%s.chance: 100 %%", n.path)
	}
	s := d.need(n, "sheds", "apogee")
	if s == nil {
		return p
	}
	if s.kind == scalar {
		t := d.trigger(s)
		p.Sheds = [2]trigger.Trigger{t, t}
		return p
	}
	if !d.keys(s, "parts[].sheds") {
		return p
	}
	if at := s.get("at"); at != nil {
		t := d.trigger(at)
		p.Sheds = [2]trigger.Trigger{t, t}
	} else if b := d.need(s, "between", "[burnout, apogee]"); b != nil {
		if b.kind != list || len(b.items) != 2 {
			d.fail(b, "must be two triggers, such as [burnout, apogee]")
			return p
		}
		p.Sheds = [2]trigger.Trigger{d.trigger(b.items[0]), d.trigger(b.items[1])}
	}
	return p
}

// chance reads a probability, 0 to 1 or in per cent.
func (d *decoder) chance(n *node) float64 {
	v, ok := d.quantity(n, quantity.Ratio, nonNeg)
	if ok && v > 1 {
		d.fail(n, "%q is above one; write a chance such as 5 %% or 0.05", n.text)
	}
	return v
}

func (f *File) outcomes(d *decoder) {
	n := f.root.get("outcomes")
	if n == nil {
		return
	}
	if !d.keys(n, "outcomes") {
		return
	}
	sum := 0.0
	for _, k := range n.keys {
		if c := n.get(k); c != nil {
			p := d.chance(c)
			sum += p
			f.Flight.Outcomes = append(f.Flight.Outcomes, drift.Chance{Name: k, P: p})
		}
	}
	if d.err == nil && math.Abs(sum-1) > 1e-6 {
		d.fail(n, "sum to %s; make them sum to 1", fmt.Sprintf("%.6g", sum))
	}
}

func (f *File) spread(d *decoder) {
	n := f.root.get("spread")
	if n == nil {
		return
	}
	s := &f.Flight.Spread
	fields := []struct {
		key  string
		kind quantity.Kind
		to   **float64
	}{
		{"lean", quantity.Angle, &s.LeanDeg}, {"impulse", quantity.Ratio, &s.Impulse}, {"delay", quantity.Ratio, &s.Delay},
		{"drag", quantity.Ratio, &s.Drag}, {"yaw_wavelength", quantity.Ratio, &s.YawWavelength}, {"mass", quantity.Ratio,
			&s.Mass},
		{"device_drag", quantity.Ratio, &s.DeviceCdS}, {"opening_delay", quantity.Ratio, &s.OpeningDelay},
		{"wind_speed", quantity.Ratio, &s.WindSpeed}, {"wind_direction", quantity.Angle,
			&s.WindDirectionDeg}, {"wind_shape", quantity.Ratio, &s.WindShape},
	}
	if !d.keys(n, "spread") {
		return
	}
	for _, x := range fields {
		*x.to = d.pointer(n.get(x.key), x.kind, nonNeg)
	}
}
