// Package magnetic gives the declination of a compass: the angle from true to
// magnetic north, from the World Magnetic Model, which NOAA NCEI and the British
// Geological Survey publish every five years. It holds the models of 2020 and
// 2025, good for 2020 to the end of 2029. It knows no local iron: a car, a
// launch rail or a steel-framed phone case moves a compass more than the
// model's own error.
package magnetic

import (
	_ "embed" // the coefficients
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/paulmach/orb"
)

// Degree and order of the model.
const degree = 12

// Constants of the World Magnetic Model's report (WMM2020, NOAA Technical
// Report, section 1.2): the geomagnetic reference radius and WGS 84.
const (
	referenceRadius = 6371.2            // km
	semiMajor       = 6378.137          // km
	flattening      = 1 / 298.257223563 // of WGS 84
)

// blackout is the horizontal field, nT, below which compasses are not to be
// trusted (the report's blackout zone round the magnetic poles).
const blackout = 2000.0

// model is a World Magnetic Model: Schmidt semi-normalised coefficients in nT
// at the epoch and their change a year, by degree and order.
type model struct {
	epoch          float64
	g, h, gdt, hdt [degree + 1][degree + 1]float64
}

//go:embed wmm2020.txt
var text2020 string

//go:embed wmm2025.txt
var text2025 string

var models = sync.OnceValue(func() [2]model {
	return [2]model{parse(2020, text2020), parse(2025, text2025)}
})

// parse reads the embedded table; a table that does not parse is a
// programmer's mistake, and panics.
func parse(epoch float64, text string) model {
	m := model{epoch: epoch}
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		var v [6]float64
		for i, s := range strings.Fields(line) {
			x, err := strconv.ParseFloat(s, 64)
			if err != nil {
				panic(err)
			}
			v[i] = x
		}
		n, k := int(v[0]), int(v[1])
		m.g[n][k], m.h[n][k], m.gdt[n][k], m.hdt[n][k] = v[2], v[3], v[4], v[5]
	}
	return m
}

// Declination returns the angle in degrees from true to magnetic north at p,
// positive to the east, at elevation metres above the sea and time t: true
// bearing = magnetic bearing + declination. The model's own error is near 0.4
// degrees in middle latitudes (from memory). Times outside 2020 to 2029 and
// places near the magnetic poles, where a compass does not point, are errors.
func Declination(p orb.Point, elevation float64, t time.Time) (float64, error) {
	year := decimalYear(t)
	m := models()
	k := 0
	switch {
	case year < m[0].epoch || year >= m[1].epoch+5:
		return 0, fmt.Errorf("magnetic bearings are known from 2020 to 2029 (World Magnetic Model), not for %d; write a "+
			"true bearing", t.UTC().Year())
	case year >= m[1].epoch:
		k = 1
	}
	x, y, _ := m[k].field(p, elevation/1000, year)
	if math.Hypot(x, y) < blackout {
		return 0, fmt.Errorf("a compass cannot be trusted this near the magnetic pole (horizontal field %.0f nT); write a "+
			"true bearing", math.Hypot(x, y))
	}
	return math.Atan2(y, x) * 180 / math.Pi, nil
}

// decimalYear returns the year with its elapsed share, UTC.
func decimalYear(t time.Time) float64 {
	t = t.UTC()
	start := time.Date(t.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	end := time.Date(t.Year()+1, 1, 1, 0, 0, 0, 0, time.UTC)
	return float64(t.Year()) + t.Sub(start).Seconds()/end.Sub(start).Seconds()
}

// field returns the field toward north, east and down in nT at p, km above the
// ellipsoid, in the decimal year (report, equations 7 to 18).
func (m *model) field(p orb.Point, km, year float64) (north, east, down float64) {
	lat := p[1] * math.Pi / 180
	sinLat, cosLat := math.Sincos(lat)
	e2 := flattening * (2 - flattening)
	rc := semiMajor / math.Sqrt(1-e2*sinLat*sinLat)
	px, pz := (rc+km)*cosLat, (rc*(1-e2)+km)*sinLat
	r := math.Hypot(px, pz)
	sinGeo := pz / r // of the geocentric latitude
	cosGeo := math.Max(px/r, 1e-10)
	q, dq := legendre(sinGeo, cosGeo)
	dt := year - m.epoch
	lon := p[0] * math.Pi / 180
	var x, y, z float64
	ratio := referenceRadius / r
	power := ratio * ratio
	for n := 1; n <= degree; n++ {
		power *= ratio
		for k := 0; k <= n; k++ {
			s, c := math.Sincos(float64(k) * lon)
			g, h := m.g[n][k]+dt*m.gdt[n][k], m.h[n][k]+dt*m.hdt[n][k]
			along, across := g*c+h*s, g*s-h*c
			x -= power * along * dq[n][k]
			y += power * float64(k) * across * q[n][k] / cosGeo
			z -= power * float64(n+1) * along * q[n][k]
		}
	}
	psi := math.Asin(sinGeo) - lat
	s, c := math.Sincos(psi)
	return x*c - z*s, y, x*s + z*c
}

// legendre returns the Schmidt semi-normalised associated Legendre functions of
// sin(latitude) and their derivatives by the latitude.
func legendre(sin, cos float64) (q, dq [degree + 1][degree + 1]float64) {
	q[0][0] = 1
	for n := 1; n <= degree; n++ {
		for m := 0; m <= n; m++ {
			switch {
			case n == m && n == 1:
				q[1][1], dq[1][1] = cos, -sin
			case n == m:
				f := math.Sqrt(1 - 1/(2*float64(n)))
				q[n][n] = f * cos * q[n-1][n-1]
				dq[n][n] = f * (cos*dq[n-1][n-1] - sin*q[n-1][n-1])
			default:
				d := math.Sqrt(float64(n*n - m*m))
				a := float64(2*n-1) / d
				q[n][m] = a * sin * q[n-1][m]
				dq[n][m] = a * (sin*dq[n-1][m] + cos*q[n-1][m])
				if n > m+1 {
					b := math.Sqrt(float64((n-1)*(n-1)-m*m)) / d
					q[n][m] -= b * q[n-2][m]
					dq[n][m] -= b * dq[n-2][m]
				}
			}
		}
	}
	return q, dq
}
