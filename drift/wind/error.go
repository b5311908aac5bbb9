package wind

import "sort"

// Spread is how wrong a profile may be, by its kind and age: what the runs add
// to it beyond the default of ShapeSD. A run's wind is the profile plus U, V,
// scaled and turned as any, plus SD times a unit Gaussian process of height
// whose values at two heights correlate as exp(-|dz|/Reach), times a size drawn
// once a run: log-normal, with Tail the standard deviation of its logarithm and
// a mean square of one.
type Spread struct {
	Kind  Kind
	Says  string      // the kind for people: "the surface wind alone, by day"
	Rows  []SpreadRow // ascending by Height, at least one; linear between, level outside
	Reach float64     // m
	Tail  float64     // plain number
	From  float64     // m: flights no higher keep the default; 0: all have this spread

	// Carried is the share of the default spread of speed and direction over the
	// whole profile that is left beside this one.
	Carried float64

	Hours float64 // age and distance together, in hours; 0: of the hour and place
}

// SpreadRow is a profile's error at one height.
type SpreadRow struct {
	Height float64 // m above the pad
	U, V   float64 // m/s to add to the profile: what such winds are known to miss, toward east and north
	SD     float64 // m/s, standard deviation of each component
	Tail   float64 // of the logarithm of the error's size, plain number
}

// Kind is where a wind comes from, as far as its error goes.
type Kind uint8

// The kinds.
const (
	Fresh     Kind = iota // levels or a sounding of the hour and place
	Surface               // one reading alone, or an airport report
	Old                   // a profile of another hour or place
	Predicted             // a forecast, an ensemble of them
)

// String names the kind for people and logbooks.
func (k Kind) String() string {
	return [...]string{"levels", "surface wind alone", "old profile", "forecast"}[k]
}

// Kind returns the kind of the profile's wind.
func (p Profile) Kind() Kind {
	if p.Spread == nil || p.Spread.From > 0 {
		return Fresh
	}
	return p.Spread.Kind
}

// For returns the spread as a flight to an apogee (m above the pad) has it;
// nil: the default. A profile that ends below the apogee has its own, the more
// of it the more of the flight lies above.
func (s *Spread) For(apogee float64) *Spread {
	if s == nil || len(s.Rows) == 0 || apogee <= s.From {
		return nil
	}
	out := *s
	out.Reach = ShapeScale + (s.Reach-ShapeScale)*(1-s.From/apogee)
	return &out
}

// At returns what the runs add at z metres above the pad.
func (s *Spread) At(z float64) SpreadRow {
	n := len(s.Rows)
	i := sort.Search(n, func(i int) bool { return s.Rows[i].Height >= z })
	switch {
	case i == 0:
		return s.Rows[0]
	case i == n:
		return s.Rows[n-1]
	}
	a, b := s.Rows[i-1], s.Rows[i]
	f := (z - a.Height) / (b.Height - a.Height)
	mix := func(x, y float64) float64 { return x + f*(y-x) }
	return SpreadRow{Height: z, U: mix(a.U, b.U), V: mix(a.V, b.V), SD: mix(a.SD, b.SD), Tail: mix(a.Tail, b.Tail)}
}
