package flightfile

import (
	"os"
	"slices"
	"time"

	"windfall/drift/wind"
	"windfall/drift/wind/sources"
	"windfall/geo/compass"
	"windfall/geo/quantity"
)

const levelsExample = "[{height: 2 m, from: 240 deg, speed: 9 mph}]"

// wind reads the wind in any of its forms: a list of levels, the name of a
// file, a mapping with levels or a file and what goes with them, or a list of
// such sources of which each run draws one.
func (f *File) wind(d *decoder) {
	n := d.need(f.root, "wind", levelsExample)
	if n == nil {
		return
	}
	opt := f.WindOptions()
	var items []sources.Item
	switch {
	case n.kind == list && len(n.items) > 0 && isSource(n.items[0]):
		items = f.windList(d, n, opt)
	case n.kind == list:
		items = []sources.Item{{Choices: f.levels(d, n, sources.Report{}, opt)}}
	default:
		items = []sources.Item{f.windSource(d, n, opt)}
	}
	if d.err != nil {
		return
	}
	cs, err := sources.Combine(items, opt)
	if err != nil {
		d.fail(n, "%v", err)
	}
	f.Flight.Wind = cs
}

// isSource tells an entry of a list of winds from a level.
func isSource(n *node) bool {
	return n.kind == scalar || n.kind == mapping && (n.get("levels") != nil || n.get("file") != nil ||
		n.get("forecast") != nil)
}

// WindOptions says for which launch the winds of this flight are read.
func (f *File) WindOptions() sources.Options {
	s := f.Flight.Site
	opt := sources.Options{When: f.Flight.When, Pad: &s.Pad}
	if f.root.get("site").get("elevation") != nil || f.Flight.Terrain != nil {
		opt.Elevation = &s.Elevation
	}
	if dec, err := f.declination(); err == nil {
		opt.Declination = &dec
	}
	return opt
}

// windList reads a list of sources with weights.
func (f *File) windList(d *decoder, n *node, opt sources.Options) []sources.Item {
	if !d.atMost(n, maxWinds, "winds") {
		return nil
	}
	var items []sources.Item
	weighed := 0
	for _, it := range n.items {
		item := f.windSource(d, it, opt)
		if it.kind == mapping && it.get("weight") != nil {
			weighed++
			item.Weight, _ = d.number(it.get("weight"), positive)
		}
		items = append(items, item)
	}
	if weighed > 0 && weighed < len(items) && d.err == nil {
		d.fail(n, "has weights for %d of its %d winds; give every one a weight, or none", weighed, len(items))
	}
	return items
}

// windSource reads one wind: a file's name, or a mapping with levels or file
// (or forecast, the same), and measured, veer, roughness.
func (f *File) windSource(d *decoder, n *node, opt sources.Options) sources.Item {
	if n.kind == scalar {
		return sources.Item{Report: f.windFile(d, n, opt)}
	}
	if !d.keys(n, "wind") {
		return sources.Item{}
	}
	var item sources.Item
	given := 0
	for _, key := range []string{"levels", "file", "forecast"} {
		c := n.get(key)
		if c == nil {
			continue
		}
		if given++; given > 1 {
			d.fail(c, "is a second wind in one entry; write a list of winds, each with its weight")
			return item
		}
		if key == "levels" {
			item.Report.Valid = f.at(d, n, opt)
			item.Choices = f.levels(d, c, item.Report, opt)
		} else {
			item.Report = f.windFile(d, c, opt)
		}
	}
	if m := n.get("measured"); given == 0 && m != nil && m.kind == mapping {
		return f.measuredAlone(d, n, m, opt)
	}
	if given == 0 {
		d.need(n, "levels", levelsExample)
		return item
	}
	if d.err != nil {
		return item
	}
	if n.get("levels") == nil {
		f.dated(d, n, &item.Report, opt)
	}
	return f.windExtras(d, n, item, opt)
}

