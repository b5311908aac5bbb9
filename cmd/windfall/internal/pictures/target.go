package pictures

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"strings"

	"windfall/cmd/windfall/internal/situation"
	"windfall/geo"
	"windfall/geo/ground"
	"windfall/geo/photo"
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
	s.Key = strings.Join([]string{detector, fmt.Sprint(s.Things, s.Narrow), in.Target.Colour, given(s),
		fmt.Sprint(s.Ahead, s.Begins.Unix(), s.Every, s.Launch.Unix(), s.Site.Frame), pathKey(s.Path),
		s.groundKey(in.Ground)}, "; ")
	sum := sha256.Sum256([]byte(s.Key))
	s.Key = hex.EncodeToString(sum[:])
}

// detector tells results of other makes of it apart: one more with every change
// of what is found.
const detector = "2"

// groundKey tells of the ground drawn and of the terrain about the pad.
func (s *Settings) groundKey(g *ground.Ground) string {
	var b strings.Builder
	if g != nil {
		fmt.Fprint(&b, g.Covers)
	}
	for k := range 16 {
		fmt.Fprintf(&b, " %.2f", height(s.Site, geo.Polar(100*float64(k), 77*float64(k))))
	}
	return b.String()
}

// given is what was said of the camera, in words: its pointers do not matter,
// what they point to does.
func given(s *Settings) string {
	var b strings.Builder
	g := s.Given
	writeAll(&b, g.AboveGround, g.Heading, g.Pitch, g.Roll)
	if g.At != nil {
		fmt.Fprintf(&b, "%v ", *g.At)
	}
	fmt.Fprintf(&b, "%g %g %g", g.FieldDeg, g.SensorWidth, g.Focal35)
	return b.String()
}

// pathKey tells of a drone's log.
func pathKey(p photo.Path) string {
	var b strings.Builder
	for _, f := range p {
		fmt.Fprint(&b, f.Time.UnixNano(), f.At)
		writeAll(&b, f.Above, f.Heading, f.Pitch)
	}
	return b.String()
}

// writeAll writes what the pointers point to, a dash for nil.
func writeAll(b *strings.Builder, ps ...*float64) {
	for _, p := range ps {
		if p == nil {
			b.WriteString("- ")
			continue
		}
		fmt.Fprintf(b, "%g ", *p)
	}
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
