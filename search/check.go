package search

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/search/detect"
	"windfall/search/route"
)

// ready checks the problem and makes its agents. Errors name the searcher and
// the field.
func ready(p Problem) (*terra, []*agent, []string, error) {
	if err := checkMap(p.Map); err != nil {
		return nil, nil, nil, err
	}
	if len(p.Searchers) == 0 {
		return nil, nil, nil, fmt.Errorf("searchers: none given; write at least one, such as " +
			"{name: east, kind: walker, speed: 3 km/h, start: LAT,LON, available: 90 min}")
	}
	if _, err := detect.Parse(string(p.Law)); err != nil {
		return nil, nil, nil, err
	}
	t := newTerra(p.Ground, p.Terrain)
	foot, air, cautions := worlds(p)
	var agents []*agent
	seen := map[string]bool{}
	for i, s := range p.Searchers {
		if s.Name == "" {
			s.Name = fmt.Sprintf("searcher %d", i+1)
		}
		if seen[s.Name] {
			return nil, nil, nil, &FieldError{fmt.Sprintf("searchers[%d].name", i), s.Name, "is taken; give each its own"}
		}
		seen[s.Name] = true
		if err := checkSearcher(s); err != nil {
			err.Field = fmt.Sprintf("searchers[%d].%s", i, err.Field)
			return nil, nil, nil, err
		}
		a := &agent{Searcher: s, t: t, world: foot, at: s.Start, turn: turnWalker, sortie: math.Inf(1)}
		if s.At != nil {
			a.at = *s.At
		}
		a.begin, a.end = math.Max(0, s.Joins), math.Max(0, s.Joins)+s.Available
		if p.Dark > 0 && a.end > p.Dark {
			a.end = p.Dark
			cautions = append(cautions, fmt.Sprintf("%s is back by civil dusk, after %.0f of %.0f minutes",
				s.Name, math.Max(0, a.end-a.begin)/60, s.Available/60))
		}
		if s.Kind == Drone {
			a.world, a.turn = air, turnDrone
			if s.Sortie > 0 {
				a.sortie = s.Sortie * (1 - reserve)
			}
			if s.MaxWind > 0 && p.Wind > s.MaxWind {
				cautions = append(cautions, fmt.Sprintf("%s stays down: wind %.0f m/s is above its limit of %.0f m/s",
					s.Name, p.Wind, s.MaxWind))
				a.end = a.begin
			}
		}
		if a.world.Inside(a.Start) || a.world.Near(a.Start, route.Clearance) {
			return nil, nil, nil, &FieldError{fmt.Sprintf("searchers[%d].start", i), fromPad(a.Start),
				"is in a no-go area or on a barrier; move it outside"}
		}
		if a.world.Inside(a.at) {
			return nil, nil, nil, fmt.Errorf("searchers[%d] %q: now %.0f m east, %.0f m north of the pad, "+
				"which is in a no-go area; move it outside", i, s.Name, a.at.X, a.at.Y)
		}
		a.widths(p.Target)
		a.home = a.world.From(a.Start)
		agents = append(agents, a)
	}
	return t, agents, cautions, nil
}

// worlds returns the ground as those meet it who are there: walkers, drones.
func worlds(p Problem) (foot, air *route.World, cautions []string) {
	middle := momentsOf(p.Map).mean
	foot, air = &route.World{}, &route.World{}
	if slices.ContainsFunc(p.Searchers, func(s Searcher) bool { return s.Kind != Drone }) {
		foot = route.Foot(p.Ground, middle)
	}
	if slices.ContainsFunc(p.Searchers, func(s Searcher) bool { return s.Kind == Drone }) {
		air = route.Air(p.Ground, middle)
	}
	if n := max(foot.LeftOut(), air.LeftOut()); n > 0 {
		cautions = append(cautions, fmt.Sprintf("no-go areas and barriers have too many corners: ways round the %d "+
			"farthest are not looked for; simplify the shapes, or leave out what nobody comes near", n))
	}
	return foot, air, cautions
}

// FieldError says which field of a searcher is wrong and what to write instead.
type FieldError struct {
	Field string // such as searchers[1].speed
	Value string // in SI
	Msg   string // follows the quoted value
}

func (e *FieldError) Error() string { return fmt.Sprintf("%s %q %s", e.Field, e.Value, e.Msg) }

func fromPad(q geo.XY) string {
	return fmt.Sprintf("%.0f m east, %.0f m north of the pad", q.X, q.Y)
}

