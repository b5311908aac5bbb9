// Package geo holds places: geographic points, the local frame of a launch
// site and the conversion between them. Its sub-packages make maps of chance
// (grid), read places, quantities, ground and terrain, and write map files.
//
// Two kinds of point never mix: orb.Point is longitude, latitude in degrees on
// WGS 84; XY is metres east and north of a Frame's origin, and the lines and
// areas of package plane are made of XY. Only a Frame converts between the two.
// Nothing here knows of rockets or searchers.
package geo

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/tidwall/geodesic"
)

// XY is a point in a local frame: metres east and metres north of its origin.
type XY struct{ X, Y float64 }

// Add returns a + b.
func (a XY) Add(b XY) XY { return XY{a.X + b.X, a.Y + b.Y} }

// Sub returns a - b.
func (a XY) Sub(b XY) XY { return XY{a.X - b.X, a.Y - b.Y} }

// Scale returns a times k.
func (a XY) Scale(k float64) XY { return XY{a.X * k, a.Y * k} }

// Dot returns the scalar product of a and b, m2.
func (a XY) Dot(b XY) float64 { return a.X*b.X + a.Y*b.Y }

// Cross returns the vector product of a and b, m2: positive when b lies
// anticlockwise of a.
func (a XY) Cross(b XY) float64 { return a.X*b.Y - a.Y*b.X }

// Unit returns the direction of a, 1 m long; zero for the origin itself.
func (a XY) Unit() XY {
	n := a.Norm()
	if n == 0 {
		return XY{}
	}
	return a.Scale(1 / n)
}

// Norm returns the distance of a from the origin in metres.
func (a XY) Norm() float64 { return math.Hypot(a.X, a.Y) }

// BearingDeg returns the direction of a seen from the origin, in degrees true,
// 0 north, clockwise, in [0, 360). It is 0 for the origin itself.
func (a XY) BearingDeg() float64 { return NormDeg(math.Atan2(a.X, a.Y) * 180 / math.Pi) }

// Polar returns the point at the given distance (m) on the given bearing
// (degrees true, clockwise from north).
func Polar(distance, bearingDeg float64) XY {
	s, c := math.Sincos(bearingDeg * math.Pi / 180)
	return XY{distance * s, distance * c}
}

// NormDeg brings an angle in degrees into [0, 360).
func NormDeg(d float64) float64 {
	d = math.Mod(d, 360)
	if d < 0 {
		d += 360
	}
	if d >= 360 { // -1e-17 + 360 rounds to 360
		d = 0
	}
	return d
}

// Frame is the azimuthal equidistant frame at Origin: a point's X, Y have the
// length and direction of the WGS 84 geodesic from Origin, so distances and
// bearings from the origin are exact (Karney 2013, Algorithms for geodesics,
// J. Geodesy 87) and others are right to about (r/R)^2/6 of themselves, 4 mm
// in a kilometre at 10 km from the origin.
type Frame struct{ Origin orb.Point }

// ToXY returns p in metres east and north of the frame's origin.
func (f Frame) ToXY(p orb.Point) XY {
	var s, azi float64
	geodesic.WGS84.Inverse(f.Origin.Lat(), f.Origin.Lon(), p.Lat(), p.Lon(), &s, &azi, nil)
	return Polar(s, azi)
}

// ToLonLat returns the geographic point of q; longitude in [-180, 180].
func (f Frame) ToLonLat(q XY) orb.Point {
	d := q.Norm()
	if d == 0 {
		return f.Origin
	}
	var lat, lon float64
	geodesic.WGS84.Direct(f.Origin.Lat(), f.Origin.Lon(), math.Atan2(q.X, q.Y)*180/math.Pi, d, &lat, &lon, nil)
	return orb.Point{math.Remainder(lon, 360), lat}
}

// Place is a point as the program's JSON writes it.
type Place struct {
	Lat   float64 `json:"lat"`     // degrees
	Lon   float64 `json:"lon"`     // degrees
	East  float64 `json:"east_m"`  // m from the pad
	North float64 `json:"north_m"` // m from the pad
}

// Place returns q in both forms.
func (f Frame) Place(q XY) Place {
	p := f.ToLonLat(q)
	return Place{Lat: p.Lat(), Lon: p.Lon(), East: q.X, North: q.Y}
}

// PlaceOf returns p in both forms, its degrees as they were given.
func (f Frame) PlaceOf(p orb.Point) Place {
	q := f.ToXY(p)
	return Place{Lat: p.Lat(), Lon: p.Lon(), East: q.X, North: q.Y}
}
