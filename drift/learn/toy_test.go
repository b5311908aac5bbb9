package learn

import (
	"fmt"
	"math"
	"math/rand/v2"

	"github.com/paulmach/orb"

	"windfall/drift"
	"windfall/geo"
)

// toy is a flight in a few lines that lands as real ones do: downwind by wind
// times time under the device, upwind by weathercocking, off by its lean. It
// makes seasons for tests in microseconds a flight.
type toy struct {
	speed, from float64 // m/s, degrees
	height      float64 // m
	sink        float64 // m/s
	kind        string
	lean, to    float64 // degrees
}

var toyOutcomes = []drift.Chance{{Name: "nominal", P: 0.87}, {Name: "tangled", P: 0.08}, {Name: "no recovery", P: 0.05}}

const toyDim = 12 // wind speed, direction, drag, lean along and across, yaw; 4 of shape; tangled share; body drag

func (t toy) land(in drift.Input) (geo.XY, bool) {
	at, _ := t.fly(in)
	return at, true
}

// fly returns where and when it lands, s.
func (t toy) fly(in drift.Input) (geo.XY, float64) {
	z := in.Z
	const deg = math.Pi / 180
	h := t.height * math.Exp(-0.1*z[11])
	sink := t.sink * math.Exp(-0.5*0.15*z[2])
	switch in.Outcome {
	case 1:
		share := 0.1 + 0.3*0.5*math.Erfc(-z[10]/math.Sqrt2)
		sink /= math.Sqrt(share)
	case 2:
		sink = math.Sqrt(2 * 9.8 * h)
	}
	u := t.speed * math.Exp(0.15*z[0])
	s, c := math.Sincos((t.from + 10*z[1] + 180) * deg)
	w := geo.XY{X: u*s + 0.7*(z[6]+0.5*z[8]), Y: u*c + 0.7*(z[7]+0.5*z[9])}
	up := geo.Polar(h*math.Sin((t.lean+z[3])*deg), t.to).Add(geo.Polar(h*math.Sin(z[4]*deg), t.to+90))
	cock := w.Scale(-h / 80 * math.Exp(-0.3*0.25*z[5]))
	return up.Add(cock).Add(w.Scale(h / sink)), 10 + h/sink
}

// truth is what a simulated club's flights really have, in default spreads.
type truth struct {
	mu, s map[string]float64
	odds  []float64 // of toyOutcomes
	shape float64   // scale of the wind's shape; 0: 1
	wrong float64   // chance of a wrong entry

	timed, seen bool                 // each flight has a landing time, a bearing of the landing
	stands      geo.XY               // from where
	mistaken    float64              // chance that a sighting is a mistake
	biasDeg     float64              // of the observer
	finds       func(at geo.XY) bool // nil: everything is found
	searches    float64              // m from the pad that is gone over where nothing is found; 2 % is missed
	streamers   bool                 // no parachutes
}

const (
	toyTimeSD, toyBearingSD, toySure = 1.0, 3.0, 0.95
)

