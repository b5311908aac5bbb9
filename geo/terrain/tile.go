// Package terrain reads elevation tiles, SRTM .hgt and ESRI ASCII grids in
// degrees, and gives the height of the ground at points of a local frame:
// linear between the four nearest posts, from those of them that are not
// void. It fetches nothing, joins no projections and smooths nothing.
package terrain

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"windfall/geo"
)

// Tile is one grid of elevations. Post (0, 0) is its south-west one.
type Tile struct {
	Name        string
	West, South float64 // degrees, of post (0, 0)
	DLon, DLat  float64 // degrees between posts
	NX, NY      int     // posts toward east and toward north
	Voids       int     // posts without a height

	posts  []float32 // NX*NY, row 0 southmost; NaN: void; m above mean sea level
	margin float64   // posts that the outer ones speak for beyond themselves: 0.5 where posts are middles of cells
	frame  geo.Frame
	near   *series
}

// Elevation returns the ground's height in metres above mean sea level at p,
// metres from the pad; ok is false outside the tile and where all four posts
// about p are void.
func (t *Tile) Elevation(p geo.XY) (m float64, ok bool) {
	lon, lat := t.near.lonLat(t.frame, p)
	return t.at(lon, lat)
}

// at returns the height at lon, lat in degrees.
func (t *Tile) at(lon, lat float64) (m float64, ok bool) {
	mid := t.West + t.DLon*float64(t.NX-1)/2
	x := math.Remainder(lon-mid, 360)/t.DLon + float64(t.NX-1)/2
	y := (lat - t.South) / t.DLat
	const slack = 1e-6 // posts; a point on the edge is on the tile
	if x, ok = within(x, t.NX, t.margin+slack); !ok {
		return 0, false
	}
	if y, ok = within(y, t.NY, t.margin+slack); !ok {
		return 0, false
	}
	i, j := min(int(x), t.NX-2), min(int(y), t.NY-2)
	fx, fy := x-float64(i), y-float64(j)
	k := j*t.NX + i
	var sum, weight float64
	add := func(v float32, w float64) {
		if v == v && w > 0 {
			sum += w * float64(v)
			weight += w
		}
	}
	add(t.posts[k], (1-fx)*(1-fy))
	add(t.posts[k+1], fx*(1-fy))
	add(t.posts[k+t.NX], (1-fx)*fy)
	add(t.posts[k+t.NX+1], fx*fy)
	if weight == 0 {
		return 0, false
	}
	return sum / weight, true
}

// within brings a post coordinate up to margin beyond the outer posts onto them.
func within(x float64, n int, margin float64) (float64, bool) {
	last := float64(n - 1)
	if !(x >= -margin && x <= last+margin) {
		return 0, false
	}
	return math.Min(math.Max(x, 0), last), true
}

// covers reports whether p lies on the tile, void or not.
func (t *Tile) covers(p orb.Point) bool {
	mid := t.West + t.DLon*float64(t.NX-1)/2
	_, okX := within(math.Remainder(p.Lon()-mid, 360)/t.DLon+float64(t.NX-1)/2, t.NX, t.margin+1e-6)
	_, okY := within((p.Lat()-t.South)/t.DLat, t.NY, t.margin+1e-6)
	return okX && okY
}

// Join is several tiles that read as one: the first that knows a point answers.
type Join []*Tile

// Elevation is as a Tile's.
func (j Join) Elevation(p geo.XY) (m float64, ok bool) {
	for _, t := range j {
		if m, ok = t.Elevation(p); ok {
			return m, true
		}
	}
	return 0, false
}

// place ties a tile that has been read to a frame whose pad it must cover.
func (t *Tile) place(f geo.Frame) (*Tile, error) {
	t.frame = f
	if !t.covers(f.Origin) {
		return nil, fmt.Errorf("%s: covers latitude %.4f to %.4f, longitude %.4f to %.4f, but the pad is at %.5f, %.5f; "+
			"use the tile of the pad, such as %s", t.Name,
			t.South, t.South+t.DLat*float64(t.NY-1), t.West, t.West+t.DLon*float64(t.NX-1),
			f.Origin.Lat(), f.Origin.Lon(), tileName(f.Origin))
	}
	t.near = newSeries(f)
	return t, nil
}

// tileName returns the name of the one-degree tile that holds p.
func tileName(p orb.Point) string {
	lat, lon := math.Floor(p.Lat()), math.Floor(p.Lon())
	ns, ew := 'N', 'E'
	if lat < 0 {
		ns, lat = 'S', -lat
	}
	if lon < 0 {
		ew, lon = 'W', -lon
	}
	return fmt.Sprintf("%c%02.0f%c%03.0f.hgt", ns, lat, ew, lon)
}
