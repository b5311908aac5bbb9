package place

import (
	"fmt"
	"os/exec"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// cs2cs is PROJ's converter (Debian package proj-bin), a second implementation
// of every projection here.
func cs2cs(t *testing.T, to string, pts []orb.Point) [][2]float64 {
	if _, err := exec.LookPath("cs2cs"); err != nil {
		t.Skip("cs2cs is not installed: apt install proj-bin")
	}
	var in strings.Builder
	for _, p := range pts {
		fmt.Fprintf(&in, "%.12f %.12f\n", p.Lon(), p.Lat())
	}
	args := append([]string{"-f", "%.6f", "+proj=longlat", "+datum=WGS84", "+to"}, strings.Fields(to)...)
	cmd := exec.Command("cs2cs", args...)
	cmd.Stdin = strings.NewReader(in.String())
	out, err := cmd.Output()
	require.NoError(t, err)
	var got [][2]float64
	for line := range strings.Lines(string(out)) {
		var e, n float64
		_, err := fmt.Sscan(line, &e, &n)
		require.NoError(t, err, line)
		got = append(got, [2]float64{e, n})
	}
	require.Len(t, got, len(pts))
	return got
}

func TestGridsAgreeWithPROJ(t *testing.T) {
	var utmPts, britPts, northPts []orb.Point
	for i := range 40 {
		x := float64(i) / 39
		utmPts = append(utmPts, orb.Point{-8 + 8*x, -79.5 + 163*x})
		britPts = append(britPts, orb.Point{-7 + 8.5*x, 50 + 10*x})
		northPts = append(northPts, orb.Point{-180 + 355*x, 83 + 6.9*x})
	}
	for _, c := range []struct {
		proj string
		g    Grid
		pts  []orb.Point
		tol  float64 // m
	}{
		{"+proj=utm +zone=30 +datum=WGS84", Grid{zone: 30, north: true}, utmPts, 1e-3},
		{"+proj=utm +zone=30 +south +datum=WGS84", Grid{zone: 30}, utmPts, 1e-3},
		{"+proj=ups +ellps=WGS84", Grid{north: true}, northPts, 1e-3},
		// The Helmert parameters of EPSG:1314; PROJ carries the height through
		// the shift, which moves the point by less than a millimetre.
		{"+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +ellps=airy " +
			"+towgs84=446.448,-125.157,542.06,0.15,0.247,0.842,-20.489", Grid{bng: true}, britPts, 2e-3},
	} {
		for i, want := range cs2cs(t, c.proj, c.pts) {
			e, n := c.g.FromLonLat(c.pts[i])
			assert.InDelta(t, want[0], e, c.tol, "%s %v", c.proj, c.pts[i])
			assert.InDelta(t, want[1], n, c.tol, "%s %v", c.proj, c.pts[i])
		}
	}
}
