package compare

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/compare/figure"
	"windfall/geo/chance"
)

// tableOf is a table of unflown rows whose chances fall from row to row.
func tableOf(t *testing.T, hours []time.Time, axes ...Axis) *Table {
	rows, err := (Input{Axes: axes, Hours: hours}).rows()
	require.NoError(t, err)
	tab := &Table{Title: "f", ByField: true, Axes: axes, Hours: hours, Rows: rows}
	for i, r := range rows {
		r.Places = []chance.Chance{{Probability: 1 - float64(i)/100, SE: 0.01}}
		r.Label = tab.label(r)
	}
	return tab
}

func xs(s figure.Series) (out []float64) {
	for _, p := range s.Points {
		out = append(out, p.X)
	}
	return out
}

// Numbers of one unit lie along x at their values, other keys make series.
func TestChancesAlongNumbers(t *testing.T) {
	tab := tableOf(t, nil, axis("rail.toward", Auto), axis("recovery.0.kind", "streamer", "parachute"), axis("motor.delay", "8 s", "4 s", "5.5 s"))
	f := tab.Chances()
	assert.Equal(t, "motor.delay", f.X)
	assert.Equal(t, []figure.Tick{{X: 4, Label: "4 s"}, {X: 5.5, Label: "5.5 s"}, {X: 8, Label: "8 s"}}, f.Ticks)
	require.Len(t, f.Series, 2)
	assert.Equal(t, "recovery.0.kind streamer", f.Series[0].Name)
	assert.Equal(t, []float64{4, 5.5, 8}, xs(f.Series[0]))
	assert.Equal(t, figure.Point{X: 8, P: 1, SE: 0.01}, f.Series[0].Points[2])
	assert.Equal(t, "rail.toward auto, recovery.0.kind streamer, motor.delay 8 s", tab.Rows[0].Label)
}

// Values of several units, or none, lie one after the other as asked for.
func TestChancesAlongWords(t *testing.T) {
	f := tableOf(t, nil, axis("motor.delay", "8 s", "1 min"), axis("wind", "a.json")).Chances()
	assert.Equal(t, []figure.Tick{{X: 0, Label: "8 s"}, {X: 1, Label: "1 min"}}, f.Ticks)
	assert.Equal(t, "", f.Series[0].Name)
	long := "{device: parachute, trigger: ejection}"
	tab := tableOf(t, nil, axis("recovery.0", long, "x"))
	f = tab.Chances()
	assert.Equal(t, "recovery.0 "+long, tab.shortLabel(tab.Rows[0]))
	assert.Equal(t, "{device: parachute, tri…", f.Ticks[0].Label)
}

// Hours lie along x; the date is said where there is more than one.
func TestChancesAlongHours(t *testing.T) {
	noon := time.Date(2026, 4, 18, 12, 0, 0, 0, time.UTC)
	f := tableOf(t, []time.Time{noon, noon.Add(90 * time.Minute)}, axis("motor.delay", "6 s", "8 s")).Chances()
	assert.Equal(t, "time", f.X)
	assert.Equal(t, []figure.Tick{{X: 0, Label: "12:00"}, {X: 1.5, Label: "13:30"}}, f.Ticks)
	assert.Equal(t, "motor.delay 6 s", f.Series[0].Name)
	f = tableOf(t, []time.Time{noon, noon.Add(24 * time.Hour)}).Chances()
	assert.Equal(t, "19 Apr 12:00", f.Ticks[1].Label)
	one := tableOf(t, []time.Time{noon}, axis("motor.delay", "6 s", "8 s"))
	assert.Equal(t, "12:00", one.Chances().Series[0].Name)
	assert.Equal(t, "12:00, motor.delay 6 s", one.Rows[0].Label)
	assert.Equal(t, "the flight so set", tableOf(t, nil).Rows[0].Label)
}

// Clouds show the best row of each hour in the order of the hours, and draw.
func TestClouds(t *testing.T) {
	noon := time.Date(2026, 4, 18, 12, 0, 0, 0, time.UTC)
	in := Input{Base: prepare(t, nil), Hours: []time.Time{noon.Add(time.Hour), noon}, Axes: []Axis{axis("motor.delay", "6 s", "3 s")}}
	in.Vary = varyDelay(square(in.Base.Nominal().At, 50))
	tab, err := Run(t.Context(), in, Options{Runs: 200})
	require.NoError(t, err)
	f := tab.Clouds()
	require.Len(t, f.Panels, 2)
	assert.Regexp(t, `^13:00, delay [63] s$`, f.Panels[0].Title)
	assert.Regexp(t, `^12:00, delay [63] s$`, f.Panels[1].Title)
	assert.Regexp(t, `^[0-9.]+ %$`, f.Panels[1].Value)
	assert.Len(t, f.Panels[0].Points, 200)
	for _, draw := range []func(*bytes.Buffer) error{
		func(b *bytes.Buffer) error { return f.Draw(b) }, func(b *bytes.Buffer) error { return tab.Chances().Draw(b) }} {
		var b bytes.Buffer
		require.NoError(t, draw(&b))
		assert.Equal(t, "\x89PNG", b.String()[:4])
	}
	in.Hours, in.Vary = nil, varyDelay(nil)
	tab, err = Run(t.Context(), in, Options{Runs: 200})
	require.NoError(t, err)
	f = tab.Clouds()
	assert.Regexp(t, `^delay [63] s$`, f.Panels[0].Title)
	assert.Nil(t, f.Panels[0].In)
}
