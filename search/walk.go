package search

import (
	"math"

	"windfall/geo"
)

// tick is what the times of a plan are multiples of: a thousandth of a minute.
// Every leg's time is rounded up to it, so that no rounding makes a leg faster
// than its searcher.
const tick = 0.06 // s

// stop is where a route goes next; look says that the searcher looks out on the
// way there, which takes no longer.
// charge means home and a new battery first.
type stop struct {
	p      geo.XY
	look   bool
	charge bool
}

// step is a piece of a timed route in one cover class.
type step struct {
	a, b   geo.XY
	class  int
	t0, t1 float64 // s
	kind   LegKind
	back   bool // on the way home
	block  int  // 1 the searcher's first; 0: on a way
}

func cm(q geo.XY) geo.XY {
	return geo.XY{X: math.Round(q.X*100) / 100, Y: math.Round(q.Y*100) / 100}
}

// minPart is the shortest part of a leg (m) worth going before turning home.
const minPart = 8.0

func ticks(s float64) float64 { return math.Max(0, math.Ceil(s/tick-1e-6)) * tick }

// walker turns stops into a timed route.
type walker struct {
	*agent
	at     geo.XY
	now    float64
	flown  float64 // s of the present sortie
	head   geo.XY  // unit direction of the last movement, zero at first
	out    []step
	closed bool
	far    float64 // s, no less than the way home takes from at; 0: not known
	// farNext is the same for the point last asked about.
	farNext float64
}

// walk takes the agent along the stops as far as its time, its charge and its
// world allow and brings it home. Stops that cannot be reached are left out.
func (a *agent) walk(stops []stop) []step {
	w := &walker{agent: a, at: cm(a.at), now: ticks(a.begin)}
	if a.drone() {
		w.flown = a.Flown
	}
	if a.end <= a.begin {
		return nil
	}
	for _, s := range stops {
		if s.charge {
			w.closed = !w.charge()
		} else {
			w.to(cm(s.p), s.look)
		}
		if w.closed {
			break
		}
	}
	if !w.closed {
		w.goHome()
	}
	for n := len(w.out); n > 0 && w.out[n-1].kind == RechargeLeg; n-- {
		w.out = w.out[:n-1] // a charge that nothing came of
	}
	return w.out
}

// to goes to q, straight or round what stands in the way.
func (w *walker) to(q geo.XY, look bool) {
	if look {
		q = w.clip(q)
	}
	if w.at == q || !w.inReach(q) {
		return
	}
	pts, _, ok := w.world.Path(w.at, q)
	if !ok {
		return
	}
	for _, p := range pts {
		w.leg(cm(p), look)
		if w.closed {
			return
		}
	}
}

// clip moves a point beyond the reach of a drone back along its leg.
func (w *walker) clip(q geo.XY) geo.XY {
	r := w.Reach - 0.05
	if !w.drone() || w.Reach <= 0 || q.Sub(w.Start).Norm() <= r {
		return q
	}
	o, d := w.at.Sub(w.Start), q.Sub(w.at)
	// |o + u d| = r
	a, b, c := d.X*d.X+d.Y*d.Y, o.X*d.X+o.Y*d.Y, o.X*o.X+o.Y*o.Y-r*r
	if c > 0 || a == 0 {
		return q
	}
	return cm(w.at.Add(d.Scale((-b + math.Sqrt(b*b-a*c)) / a)))
}

// leg goes straight to q; it returns for a charge on the way when it must, and
// goes on from where it stopped.
func (w *walker) leg(q geo.XY, look bool) {
	if look && len(w.out) == 0 && w.at == cm(w.Start) {
		w.setOut(q)
	}
	for tries := 0; w.at != q && !w.closed; tries++ {
		if w.fits(q) {
			far := w.farNext
			w.move(q, look)
			w.far = far
			return
		}
		if look {
			if part := w.part(q); part.Sub(w.at).Norm() >= minPart {
				w.move(part, true)
			}
		}
		resume := w.at
		if w.at == cm(w.Start) || tries > 3 || !w.charge() || !w.again(resume) {
			w.goHome()
		}
	}
}

