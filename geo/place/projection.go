package place

import "math"

// ellipsoid is a figure of the Earth: semi-major axis in m and flattening.
type ellipsoid struct{ a, f float64 }

var (
	wgs84 = ellipsoid{6378137, 1 / 298.257223563} // EPSG:7030, defining values
	airy  = ellipsoid{6377563.396, 1 / 299.3249646}
)

func (l ellipsoid) e2() float64 { return l.f * (2 - l.f) }

// conformal returns the tangent of the conformal latitude from that of the
// geodetic one, and geodetic the reverse by Newton's method (Karney 2011,
// Transverse Mercator with an accuracy of a few nanometers, J. Geodesy 85,
// equations 7 to 9 and 19 to 21).
func (l ellipsoid) conformal(tau float64) float64 {
	e := math.Sqrt(l.e2())
	t1 := math.Hypot(1, tau)
	s := math.Sinh(e * math.Atanh(e*tau/t1))
	return math.Hypot(1, s)*tau - s*t1
}

func (l ellipsoid) geodetic(taup float64) float64 {
	e2 := l.e2()
	tau := taup / (1 - e2)
	if math.Abs(taup) > 70 { // near a pole: the first guess by the closed form
		e := math.Sqrt(e2)
		tau = taup * math.Exp(e*math.Atanh(e))
	}
	for range 8 {
		t := l.conformal(tau)
		d := (taup - t) / math.Hypot(1, t) * (1 + (1-e2)*tau*tau) / ((1 - e2) * math.Hypot(1, tau))
		tau += d
		if !(math.Abs(d) > 1e-16*math.Max(1, math.Abs(tau))) {
			break
		}
	}
	return tau
}

// mercator is a transverse Mercator projection: lon0, lat0 in degrees, k0 the
// scale on the central meridian, false easting and northing in m.
type mercator struct {
	on               ellipsoid
	lon0, lat0, k0   float64
	falseE, falseN   float64
	radius           float64    // m, of the circle as long as the meridian
	alpha, beta      [6]float64 // Kruger's series, forward and back
	northOfLatitude0 float64    // m
}

// newMercator prepares a projection of which the first two lines are given, with
// Kruger's series to the sixth order in the third
// flattening n (Karney 2011, equations 14, 35 and 36), good to 5 nm within
// 3900 km of the central meridian.
func newMercator(p mercator) mercator {
	n := p.on.f / (2 - p.on.f)
	n2 := n * n
	p.radius = p.on.a / (1 + n) * (1 + n2*(1./4+n2*(1./64+n2/256)))
	p.alpha = series(n, [6][]float64{
		{1. / 2, -2. / 3, 5. / 16, 41. / 180, -127. / 288, 7891. / 37800},
		{13. / 48, -3. / 5, 557. / 1440, 281. / 630, -1983433. / 1935360},
		{61. / 240, -103. / 140, 15061. / 26880, 167603. / 181440},
		{49561. / 161280, -179. / 168, 6601661. / 7257600},
		{34729. / 80640, -3418889. / 1995840},
		{212378941. / 319334400},
	})
	p.beta = series(n, [6][]float64{
		{1. / 2, -2. / 3, 37. / 96, -1. / 360, -81. / 512, 96199. / 604800},
		{1. / 48, 1. / 15, -437. / 1440, 46. / 105, -1118711. / 3870720},
		{17. / 480, -37. / 840, -209. / 4480, 5569. / 90720},
		{4397. / 161280, -11. / 504, -830251. / 7257600},
		{4583. / 161280, -108847. / 3991680},
		{20648693. / 638668800},
	})
	if p.lat0 != 0 {
		_, p.northOfLatitude0 = p.fromLonLat(p.lon0, p.lat0)
		p.northOfLatitude0 -= p.falseN
	}
	return p
}

