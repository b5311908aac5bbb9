package sources

import (
	"math"
	"time"

	"github.com/paulmach/orb"
	"github.com/tidwall/geodesic"

	"windfall/drift/wind"
	"windfall/drift/wind/spread"
	"windfall/geo/sun"
)

// Spread returns how wrong a profile made of this report may be at the launch.
// veer: the flier gave the turn with height.
func (r *Report) Spread(p wind.Profile, opt Options, veer bool) *wind.Spread {
	if r.Kind == Forecast {
		return r.forecastSpread(p, opt)
	}
	return spread.Fitted.Of(p, spread.Source{
		Name: r.Kind.String(), Age: r.hoursOld(opt.When), Away: r.away(opt.Pad), Sun: sunAt(opt), Veer: veer,
	})
}

// sunAt is how high the sun stands at the launch, degrees; NaN: not known.
func sunAt(opt Options) float64 {
	if opt.When.IsZero() || opt.Pad == nil {
		return math.NaN()
	}
	h, _ := sun.At(opt.When, *opt.Pad)
	return h
}

// hoursOld is the age of what was observed, negative after the launch; a
// sounding is of all the time from its release to the archive's hour.
func (r *Report) hoursOld(when time.Time) float64 {
	if when.IsZero() || r.Valid.IsZero() {
		return 0
	}
	first, last := r.Valid, r.Valid
	if !r.Made.IsZero() {
		if r.Made.Before(first) {
			first = r.Made
		}
		if r.Made.After(last) {
			last = r.Made
		}
	}
	switch {
	case when.After(last):
		return when.Sub(last).Hours()
	case when.Before(first):
		return when.Sub(first).Hours()
	}
	return 0
}

// away is the distance from the pad, m; 0 where either is not known.
func (r *Report) away(pad *orb.Point) (m float64) {
	if pad == nil || r.Place == nil {
		return 0
	}
	geodesic.WGS84.Inverse(pad[1], pad[0], r.Place[1], r.Place[0], &m, nil, nil)
	return m
}

// forecastSpread is that of the published errors, which Shape has already; of
// more for a long lead, and for an ensemble whose members lie too close
// together: they carry no less between them and in them than one forecast.
func (r *Report) forecastSpread(p wind.Profile, opt Options) *wind.Spread {
	out := &wind.Spread{Kind: wind.Predicted, Says: "a forecast", Carried: 1}
	grown := 1.0
	if !r.Made.IsZero() && !opt.When.IsZero() {
		lead := opt.When.Sub(r.Made).Hours()
		out.Says = "a forecast made " + spread.Hours(lead) + " before"
		grown = spread.Fitted.Lead(lead)
	}
	if len(r.Alternatives) > 0 {
		out.Says = "an ensemble of forecasts"
	}
	if grown <= 1 && len(r.Alternatives) == 0 {
		return out // Shape has it
	}
	out.Reach = wind.ShapeScale
	published := wind.Profile{Shape: forecastErrors}
	for _, z := range shapeHeights {
		e := published.ShapeSD(z)
		u, v := p.At(z)
		base := p.ShapeSD(z)
		left := e*e*grown - spread.Carried(u, v) - r.between(z)
		out.Rows = append(out.Rows, wind.SpreadRow{Height: z, SD: math.Sqrt(max(left, base*base))})
	}
	return out
}

// between is the variance of a component between the members at z.
func (r *Report) between(z float64) float64 {
	n := float64(len(r.Alternatives))
	if n == 0 {
		return 0
	}
	var u, v, sum float64
	for _, a := range r.Alternatives {
		x := interpolate(a, z)
		du, dv := components(x.FromDeg, x.Speed)
		u, v, sum = u+du/n, v+dv/n, sum+(du*du+dv*dv)/n
	}
	return max(sum-u*u-v*v, 0) / 2
}

// measuredSpread is a choice's spread once q has taken p's place, corrected by
// a measurement.
func measuredSpread(p, q wind.Profile, m Measurement, when time.Time) *wind.Spread {
	if p.Spread == nil || len(p.Spread.Rows) == 0 {
		return p.Spread
	}
	r := spread.Measurement{Height: m.Height, Speed: m.Speed, FromDeg: m.FromDeg}
	if !m.Time.IsZero() && !when.IsZero() {
		r.Age = when.Sub(m.Time).Hours()
	}
	s := spread.Fitted.Measured(p, p.Spread, r)
	for i := range s.Rows {
		row := &s.Rows[i]
		pu, pv := p.At(row.Height)
		qu, qv := q.At(row.Height)
		row.U, row.V = row.U+pu-qu, row.V+pv-qv
	}
	return s
}
