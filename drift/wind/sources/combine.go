package sources

import (
	"errors"
	"math"
	"slices"
	"time"

	"windfall/drift/wind"
)

// Measurement is the wind measured at or near the pad.
type Measurement struct {
	Height  float64   // m above ground
	FromDeg float64   // degrees true; NaN: variable, which counts as calm within its speed
	Speed   float64   // m/s, mean
	Gust    *float64  // m/s; nil: not known
	Time    time.Time // zero: at launch
	Label   string
}

// How a measurement corrects a forecast. All are choices of ours; docs/wind.md
// says what they rest on.
const (
	correctionScale  = wind.ShapeScale // m: the correction falls to 1/e over this height
	forgetting       = 3 * time.Hour   // the correction falls to 1/e as the measurement ages by this
	forecastSurface  = 1.4             // m/s, each component: error of a forecast's wind at 10 m
	measurementError = 0.5             // m/s, each component: instrument, siting, reading
	measurementShare = 0.1             // of the speed: a minute's mean is not ten minutes'
)

// Correct returns the choices corrected by a measurement. At the height of the
// measurement each wind moves toward it by the share that the forecast's error
// has in the sum of both variances, times exp(-age/3 h); at other heights by
// that times exp(-dz/400 m). The spread of the shape shrinks by what was
// learned and grows by the gusts. age is negative for a measurement made after
// launch, and counts the same.
func Correct(choices []wind.Choice, m Measurement, when time.Time) []wind.Choice {
	var age time.Duration
	if !m.Time.IsZero() && !when.IsZero() {
		age = when.Sub(m.Time).Abs()
	}
	kept := math.Exp(-age.Hours() / forgetting.Hours())
	own := measurementError*measurementError + math.Pow(measurementShare*m.Speed, 2)
	if math.IsNaN(m.FromDeg) {
		own += m.Speed * m.Speed / 2
	}
	gain := forecastSurface * forecastSurface / (forecastSurface*forecastSurface + own)
	turb := Report{Levels: []Level{{Speed: m.Speed}}, Gust: m.Gust}.turbulence()
	var mu, mv float64
	if !math.IsNaN(m.FromDeg) {
		mu, mv = components(m.FromDeg, m.Speed)
	}
	out := slices.Clone(choices)
	for i, c := range choices {
		p := c.Profile
		u0, v0 := p.At(m.Height)
		du, dv := mu-u0, mv-v0
		q := p
		q.Levels = nil
		for _, z := range correctedHeights(p, m.Height) {
			f := gain * kept * math.Exp(-math.Abs(z-m.Height)/correctionScale)
			u, v := p.At(z)
			from, speed := polar(u+f*du, v+f*dv)
			q.Levels = append(q.Levels, wind.Level{Height: z, Speed: speed, FromDeg: from})
		}
		q.Shape = nil
		for _, z := range shapeHeights {
			learned := gain * kept * kept * math.Exp(-2*math.Abs(z-m.Height)/correctionScale)
			s := p.ShapeSD(z) * math.Sqrt(1-learned)
			q.Shape = append(q.Shape, wind.SD{Height: z, SD: math.Hypot(s, turb*math.Exp(-z/gustFade))})
		}
		q.Spread = measuredSpread(p, q, m, when)
		out[i].Profile = q
	}
	return out
}

// correctedHeights returns where a corrected profile has levels: the profile's
// own (a single one's law is sampled), the measurement's, and between them
// heights close enough for straight lines to follow the fading correction.
func correctedHeights(p wind.Profile, height float64) []float64 {
	hs := []float64{height}
	if len(p.Levels) == 1 {
		hs = append(hs, p.Heights(700, 0.16)...)
	}
	for _, l := range p.Levels {
		hs = append(hs, l.Height)
	}
	hs = append(hs, 10, 20, 40, 60, 80, 100, 150, 200, 250, 300, 400, 500, 600, 800, 1000, 1200, 1600, 2000)
	low := min(height, p.Levels[0].Height) // the log law rules below
	hs = slices.DeleteFunc(hs, func(z float64) bool { return z < low })
	slices.Sort(hs)
	return slices.CompactFunc(hs, func(a, b float64) bool { return math.Abs(b-a) < 0.01 })
}

