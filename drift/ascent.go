package drift

import "math"

// dim is the size of the state: position, velocity, and at level 2 the body's
// direction and its rate.
const dim = 12

// tolerances bound the estimated error of a step.
type tolerances struct {
	pos, vel, dir    float64 // m, m/s, plain number; explicit steps
	fallPos, fallVel float64 // m, m/s; implicit steps
}

var (
	fastTolerances  = tolerances{0.005, 0.005, 0.0005, 0.05, 0.3} // the Monte Carlo's
	exactTolerances = tolerances{1e-7, 1e-7, 1e-8, 1e-7, 1e-7}    // the nominal flight's
)

// dormandPrince is the scratch of the explicit pair of order 5(4) of Dormand
// and Prince (1980, J. Comp. Appl. Math. 6, 19-26), used while the body points
// along the wind or springs toward it: smooth, not stiff, its error estimate
// for six slopes a step, the last of which is the next step's first.
type dormandPrince struct {
	k  [7][dim]float64
	y  [dim]float64 // stage
	y1 [dim]float64 // result
}

// step tries a step of h from (w.t, w.y), whose slope is in k[0], and returns
// the error estimate in units of the tolerance.
func (w *Work) step(n int, h float64) float64 {
	d, y0 := &w.dp, &w.y
	k1, k2, k3, k4, k5, k6, k7 := &d.k[0], &d.k[1], &d.k[2], &d.k[3], &d.k[4], &d.k[5], &d.k[6]
	y, y1 := &d.y, &d.y1
	n = min(n, dim)
	for i := 0; i < n; i++ {
		y[i] = y0[i] + h*(1./5)*k1[i]
	}
	w.slope(w.t+h*(1./5), y, k2)
	for i := 0; i < n; i++ {
		y[i] = y0[i] + h*(3./40*k1[i]+9./40*k2[i])
	}
	w.slope(w.t+h*(3./10), y, k3)
	for i := 0; i < n; i++ {
		y[i] = y0[i] + h*(44./45*k1[i]-56./15*k2[i]+32./9*k3[i])
	}
	w.slope(w.t+h*(4./5), y, k4)
	for i := 0; i < n; i++ {
		y[i] = y0[i] + h*(19372./6561*k1[i]-25360./2187*k2[i]+64448./6561*k3[i]-212./729*k4[i])
	}
	w.slope(w.t+h*(8./9), y, k5)
	for i := 0; i < n; i++ {
		y[i] = y0[i] + h*(9017./3168*k1[i]-355./33*k2[i]+46732./5247*k3[i]+49./176*k4[i]-5103./18656*k5[i])
	}
	w.slope(w.t+h, y, k6)
	for i := 0; i < n; i++ {
		y1[i] = y0[i] + h*(35./384*k1[i]+500./1113*k3[i]+125./192*k4[i]-2187./6784*k5[i]+11./84*k6[i])
	}
	w.slope(w.t+h, y1, k7)
	var e [dim]float64
	for i := 0; i < n; i++ {
		e[i] = h * (71./57600*k1[i] - 71./16695*k3[i] + 71./1920*k4[i] - 17253./339200*k5[i] + 22./525*k6[i] - 1./40*k7[i])
	}
	pos := max(math.Abs(e[0]), math.Abs(e[1]), math.Abs(e[2])) / w.tol.pos
	vel := max(math.Abs(e[3]), math.Abs(e[4]), math.Abs(e[5])) / w.tol.vel
	err := max(pos, vel)
	if n == dim {
		dir := max(math.Abs(e[6]), math.Abs(e[7]), math.Abs(e[8])) / w.tol.dir
		err = max(err, dir)
	}
	return err
}

// ascend carries the vehicle on the rail or nose first, up or down, until a
// time or until something happens.
func (w *Work) ascend(until float64) stop {
	if w.phase == onRail && !w.moving {
		t, ok := w.liftoff()
		switch {
		case !ok:
			w.t = max(w.t, w.burnout)
			return grounded
		case t > until:
			w.t = until
			return timeUp
		}
		w.t, w.moving, w.h = max(t, w.t), true, 0
	}
	// The body's direction moves the flight only through the thrust.
	w.swings = w.phase == axial && w.wavenumber > 0 && w.burning
	n := 6
	if w.swings {
		n = dim
	}
	if w.h == 0 {
		w.h = 0.05
	}
	d := &w.dp
	w.slope(w.t, &w.y, &d.k[0])
	for w.t < until-1e-12 {
		h := w.h
		end := w.stepLimit(until)
		if w.t+h*1.0001 > end {
			h = end - w.t
		}
		err := w.step(n, h)
		grow := 0.8 / math.Sqrt(math.Sqrt(max(err, 1e-6))) // order 5 would take the fifth root
		if math.IsNaN(err) {
			if w.noShorter(h) {
				return grounded
			}
			continue
		}
		if err > 1 && h > 1e-9 {
			w.h = h * max(min(grow, 0.9), 0.1)
			continue
		}
		if next := h * min(max(grow, 0.2), 5); h >= w.h || grow < 1 || next > w.h {
			w.h = next
		}
		if why := w.accept(n, h); why != timeUp {
			return why
		}
	}
	w.t = until
	return timeUp
}

