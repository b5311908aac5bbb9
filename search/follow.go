package search

import (
	"windfall/geo"
)

// course is a block as it is walked: its turning points, its beginning first.
type course []geo.XY

// follow walks the blocks exactly, way in, between and home by the shortest
// ways, looking out all the time; it reports how many blocks it got through
// before time, charge or ground forbade the next.
func (a *agent) follow(blocks []course) (steps []step, done int) {
	if a.end <= a.begin {
		return nil, 0
	}
	w := &walker{agent: a, at: cm(a.at), now: ticks(a.begin)}
	if a.drone() {
		w.flown = a.Flown
	}
	for _, b := range blocks {
		if !w.work(b, done+1) {
			break
		}
		done++
	}
	if done > 0 || w.at != cm(a.Start) {
		w.goHome()
	}
	return w.out, done
}

// work goes to the block and through it, on the charge at hand or after a
// change; when neither can be, nothing has happened.
func (w *walker) work(b course, n int) bool {
	before := *w
	if w.through(b, n) {
		return true
	}
	*w = before
	w.out = w.out[:len(before.out):len(before.out)]
	if w.drone() && w.at != cm(w.Start) && w.charge() && w.through(b, n) {
		return true
	}
	*w = before
	return false
}

func (w *walker) through(b course, n int) bool {
	if first := cm(b[0]); w.at != first {
		pts, _, ok := w.world.Path(w.at, first)
		if !ok {
			return false
		}
		if len(w.out) == 0 && w.at == cm(w.Start) {
			w.setOut(cm(pts[0]))
		}
		for _, q := range pts {
			if !w.straight(cm(q), 0) {
				return false
			}
		}
	}
	for _, q := range b[1:] {
		q = cm(q)
		if !w.inReach(q) || !w.world.Free(w.at, q) || !w.straight(q, n) {
			return false
		}
	}
	return true
}

// straight goes straight to q if there is time for it and the way home; block is
// 0 on ways.
func (w *walker) straight(q geo.XY, block int) bool {
	if q == w.at {
		return true
	}
	if !w.fits(q) {
		return false
	}
	far, from := w.farNext, len(w.out)
	w.move(q, true)
	w.far = far
	for i := from; i < len(w.out); i++ {
		w.out[i].block = block
	}
	return true
}
