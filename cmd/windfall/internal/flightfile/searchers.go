package flightfile

import (
	"strings"

	"windfall/cmd/windfall/internal/nearest"
	"windfall/geo/quantity"
	"windfall/search"
)

func (f *File) searchers(d *decoder) {
	n := f.root.get("searchers")
	if n == nil {
		return
	}
	if n.kind != list {
		d.fail(n, "must be a list, such as - {name: east, kind: walker, speed: 3 km/h, available: 90 min}")
		return
	}
	if !d.atMost(n, maxSearchers, "searchers") {
		return
	}
	seen := map[string]bool{}
	for _, it := range n.items {
		s := f.searcher(d, it)
		if seen[s.Name] {
			d.fail(it, "has the name %q of another searcher; give each their own", s.Name)
		}
		seen[s.Name] = true
		f.Searchers = append(f.Searchers, s)
	}
}

func (f *File) searcher(d *decoder, n *node) (s search.Searcher) {
	if !d.keys(n, "searchers[]") {
		return s
	}
	s.Name = d.text(d.need(n, "name", "east"))
	s.Kind = search.Walker
	if k := n.get("kind"); k != nil {
		s.Kind = search.Kind(d.text(k))
		if s.Kind != search.Walker && s.Kind != search.Drone {
			d.fail(k, "%q is not a kind of searcher; %s", s.Kind, nearest.Hint(string(s.Kind), []string{"walker", "drone"}))
		}
	}
	s.Speed = d.value(d.need(n, "speed", "3 km/h"), quantity.Speed, positive)
	s.Available = d.value(d.need(n, "available", "90 min"), quantity.Time, positive)
	s.Joins = d.value(n.get("joins"), quantity.Time, nonNeg)
	if p := n.get("start"); p != nil {
		s.Start = f.Frame.ToXY(d.place(p))
	} else {
		d.assume("%s.start: the pad", n.path)
	}
	if s.Kind == search.Walker {
		for _, k := range []string{"height", "camera", "sortie", "recharge", "reach", "max_wind"} {
			if x := n.get(k); x != nil {
				d.fail(x, "is for drones; leave it out for a walker")
			}
		}
		return s
	}
	s.Height = d.value(d.need(n, "height", "30 m"), quantity.Length, positive)
	s.Sortie = d.value(d.need(n, "sortie", "18 min"), quantity.Time, positive)
	s.Recharge = d.value(n.get("recharge"), quantity.Time, nonNeg)
	s.Reach = d.value(n.get("reach"), quantity.Length, positive)
	s.MaxWind = d.value(n.get("max_wind"), quantity.Speed, positive)
	if c := d.need(n, "camera", "{field_of_view: 72 deg, pixels: 3840}"); c != nil && d.keys(c, "searchers[].camera") {
		s.FieldDeg = d.value(d.need(c, "field_of_view", "72 deg"), quantity.Angle, positive)
		px, _ := d.number(d.need(c, "pixels", "3840"), positive)
		s.Pixels = int(px)
	}
	return s
}

func (f *File) target(d *decoder) {
	t := &f.Target
	t.Length, t.Width = f.Flight.Vehicle.Length, f.Flight.Vehicle.Diameter
	n := f.root.get("target")
	if n == nil || !d.keys(n, "target") {
		return
	}
	if s := n.get("size"); s != nil {
		a, b, ok := strings.Cut(d.text(s), " by ")
		length, err := quantity.Parse(a, quantity.Length)
		width := t.Width
		if err == nil && ok {
			width, err = quantity.Parse(b, quantity.Length)
		}
		if err != nil || length <= 0 || width <= 0 {
			d.fail(s, "%q is not a size; write one such as 1.65 m by 76 mm", s.text)
		}
		t.Length, t.Width = length, width
	}
	t.Colour = d.text(n.get("colour"))
	t.HeardAt = d.value(n.get("heard_at"), quantity.Length, positive)
	t.SeenAt = d.byCover(n.get("seen_at"), quantity.Length, positive,
		"ranges by ground cover, such as {short grass: 40 m, crop: 9 m}")
	t.Unseen = d.byCover(n.get("unseen"), quantity.Ratio, nonNeg, "shares by ground cover, such as {woodland: 20 %}")
}

// byCover reads a value for each of some classes of cover; nil for none.
func (d *decoder) byCover(n *node, kind quantity.Kind, b bound, what string) map[string]float64 {
	if n == nil {
		return nil
	}
	if n.kind != mapping {
		d.fail(n, "must be %s", what)
		return nil
	}
	out := map[string]float64{}
	for _, k := range n.keys {
		if c := n.get(k); c != nil {
			out[k] = d.value(c, kind, b)
		}
	}
	return out
}