// measuredAlone takes a measurement at the pad, with no other wind beside it,
// for a level alone.
func (f *File) measuredAlone(d *decoder, n, m *node, opt sources.Options) (item sources.Item) {
	level := &node{kind: mapping, path: m.path, line: m.line, field: map[string]*node{}}
	for _, k := range m.keys {
		if k != "at" {
			level.keys, level.field[k] = append(level.keys, k), m.field[k]
		}
	}
	item.Report.Valid = f.at(d, m, opt)
	item.Choices = f.levels(d, &node{kind: list, path: m.path, line: m.line, items: []*node{level}}, item.Report, opt)
	if d.err != nil {
		return item
	}
	d.assume("%s: taken for the wind itself, a level alone", m.path)
	rest := &node{kind: mapping, path: n.path, line: n.line, field: map[string]*node{}}
	for _, k := range []string{"roughness", "veer"} {
		if x := n.get(k); x != nil {
			rest.keys, rest.field[k] = append(rest.keys, k), x
		}
	}
	return f.windExtras(d, rest, item, opt)
}

// at reads when a wind was observed.
func (f *File) at(d *decoder, n *node, opt sources.Options) (t time.Time) {
	a := n.get("at")
	if a == nil {
		return t
	}
	t = d.time(a)
	if d.err == nil && !opt.When.IsZero() && t.After(opt.When) {
		d.ask(a, "%q is after the launch; its age counts all the same", a.text)
	}
	return t
}

// dated takes over when a file without a time was observed, or a forecast made.
func (f *File) dated(d *decoder, n *node, r *sources.Report, opt sources.Options) {
	at, made := n.get("at"), n.get("made")
	switch {
	case at != nil && r.Kind == sources.Forecast:
		d.fail(at, "is for what was observed; write made: TIME, when the forecast was made")
	case at != nil && !r.Valid.IsZero():
		d.fail(at, "%q: the file has its own time, %s; leave at out", at.text, r.Valid.UTC().Format(time.RFC3339))
	case at != nil:
		r.Valid = f.at(d, n, opt)
	}
	if made == nil {
		return
	}
	if r.Kind != sources.Forecast {
		d.fail(made, "is for forecasts; write at: TIME, when it was observed")
	}
	if r.Made = d.time(made); d.err == nil && !opt.When.IsZero() && r.Made.After(opt.When) {
		d.fail(made, "%q is after the launch; write when the forecast was made", made.text)
	}
}

// windExtras applies what stands beside a wind: its roughness and veer, and
// measurements at the pad.
func (f *File) windExtras(d *decoder, n *node, item sources.Item, opt sources.Options) sources.Item {
	rough := d.value(n.get("roughness"), quantity.Length, positive)
	veer := d.pointer(n.get("veer"), quantity.Angle, finite)
	m := n.get("measured")
	if n.get("roughness") == nil && veer == nil && m == nil {
		return item
	}
	if len(item.Choices) == 0 {
		var err error
		if item.Choices, err = item.Report.Choices(opt); err != nil {
			d.fail(n, "%v", err)
			return item
		}
	}
	for i := range item.Choices {
		p := &item.Choices[i].Profile
		if rough > 0 {
			p.Roughness = rough
		}
		if veer != nil {
			if len(p.Levels) > 1 {
				d.fail(n.get("veer"), "is for one level alone; leave it out")
			}
			p.VeerDeg = *veer
		}
		p.Spread = item.Report.Spread(*p, opt, veer != nil)
	}
	if m == nil {
		return item
	}
	all := []*node{m}
	if m.kind == list {
		all = m.items
	}
	for _, it := range all {
		meas := f.measured(d, it, opt)
		if d.err != nil {
			return item
		}
		item.Choices = sources.Correct(item.Choices, meas, opt.When)
	}
	return item
}

// measured reads a wind measured at the pad, in place or in a file.
func (f *File) measured(d *decoder, n *node, opt sources.Options) (m sources.Measurement) {
	if n.kind == scalar {
		r := f.windFile(d, n, opt)
		if d.err != nil {
			return m
		}
		m, ok := r.Measurement()
		if !ok {
			d.fail(n, "%q is no measurement near the ground; name an airport report or write {height: 2 m, from: 240 deg, "+
				"speed: 9 mph, at: TIME}", n.text)
		}
		return m
	}
	if !d.keys(n, "wind.measured") {
		return m
	}
	m.Height = d.value(d.need(n, "height", "2 m"), quantity.Length, positive)
	m.FromDeg = f.direction(d, d.need(n, "from", "240 deg"))
	m.Speed = d.value(d.need(n, "speed", "9 mph"), quantity.Speed, nonNeg)
	m.Gust = f.gust(d, n.get("gust"), m.Speed)
	if a := n.get("at"); a != nil {
		if m.Time = d.time(a); d.err == nil && !opt.When.IsZero() && m.Time.After(opt.When) {
			d.ask(a, "%q is after the launch; its age counts all the same", a.text)
		}
	} else if m.Time = f.written; !m.Time.IsZero() {
		d.assume("%s.at: when the flight file has it, %s", n.path, m.Time.Format("2006-01-02 15:04 MST"))
	}
	return m
}

