package drift

import "math"

// falling is the body under the descent equation: mass and a drag area that is
// linear in time, c0 + c1 (t - t0), plus body times the axial Cd at the Mach
// number of the moment.
type falling struct {
	mass, c0, c1, t0, body float64
	fresh                  bool // eval holds the slope at the present state
	eval                   fallEval
}

// fallEval is the slope of the fall and what its Jacobian needs.
type fallEval struct {
	ax, ay, az float64 // m/s2
	vx, vy, vz float64 // m/s through the air
	s, k       float64 // speed; 1/2 rho CdS/m
	cds        float64
	du, dv     float64 // 1/s, wind shear
	dRho       float64 // 1/m, of ln rho
}

// vec is east, north and up.
type vec struct{ x, y, z float64 }

// fallSlope evaluates the fall at height z and velocity v over the ground.
func (w *Work) fallSlope(t, z float64, v vec, e *fallEval) {
	m, f := w.m, &w.fall
	c := w.windCell(z)
	dz := z - c.z
	i := min(max(int((z-m.airBottom)*(1/airStep)), 0), len(m.airRows)-2)
	r := &m.airRows[i]
	az := z - m.airBottom - float64(i)*airStep
	rho := r.rho + r.dRho*az
	e.vx, e.vy, e.vz = v.x-c.u-c.du*dz, v.y-c.v-c.dv*dz, v.z
	e.s = math.Sqrt(e.vx*e.vx + e.vy*e.vy + e.vz*e.vz)
	e.cds = f.c0 + f.c1*(t-f.t0)
	if f.body != 0 {
		e.cds += f.body * cdAt(m.drag, e.s*(r.inv+r.dInv*az))
	}
	e.k = 0.5 * rho * e.cds / f.mass
	q := -e.k * e.s
	e.ax, e.ay, e.az = q*e.vx, q*e.vy, q*e.vz-m.gravity(z)
	e.du, e.dv, e.dRho = c.du, c.dv, r.dRho/rho
}

// descend carries the vehicle, or a part, under the descent equation until a
// time or until something happens.
//
// The method is RODAS3 (Sandu and others 1997, Atmospheric Environment 31,
// 3459-3472): linearly implicit, order 3 with an embedded estimate of order 2,
// L-stable. Terminal speed is reached within a second and held for minutes; an
// explicit method would be bound to steps of that second, this one takes steps
// as long as the wind allows. Steps end where the wind has a kink.
func (w *Work) descend(until float64) stop {
	f := &w.fall
	if !f.fresh || w.h == 0 {
		w.fallSlope(w.t, w.y[2], vec{w.y[3], w.y[4], w.y[5]}, &f.eval)
		f.fresh = true
	}
	if w.h == 0 {
		w.h = 0.1 / (0.2 + f.eval.k*f.eval.s) // a tenth of the drag's time constant
	}
	for w.t < until-1e-12 {
		h := w.h
		switch top := w.kinkLimit(); {
		case h > 0.8*top: // rather a step longer than asked for than a sliver after it
			h = top
		case h > 0.5*top:
			h = 0.5 * top
		}
		h = min(h, until-w.t)
		var s trackStep
		var next fallEval
		err := w.rosenbrock(h, &s, &next)
		grow := 0.8 / math.Sqrt(math.Sqrt(max(err, 1e-6))) // order 3 would take the third root
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
		if next := h * min(max(grow, 0.2), 6); h >= w.h || grow < 1 || next > w.h {
			w.h = next
		}
		share, why := w.crossing(&s)
		if why != timeUp {
			s = s.upTo(share)
		}
		if w.keep {
			w.note(s)
		}
		w.t = s.t1
		copy(w.y[:6], s.y1[:])
		if why != timeUp {
			f.fresh = false
			return why
		}
		f.eval = next
	}
	w.t = until
	return timeUp
}

// kinkLimit returns the time in which the fall comes to the next kink of the
// wind below, at the present speed.
func (w *Work) kinkLimit() float64 {
	down := -w.y[5]
	if down < 0.5 {
		return math.Inf(1)
	}
	z := w.y[2]
	c := w.cellAt(z)
	stop := w.table.lower[c]
	if z-stop < 0.02*down {
		stop = w.table.lower[max(c-1, 0)]
	}
	if z-stop < 0.02*down {
		return math.Inf(1)
	}
	return (z - stop) / down
}

func (w *Work) cellAt(z float64) int {
	w.windCell(z)
	return w.cell
}

