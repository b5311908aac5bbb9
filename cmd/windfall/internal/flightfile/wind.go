package flightfile

import (
	"windfall/drift/wind"
	"windfall/geo/quantity"
)

func (f *File) wind(d *decoder) {
	n := d.need(f.root, "wind", "[{height: 2 m, from: 240 deg, speed: 9 mph}]")
	if n == nil {
		return
	}
	switch n.kind {
	case list:
		f.Flight.Wind = []wind.Choice{{Profile: f.profile(d, n), Weight: 1, Label: "levels"}}
	case mapping:
		if !d.keys(n, "levels", "veer", "roughness") {
			return
		}
		p := wind.Profile{}
		if l := d.need(n, "levels", "[{height: 2 m, from: 240 deg, speed: 9 mph}]"); l != nil {
			p = f.profile(d, l)
		}
		p.Roughness = d.value(n.get("roughness"), quantity.Length, positive)
		if v := d.pointer(n.get("veer"), quantity.Angle, finite); v != nil {
			p.VeerDeg = *v
			if len(p.Levels) > 1 {
				d.fail(n.get("veer"), "is for one level alone; leave it out")
			}
		}
		f.Flight.Wind = []wind.Choice{{Profile: p, Weight: 1, Label: "levels"}}
	default:
		d.fail(n, "must be a list of levels, such as - {height: 2 m, from: 240 deg, speed: 9 mph}")
	}
}

// defaultVeer is the turn of the wind from 60 m to 600 m taken where a flier
// has one level alone: a choice of the model.
const defaultVeer = 15 // degrees

func (f *File) profile(d *decoder, n *node) (p wind.Profile) {
	p.South = f.Flight.Site.Pad.Lat() < 0
	p.VeerDeg = defaultVeer
	if n.kind != list || len(n.items) == 0 {
		d.fail(n, "must be a list of levels, such as - {height: 2 m, from: 240 deg, speed: 9 mph}")
		return p
	}
	for i, it := range n.items {
		if !d.keys(it, "height", "from", "speed") {
			return p
		}
		l := wind.Level{Height: d.value(d.need(it, "height", "2 m"), quantity.Length, positive)}
		l.FromDeg = f.direction(d, d.need(it, "from", "240 deg"))
		l.Speed = d.value(d.need(it, "speed", "9 mph"), quantity.Speed, nonNeg)
		if l.Speed > maxWind {
			d.fail(it.get("speed"), "%q is beyond any wind seen at these heights (%g m/s); check the unit", it.get("speed").text, maxWind)
		}
		if i > 0 && d.err == nil && l.Height <= p.Levels[i-1].Height {
			d.fail(it.get("height"), "%q is not above the level before; write the levels from the ground up", it.get("height").text)
		}
		p.Levels = append(p.Levels, l)
	}
	return p
}

// maxWind is above the strongest jet streams on record, some 130 m/s (from
// memory).
const maxWind = 150.0 // m/s