// Measurement returns a report that is one wind near the ground as what it
// measured.
func (r Report) Measurement() (Measurement, bool) {
	if len(r.Alternatives) > 0 || len(r.Levels) != 1 || r.Kind == Forecast || r.Kind == Sounding {
		return Measurement{}, false
	}
	l := r.Levels[0]
	if l.Height > surfaceLayer || l.Height <= 0 {
		return Measurement{}, false
	}
	return Measurement{Height: l.Height, FromDeg: l.FromDeg, Speed: l.Speed, Gust: r.Gust, Time: r.Valid,
		Label: r.Source}, true
}

// surfaceLayer is how high a lone wind may be to count as measured at the pad.
const surfaceLayer = 60.0 // m

// Item is one of several winds to combine.
type Item struct {
	Report  Report
	Choices []wind.Choice // in place of Report, where there are any
	Weight  float64       // relative to the other items; 0 means 1
}

// Combine makes one list of choices of several winds. Soundings, forecasts and
// profiles are alternatives of which each run draws one; the weight of an item
// is shared by its members. Single winds near the ground (airport reports, a
// level by hand) correct them, the oldest first; where there is nothing to
// correct they are the alternatives.
func Combine(items []Item, opt Options) ([]wind.Choice, error) {
	var measured []Measurement
	var choices []wind.Choice
	lone := !slices.ContainsFunc(items, func(it Item) bool { _, ok := it.measurement(); return !ok })
	for _, it := range items {
		if m, ok := it.measurement(); ok && !lone {
			measured = append(measured, m)
			continue
		}
		cs := slices.Clone(it.Choices)
		if len(cs) == 0 {
			var err error
			if cs, err = it.Report.Choices(opt); err != nil {
				return nil, err
			}
		}
		w := it.Weight
		if w == 0 {
			w = 1
		}
		total := 0.0
		for _, c := range cs {
			total += c.Weight
		}
		for _, c := range cs {
			c.Weight *= w / total
			choices = append(choices, c)
		}
	}
	if len(choices) == 0 {
		return nil, errors.New("no wind was given")
	}
	slices.SortStableFunc(measured, func(a, b Measurement) int { return a.Time.Compare(b.Time) })
	for _, m := range measured {
		choices = Correct(choices, m, opt.When)
	}
	return choices, nil
}

func (it Item) measurement() (Measurement, bool) {
	if len(it.Choices) > 0 {
		return Measurement{}, false
	}
	return it.Report.Measurement()
}

// Mean returns the mean wind of the choices by height, at the levels of the
// first, with the spread within and between them. Elevations are known where
// the pad's is.
func Mean(choices []wind.Choice, opt Options) []Level {
	var out []Level
	for _, z := range choices[0].Profile.Levels {
		var u, v, uu, sd2, sum float64
		for _, c := range choices {
			cu, cv := c.Profile.At(z.Height)
			s := c.Profile.TotalSD(z.Height, math.Hypot(cu, cv), wind.SpeedSpread, wind.DirectionSpread)
			u, v, uu = u+c.Weight*cu, v+c.Weight*cv, uu+c.Weight*(cu*cu+cv*cv)
			sd2, sum = sd2+c.Weight*s*s, sum+c.Weight
		}
		u, v = u/sum, v/sum
		l := Level{Height: z.Height, Elevation: math.NaN()}
		l.FromDeg, l.Speed = polar(u, v)
		between := math.Max(0, uu/sum-u*u-v*v) / 2
		l.SD = math.Sqrt(sd2/sum + between)
		if opt.Elevation != nil {
			l.Elevation = *opt.Elevation + z.Height
		}
		out = append(out, l)
	}
	return out
}
