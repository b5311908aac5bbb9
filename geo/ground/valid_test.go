package ground

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
)

func field(rings string) string {
	return `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[` + rings + `]}}]}`
}

func TestPolygonsInDoubtAreRefused(t *testing.T) {
	const square = `[[0,0],[0.01,0],[0.01,0.01],[0,0.01],[0,0]]`
	for name, c := range map[string]struct{ rings, want string }{
		"bow tie":       {`[[0,0],[0.01,0.01],[0.01,0],[0,0.01],[0,0]]`, "f.geojson: feature 1: the ring crosses or touches itself near latitude 0.00500, longitude 0.00500; draw its corners in order"},
		"spike":         {`[[0,0],[0.01,0],[0.01,0.01],[0.01,0.02],[0.01,0.01],[0,0.01],[0,0]]`, "crosses or touches itself"},
		"hole outside":  {square + `,[[0.02,0.02],[0.03,0.02],[0.03,0.03],[0.02,0.02]]`, "a hole crosses the outer ring or lies outside it"},
		"hole crossing": {square + `,[[0.005,0.005],[0.03,0.005],[0.03,0.006],[0.005,0.005]]`, "a hole crosses"},
	} {
		_, err := ReadField(strings.NewReader(field(c.rings)), "f.geojson", geo.Frame{})
		assert.ErrorContains(t, err, c.want, name)
	}
	_, err := ReadField(strings.NewReader(field(square+`,[[0.002,0.002],[0.003,0.002],[0.003,0.003],[0.002,0.002]]`)), "f", geo.Frame{})
	assert.NoError(t, err, "a hole inside")
}

// A long outline with small waves is a plain one.
func TestLongOutline(t *testing.T) {
	var pts []string
	for k := range 50001 {
		a := 2 * math.Pi * float64(k%50000) / 50000
		r := 0.01 + 0.001*math.Sin(40*a)
		pts = append(pts, fmt.Sprintf("[%.9f,%.9f]", r*math.Cos(a), r*math.Sin(a)))
	}
	_, err := ReadField(strings.NewReader(field("["+strings.Join(pts, ",")+"]")), "f", geo.Frame{})
	require.NoError(t, err)
}
