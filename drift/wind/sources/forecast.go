package sources

import (
	"fmt"
	"math"
	"regexp"
	"sort"
	"strconv"
	"strings"
	"time"

	"github.com/tidwall/geodesic"

	"windfall/drift/wind"
	"windfall/geo/quantity"
)

// forecastKey splits a variable of the forecast's JSON, such as
// wind_speed_10m, wind_direction_850hPa or wind_speed_80m_member03.
var forecastKey = regexp.MustCompile(`^(wind_?speed|wind_?direction|wind_?gusts|geopotential_height|temperature|pressure)_(\d+m|\d+hPa|msl)(?:_(.+))?$`)

// hourly is the forecast at a place as the service writes it.
type hourly struct {
	name   string
	node   *node // the object hourly
	units  *node
	times  []time.Time
	series map[string]map[string]string // alternative -> "speed 10m" -> key in node
	i, j   int                          // the hours around the launch
	f      float64                      // weight of j
}

// readForecast reads an hourly forecast in the JSON of the open Open-Meteo
// service: winds at heights above ground and on pressure levels with their
// geopotential heights, interpolated in time to the launch, component by
// component. Members of an ensemble and several models become alternatives.
func readForecast(name string, doc *node, opt Options) (Report, error) {
	if e, ok := doc.get("error").value().(bool); ok && e {
		return Report{}, at(name, doc.line, "the service refused: %s; fetch the forecast again", doc.get("reason").text())
	}
	if len(doc.arr) == 1 {
		doc = doc.arr[0]
	}
	if len(doc.arr) > 1 {
		return Report{}, at(name, doc.line, "holds forecasts for %d places; fetch one for the pad alone", len(doc.arr))
	}
	h := &hourly{name: name, node: doc.get("hourly"), units: doc.get("hourly_units")}
	if err := h.readTimes(doc); err != nil {
		return Report{}, err
	}
	h.index()
	r := Report{Kind: Forecast, Label: name}
	if err := h.pick(opt.When, &r); err != nil {
		return Report{}, err
	}
	ground, ok := doc.get("elevation").number()
	if !ok {
		return Report{}, at(name, doc.get("elevation").line, "elevation %s is no number; fetch the forecast again",
			doc.get("elevation").show())
	}
	if err := h.alternatives(ground, opt, &r); err != nil {
		return Report{}, err
	}
	if err := h.surface(&r); err != nil {
		return Report{}, err
	}
	h.place(doc, ground, opt, &r)
	return r, nil
}

// value returns the plain value of a node, nil where there is none.
func (n *node) value() any {
	if n == nil {
		return nil
	}
	return n.val
}

func (h *hourly) readTimes(doc *node) error {
	list := h.node.get("time")
	if list == nil || len(list.arr) == 0 {
		return at(h.name, doc.line, "hourly.time is %s; a list of hours belongs there, fetch the forecast again", list.show())
	}
	offset, ok := doc.get("utc_offset_seconds").number()
	if !ok || math.Abs(offset) > 86400 {
		return at(h.name, doc.line, "utc_offset_seconds %s is no offset; fetch the forecast again",
			doc.get("utc_offset_seconds").show())
	}
	if math.IsNaN(offset) {
		offset = 0
	}
	for i, n := range list.arr {
		var t time.Time
		if s, ok := n.number(); ok && !math.IsNaN(s) {
			if math.Abs(s) > 1e11 {
				return at(h.name, n.line, "hourly.time[%d] %s is no time", i, n.show())
			}
			t = time.Unix(int64(s), 0).UTC()
		} else {
			var err error
			if t, err = parseTime(n.text()); err != nil {
				return at(h.name, n.line, "hourly.time[%d] %s is no time; write one such as \"2026-03-14T10:00\"", i, n.show())
			}
			t = t.Add(-time.Duration(offset) * time.Second)
		}
		if i > 0 && !t.After(h.times[i-1]) {
			return at(h.name, n.line, "hourly.time[%d] %s is not after the hour before it; fetch the forecast again", i,
				n.show())
		}
		h.times = append(h.times, t)
	}
	return nil
}

// index finds the variables of each alternative.
func (h *hourly) index() {
	h.series = map[string]map[string]string{}
	for _, key := range h.node.keys {
		g := forecastKey.FindStringSubmatch(key)
		if g == nil {
			continue
		}
		what := strings.TrimPrefix(strings.TrimPrefix(g[1], "wind"), "_")
		if h.series[g[3]] == nil {
			h.series[g[3]] = map[string]string{}
		}
		h.series[g[3]][what+" "+g[2]] = key
	}
}