// noShorter makes the next step a tenth of one that led nowhere. Inputs beyond
// all sense have none that leads anywhere: their flight lands at NaN.
func (w *Work) noShorter(h float64) bool {
	if w.h = h / 10; w.h > 1e-9 {
		return false
	}
	w.y[0], w.y[1] = math.NaN(), math.NaN()
	return true
}

// stepLimit returns the time a step may not pass: the end, or a kink of the
// thrust. Up to there the thrust is that of the rows before it, so a step that
// ends at a jump sees its lower side.
func (w *Work) stepLimit(until float64) float64 {
	if !w.burning {
		return until
	}
	if w.t < w.rowEnd-1e-12 {
		return min(w.rowEnd, until)
	}
	w.rowEnd = w.burnout
	for _, b := range w.breaks {
		if b > w.t+1e-12 {
			w.rowEnd = b
			break
		}
	}
	return min(w.rowEnd, until)
}

// accept takes the step tried, or the part of it up to the first thing that
// happens in it.
func (w *Work) accept(n int, h float64) stop {
	d := &w.dp
	s := trackStep{t0: w.t, t1: w.t + h}
	copy(s.y0[:], w.y[:6])
	copy(s.y1[:], d.y1[:6])
	copy(s.d0[:], d.k[0][:6])
	copy(s.d1[:], d.k[6][:6])
	f, why := w.crossing(&s)
	if why == timeUp {
		w.t += h
		if math.Abs(w.t-w.rowEnd) < 1e-12 {
			w.t = w.rowEnd
		}
		copy(w.y[:n], d.y1[:n])
		d.k[0] = d.k[6]
		if n == dim {
			w.straighten()
		}
		if w.burning && w.t == w.rowEnd {
			w.slope(w.t, &w.y, &d.k[0]) // of the row that begins here
		}
		if w.keep {
			w.note(s)
		}
		return timeUp
	}
	if w.keep {
		w.note(s.upTo(f))
	}
	for i := range n {
		w.y[i] = hermite(f, h, end{w.y[i], d.k[0][i]}, end{d.y1[i], d.k[6][i]})
	}
	w.t += f * h
	return why
}

// upTo returns the first share f of the step.
func (s *trackStep) upTo(f float64) trackStep {
	out := *s
	h := s.t1 - s.t0
	out.t1 = s.t0 + f*h
	out.y1 = s.at(out.t1)
	for i := range 3 {
		out.d1[i] = out.y1[i+3]
	}
	for i := 3; i < 6; i++ { // slope of the cubic at f
		out.d1[i] = 6*f*(1-f)*(s.y1[i]-s.y0[i])/h + (1-f)*(1-3*f)*s.d0[i] + f*(3*f-2)*s.d1[i]
	}
	return out
}

// straighten brings the direction back to unit length once rounding and
// truncation have moved it off the sphere.
func (w *Work) straighten() {
	n, r := w.y[6:9], w.y[9:12]
	q := n[0]*n[0] + n[1]*n[1] + n[2]*n[2]
	if math.Abs(q-1) < 1e-9 {
		return
	}
	k := 1 / math.Sqrt(q)
	n[0], n[1], n[2] = n[0]*k, n[1]*k, n[2]*k
	p := n[0]*r[0] + n[1]*r[1] + n[2]*r[2]
	r[0], r[1], r[2] = r[0]-p*n[0], r[1]-p*n[1], r[2]-p*n[2]
	w.slope(w.t, &w.y, &w.dp.k[0])
}

