package rules

import (
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
)

// Towns well inside, and across the border or the sea; coordinates from memory,
// to a tenth of a degree.
func TestCountryAt(t *testing.T) {
	for _, c := range []struct {
		name     string
		lon, lat float64
		want     Country
	}{
		{"Wichita", -97.3, 37.7, US}, {"Brothers, Oregon", -120.6, 43.8, US}, {"Tucson", -110.9, 32.2, US}, {"Bangor", -68.8, 44.8, US},
		{"Fairbanks", -147.7, 64.8, US}, {"Hilo", -155.1, 19.7, US}, {"Miami", -80.2, 25.8, US},
		{"Toronto", -79.4, 43.7, ""}, {"Vancouver", -123.1, 49.3, ""}, {"Monterrey", -100.3, 25.7, ""}, {"Havana", -82.4, 23.1, ""},
		{"Ely", 0.3, 52.4, UK}, {"Inverness", -4.2, 57.5, UK}, {"Truro", -5.05, 50.3, UK}, {"Omagh", -7.3, 54.6, UK},
		{"Dublin", -6.3, 53.3, ""}, {"Calais", 1.9, 50.9, ""}, {"Valladolid", -4.7, 41.7, ""}, {"Sydney", 151.2, -33.9, ""},
	} {
		assert.Equal(t, c.want, CountryAt(orb.Point{c.lon, c.lat}), c.name)
	}
	assert.Empty(t, CompareIn("", Facts{Impulse: 100}))
	assert.Contains(t, Note(""), "no figures of this country")
	for _, f := range CompareIn(UK, Facts{Impulse: 200}) {
		assert.NotEmpty(t, f.Edition)
		assert.Equal(t, f.Figure[:13] != "at most 160 N", f.Within)
	}
}
