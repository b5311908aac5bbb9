package ground

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
)

// docs/ground.md tells of every kind that Read takes, and of no other.
func TestPageTellsOfEveryKind(t *testing.T) {
	page, err := os.ReadFile("../../docs/ground.md")
	require.NoError(t, err)
	_, err = Read(strings.NewReader(`{"type":"Feature","properties":{"kind":"x"},"geometry":{"type":"Point","coordinates":[0,0]}}`), "g", geo.Frame{})
	require.Error(t, err)
	_, list, _ := strings.Cut(err.Error(), "; write ")
	var kinds []string
	for _, k := range regexp.MustCompile(`[a-z-]+`).FindAllString(list, -1) {
		if k != "or" {
			kinds = append(kinds, k)
		}
	}
	require.Len(t, kinds, 6)
	var told []string
	for _, m := range regexp.MustCompile("(?m)^\\| `([a-z-]+)` \\| (?:polygon|line|point)").FindAllStringSubmatch(string(page), -1) {
		told = append(told, m[1])
	}
	assert.ElementsMatch(t, kinds, told)
}

func TestTooManyShapes(t *testing.T) {
	one := `{"type":"Feature","properties":{"kind":"x"},"geometry":null}`
	_, err := Read(strings.NewReader(`{"type":"FeatureCollection","features":[`+strings.Repeat(one+",", maxShapes)+one+`]}`), "g", geo.Frame{})
	require.ErrorContains(t, err, "g: holds 2001 features; draw at most 2000")
}
