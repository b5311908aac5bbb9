package cardpage

import (
	"bytes"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/evidence"
	"windfall/geo"
)

func write(t *testing.T, d Data) string {
	var b bytes.Buffer
	require.NoError(t, Write(&b, d))
	return b.String()
}

// A card for each observer, with compass bearings where the declination is
// known: magnetic is true less the declination to the east.
func TestWrite(t *testing.T) {
	west := -2.5
	e := evidence.CardEvent{Event: "landing", At: 61.4, AtSpan: [2]float64{50, 70}, Bearing: 358.6, Span: [2]float64{350, 7}, Height: -0.3, HeightSpan: [2]float64{-2, 0}, Distance: 412}
	d := Data{Flight: "garza-03", When: time.Date(2026, 4, 18, 11, 20, 0, 0, time.FixedZone("", 7200)), Cards: []evidence.Card{
		{Name: "gate <1>", Place: geo.Place{Lat: 41.9086, Lon: -4.9183}, Declination: &west, Events: []evidence.CardEvent{e}},
		{Name: "hill", Place: geo.Place{Lat: 41.912, Lon: -4.926}, Events: []evidence.CardEvent{e}},
	}}
	page := write(t, d)
	assert.Equal(t, 2, strings.Count(page, `<div class="card">`))
	for _, want := range []string{"<h1>gate &lt;1&gt;</h1>", "garza-03", "18 April 2026, 11:20 &#43;02:00", "61 s (50 to 70)", "359 (350 to 007)", "0 (-2 to 0)", "412 m", "41.90860,-4.91830", "2.5 deg west"} {
		assert.Contains(t, page, want)
	}
	first, second, _ := strings.Cut(page, "<h1>hill")
	assert.Contains(t, first, "001", "358.6 + 2.5 by the compass")
	assert.NotContains(t, second, "001")
	if _, err := exec.LookPath("xmllint"); err == nil {
		c := exec.Command("xmllint", "--html", "--noout", "-")
		c.Stdin = strings.NewReader(page)
		out, err := c.CombinedOutput()
		require.NoError(t, err)
		assert.NotContains(t, string(out), "error")
	}
	east := 3.0
	assert.Contains(t, write(t, Data{Cards: []evidence.Card{{Declination: &east}}}), "3.0 deg east")
}

func TestAngles(t *testing.T) {
	for deg, want := range map[float64]string{0: "000", 359.4: "359", 359.5: "000", -1: "359", 725: "005", 44.5: "045"} {
		assert.Equal(t, want, Bearing(deg), deg)
	}
	for deg, want := range map[float64]string{-0.4: "0", 0.4: "0", -1.6: "-2", 89.5: "90"} {
		assert.Equal(t, want, Elevation(deg), deg)
	}
}
