package drift

import "math"

// note keeps a step of the flight, from (t0, y0) to (t1, y1) with slopes d0, d1.
func (w *Work) note(s trackStep) {
	if s.t1 > s.t0 {
		w.track = append(w.track, s)
	}
}

// at returns position and velocity at t: the cubic through both ends'
// positions and velocities, and the one through velocities and accelerations.
func (s *trackStep) at(t float64) (y [6]float64) {
	h := s.t1 - s.t0
	f := (t - s.t0) / h
	for i := range y {
		y[i] = hermite(f, h, end{s.y0[i], s.d0[i]}, end{s.y1[i], s.d1[i]})
	}
	return y
}

// end is the value and the slope of a cubic at one end of a step.
type end struct{ y, d float64 }

// hermite returns the cubic with ends a and b of a step h, at the share f of it.
func hermite(f, h float64, a, b end) float64 {
	g := 1 - f
	return g*g*((1+2*f)*a.y+f*h*a.d) + f*f*((1+2*g)*b.y-g*h*b.d)
}

// hermiteRoot returns the share of the step, 0 to 1, at which the cubic
// crosses zero; y0 and y1 differ in sign.
func hermiteRoot(h, y0, d0, y1, d1 float64) float64 {
	lo, hi := 0.0, 1.0
	f := y0 / (y0 - y1)
	for range 60 {
		v := hermite(f, h, end{y0, d0}, end{y1, d1})
		if v == 0 {
			return f
		}
		if (v > 0) == (y0 > 0) {
			lo = f
		} else {
			hi = f
		}
		// Slope of the cubic, for a Newton step kept inside the bracket.
		slope := 6*f*(1-f)*(y1-y0) + h*((1-f)*(1-3*f)*d0+f*(3*f-2)*d1)
		next := f - v/slope
		if !(next > lo && next < hi) {
			next = 0.5 * (lo + hi)
		}
		if math.Abs(next-f) < 1e-13 {
			return next
		}
		f = next
	}
	return f
}

// trackAt returns the vehicle's state at t.
func (w *Work) trackAt(t float64) (y [6]float64) {
	lo, hi := 0, len(w.track)
	for lo < hi {
		if k := (lo + hi) / 2; w.track[k].t1 < t {
			lo = k + 1
		} else {
			hi = k
		}
	}
	if lo == len(w.track) {
		if lo == 0 {
			return y // never left the ground
		}
		return w.track[lo-1].y1
	}
	s := &w.track[lo]
	return s.at(max(t, s.t0))
}

// path fills Path from the track, with points so close that straight lines
// between them stray less than 0.25 m.
func (w *Work) path() {
	add := func(t float64, y [6]float64) {
		w.Path = append(w.Path, Sample{t, y[0], y[1], y[2], y[3], y[4], y[5]})
	}
	add(0, [6]float64{})
	for i := range w.track {
		s := &w.track[i]
		if i == 0 && s.t0 > 0 {
			add(s.t0, s.y0)
		}
		acc := max(math.Hypot(math.Hypot(s.d0[3], s.d0[4]), s.d0[5]), math.Hypot(math.Hypot(s.d1[3], s.d1[4]), s.d1[5]))
		n := int(math.Ceil((s.t1 - s.t0) * math.Sqrt(acc/2)))
		n = min(max(n, 1), 400)
		for k := 1; k <= n; k++ {
			t := s.t0 + (s.t1-s.t0)*float64(k)/float64(n)
			add(t, s.at(t))
		}
	}
}
