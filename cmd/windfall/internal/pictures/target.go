package pictures

import (
	"fmt"
	"math"
	"strings"

	"windfall/cmd/windfall/internal/situation"
	"windfall/geo"
	"windfall/geo/ground"
	"windfall/search/detect"
	"windfall/search/look"
)

// The vehicle's size where nobody says it, m; as the planner has it.
const (
	usualLength = 1.5
	usualWidth  = 0.075
)

// A streamer's usual length over its width, and how much of a canopy shows of
// one that lies on the ground: common practice, no source.
const (
	streamerRatio = 10
	canopyShows   = 0.8
)

// Target says what is looked for: the vehicle, and the devices that lie beside
// it, in the target's colours; and how likely each place shows it.
func (s *Settings) Target(in situation.Input) {
	long, wide := in.Target.Length, in.Target.Width
	if !(long > 0 && wide > 0) {
		long, wide = usualLength, usualWidth
	}
	if wide > long {
		long, wide = wide, long
	}
	s.Narrow = wide
	s.Things = []look.Thing{{Long: long, Wide: wide}}
	for _, d := range in.Flight.Recovery {
		switch {
		case d.Canopy && d.Diameter > 0:
			s.Things = append(s.Things, look.Thing{Long: canopyShows * d.Diameter, Wide: canopyShows * d.Diameter / 2})
		case d.Canopy && d.CdS > 0:
			dia := canopyShows * math.Sqrt(d.CdS/0.8*4/math.Pi)
			s.Things = append(s.Things, look.Thing{Long: dia, Wide: dia / 2})
		case d.CdS > 0: // a streamer of unknown shape: drag coefficient 0.15 (docs/flight.md)
			w := math.Sqrt(d.CdS / 0.15 / streamerRatio)
			s.Things = append(s.Things, look.Thing{Long: streamerRatio * w, Wide: w})
		}
	}
	s.Colours = look.Colours(in.Target.Colour)
	s.Chance = func(at geo.XY, pixels float64) float64 {
		cover := coverAt(in.Ground, at)
		c, _ := detect.CoverOf(cover)
		return c.Above * look.Seen(cover, pixels, s.Colours)
	}
	s.Key = fmt.Sprintf("1 %v %v %q %+v %v %v %v %v %d", s.Things, s.Narrow, in.Target.Colour, given(s), s.Ahead, s.Begins.Unix(), s.Every, s.Site.Frame, len(s.Path))
}

// given is what was said of the camera, in words: its pointers do not matter,
// what they point to does.
func given(s *Settings) string {
	var b strings.Builder
	g := s.Given
	for _, p := range []*float64{g.AboveGround, g.Heading, g.Pitch, g.Roll} {
		if p == nil {
			b.WriteString("- ")
			continue
		}
		fmt.Fprintf(&b, "%g ", *p)
	}
	if g.At != nil {
		fmt.Fprintf(&b, "%v ", *g.At)
	}
	fmt.Fprintf(&b, "%g %g %g", g.FieldDeg, g.SensorWidth, g.Focal35)
	return b.String()
}

// coverAt is the cover class at a place: that of the last polygon drawn over it.
func coverAt(g *ground.Ground, q geo.XY) string {
	if g != nil {
		for i := len(g.Covers) - 1; i >= 0; i-- {
			if g.Covers[i].Area.Contains(q) {
				return g.Covers[i].Class
			}
		}
	}
	return ground.Open
}

// Words says how sharply the pictures show the ground.
func (s *Settings) Words(ps []Picture) string {
	least, most := math.Inf(1), 0.0
	for _, p := range ps {
		for _, a := range p.Ground {
			least, most = math.Min(least, a.Pixels), math.Max(most, a.Pixels)
		}
	}
	if most == 0 {
		return ""
	}
	if most-least < 0.15 {
		return fmt.Sprintf("Its narrow side of %.0f mm spans %.1f pixels in them.", 1000*s.Narrow, most)
	}
	return fmt.Sprintf("Its narrow side of %.0f mm spans %.1f to %.1f pixels in them.", 1000*s.Narrow, least, most)
}
