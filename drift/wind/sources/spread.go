package sources

import (
	"math"

	"windfall/drift/wind"
)

// gustFade is the height over which a gusty surface's extra spread falls to
// 1/e: the depth over which errors are correlated (wind.ShapeScale).
const gustFade = wind.ShapeScale

// peakFactor is how many standard deviations a reported gust, the strongest
// three seconds of ten minutes, lies above the mean. About 3 in the open
// (Beljaars 1987, J. Atmos. Oceanic Technol. 4, 613; from memory).
const peakFactor = 3.0

// forecastErrors is the error of each component of a single short forecast by
// height: the root mean square vector errors of published verification against
// radiosondes and masts over the square root of two. docs/wind.md has the
// sources, all from memory.
var forecastErrors = []wind.SD{{Height: 10, SD: forecastSurface}, {Height: 500, SD: 1.8}, {Height: 1500, SD: 2.4},
	{Height: 3000, SD: 2.6}, {Height: 5500, SD: 2.8}}

// shape returns the spread by height of a report that asks for more than the
// default, nil for others. A lone forecast has at least the published error in
// all, the flight's usual spread of speed and direction included; members of an
// ensemble carry theirs in what lies between them. The turbulence of a gusty
// surface, or of one whose direction swings, fades with height and adds in
// squares.
func (r Report) shape() []wind.SD {
	extra := r.turbulence()
	forecast := r.Kind == Forecast && len(r.Alternatives) == 0
	if extra == 0 && !forecast && r.errors == nil {
		return nil
	}
	var usual wind.Profile
	published := wind.Profile{Shape: forecastErrors}
	var out []wind.SD
	for _, z := range shapeHeights {
		s := usual.ShapeSD(z)
		if forecast {
			carried := math.Hypot(wind.SpeedSpread, wind.DirectionSpread*math.Pi/180) / math.Sqrt2 * interpolate(r.Levels,
				z).Speed
			e := published.ShapeSD(z)
			s = math.Max(s, math.Sqrt(math.Max(0, e*e-carried*carried)))
		}
		if r.errors != nil {
			s = math.Hypot(s, wind.Profile{Shape: r.errors}.ShapeSD(z))
		}
		out = append(out, wind.SD{Height: z, SD: math.Hypot(s, extra*math.Exp(-z/gustFade))})
	}
	return out
}

// shapeHeights is where a spread that is not the default is tabled, m; 2000 m
// is where the default stops growing.
var shapeHeights = []float64{0, 25, 50, 100, 150, 200, 300, 400, 600, 800, 1200, 1600, 2000, 3000, 4000, 5500}

// turbulence returns the extra standard deviation of each component at the
// surface, m/s: that of the gusts, or that of a swinging direction beyond the
// default spread, whichever is more.
func (r Report) turbulence() float64 {
	speed := r.Levels[0].Speed
	var g float64
	if r.Gust != nil {
		g = math.Max(0, *r.Gust-speed) / peakFactor
	}
	if r.Sector == nil {
		return g
	}
	width := turn(r.Sector[1] - r.Sector[0])
	swing := width / 4 * math.Pi / 180 // the limits seen in ten minutes lie near two deviations on either side
	usual := wind.DirectionSpread * math.Pi / 180
	return math.Max(g, speed*math.Sqrt(math.Max(0, swing*swing-usual*usual)/2))
}

// spreads fills the levels' SD with what the default spread makes of them; that
// of a mean of alternatives holds what lies between them too.
func (r *Report) spreads() {
	p := wind.Profile{Shape: r.shape()}
	for _, ls := range append([][]Level{r.Levels}, r.Alternatives...) {
		for i := range ls {
			ls[i].SD = p.TotalSD(ls[i].Height, ls[i].Speed, wind.SpeedSpread, wind.DirectionSpread)
		}
	}
	if len(r.Alternatives) == 0 {
		return
	}
	for i, l := range r.Levels {
		u, v := components(l.FromDeg, l.Speed)
		var sum float64
		for _, a := range r.Alternatives {
			x := interpolate(a, l.Height)
			xu, xv := components(x.FromDeg, x.Speed)
			s := p.TotalSD(l.Height, x.Speed, wind.SpeedSpread, wind.DirectionSpread)
			sum += s*s + (math.Pow(xu-u, 2)+math.Pow(xv-v, 2))/2
		}
		r.Levels[i].SD = math.Sqrt(sum / float64(len(r.Alternatives)))
	}
}

// ForecastShape is the spread of a profile's shape if it were a lone forecast's.
func ForecastShape(p wind.Profile) []wind.SD {
	r := Report{Kind: Forecast}
	for _, z := range shapeHeights {
		u, v := p.At(z)
		from, speed := polar(u, v)
		r.Levels = append(r.Levels, Level{Height: z, FromDeg: from, Speed: speed})
	}
	return r.shape()
}

// Widen adds to the spread of a profile by hand what its reader knows of it:
// the gusts of the lowest level (nil: none told), and the standard deviation in
// degrees that a direction leaves open which was given as a point of the
// compass. Gusts fade with height; a wrong direction turns the whole profile.
// Both add in squares to each component.
func Widen(p *wind.Profile, gust *float64, pointSD float64) {
	turb := Report{Levels: []Level{{Speed: p.Levels[0].Speed}}, Gust: gust}.turbulence()
	if turb == 0 && pointSD == 0 {
		return
	}
	more := func(z, sd float64) float64 {
		u, v := p.At(z)
		open := math.Hypot(u, v) * pointSD * math.Pi / 180 / math.Sqrt2
		return math.Sqrt(sd*sd + open*open + math.Pow(turb*math.Exp(-z/gustFade), 2))
	}
	if p.Spread != nil && len(p.Spread.Rows) > 0 {
		s := *p.Spread
		s.Rows = append([]wind.SpreadRow{}, s.Rows...)
		for i := range s.Rows {
			s.Rows[i].SD = more(s.Rows[i].Height, s.Rows[i].SD)
		}
		p.Spread = &s
		return
	}
	var shape []wind.SD
	for _, z := range shapeHeights {
		shape = append(shape, wind.SD{Height: z, SD: more(z, p.ShapeSD(z))})
	}
	p.Shape = shape
}
