package spread

import (
	"math"

	"windfall/drift/wind"
)

// Measurement is a reading at the pad on top of another wind.
type Measurement struct {
	Height, Speed, FromDeg float64 // m, m/s, degrees true; FromDeg NaN: variable, which counts as calm within its speed
	Age                    float64 // hours before the launch
}

// How well a reading at the pad is known, choices of ours: instrument, siting
// and reading; a minute's mean for ten minutes'.
const (
	readingError = 0.3  // m/s, each component
	readingShare = 0.07 // of the speed
)

// Noise is the variance of a component of the reading, beside the wind at the
// pad and the launch.
func (m *Model) Noise(r Measurement) float64 {
	n := readingError*readingError + math.Pow(readingShare*r.Speed, 2)
	if math.IsNaN(r.FromDeg) {
		n += r.Speed * r.Speed / 2
	}
	if r.Age != 0 {
		_, aged := m.kept(r.Height, math.Abs(r.Age))
		n += aged
	}
	return n
}

// Measured returns the spread after a reading at the pad: the error's field is
// conditioned on it as any Gaussian's (its size is left as it was), so that it
// shrinks near the reading's height and is learned of as far up as the errors
// go together. nil stays nil.
func (m *Model) Measured(p wind.Profile, s *wind.Spread, r Measurement) *wind.Spread {
	if s == nil {
		return nil
	}
	out := *s
	out.Rows = nil
	var mu, mv float64
	if !math.IsNaN(r.FromDeg) {
		mu, mv = wind.Level{Speed: r.Speed, FromDeg: r.FromDeg}.UV()
	}
	prior := func(z float64) (u, v, variance, tail float64) {
		pu, pv := p.At(z)
		row := s.At(z)
		u, v = pu+row.U, pv+row.V
		return u, v, row.SD*row.SD + s.Carried*s.Carried*carried(complex(u, v)), row.Tail
	}
	u0, v0, at, _ := prior(r.Height)
	du, dv := mu-u0, mv-v0
	out.Carried = m.Carried
	for _, z := range heights {
		u, v, here, tail := prior(z)
		k := 0.0
		if at > 0 {
			k = math.Sqrt(here*at) * m.alike(z, r.Height) / (at + m.Noise(r))
		}
		learned := k * k * (at + m.Noise(r))
		pu, pv := p.At(z)
		row := m.row(&out, z, complex(pu, pv), complex(u+k*du, v+k*dv), here-learned)
		known := learned / here // what is left is as one reading's
		near := m.TailLone * math.Exp(-math.Abs(z-r.Height)/m.TailDepth)
		row.Tail = math.Sqrt((1-known)*tail*tail + known*near*near)
		out.Rows = append(out.Rows, row)
	}
	return &out
}

// alike is how errors at z and at a reading's height correlate.
func (m *Model) alike(z, at float64) float64 {
	return 1 / (1 + math.Pow(math.Abs(z-at)/m.Learns, learnsPower))
}

// learnsPower makes the lowest air go together more closely than an exponential
// would have it.
const learnsPower = 1.2