// gust reads the strongest gust beside a mean speed; nil: not told.
func (f *File) gust(d *decoder, n *node, mean float64) *float64 {
	g := d.pointer(n, quantity.Speed, nonNeg)
	if g != nil && *g < mean {
		d.fail(n, "%q is below the mean speed; write the strongest gust", n.text)
	}
	return g
}

// windFile reads a wind file and passes its warnings on. The air it reports is
// taken for the pad's where the flight file says nothing of it.
func (f *File) windFile(d *decoder, n *node, opt sources.Options) sources.Report {
	path := f.side(d, n)
	if path == "" || d.err != nil {
		return sources.Report{}
	}
	in, err := os.Open(path)
	if err != nil {
		d.fail(n, "%q: %s", n.text, reason(err))
		return sources.Report{}
	}
	defer in.Close()
	r, err := sources.Read(path, in, opt)
	if err != nil {
		d.err = err
		return r
	}
	f.Warnings = append(f.Warnings, r.Warnings...)
	f.forecastHours(r.Hours)
	if r.FromLowest {
		d.assume("wind: heights of %s count from its lowest level, as site.elevation is not given", n.text)
	}
	s := &f.Flight.Site
	if s.Temperature == nil && r.Temperature != nil {
		s.Temperature = r.Temperature
		d.assume("site.temperature: %.0f degC, from %s", *r.Temperature-273.15, n.text)
	}
	if s.QNH == nil && s.Station == nil && r.QNH != nil {
		s.QNH = r.QNH
		d.assume("site.pressure: %.0f hPa, from %s", *r.QNH/100, n.text)
	}
	return r
}

// forecastHours keeps the hours that every forecast named so far covers.
func (f *File) forecastHours(hours []time.Time) {
	if len(hours) == 0 {
		return
	}
	if f.Hours == nil {
		f.Hours = hours
		return
	}
	first, last := hours[0], hours[len(hours)-1]
	f.Hours = slices.DeleteFunc(slices.Clone(f.Hours), func(t time.Time) bool { return t.Before(first) || t.After(last) })
}

// levels reads a list of levels by hand; r says when they were observed.
func (f *File) levels(d *decoder, n *node, r sources.Report, opt sources.Options) []wind.Choice {
	p := wind.Profile{South: f.Flight.Site.Pad.Lat() < 0, VeerDeg: wind.DefaultVeer}
	if n.kind != list || len(n.items) == 0 {
		d.fail(n, "must be a list of levels, such as - {height: 2 m, from: 240 deg, speed: 9 mph}")
		return nil
	}
	if !d.atMost(n, maxLevels, "levels") {
		return nil
	}
	var gust *float64
	open := 0.0
	for i, it := range n.items {
		if !d.keys(it, "wind.levels[]") {
			return nil
		}
		l := wind.Level{Height: d.value(d.need(it, "height", "2 m"), quantity.Length, positive)}
		l.FromDeg = f.direction(d, d.need(it, "from", "240 deg"))
		l.Speed = d.value(d.need(it, "speed", "9 mph"), quantity.Speed, nonNeg)
		if i > 0 && d.err == nil && l.Height <= p.Levels[i-1].Height {
			d.fail(it.get("height"), "%q is not above the level before; write the levels from the ground up",
				it.get("height").text)
		}
		if g := f.gust(d, it.get("gust"), l.Speed); g != nil && i > 0 {
			d.fail(it.get("gust"), "is of the lowest level alone; leave it out")
		} else if i == 0 {
			gust = g
		}
		if c, ok := compass.Point(d.text(it.get("from"))); ok {
			open = max(open, c.SD)
		}
		p.Levels = append(p.Levels, l)
	}
	if d.err == nil {
		p.Spread = r.Spread(p, opt, false)
		sources.Widen(&p, gust, open)
	}
	return []wind.Choice{{Profile: p, Weight: 1, Label: "levels"}}
}
