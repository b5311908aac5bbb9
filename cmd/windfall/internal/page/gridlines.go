package page

import (
	"fmt"
	"math"
	"net/http"
	"strconv"

	"github.com/paulmach/orb"

	"windfall/geo/place"
)

// gridDoc are the lines of the country's grid within a view.
type gridDoc struct {
	Name  string     `json:"name"`
	Step  string     `json:"step"`
	Lines []gridLine `json:"lines"`
}

// gridLine is a line of one easting or northing, as points of latitude and
// longitude.
type gridLine struct {
	Axis  string       `json:"axis"` // easting or northing
	Label string       `json:"label"`
	Bold  bool         `json:"bold"`
	At    [][2]float64 `json:"at"`
}

const (
	linesAcross = 6    // about, over a view
	widestView  = 3.0  // degrees: beyond it a grid of one zone says little
	traced      = 8    // pieces of a line, which is curved on the map
	mostLines   = 60.0 // a way
)

func (s *Server) getGrid(r *http.Request) (any, error) {
	var v [4]float64
	for i, k := range []string{"west", "south", "east", "north"} {
		x, err := strconv.ParseFloat(r.URL.Query().Get(k), 64)
		if err != nil || math.IsNaN(x) || math.Abs(x) > 540 {
			return nil, refuse(
				http.StatusBadRequest,
				"%s=%q is no number of degrees",
				k,
				clipped(r.URL.Query().Get(k), 40),
			)
		}
		v[i] = x
	}
	return gridOf(v[0], v[1], v[2], v[3]), nil
}

// gridOf returns the grid's lines over a view in degrees; none over a wide one.
func gridOf(west, south, east, north float64) gridDoc {
	mid := orb.Point{(west + east) / 2, (south + north) / 2}
	g := place.GridAt(mid, place.Local(mid))
	doc := gridDoc{Name: g.Name, Lines: []gridLine{}}
	if !(east > west) || !(north > south) || east-west > widestView || north-south > widestView ||
		math.Abs(mid.Lat()) > 84 {
		return doc
	}
	e0, e1, n0, n1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, c := range []orb.Point{{west, south}, {east, south}, {west, north}, {east, north}} {
		e, n := g.FromLonLat(c)
		e0, e1, n0, n1 = math.Min(e0, e), math.Max(e1, e), math.Min(n0, n), math.Max(n1, n)
	}
	step := niceStep(math.Max(e1-e0, n1-n0) / linesAcross)
	doc.Step = fmt.Sprintf("%g m", step)
	if step >= 1000 {
		doc.Step = fmt.Sprintf("%g km", step/1000)
	}
	if !(step > 0) || (e1-e0)/step > mostLines || (n1-n0)/step > mostLines {
		return doc
	}
	for e := math.Ceil(e0/step) * step; e <= e1; e += step {
		doc.Lines = append(
			doc.Lines,
			traceLine(g, "easting", e, step, func(t float64) (float64, float64) { return e, n0 + (n1-n0)*t }),
		)
	}
	for n := math.Ceil(n0/step) * step; n <= n1; n += step {
		doc.Lines = append(
			doc.Lines,
			traceLine(g, "northing", n, step, func(t float64) (float64, float64) { return e0 + (e1-e0)*t, n }),
		)
	}
	return doc
}

// niceStep is 1, 2 or 5 times a power of ten, not below x by more than half.
func niceStep(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, f := range []float64{5, 2} {
		if f*p <= x {
			return f * p
		}
	}
	return p
}

func traceLine(g place.Grid, axis string, v, step float64, at func(t float64) (e, n float64)) gridLine {
	l := gridLine{
		Axis:  axis,
		Label: fmt.Sprintf("%.0f %03.0f", math.Floor(v/1000), math.Mod(v, 1000)),
		Bold:  math.Mod(math.Round(v/step), 5) == 0,
	}
	for i := 0; i <= traced; i++ {
		p := g.ToLonLat(at(float64(i) / traced))
		l.At = append(l.At, [2]float64{p.Lat(), p.Lon()})
	}
	return l
}