// pick finds the hours around the launch.
func (h *hourly) pick(when time.Time, r *Report) error {
	last := len(h.times) - 1
	if when.IsZero() {
		when = h.times[0]
		r.warn(fmt.Sprintf("%s: no launch time given; taken: the first hour, %s", h.name, stamp(when)))
	}
	if when.Before(h.times[0]) || when.After(h.times[last]) {
		return at(h.name, h.node.get("time").line,
			"the forecast covers %s to %s, not the launch at %s; fetch it for that "+
				"time", stamp(h.times[0]), stamp(h.times[last]), stamp(when))
	}
	h.j = sort.Search(len(h.times), func(i int) bool { return !h.times[i].Before(when) })
	h.i = h.j
	if h.times[h.j].After(when) {
		h.i--
		gap := h.times[h.j].Sub(h.times[h.i])
		h.f = when.Sub(h.times[h.i]).Seconds() / gap.Seconds()
		if gap > stale {
			r.warn(fmt.Sprintf("%s: the forecast has no hour between %s and %s", h.name, stamp(h.times[h.i]),
				stamp(h.times[h.j])))
		}
	}
	r.Valid, r.Hours = when.UTC(), h.times
	r.Source = "forecast for " + stamp(when)
	return nil
}

// values returns the two values of a variable around the launch in SI, NaN where
// the forecast has none.
func (h *hourly) values(key string, k quantity.Kind, usual string) (a, b float64, err error) {
	list := h.node.get(key)
	if list == nil {
		return math.NaN(), math.NaN(), nil
	}
	if len(list.arr) != len(h.times) {
		return 0, 0, at(h.name, list.line,
			"hourly.%s has %d values for %d hours; the file seems cut short, fetch it again", key, len(list.arr), len(h.times))
	}
	unit := unitName(h.units.get(key).text())
	switch {
	case unit == "" && k == quantity.Speed:
		return 0, 0, at(h.name, list.line,
			"hourly_units.%s is missing: %s could be anything; write it, such as %q, or fetch the forecast "+
				"again", key, key, usual)
	case unit == "" || unit == "undefined": // so the service says of a variable without values
		unit = usual
	}
	var out [2]float64
	for n, i := range [2]int{h.i, h.j} {
		c := list.arr[i]
		v, ok := c.number()
		if !ok {
			return 0, 0, at(h.name, c.line, "hourly.%s[%d] %s is no number; correct it or write null", key, i, c.show())
		}
		if out[n] = v; math.IsNaN(v) {
			continue
		}
		if out[n], err = quantity.Parse(strconv.FormatFloat(v, 'g', -1, 64)+" "+unit, k); err != nil {
			return 0, 0, at(h.name, c.line, "hourly.%s[%d]: %v", key, i, err)
		}
	}
	return out[0], out[1], nil
}

// scalar interpolates one variable to the launch.
func (h *hourly) scalar(key string, k quantity.Kind, usual string) (float64, error) {
	a, b, err := h.values(key, k, usual)
	if h.f == 0 {
		return a, err
	}
	return a + h.f*(b-a), err
}

// wind interpolates a wind's components to the launch.
func (h *hourly) wind(speedKey, dirKey string) (from, speed float64, err error) {
	s0, s1, err := h.values(speedKey, quantity.Speed, "km/h")
	if err != nil {
		return 0, 0, err
	}
	d0, d1, err := h.values(dirKey, quantity.Angle, "deg")
	if err != nil {
		return 0, 0, err
	}
	for n, v := range [2][2]float64{{s0, d0}, {s1, d1}} {
		if math.IsNaN(v[0]) || (math.IsNaN(v[1]) && v[0] != 0) {
			if n == 0 || h.f > 0 {
				return math.NaN(), math.NaN(), nil
			}
			break
		}
		if v[0] == 0 && math.IsNaN(v[1]) {
			continue
		}
		if err := checkWind(v[1], v[0]); err != nil {
			return 0, 0, at(h.name, h.node.get(speedKey).line, "hourly.%s: %v", speedKey, err)
		}
	}
	if h.f == 0 {
		if s0 == 0 {
			d0 = 0
		}
		return d0, s0, nil
	}
	u0, v0 := components(d0, s0)
	u1, v1 := components(d1, s1)
	from, speed = polar(u0+h.f*(u1-u0), v0+h.f*(v1-v0))
	return from, speed, nil
}

// components returns the wind toward east and north in m/s.
func components(from, speed float64) (u, v float64) {
	if speed == 0 {
		return 0, 0 // from may be NaN
	}
	return wind.Level{Speed: speed, FromDeg: from}.UV()
}

