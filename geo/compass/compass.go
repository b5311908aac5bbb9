// Package compass reads directions as people write them: degrees clockwise
// from north, true or magnetic, and the points of the compass. It is the one
// parser for files and flags. It turns no magnetic bearing to true: that needs
// a place and a time (geo/magnetic).
package compass

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Direction is a direction read.
type Direction struct {
	Deg      float64 // clockwise from north, 0 to 360
	Magnetic bool    // north is the needle's
	SD       float64 // degrees: how far a point of the compass may be off; 0 for degrees
}

// points are the sixteen points of the compass, from north, 22.5 degrees apart.
var points = []string{"n", "nne", "ne", "ene", "e", "ese", "se", "sse", "s", "ssw", "sw", "wsw", "w", "wnw", "nw",
	"nnw"}

// Who says a point of eight or four means some direction nearer to it than to
// the next of its kind: even over its width, which has a standard deviation of
// the width over the square root of twelve.
var (
	ofEight   = 45 / math.Sqrt(12)
	ofSixteen = 22.5 / math.Sqrt(12)
)

var words = strings.NewReplacer("north", "n", "south", "s", "east", "e", "west", "w", "-", "", " ", "")

// Parse reads "240", "240 deg", "240°", "240 true", "240 mag" or a point such
// as SW, south-west or NNE, in any case. Errors quote s and say what to write
// instead.
func Parse(s string) (Direction, error) {
	t := strings.ToLower(strings.TrimSpace(s))
	if d, ok := Point(t); ok {
		return d, nil
	}
	var d Direction
	for _, w := range []string{"magnetic", "mag", "true", ""} {
		if rest, ok := strings.CutSuffix(t, w); ok {
			t, d.Magnetic = strings.TrimSpace(rest), w == "magnetic" || w == "mag"
			break
		}
	}
	for _, u := range []string{"degrees", "deg", "°"} {
		t = strings.TrimSpace(strings.TrimSuffix(t, u))
	}
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return d, fmt.Errorf("%.40q is not a direction; write degrees from true north such as 240 deg, 240 mag, or a point "+
			"such as SW", s)
	}
	if v < 0 || v > 360 {
		return d, fmt.Errorf("%.40q is not a direction; write 0 deg to 360 deg, clockwise from true north", s)
	}
	d.Deg = v
	return d, nil
}

// Point reads a point of the compass alone; ok is false for anything else.
func Point(s string) (d Direction, ok bool) {
	t := words.Replace(strings.ToLower(strings.TrimSpace(s)))
	for i, p := range points {
		if p != t {
			continue
		}
		d := Direction{Deg: 22.5 * float64(i), SD: ofSixteen}
		if i%2 == 0 {
			d.SD = ofEight
		}
		return d, true
	}
	return Direction{}, false
}

// Name returns the point of sixteen nearest to a direction in degrees, such as
// "NNE".
func Name(deg float64) string {
	i := int(math.Round(math.Mod(math.Mod(deg, 360)+360, 360)/22.5)) % 16
	return strings.ToUpper(points[i])
}
