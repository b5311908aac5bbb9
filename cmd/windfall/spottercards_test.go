package main

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/evidence"
)

// A card's angles are those of plane trigonometry from the JSON's own places:
// the nominal flight lands on the bearing that leads from the stand to it.
func TestSpotterCards(t *testing.T) {
	dir := t.TempDir()
	list := filepath.Join(dir, "stands.txt")
	require.NoError(t, os.WriteFile(list, []byte("gate, 41.9086 -4.9183\nhill, 41.9120 -4.9260\n"), 0o644))
	var p struct {
		Nominal struct {
			Landing struct{ East_m, North_m float64 }
		}
	}
	require.NoError(t, json.Unmarshal(windfall(t, "predict", garza, "--json", "--runs", "200", "--out", dir), &p))
	var r struct {
		Cards []struct {
			Name            string
			East_m, North_m float64
			Events          []evidence.CardEvent
		}
		Files []string
	}
	require.NoError(t, json.Unmarshal(windfall(t, "spotters", garza, "--candidates", list, "--json", "--out", dir), &r))
	require.Len(t, r.Cards, 2)
	for _, c := range r.Cards {
		last := c.Events[len(c.Events)-1]
		require.Equal(t, "landing", last.Event)
		dx, dy := p.Nominal.Landing.East_m-c.East_m, p.Nominal.Landing.North_m-c.North_m
		assert.InDelta(t, 0, math.Remainder(math.Atan2(dx, dy)*180/math.Pi-last.Bearing, 360), 0.2, c.Name)
		assert.InDelta(t, math.Hypot(dx, dy), last.Distance, 0.5)
		for i, e := range c.Events {
			assert.True(t, e.AtSpan[0] <= e.AtSpan[1] && e.HeightSpan[0] <= e.HeightSpan[1])
			if i > 0 {
				assert.Greater(t, e.At, c.Events[i-1].At)
			}
		}
	}
	require.Equal(t, []string{filepath.Join(dir, "spotters.html")}, r.Files)
	page, err := os.ReadFile(r.Files[0])
	require.NoError(t, err)
	assert.Equal(t, 2, strings.Count(string(page), `<div class="card">`))
	assert.Contains(t, string(page), "<h1>gate</h1>")
	if _, err := exec.LookPath("xmllint"); err == nil {
		out, err := exec.Command("xmllint", "--html", "--noout", r.Files[0]).CombinedOutput()
		require.NoError(t, err)
		assert.False(t, bytes.Contains(out, []byte("error")), "%s", out)
	}
}