// polar inverts components; a calm is from 0.
func polar(u, v float64) (from, speed float64) {
	speed = math.Hypot(u, v)
	if speed < 1e-9 {
		return 0, 0
	}
	return turn(math.Atan2(-u, -v) * 180 / math.Pi), speed
}

// alternatives fills the levels of every model or member, and their mean.
func (h *hourly) alternatives(ground float64, opt Options, r *Report) error {
	var names []string
	for n := range h.series {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, alt := range names {
		ls, err := h.levels(alt, ground, opt)
		if err != nil {
			return err
		}
		if len(ls) == 0 {
			continue
		}
		if alt == "" {
			alt = "control"
		}
		r.Alternatives = append(r.Alternatives, ls)
		r.Labels = append(r.Labels, alt)
	}
	switch len(r.Alternatives) {
	case 0:
		return at(h.name, h.node.line,
			"the forecast has no wind at %s; ask it for wind_speed_10m, wind_direction_10m and pressure levels", stamp(r.Valid))
	case 1:
		r.Levels, r.Alternatives, r.Labels = r.Alternatives[0], nil, nil
	default:
		r.Levels = meanLevels(r.Alternatives)
	}
	return nil
}

// levels returns the winds of one alternative, ascending: those at heights
// above ground, and those on pressure levels above the ground of the model and
// above the pad.
func (h *hourly) levels(alt string, ground float64, opt Options) ([]Level, error) {
	zero := ground
	if opt.Elevation != nil {
		zero = *opt.Elevation
	}
	var out []Level
	for what, speedKey := range h.series[alt] {
		where, ok := strings.CutPrefix(what, "speed ")
		dirKey := h.series[alt]["direction "+where]
		if !ok || dirKey == "" {
			continue
		}
		l := Level{}
		var err error
		if l.FromDeg, l.Speed, err = h.wind(speedKey, dirKey); err != nil {
			return nil, err
		}
		if math.IsNaN(l.Speed) {
			continue
		}
		if m, ok := strings.CutSuffix(where, "m"); ok {
			l.Height, _ = strconv.ParseFloat(m, 64)
			l.Elevation = zero + l.Height // NaN where neither is known
		} else {
			key := h.series[alt]["geopotential_height "+where]
			if key == "" {
				key = h.series[""]["geopotential_height "+where]
			}
			if l.Elevation, err = h.scalar(key, quantity.Length, "m"); err != nil {
				return nil, err
			}
			l.Height = l.Elevation - zero
			if math.IsNaN(l.Height) || l.Elevation <= ground || l.Height <= 0 {
				continue
			}
		}
		if l.Height > maxElevation {
			return nil, at(h.name, h.node.get(speedKey).line, "hourly.%s is at %.0f m, above all that flies here", speedKey,
				l.Height)
		}
		out = append(out, l)
	}
	sort.Slice(out, func(i, j int) bool {
		if out[i].Height != out[j].Height {
			return out[i].Height < out[j].Height
		}
		return out[i].Speed < out[j].Speed // the order of a map must not show
	})
	return out, nil
}

// surface reads what the forecast says of the air at the ground.
func (h *hourly) surface(r *Report) error {
	s := h.series[""]
	for _, q := range []struct {
		what, usual string
		kind        quantity.Kind
		into        **float64
	}{
		{"temperature 2m", "degC", quantity.Temperature, &r.Temperature},
		{"pressure msl", "hPa", quantity.Pressure, &r.QNH},
		{"gusts 10m", "km/h", quantity.Speed, &r.Gust},
	} {
		if s[q.what] == "" {
			continue
		}
		v, err := h.scalar(s[q.what], q.kind, q.usual)
		if err != nil {
			return err
		}
		*q.into = number(v)
	}
	return nil
}

// place warns where the forecast is for another spot or another ground.
func (h *hourly) place(doc *node, ground float64, opt Options, r *Report) {
	if opt.Elevation != nil && math.Abs(ground-*opt.Elevation) > 100 {
		r.warn(fmt.Sprintf("%s: the forecast takes the ground at %.0f m, the pad is at %.0f m", h.name, ground,
			*opt.Elevation))
	}
	lat, ok1 := doc.get("latitude").number()
	lon, ok2 := doc.get("longitude").number()
	if opt.Pad == nil || !ok1 || !ok2 || math.IsNaN(lat+lon) {
		return
	}
	var d float64
	geodesic.WGS84.Inverse(opt.Pad[1], opt.Pad[0], lat, lon, &d, nil, nil)
	if d > farForecast {
		r.warn(fmt.Sprintf("%s: the forecast is for a place %.0f km from the pad", h.name, d/1000))
	}
}

// farForecast is wider than the cells of global models (about 25 km).
const farForecast = 30e3 // m
