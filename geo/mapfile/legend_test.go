package mapfile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"windfall/geo"
	"windfall/geo/plane"
)

// The legend tells of what a picture shows: what lies beside it, and a field
// whose edge runs all round it, are left out.
func TestLegendTellsWhatIsInView(t *testing.T) {
	l := golden().ready()
	texts := func(view *plane.Box) string {
		var s []string
		for _, e := range legend(l, view) {
			s = append(s, e.text)
		}
		return strings.Join(s, "\n")
	}
	ground := []string{"searched already", "keep out", "barrier", "gate, stile, bridge", "cover; woods darker",
		"field, named places"}
	all := plane.Box{Min: geo.XY{X: -1e5, Y: -1e5}, Max: geo.XY{X: 1e5, Y: 1e5}}
	pad := plane.Box{Min: geo.XY{X: -1, Y: -1}, Max: geo.XY{X: 1, Y: 1}}
	for _, text := range ground {
		assert.Contains(t, texts(nil), text)
		assert.Contains(t, texts(&all), text)
		assert.NotContains(t, texts(&pad), text)
	}
	assert.Contains(t, texts(&pad), "\npad\n")
	assert.Equal(t, "3.0 ha", area(30_400))
	assert.Equal(t, "9999 m²", area(9999))
}