// setOut makes the first steps from the start a transit, as a walk-in is.
func (w *walker) setOut(q geo.XY) {
	d := q.Sub(w.at)
	if n := d.Norm(); n > minPart {
		q = cm(w.at.Add(d.Scale(minPart / n)))
	}
	if w.fits(q) {
		w.move(q, false)
	}
}

// again goes back to where the last sortie ended.
func (w *walker) again(q geo.XY) bool {
	pts, _, ok := w.world.Path(w.at, q)
	if !ok {
		return false
	}
	for _, p := range pts {
		if p = cm(p); p == w.at {
			continue
		}
		if !w.fits(p) {
			return false
		}
		w.move(p, false)
	}
	return true
}

// fits reports whether the agent can go straight to q and still be home in time
// and within the charge.
func (w *walker) fits(q geo.XY) bool {
	t := w.turning(q) + w.travel(w.at, q)
	within := func(back float64) bool {
		return w.now+t+back <= w.end+1e-9 && w.flown+t+back <= w.sortie+1e-9
	}
	// home by the way it came is never shorter than home
	if far := w.travel(q, w.at) + w.turn + w.far; w.far > 0 && within(far+w.turn+60) {
		w.farNext = far
		return true
	}
	_, back, ok := w.homeward(q)
	w.farNext = back
	return ok && within(back)
}

// part returns the farthest point on the way to q that fits, to a metre.
func (w *walker) part(q geo.XY) geo.XY {
	d := q.Sub(w.at)
	n := d.Norm()
	lo, hi := 0.0, 1.0
	for (hi-lo)*n > 1 {
		mid := (lo + hi) / 2
		if w.fits(cm(w.at.Add(d.Scale(mid)))) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return cm(w.at.Add(d.Scale(lo)))
}

// turning returns the time lost at the turn toward q.
func (w *walker) turning(q geo.XY) float64 {
	if w.head == (geo.XY{}) {
		return 0
	}
	d := q.Sub(w.at)
	n := d.Norm()
	if n == 0 || (d.X*w.head.X+d.Y*w.head.Y)/n > 0.87 { // under 30 degrees
		return 0
	}
	return w.turn
}

func (w *walker) move(q geo.XY, look bool) {
	lost := w.turning(q)
	kind := TransitLeg
	if look {
		kind = SearchLeg
	}
	t0 := w.now
	for _, pc := range w.t.split(w.at, q) {
		b := cm(pc.b)
		if b == w.at {
			continue
		}
		dt := ticks(w.along(piece{w.at, b, pc.class}) + lost)
		lost = 0
		w.out = append(w.out, step{a: w.at, b: b, class: pc.class, t0: w.now, t1: w.now + dt, kind: kind})
		w.now += dt
		w.head = b.Sub(w.at)
		w.at = b
	}
	w.flown += w.now - t0
	w.far = 0
	if n := w.head.Norm(); n > 0 {
		w.head = w.head.Scale(1 / n)
	}
}

// goHome brings the agent back and ends the route.
func (w *walker) goHome() {
	w.closed = true
	w.back()
}

func (w *walker) back() {
	pts, _, ok := w.homeward(w.at)
	if !ok {
		return
	}
	n := len(w.out)
	for k, p := range pts {
		q := cm(p)
		if k == len(pts)-1 { // the last steps are a return, whatever may be seen from them
			if d := q.Sub(w.at); d.Norm() > 2*minPart {
				w.move(cm(q.Sub(d.Scale(minPart/d.Norm()))), true)
			}
			for i := n; i < len(w.out); i++ {
				w.out[i].back = true
			}
			n = len(w.out)
		}
		if q != w.at {
			w.move(q, k < len(pts)-1)
		}
	}
	for i := n; i < len(w.out); i++ {
		w.out[i].kind, w.out[i].back = ReturnLeg, true
	}
}

// charge flies home, swaps the battery and reports whether time is left.
func (w *walker) charge() bool {
	w.back()
	if math.IsInf(w.sortie, 1) {
		return false
	}
	dt := ticks(math.Max(w.Recharge, tick))
	if w.now+dt+60 > w.end { // a minute in the air is not worth it
		return false
	}
	w.out = append(w.out, step{a: w.at, b: w.at, t0: w.now, t1: w.now + dt, kind: RechargeLeg})
	w.now += dt
	w.flown, w.head = 0, geo.XY{}
	return true
}