// series evaluates each row as a polynomial whose first term is n to the row's
// number.
func series(n float64, rows [6][]float64) (out [6]float64) {
	lead := 1.0
	for i, row := range rows {
		lead *= n
		for j := len(row) - 1; j >= 0; j-- {
			out[i] = out[i]*n + row[j]
		}
		out[i] *= lead
	}
	return out
}

// fromLonLat returns easting and northing in m of a point in degrees; the
// point must be within 90 degrees of the central meridian.
func (p mercator) fromLonLat(lon, lat float64) (e, n float64) {
	dl := math.Remainder(lon-p.lon0, 360) * math.Pi / 180
	sl, cl := math.Sincos(dl)
	phi := lat * math.Pi / 180
	if math.Abs(lat) == 90 {
		return p.falseE, p.falseN + p.k0*p.radius*phi - p.northOfLatitude0
	}
	taup := p.on.conformal(math.Tan(phi))
	xi := math.Atan2(taup, cl)
	eta := math.Asinh(sl / math.Hypot(taup, cl))
	x, y := xi, eta
	for j, a := range p.alpha {
		s, c := math.Sincos(float64(2*(j+1)) * xi)
		x += a * s * math.Cosh(float64(2*(j+1))*eta)
		y += a * c * math.Sinh(float64(2*(j+1))*eta)
	}
	k := p.k0 * p.radius
	return p.falseE + k*y, p.falseN + k*x - p.northOfLatitude0
}

// toLonLat is the inverse of fromLonLat; longitude in [-180, 180].
func (p mercator) toLonLat(e, n float64) (lon, lat float64) {
	k := p.k0 * p.radius
	xi, eta := (n-p.falseN+p.northOfLatitude0)/k, (e-p.falseE)/k
	x, y := xi, eta
	for j, b := range p.beta {
		s, c := math.Sincos(float64(2*(j+1)) * xi)
		x -= b * s * math.Cosh(float64(2*(j+1))*eta)
		y -= b * c * math.Sinh(float64(2*(j+1))*eta)
	}
	sx, cx := math.Sincos(x)
	sh := math.Sinh(y)
	tau := p.on.geodetic(sx / math.Hypot(sh, cx))
	lat = math.Atan(tau) * 180 / math.Pi
	lon = math.Remainder(p.lon0+math.Atan2(sh, cx)*180/math.Pi, 360)
	return lon, lat
}

// polar is the polar stereographic projection of UPS (NGA.SIG.0012, 2014,
// section 9): k0 0.994, false easting and northing 2000 km.
func polarFromLonLat(north bool, lon, lat float64) (e, n float64) {
	if !north {
		lat = -lat
	}
	s, c := math.Sincos(lon * math.Pi / 180)
	r := 0.0
	if lat < 90 {
		taup := wgs84.conformal(math.Tan(lat * math.Pi / 180))
		r = polarScale() / (taup + math.Hypot(1, taup))
	}
	if north {
		c = -c
	}
	return upsFalse + r*s, upsFalse + r*c
}

func polarToLonLat(north bool, e, n float64) (lon, lat float64) {
	x, y := e-upsFalse, n-upsFalse
	r := math.Hypot(x, y)
	if r == 0 {
		lon, lat = 0, 90
	} else {
		u := polarScale() / r
		lat = math.Atan(wgs84.geodetic((u-1/u)/2)) * 180 / math.Pi
		if north {
			y = -y
		}
		lon = math.Atan2(x, y) * 180 / math.Pi
	}
	if !north {
		lat = -lat
	}
	return lon, lat
}

const upsFalse = 2000e3 // m

// polarScale is the radius at the conformal latitude 0: 2 k0 a divided by
// sqrt((1+e)^(1+e) (1-e)^(1-e)).
func polarScale() float64 {
	e := math.Sqrt(wgs84.e2())
	return 2 * 0.994 * wgs84.a / math.Sqrt(math.Pow(1+e, 1+e)*math.Pow(1-e, 1-e))
}
