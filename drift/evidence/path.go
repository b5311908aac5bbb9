package evidence

import (
	"math"
	"sort"
	"strings"

	"windfall/drift"
)

// moment is where the vehicle is at one time, and its velocity: m, m/s.
type moment struct{ t, x, y, z, vx, vy, vz float64 }

// at returns the vehicle at time t by cubic Hermite interpolation of the
// recorded path; before the first point and after the last it stands still.
func at(path []drift.Sample, t float64) moment {
	n := len(path)
	if n == 0 {
		return moment{t: t}
	}
	if t <= path[0].T {
		return moment{t, path[0].X, path[0].Y, path[0].Z, 0, 0, 0}
	}
	if t >= path[n-1].T {
		return moment{t, path[n-1].X, path[n-1].Y, path[n-1].Z, 0, 0, 0}
	}
	i := sort.Search(n, func(i int) bool { return path[i].T > t })
	return between(&path[i-1], &path[i], t)
}

// between interpolates from a to b at time t of a.T..b.T.
func between(a, b *drift.Sample, t float64) moment {
	h := b.T - a.T
	if h <= 0 {
		return moment{t, b.X, b.Y, b.Z, b.VX, b.VY, b.VZ}
	}
	s := (t - a.T) / h
	h00, h10 := (1+2*s)*(1-s)*(1-s), s*(1-s)*(1-s)*h
	h01, h11 := s*s*(3-2*s), s*s*(s-1)*h
	d00, d10, d11 := 6*s*(s-1)/h, (1-s)*(1-3*s), s*(3*s-2)
	return moment{t,
		h00*a.X + h10*a.VX + h01*b.X + h11*b.VX,
		h00*a.Y + h10*a.VY + h01*b.Y + h11*b.VY,
		h00*a.Z + h10*a.VZ + h01*b.Z + h11*b.VZ,
		d00*(a.X-b.X) + d10*a.VX + d11*b.VX,
		d00*(a.Y-b.Y) + d10*a.VY + d11*b.VY,
		d00*(a.Z-b.Z) + d10*a.VZ + d11*b.VZ}
}

// eventTime returns when the event of that name came, NaN when it did not.
func eventTime(name string, l *drift.Landing, w *drift.Work) float64 {
	switch name {
	case "":
		return 0
	case "landing":
		return l.LandingS
	case "apogee":
		return l.ApogeeS
	case "ejection":
		return l.EjectionS
	case "burnout":
		return l.BurnoutS
	}
	device := 0
	if n, ok := strings.CutPrefix(name, "opening "); ok {
		device = int(n[0]-'0') - 1 // knownEvent: one digit, 1 to 9
	}
	for _, e := range w.Events {
		if e.Name == "opening" && e.Device == device {
			return e.T
		}
	}
	return math.NaN()
}
