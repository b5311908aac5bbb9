package drift

import "math"

// airAt returns density and inverse speed of sound at z m above the pad.
func (m *Model) airAt(z float64) airNode {
	x := (z - m.airBottom) * (1 / airStep)
	i := min(max(int(x), 0), len(m.airRows)-2)
	r := &m.airRows[i]
	dz := z - m.airBottom - float64(i)*airStep
	return airNode{r.rho + r.dRho*dz, r.dRho, r.inv + r.dInv*dz, r.dInv}
}

// gravity returns m/s2 at z m above the pad.
func (m *Model) gravity(z float64) float64 {
	return m.g0 * (1 - (2/gravityRadius)*(m.air.padElevation+z))
}

// cda returns the axial drag area at a Mach number.
func (w *Work) cda(mach float64) float64 {
	return w.run.drag * w.m.area * cdAt(w.m.drag, mach)
}

// thrustAt returns thrust (N) and mass (kg) at t.
func (w *Work) thrustAt(t float64) (thrust, mass float64) {
	if !w.burning {
		return 0, w.burnt
	}
	c, i := w.curve, w.row
	for i+2 < len(c) && t >= c[i+1].t && c[i+1].t < w.rowEnd {
		i++
	}
	for i > 0 && t < c[i].t {
		i--
	}
	w.row = i
	r := &c[i]
	dt := t - r.t
	if dt < 0 {
		return 0, w.mass
	}
	share := (r.impulse + dt*(r.n+0.5*r.slope*dt)) / c[len(c)-1].impulse
	return w.run.thrust * (r.n + r.slope*dt), w.mass - w.propellant*share
}

// slope writes the derivative of the state y at t on the rail or nose first.
func (w *Work) slope(t float64, y, d *[dim]float64) {
	m := w.m
	z := y[2]
	c := w.windCell(z)
	dz := z - c.z
	u, v := c.u+c.du*dz, c.v+c.dv*dz
	x := (z - m.airBottom) * (1 / airStep)
	i := min(max(int(x), 0), len(m.airRows)-2)
	r := &m.airRows[i]
	az := z - m.airBottom - float64(i)*airStep
	rho := r.rho + r.dRho*az
	thrust, mass := w.thrustAt(t)
	g := m.gravity(z)
	d[0], d[1], d[2] = y[3], y[4], y[5]
	if w.phase == onRail {
		e := &w.rail
		rel := (y[3]-u)*e[0] + (y[4]-v)*e[1] + y[5]*e[2]
		drag := 0.5 * rho * math.Abs(rel) * rel * w.cda(math.Abs(rel)*(r.inv+r.dInv*az))
		a := (thrust-drag)/mass - g*e[2]
		d[3], d[4], d[5] = a*e[0], a*e[1], a*e[2]
		return
	}
	vx, vy, vz := y[3]-u, y[4]-v, y[5]
	s := math.Sqrt(vx*vx + vy*vy + vz*vz)
	cd := m.drag[0].Cd
	if len(m.drag) > 1 {
		cd = cdAt(m.drag, s*(r.inv+r.dInv*az))
	}
	im := 1 / mass
	q := -0.5 * rho * s * cd * w.run.drag * m.area * im
	if !w.swings {
		if thrust != 0 {
			if s < 1e-9 {
				d[3], d[4], d[5] = thrust*im*w.rail[0], thrust*im*w.rail[1], thrust*im*w.rail[2]-g
				return
			}
			q += thrust * im / s
		}
		d[3], d[4], d[5] = q*vx, q*vy, q*vz-g
		return
	}
	ti := thrust * im
	d[3], d[4], d[5] = ti*y[6]+q*vx, ti*y[7]+q*vy, ti*y[8]+q*vz-g
	w.yaw(s, vec{vx, vy, vz}, y, d)
}

// yaw writes the derivative of the body's direction n and its rate:
// n” = -2 zeta w n' + w^2 (u - (u.n) n) - |n'|^2 n, w = k |V|, u = V/|V|.
func (w *Work) yaw(s float64, v vec, y, d *[dim]float64) {
	k := w.wavenumber
	nx, ny, nz := y[6], y[7], y[8]
	px, py, pz := y[9], y[10], y[11]
	spring := k * k * s
	dot := v.x*nx + v.y*ny + v.z*nz
	turn := spring*dot + px*px + py*py + pz*pz
	damp := 2 * w.m.damping * k * s
	d[6], d[7], d[8] = px, py, pz
	d[9] = spring*v.x - turn*nx - damp*px
	d[10] = spring*v.y - turn*ny - damp*py
	d[11] = spring*v.z - turn*nz - damp*pz
}
