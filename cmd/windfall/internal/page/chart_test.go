package page

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The chart has the ground at once, and the plan once one is kept.
func TestChart(t *testing.T) {
	c := newClient(t)
	d := get[map[string]any](c, "GET", "/chart", nil)
	assert.EqualValues(t, 0, d["plan"])
	chart := d["chart"].(map[string]any)
	assert.NotEmpty(t, chart["places"])
	assert.Nil(t, chart["searchers"])
	plan := `{"key": "k", "begin": "2026-10-03T10:00:00Z", "plan": {"minutes": 20, "searchers": [{"name": "Ines", "kind": "walker",
		"blocks": [{"name": "A1", "kind": "lanes", "lanes": 1, "lane_m": 100, "begin": {}, "end": {}}],
		"legs": [{"n": 1, "kind": "search", "block": "A1", "from": {"east_m": 10}, "to": {"east_m": 10, "north_m": 100}, "end_min": 9}]}]}}`
	require.NoError(t, os.MkdirAll(filepath.Join(c.dir, "out"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(c.dir, "out", "plan.json"), []byte(plan), 0o644))
	d = get[map[string]any](c, "GET", "/chart", nil)
	assert.EqualValues(t, 1, d["plan"])
	who := d["chart"].(map[string]any)["searchers"].([]any)[0].(map[string]any)
	assert.Equal(t, []any{10.0, 0.0}, who["start"])
	assert.Equal(t, []any{[]any{[]any{10.0, 0.0}, []any{10.0, 100.0}}}, who["stages"].([]any)[0].(map[string]any)["lanes"])
}