func checkMap(m *grid.Map) error {
	if m == nil || m.NX <= 0 || m.NY <= 0 || len(m.P) != m.NX*m.NY || !(m.Cell > 0) {
		return fmt.Errorf("the map has no cells; make one with locate")
	}
	sum := m.Outside
	for _, v := range m.P {
		if !(v >= 0) {
			return fmt.Errorf("the map holds a chance of %v; chances lie between 0 and 1", v)
		}
		sum += v
	}
	if math.Abs(sum-1) > 1e-6 {
		return fmt.Errorf("the map's chances and what lies outside sum to %.9g, not 1", sum)
	}
	return nil
}

func checkSearcher(s Searcher) *FieldError {
	bad := func(field, value, msg string) *FieldError { return &FieldError{field, value, msg} }
	with := func(v float64, unit string) string { return fmt.Sprintf("%.4g %s", v, unit) }
	switch {
	case s.Kind != Walker && s.Kind != Drone:
		return bad("kind", string(s.Kind), "is not known; write walker or drone")
	case !(s.Speed > 0 && s.Speed < 100):
		return bad("speed", with(s.Speed, "m/s"), "is no speed of a searcher; write one such as 3 km/h")
	case !(s.Available > 0 && s.Available <= 7*86400):
		return bad("available", with(s.Available, "s"), "is no time to search; write one such as 90 min")
	case math.IsNaN(s.Start.X+s.Start.Y) || s.Start.Norm() > 100e3:
		return bad("start", fromPad(s.Start),
			fmt.Sprintf("is %.0f km from the pad; write a place near the site", s.Start.Norm()/1000))
	case math.IsNaN(s.Joins) || s.Joins < 0 || s.Joins > 7*86400:
		return bad("joins", with(s.Joins, "s"), "is out of range; write a time after the beginning, such as 20 min")
	}
	if s.Kind == Walker {
		return nil
	}
	switch {
	case !(s.Height > 0 && s.Height <= 1000):
		return bad("height", with(s.Height, "m"), "is out of range; write the height above ground, such as 30 m")
	case !(s.FieldDeg > 0 && s.FieldDeg < 170):
		return bad("camera.field_of_view", with(s.FieldDeg, "deg"),
			"is out of range; write the angle across track, such as 72 deg")
	case s.Pixels <= 0:
		return bad("camera.pixels", fmt.Sprint(s.Pixels),
			"is no number of pixels; write those across the field of view, such as 3840")
	case s.Sortie < 0:
		return bad("sortie", with(s.Sortie, "s"), "is negative; write the time of flight on one charge, such as 18 min")
	case s.Recharge < 0:
		return bad("recharge", with(s.Recharge, "s"), "is negative; write the time between sorties, such as 4 min")
	case s.Reach < 0:
		return bad("reach", with(s.Reach, "m"), "is negative; write the greatest distance from the start, such as 500 m")
	}
	return nil
}

// assumed puts the sweep widths taken for granted into words.
func assumed(t *terra, agents []*agent, tg Target) []string {
	var out []string
	for _, class := range t.classes {
		if u := tg.unseen(class); u > 0 {
			out = append(out, fmt.Sprintf("%.0f %% of what lies in %s is taken as seen by nobody, hung up or sunk in: "+
				"counted as not found", 100*u, class))
		}
	}
	foot, air := false, false
	for _, a := range agents {
		if a.drone() {
			if !air {
				air = true
				cam := detect.Camera{Height: a.Height, FieldDeg: a.FieldDeg, Pixels: a.Pixels, Speed: a.Speed}
				l, w := tg.Length, tg.Width
				if l <= 0 || w <= 0 {
					l, w = 1.5, 0.075
				}
				px := cam.PixelsAcross(math.Min(l, w))
				out = append(out, fmt.Sprintf("%s sees a strip of %.0f m, the narrow side of the target spans %.1f pixels "+
					"(%.0f wanted): seen with chance %.2f in the open", a.Name,
					cam.Footprint(), px, detect.PixelsWanted, detect.Seen(px)),
					"drones: local rules, the wind and keeping the drone in sight decide before this plan does")
			}
			continue
		}
		if foot {
			continue
		}
		foot = true
		v := detect.ColourVisibility(tg.Colour)
		word := string(v) + " visibility"
		if v == detect.Any {
			word = "all objects, colour not said or not known"
		}
		out = append(out, fmt.Sprintf("sweep width on foot is %.3f times the range at which the target is first seen (%s)",
			v.Factor(), word))
		if len(a.noted) > 0 {
			out = append(out, "ranges not measured, defaults taken: "+strings.Join(a.noted, ", ")+
				"; lay the target out and pace the range for a minute in each")
		}
	}
	return out
}