// watched adds what was seen of a toy flight; likelihoods as docs/evidence.md has
// them, not by the code of package evidence.
func (c *Case) watched(t toy, at geo.XY, when float64, tr truth, r *rand.Rand) {
	type law func(at geo.XY, when float64) (log, mistake float64)
	var laws []law
	var offs []func(at geo.XY, when float64) float64
	add := func(e Entry, sd, flat float64, off func(at geo.XY, when float64) float64) {
		c.Entries = append(c.Entries, e)
		offs = append(offs, func(at geo.XY, when float64) float64 { return -off(at, when) })
		laws = append(laws, func(at geo.XY, when float64) (float64, float64) {
			d := off(at, when) / sd
			right := toySure * math.Exp(-0.5*d*d) / (sd * math.Sqrt(2*math.Pi))
			wrong := (1 - toySure) * flat
			return math.Log(right + wrong), wrong / (right + wrong)
		})
	}
	if tr.timed {
		said := when + toyTimeSD*r.NormFloat64()
		if r.Float64() < tr.mistaken {
			said = 60 * r.Float64() // as the mistakes of a time are thought to lie, up to a minute
		}
		add(Entry{What: "landing time", By: "Ana", Says: fmt.Sprintf("landing at %.0f s", said)}, toyTimeSD,
			1/math.Max(2*said, 60), func(_ geo.XY, when float64) float64 { return when - said })
	}
	if tr.seen {
		said := at.Sub(tr.stands).BearingDeg() + tr.biasDeg + toyBearingSD*r.NormFloat64()
		if r.Float64() < tr.mistaken {
			said = 360 * r.Float64()
		}
		add(Entry{What: "bearing", By: "Ben", Says: fmt.Sprintf("bearing %.0f deg", said)}, toyBearingSD, 1.0/360,
			func(at geo.XY, _ float64) float64 { return math.Remainder(at.Sub(tr.stands).BearingDeg()-said, 360) })
	}
	if tr.finds != nil && !tr.finds(at) {
		c.Lost = true
	}
	if c.Lost && tr.searches > 0 {
		c.Entries = append(c.Entries, Entry{What: "ground searched"})
		offs = append(offs, func(geo.XY, float64) float64 { return math.NaN() })
		laws = append(laws, func(at geo.XY, _ float64) (float64, float64) {
			if at.Norm() < tr.searches {
				return math.Log(0.02), 0
			}
			return 0, 0
		})
	}
	if len(laws) == 0 {
		return
	}
	c.Weigh = func() func(drift.Input, Told) (geo.XY, bool) {
		return func(in drift.Input, out Told) (geo.XY, bool) {
			at, when := t.fly(in)
			for i, l := range laws {
				out.Log[i], out.Mistake[i] = l(at, when)
				out.Off[i] = offs[i](at, when)
			}
			return at, true
		}
	}
}

func (tr truth) draw(name string, z float64) float64 {
	s, ok := tr.s[name]
	if !ok {
		s = 1
	}
	return tr.mu[name] + s*z
}

// season flies n toy flights of one club and returns their finds.
func season(n int, tr truth, seed uint64) []Case {
	r := rand.New(rand.NewPCG(seed, 77))
	var out []Case
	for i := range n {
		t := toy{speed: 3 + 6*r.Float64(), from: 360 * r.Float64(), height: 300 + 500*r.Float64(), sink: 8 + 4*r.Float64(), kind: "streamer", lean: 5 * r.Float64(), to: 360 * r.Float64()}
		if i%2 == 1 && !tr.streamers {
			t.kind, t.sink = "parachute", 4+2*r.Float64()
		}
		out = append(out, toyCase(t, fmt.Sprintf("toy-%03d", i), tr, r))
	}
	return out
}

func toyCase(t toy, name string, tr truth, r *rand.Rand) Case {
	c := Case{Flight: name, Pad: orb.Point{10, 50}, Vehicle: "one", Outcome: -1, Chances: toyOutcomes, Dim: toyDim, Shape: []int{6, 7, 8, 9},
		Links: []Link{{0, WindSpeed, "", 1}, {1, WindDirection, "", 1}, {2, dragFactor(t.kind), t.kind + " A", 1}, {3, LeanAlong, "one", 1}, {4, LeanAcross, "one", 1}, {5, YawWavelength, "one", 1}},
		Fly:   func() func(drift.Input) (geo.XY, bool) { return t.land }}
	in := drift.Input{Z: make([]float64, toyDim)}
	for i := range in.Z {
		in.Z[i] = r.NormFloat64()
	}
	for _, l := range c.Links {
		in.Z[l.Coord] = tr.draw(l.Factor, in.Z[l.Coord])
	}
	for _, j := range c.Shape {
		if tr.shape != 0 {
			in.Z[j] *= tr.shape
		}
	}
	odds, sum := make([]float64, len(toyOutcomes)), 0.0
	for i, o := range toyOutcomes {
		odds[i] = o.P
		if tr.odds != nil {
			odds[i] = tr.odds[i]
		}
		sum += odds[i]
	}
	u := r.Float64() * sum
	for in.Outcome < len(odds)-1 && u >= odds[in.Outcome] {
		u -= odds[in.Outcome]
		in.Outcome++
	}
	at, when := t.fly(in)
	c.watched(t, at, when, tr, r)
	c.Find = geo.XY{X: at.X + 5*r.NormFloat64(), Y: at.Y + 5*r.NormFloat64()}
	if r.Float64() < tr.wrong { // anywhere: the inverse of the Cauchy's radius
		u := r.Float64()
		c.Find = geo.Polar(wrongScale*math.Sqrt(1/(u*u)-1), 360*r.Float64())
	}
	return c
}
