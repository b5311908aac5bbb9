package grid

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/geotest"
)

// reference returns the rows of a kind of statistics.csv: closed forms, numpy
// 1.24.2 and scipy 1.10.1.
func reference(t *testing.T, kind string) []geotest.Row {
	var out []geotest.Row
	for _, r := range geotest.Table(t, "statistics.csv") {
		if r.Text("kind") == kind {
			out = append(out, r)
		}
	}
	require.NotEmpty(t, out)
	return out
}

func numbers(t *testing.T, s string) (out []float64) {
	for f := range strings.SplitSeq(s, "|") {
		v, err := strconv.ParseFloat(f, 64)
		require.NoError(t, err)
		out = append(out, v)
	}
	return out
}

func TestEllipseScale(t *testing.T) {
	unit := Moments{Cov: Cov{XX: 1, YY: 1}, Effective: 1}
	for _, r := range reference(t, "ellipse_scale") {
		p := numbers(t, strings.TrimPrefix(r.Text("case"), "p="))[0]
		// The file gives p to ten digits at most, k to nine decimals.
		assert.InDelta(t, numbers(t, r.Text("value"))[0], unit.Ellipse(p).SemiMajor, 1e-8)
	}
	for _, r := range reference(t, "ellipse_probability") {
		k, p := numbers(t, strings.TrimPrefix(r.Text("case"), "k="))[0], numbers(t, r.Text("value"))[0]
		assert.InDelta(t, k, unit.Ellipse(p).SemiMajor, 1e-5)
	}
}

func TestWeightedMoments(t *testing.T) {
	pts := []geo.XY{{X: 0, Y: 0}, {X: 10, Y: 2}, {X: 20, Y: 8}, {X: 30, Y: 5}, {X: 15, Y: -4}, {X: -5, Y: 6}}
	m, err := Measure(pts, []float64{1, 2, 3, 1, 2, 1})
	require.NoError(t, err)
	want := map[string][]float64{}
	for _, r := range reference(t, "weighted") {
		want[r.Text("case")+"/"+r.Text("quantity")] = numbers(t, r.Text("value"))
	}
	near := func(key string, got ...float64) {
		t.Helper()
		found := false
		for k, v := range want {
			if strings.HasPrefix(k, key) {
				found = true
				assert.InDeltaSlice(t, v, got, 1e-6, k)
			}
		}
		require.True(t, found, key)
	}
	near("points", m.Mean.X, m.Mean.Y)
	s := Sums{About: pts[0]}
	for i, q := range pts {
		s.Add(q, []float64{1, 2, 3, 1, 2, 1}[i])
	}
	near("points", s.Mean().X, s.Mean().Y)
	near("same: population", s.Cov().XX, s.Cov().XY, s.Cov().YY)
	near("same/effective", m.Effective)
	near("same: reliability", m.XX, m.XY, m.YY)
	one, e := m.Ellipse(1-math.Exp(-0.5)), m.Ellipse(0.95)
	near("same, reliability", one.SemiMajor, one.SemiMinor)
	near("same/azimuth", e.AzimuthDeg)
	near("same/95 percent ellipse semi", e.SemiMajor, e.SemiMinor)
	near("same/95 percent ellipse area", math.Pi*e.SemiMajor*e.SemiMinor)
}

// Azimuths are of an axis: in [0, 180), clockwise from north.
func TestEllipseAzimuth(t *testing.T) {
	for _, azimuth := range []float64{0, 20, 90, 135, 179} {
		var pts []geo.XY
		for k := -3.0; k <= 3; k++ {
			pts = append(pts, geo.Polar(k, azimuth), geo.Polar(k/9, azimuth+90))
		}
		m, err := Measure(pts, nil)
		require.NoError(t, err)
		got := m.Ellipse(0.5).AzimuthDeg
		assert.Less(t, got, 180.0)
		assert.InDelta(t, 0, math.Remainder(got-azimuth, 180), 1e-9, "%g", azimuth)
	}
	m, err := Measure([]geo.XY{{X: 2, Y: 3}}, nil)
	require.NoError(t, err)
	assert.Zero(t, m.Ellipse(0.9).SemiMajor, "one point has no spread")
}

// The standard errors are those of repeated clouds: 400 clouds of 300 points,
// so that the spread seen is itself known to 1/sqrt(800), 3.5 %.
func TestStandardErrors(t *testing.T) {
	var mean, mean2, axis, axis2, se, centre float64
	const n = 400
	for k := range n {
		m, err := Measure(normal(300, uint64(k), geo.XY{}, 30, 10, 0), nil)
		require.NoError(t, err)
		e := m.Ellipse(0.9)
		mean, mean2 = mean+m.Mean.X/n, mean2+m.Mean.X*m.Mean.X/n
		axis, axis2 = axis+e.SemiMajor/n, axis2+e.SemiMajor*e.SemiMajor/n
		se, centre = se+e.MajorSE/n, centre+m.MeanSE.X/n
	}
	assert.InEpsilon(t, math.Sqrt(mean2-mean*mean), centre, 0.12)
	assert.InEpsilon(t, math.Sqrt(axis2-axis*axis), se, 0.12)
}