// crossing finds the first thing that happens in a step and the share of the
// step at which it does.
func (w *Work) crossing(s *trackStep) (float64, stop) {
	h := s.t1 - s.t0
	if w.phase == onRail {
		return w.railCrossing(s)
	}
	if !w.past {
		if s.y1[5] > 0 {
			return 1, timeUp
		}
		if s.y0[5] <= 0 {
			return 0, topped
		}
		return hermiteRoot(h, s.y0[5], s.d0[5], s.y1[5], s.d1[5]), topped
	}
	f, why := 1.0, timeUp
	for i := range w.slots {
		t := &w.slots[i]
		if t.armed && math.IsNaN(t.fired) && s.y1[2] <= t.Value && s.y0[2] > t.Value {
			if g := hermiteRoot(h, s.y0[2]-t.Value, s.y0[5], s.y1[2]-t.Value, s.y1[5]); g < f || why == timeUp {
				f, why = g, fellThrough
			}
		}
	}
	if g, ok := w.groundCrossing(s); ok && (g < f || why == timeUp) {
		f, why = g, grounded
	}
	return f, why
}

func (w *Work) railCrossing(s *trackStep) (float64, stop) {
	h, e := s.t1-s.t0, &w.rail
	along := func(v []float64) float64 { return v[0]*e[0] + v[1]*e[1] + v[2]*e[2] }
	l := w.m.flight.Rail.Length
	v0, v1 := along(s.y0[3:]), along(s.y1[3:])
	if s1 := along(s.y1[:]); s1 >= l {
		return hermiteRoot(h, along(s.y0[:])-l, v0, s1-l, v1), railLeft
	}
	if v1 < 0 {
		if v0 <= 1e-9 {
			return 1, railHalt
		}
		return hermiteRoot(h, v0, along(s.d0[3:]), v1, along(s.d1[3:])), railHalt
	}
	return 1, timeUp
}

// groundSpacing is how far apart, in m, a step is compared with the terrain.
const groundSpacing = 10.0

func (w *Work) groundCrossing(s *trackStep) (float64, bool) {
	h := s.t1 - s.t0
	if w.m.flight.Terrain == nil {
		if s.y1[2] > 0 {
			return 1, false
		}
		if s.y0[2] <= 0 {
			return 0, true
		}
		return hermiteRoot(h, s.y0[2], s.y0[5], s.y1[2], s.y1[5]), true
	}
	above := func(f float64) float64 {
		y := s.at(s.t0 + f*h)
		return y[2] - w.ground(y[0], y[1])
	}
	far := math.Hypot(math.Hypot(s.y1[0]-s.y0[0], s.y1[1]-s.y0[1]), s.y1[2]-s.y0[2])
	n := int(far/groundSpacing) + 1
	for k := 1; k <= n; k++ {
		hi := float64(k) / float64(n)
		if above(hi) > 0 {
			continue
		}
		lo := float64(k-1) / float64(n)
		for range 40 {
			if mid := 0.5 * (lo + hi); above(mid) > 0 {
				lo = mid
			} else {
				hi = mid
			}
		}
		return hi, true
	}
	return 1, false
}

// liftoff returns the first time from now at which thrust less drag exceeds
// the weight along the rail, the vehicle at rest; ok is false when it never
// does. Between rows the balance is quadratic in time.
func (w *Work) liftoff() (t float64, ok bool) {
	z := w.y[2]
	c := w.windCell(z)
	dz := z - c.z
	along := -((c.u+c.du*dz)*w.rail[0] + (c.v+c.dv*dz)*w.rail[1])
	air := w.m.airAt(z)
	drag := 0.5 * air.rho * math.Abs(along) * along * w.cda(math.Abs(along)*air.inv)
	g := w.m.gravity(z) * w.rail[2]
	total := w.curve[len(w.curve)-1].impulse
	for i := 0; i+1 < len(w.curve); i++ {
		r := &w.curve[i]
		end := w.curve[i+1].t
		if end <= w.t {
			continue
		}
		from := max(r.t, w.t)
		n := r.n + r.slope*(from-r.t)
		flow := w.propellant / total * g
		a := 0.5 * flow * r.slope
		b := w.thrust*r.slope + flow*n
		f := w.thrust*n - drag - w.massAt(from)*g
		if f > 0 || f == 0 && b > 0 {
			return from, true
		}
		if dt, ok := firstRoot(a, b, f, end-from); ok {
			return from + dt, true
		}
	}
	return 0, false
}

// firstRoot returns the smallest x in (0, limit] with a x^2 + b x + c = 0,
// where c < 0 or c = 0 and the curve then falls.
func firstRoot(a, b, c, limit float64) (float64, bool) {
	if a == 0 {
		if b <= 0 {
			return 0, false
		}
		x := -c / b
		return x, x > 0 && x <= limit
	}
	disc := b*b - 4*a*c
	if disc < 0 {
		return 0, false
	}
	q := -0.5 * (b + math.Copysign(math.Sqrt(disc), b))
	best, ok := limit, false
	for _, x := range [2]float64{q / a, c / q} {
		if x > 0 && x <= best {
			best, ok = x, true
		}
	}
	return best, ok
}
