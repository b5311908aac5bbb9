package place

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// Grid is a plane grid of eastings and northings in metres: one UTM zone and
// half, one UPS half, or the British National Grid. Take it from GridAt.
type Grid struct {
	Name  string // "UTM 30N", "UPS N", "British National Grid"
	zone  int    // 1 to 60; 0: UPS or British
	north bool
	bng   bool
}

// GridAt returns the grid that Format uses for p in the given style; the three
// styles in degrees count as UTM.
func GridAt(p orb.Point, s Style) Grid {
	if s == BNG {
		if _, ok := formatBNG(p); ok {
			return Grid{Name: "British National Grid", bng: true}
		}
	}
	z, north := zoneAt(p), p.Lat() >= 0
	half := "S"
	if north {
		half = "N"
	}
	if z == 0 {
		return Grid{Name: "UPS " + half, north: north}
	}
	return Grid{Name: fmt.Sprintf("UTM %d%s", z, half), zone: z, north: north}
}

// FromLonLat returns p's easting and northing in metres.
func (g Grid) FromLonLat(p orb.Point) (e, n float64) {
	switch {
	case g.bng:
		return bngMercator.fromLonLat(toOSGB36(p.Lon(), p.Lat()))
	case g.zone == 0:
		return polarFromLonLat(g.north, p.Lon(), p.Lat())
	}
	return utm(g.zone, g.north).fromLonLat(p.Lon(), p.Lat())
}

// ToLonLat returns the point at an easting and a northing in metres.
func (g Grid) ToLonLat(e, n float64) orb.Point {
	var lon, lat float64
	switch {
	case g.bng:
		lon, lat = fromOSGB36(bngMercator.toLonLat(e, n))
	case g.zone == 0:
		lon, lat = polarToLonLat(g.north, e, n)
	default:
		lon, lat = utm(g.zone, g.north).toLonLat(e, n)
	}
	return orb.Point{lon, lat}
}

// utmSeries holds the series once; a zone only moves the central meridian.
var utmSeries = newMercator(mercator{on: wgs84, k0: 0.9996, falseE: 500e3})

func utm(zone int, north bool) mercator {
	p := utmSeries
	p.lon0 = float64(6*zone - 183)
	if !north {
		p.falseN = 10000e3
	}
	return p
}

// zoneAt returns the UTM zone of p with the exceptions of Norway and Svalbard
// (NGA.SIG.0012, 2014), or 0 where UPS takes over: from 84 N and below 80 S.
func zoneAt(p orb.Point) int {
	lon, lat := math.Remainder(p.Lon(), 360), p.Lat()
	if lat >= 84 || lat < -80 {
		return 0
	}
	z := int(math.Floor((lon+180)/6)) + 1
	if z > 60 { // +180 is -180
		z = 1
	}
	switch {
	case lat >= 56 && lat < 64 && lon >= 3 && lon < 12:
		return 32
	case lat >= 72 && lon >= 0 && lon < 42:
		return 31 + 2*int(math.Floor((lon+3)/12))
	}
	return z
}

// bands are the MGRS latitude bands of 8 degrees from 80 S; X has 12.
const bands = "CDEFGHJKLMNPQRSTUVWX"

func bandAt(lat float64) byte {
	i := min(max(int(math.Floor((lat+80)/8)), 0), len(bands)-1)
	if lat < 0 { // -1e-15 + 80 rounds to 80
		i = min(i, 9)
	}
	return bands[i]
}

func formatUTM(p orb.Point) string {
	g := GridAt(p, UTM)
	e, n := g.FromLonLat(p)
	e, n = math.Round(e), math.Round(n)
	if g.zone == 0 {
		return fmt.Sprintf("%s %.0f %.0f", g.Name, e, n)
	}
	letter := "N"
	if !g.north {
		letter = "S"
		if maybeBandS(n) {
			letter = string(bandAt(p.Lat()))
		}
	}
	return fmt.Sprintf("%d%s %.0f %.0f", g.zone, letter, e, n)
}

// maybeBandS tells whether a northing after "30S" could be meant for band S,
// 32 to 40 degrees north, as well as for 50 to 58 degrees south.
func maybeBandS(n float64) bool { return n > 3530e3 && n < 4440e3 }

// bngMercator is the National Grid's projection: A guide to coordinate systems
// in Great Britain, Ordnance Survey, annex A.
var bngMercator = newMercator(mercator{on: airy, lon0: -2, lat0: 49, k0: 0.9996012717, falseE: 400e3, falseN: -100e3})

// The Helmert shift from OSGB36 to WGS 84, EPSG:1314, position vector: metres,
// arc seconds and parts per million. Stated accuracy 2 m.
const (
	helmertX, helmertY, helmertZ    = 446.448, -125.157, 542.06
	helmertRX, helmertRY, helmertRZ = 0.15, 0.247, 0.842
	helmertPPM                      = -20.489
	arcSecond                       = math.Pi / 648000
)

func fromOSGB36(lon, lat float64) (float64, float64) {
	x, y, z := airy.geocentric(lon, lat)
	rx, ry, rz, k := helmertRX*arcSecond, helmertRY*arcSecond, helmertRZ*arcSecond, 1+helmertPPM*1e-6
	return wgs84.geographic(
		helmertX+k*(x-rz*y+ry*z),
		helmertY+k*(rz*x+y-rx*z),
		helmertZ+k*(-ry*x+rx*y+z))
}

// toOSGB36 turns the shift round with the transposed rotation, as PROJ does;
// there and back it is right to 0.2 mm.
func toOSGB36(lon, lat float64) (float64, float64) {
	x, y, z := wgs84.geocentric(lon, lat)
	rx, ry, rz, k := helmertRX*arcSecond, helmertRY*arcSecond, helmertRZ*arcSecond, 1+helmertPPM*1e-6
	x, y, z = (x-helmertX)/k, (y-helmertY)/k, (z-helmertZ)/k
	return airy.geographic(x+rz*y-ry*z, -rz*x+y+rx*z, ry*x-rx*y+z)
}

// geocentric returns the point at height 0 in metres from the Earth's centre.
func (l ellipsoid) geocentric(lon, lat float64) (x, y, z float64) {
	sp, cp := math.Sincos(lat * math.Pi / 180)
	sl, cl := math.Sincos(lon * math.Pi / 180)
	nu := l.a / math.Sqrt(1-l.e2()*sp*sp)
	return nu * cp * cl, nu * cp * sl, nu * (1 - l.e2()) * sp
}

// geographic drops the height; the latitude is iterated as in annex B of the
// Ordnance Survey's guide.
func (l ellipsoid) geographic(x, y, z float64) (lon, lat float64) {
	p := math.Hypot(x, y)
	phi := math.Atan2(z, p*(1-l.e2()))
	for range 6 {
		s := math.Sin(phi)
		phi = math.Atan2(z+l.e2()*l.a/math.Sqrt(1-l.e2()*s*s)*s, p)
	}
	return math.Atan2(y, x) * 180 / math.Pi, phi * 180 / math.Pi
}
