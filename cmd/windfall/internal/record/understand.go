package record

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"windfall/cmd/windfall/internal/situation"
	"windfall/drift"
	"windfall/geo/place"
	"windfall/geo/quantity"
)

// Reading is what was read of a flight file and everything it names, in words:
// the JSON of check.
type Reading struct {
	Flight      string   `json:"flight"`
	Understood  []Line   `json:"understood"`
	Assumptions []string `json:"assumptions"`
	Cautions    []string `json:"cautions"`
	Files       []string `json:"files"` // every file that was read
}

// Line is what was understood of a key of the flight file.
type Line struct {
	Key  string `json:"key"`
	Says string `json:"says"`
}

// Understand says in words what was read of a flight.
func Understand(f *Flight) Reading {
	in, m := f.Input, f.Input.Model
	a := Reading{
		Flight: in.Flight.ID, Files: slices.Concat([]string{f.File.Path}, f.File.Sides),
		Assumptions: slices.Concat([]string{}, in.Assumed, m.Assumptions()),
		Cautions:    slices.Concat([]string{}, in.Cautions, m.Cautions()),
	}
	say := func(key, format string, args ...any) {
		a.Understood = append(a.Understood, Line{key, fmt.Sprintf(format, args...)})
	}
	say("flight", "%s", in.Flight.ID)
	if w := in.Flight.When; !w.IsZero() {
		say("when", "%s", w.Format("Monday 2 January 2006, 15:04 -07:00"))
	}
	pad := in.Flight.Site.Pad
	say("pad", "%s   %s, %.0f m above sea level", place.Format(pad, place.Local(pad)), place.Format(pad,
		place.Decimal), in.Flight.Site.Elevation)
	sayGround(say, in)
	sayVehicle(say, in.Flight, m)
	for _, c := range in.Flight.Wind {
		l := c.Profile.Levels
		say("wind", "%s: %s, the lowest %.1f m/s from %03.0f at %.3g m", c.Label, count(len(l), "level"), l[0].Speed,
			math.Mod(math.Round(l[0].FromDeg), 360), l[0].Height)
	}
	for _, s := range in.Who() {
		say("searcher", "%s, %s, %.1f m/s for %.0f min", s.Name, s.Kind, s.Speed, s.Available/60)
	}
	if f.File.Learned.ID != 0 {
		say("learned", "from %s", count(f.File.Learned.Finds, "find"))
	}
	if f.File.Map != "" {
		say("base map", "%s", f.File.Map)
	}
	for _, s := range in.Measured {
		say("measured", "%s", s)
	}
	return a
}

// sayGround tells of the field, the ground and the terrain.
func sayGround(say func(key, format string, args ...any), in situation.Input) {
	if in.Field != nil {
		say("field", "%s", quantity.Hectares(in.Field.Area()))
	}
	if g := in.Ground; g != nil {
		say("ground", "%s (%s), %s, %s, %s with %s, %s", count(len(g.Covers), "cover"), strings.Join(g.Classes(), ", "),
			count(len(g.NoGo), "no-go area"), count(len(g.Places), "place"), count(len(g.Barriers), "barrier"),
			count(len(g.Crossings), "crossing"), count(len(g.Lines), "line"))
	}
	if in.Flight.Terrain != nil {
		say("terrain", "heights from a tile")
	}
}

// sayVehicle tells of the vehicle, its motor and what it comes down under.
func sayVehicle(say func(key, format string, args ...any), f drift.Flight, m *drift.Model) {
	v := f.Vehicle
	size := fmt.Sprintf("%.4g kg, %.4g mm across", v.Mass, 1000*v.Diameter)
	if v.Length > 0 {
		size += fmt.Sprintf(", %.4g m long", v.Length)
	}
	say("vehicle", "%s", size)
	n := m.Nominal()
	say("motor", "%s burns %.2f s: off the rail at %.1f m/s, apogee %.0f m as designed", nameOr(f.Motor.Designation,
		"the motor"), n.BurnoutS, n.RailExitMps, n.ApogeeM)
	for _, d := range f.Recovery {
		say("recovery", "%s, drag area %.3g m2", d.Kind, d.CdS)
	}
	if len(f.Recovery) > 0 && len(n.Path) > 0 {
		say("sinks", "at %.1f m/s at touchdown", math.Abs(n.Path[len(n.Path)-1].VZ))
	}
}

// count writes a number of things.
func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func nameOr(name, otherwise string) string {
	if name == "" {
		return otherwise
	}
	return name
}