// rosenbrock tries a step of h, fills s with its ends and next with the slope
// at its end, and returns the error estimate in units of the tolerance.
//
// Order of the unknowns: velocity (coupled to height through shear and
// density), height, and x, y which nothing depends on.
func (w *Work) rosenbrock(h float64, s *trackStep, next *fallEval) float64 {
	e := &w.fall.eval
	y := &w.y
	d := 2 / h // 1/(gamma h), gamma = 1/2
	inv := 0.5 * h
	// Jacobian: da/dv = -k (s I + V V'/s); da/dz by the shear and the density.
	ks := e.k * e.s
	kq := 0.0
	if e.s > 1e-9 {
		kq = e.k / e.s
	}
	dragX, dragY, dragZ := -ks*e.vx, -ks*e.vy, -ks*e.vz
	shear := kq * (e.vx*e.du + e.vy*e.dv)
	jx := ks*e.du + shear*e.vx + dragX*e.dRho
	jy := ks*e.dv + shear*e.vy + dragY*e.dRho
	jz := shear*e.vz + dragZ*e.dRho
	m := newSolver(d+ks, kq, vec{e.vx, e.vy, e.vz}, vec{jx * inv, jy * inv, jz * inv})
	// Change of the drag with time, in the drag's own direction.
	ft := 0.0
	if e.cds > 0 {
		ft = w.fall.c1 / e.cds
	}
	tx, ty, tz := dragX*ft, dragY*ft, dragZ*ft

	solve := func(a, b vec) (k [6]float64) {
		k[3], k[4], k[5] = m.solve(a.x+jx*inv*b.z, a.y+jy*inv*b.z, a.z+jz*inv*b.z)
		k[0], k[1], k[2] = inv*(b.x+k[3]), inv*(b.y+k[4]), inv*(b.z+k[5])
		return k
	}
	ih := 1 / h
	k1 := solve(vec{e.ax + 0.5*h*tx, e.ay + 0.5*h*ty, e.az + 0.5*h*tz},
		vec{y[3], y[4], y[5]})
	k2 := solve(vec{e.ax + 1.5*h*tx + 4*ih*k1[3], e.ay + 1.5*h*ty + 4*ih*k1[4], e.az + 1.5*h*tz + 4*ih*k1[5]},
		vec{y[3] + 4*ih*k1[0], y[4] + 4*ih*k1[1], y[5] + 4*ih*k1[2]})
	t1 := w.t + h
	vx, vy, vz := y[3]+2*k1[3], y[4]+2*k1[4], y[5]+2*k1[5]
	w.fallSlope(t1, y[2]+2*k1[2], vec{vx, vy, vz}, next)
	k3 := solve(vec{next.ax + ih*(k1[3]-k2[3]), next.ay + ih*(k1[4]-k2[4]), next.az + ih*(k1[5]-k2[5])},
		vec{vx + ih*(k1[0]-k2[0]), vy + ih*(k1[1]-k2[1]), vz + ih*(k1[2]-k2[2])})
	vx, vy, vz = vx+k3[3], vy+k3[4], vz+k3[5]
	w.fallSlope(t1, y[2]+2*k1[2]+k3[2], vec{vx, vy, vz}, next)
	c := 8. / 3
	k4 := solve(vec{next.ax + ih*(k1[3]-k2[3]-c*k3[3]), next.ay + ih*(k1[4]-k2[4]-c*k3[4]), next.az +
		ih*(k1[5]-k2[5]-c*k3[5])},
		vec{vx + ih*(k1[0]-k2[0]-c*k3[0]), vy + ih*(k1[1]-k2[1]-c*k3[1]), vz + ih*(k1[2]-k2[2]-c*k3[2])})

	s.t0, s.t1 = w.t, t1
	copy(s.y0[:], y[:6])
	for i := range s.y1 {
		s.y1[i] = y[i] + 2*k1[i] + k3[i] + k4[i]
	}
	w.fallSlope(t1, s.y1[2], vec{s.y1[3], s.y1[4], s.y1[5]}, next)
	s.d0 = [6]float64{y[3], y[4], y[5], e.ax, e.ay, e.az}
	s.d1 = [6]float64{s.y1[3], s.y1[4], s.y1[5], next.ax, next.ay, next.az}
	pos := max(math.Abs(k4[0]), math.Abs(k4[1]), math.Abs(k4[2])) / w.tol.fallPos
	vel := max(math.Abs(k4[3]), math.Abs(k4[4]), math.Abs(k4[5])) / w.tol.fallVel
	if s.y1[2] < 15 || y[5] > 0 { // the speed at touchdown and the apogee are reported
		return 8 * max(pos, vel)
	}
	return max(pos, vel)
}

// solver inverts the 3 x 3 matrix a I + q V V' - j e_z'.
type solver struct{ m [9]float64 }

func newSolver(a, q float64, v, j vec) (s solver) {
	vx, vy, vz, jx, jy, jz := v.x, v.y, v.z, j.x, j.y, j.z
	xx, yy, zz := a+q*vx*vx, a+q*vy*vy, a+q*vz*vz-jz
	xy := q * vx * vy
	zx, zy := q*vx*vz, q*vy*vz // row z
	xz, yz := zx-jx, zy-jy     // column z
	c0, c1, c2 := yy*zz-yz*zy, yz*zx-xy*zz, xy*zy-yy*zx
	det := 1 / (xx*c0 + xy*c1 + xz*c2)
	s.m = [9]float64{
		c0 * det, (xz*zy - xy*zz) * det, (xy*yz - xz*yy) * det,
		c1 * det, (xx*zz - xz*zx) * det, (xz*xy - xx*yz) * det,
		c2 * det, (xy*zx - xx*zy) * det, (xx*yy - xy*xy) * det,
	}
	return s
}

func (s *solver) solve(x, y, z float64) (float64, float64, float64) {
	m := &s.m
	return m[0]*x + m[1]*y + m[2]*z, m[3]*x + m[4]*y + m[5]*z, m[6]*x + m[7]*y + m[8]*z
}
