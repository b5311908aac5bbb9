package terrain

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"windfall/geo"
)

// seriesRange is how far from the pad the series stands in for the geodesic, m.
const seriesRange = 20e3

// series is longitude and latitude as polynomials of x and y about the pad: a
// landing asks for the ground many times, and a geodesic takes most of a
// microsecond. It is fitted to geodesics, and used where its greatest error at
// them is under a tenth of a metre, which fails only near the poles.
type series struct {
	lon, lat [9]float64
	good     bool
}

// terms returns the powers used for longitude (odd in x) and latitude (even in
// x) of u = x/seriesRange, v = y/seriesRange.
func terms(u, v float64) (lon, lat [9]float64) {
	uu, vv := u*u, v*v
	lon = [9]float64{u, u * v, u * uu, u * vv, u * uu * v, u * vv * v, u * uu * uu, u * uu * vv, u * vv * vv}
	lat = [9]float64{v, uu, vv, uu * v, vv * v, uu * uu, uu * vv, vv * vv, uu * uu * v}
	return lon, lat
}

func newSeries(f geo.Frame) *series {
	const n = 7 // nodes a side
	a, b := mat.NewDense(n*n, 9, nil), mat.NewDense(n*n, 9, nil)
	lon, lat := mat.NewVecDense(n*n, nil), mat.NewVecDense(n*n, nil)
	for k := range n * n {
		u, v := float64(k%n)/(n-1)*2-1, float64(k/n)/(n-1)*2-1
		p := f.ToLonLat(geo.XY{X: u * seriesRange, Y: v * seriesRange})
		tu, tv := terms(u, v)
		a.SetRow(k, tu[:])
		b.SetRow(k, tv[:])
		lon.SetVec(k, math.Remainder(p.Lon()-f.Origin.Lon(), 360))
		lat.SetVec(k, p.Lat()-f.Origin.Lat())
	}
	var s series
	var x, y mat.VecDense
	if x.SolveVec(a, lon) != nil || y.SolveVec(b, lat) != nil {
		return &s
	}
	copy(s.lon[:], x.RawVector().Data)
	copy(s.lat[:], y.RawVector().Data)
	var rx, ry mat.VecDense
	rx.MulVec(a, &x)
	ry.MulVec(b, &y)
	rx.SubVec(&rx, lon)
	ry.SubVec(&ry, lat)
	const metre = 1 / 111e3 // degrees of latitude, about
	worst := math.Max(mat.Norm(&rx, math.Inf(1))*math.Cos(f.Origin.Lat()*math.Pi/180), mat.Norm(&ry, math.Inf(1)))
	s.good = worst < 0.1*metre
	return &s
}

// lonLat returns the place of p in degrees; the longitude may pass 180.
func (s *series) lonLat(f geo.Frame, p geo.XY) (lon, lat float64) {
	u, v := p.X/seriesRange, p.Y/seriesRange
	if !s.good || !(math.Abs(u) <= 1 && math.Abs(v) <= 1) {
		q := f.ToLonLat(p)
		return q.Lon(), q.Lat()
	}
	tu, tv := terms(u, v)
	for k, c := range s.lon {
		lon += c * tu[k]
		lat += s.lat[k] * tv[k]
	}
	return f.Origin.Lon() + lon, f.Origin.Lat() + lat
}
