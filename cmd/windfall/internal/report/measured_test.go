package report

import (
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/measured"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/usage"
)

// A measurement answers with its entry, what it says and how maps stand now; one
// that is far from the others is named; taken back, maps take nothing from it.
func TestMeasured(t *testing.T) {
	f, o := heron(t)
	src := record.Source{Flight: f.File.Path, Logbook: o.Logbook}
	drop := func(time string) *Measured {
		m, err := LogMeasured(src, measured.Words{"drop": "30 m", "time": time}, o.Stamp)
		require.NoError(t, err)
		return m
	}
	m := drop("5.6 s")
	assert.Empty(t, m.Caution)
	require.Len(t, m.Later, 1)
	text, err := json.Marshal(m)
	require.NoError(t, err)
	var doc map[string]any
	require.NoError(t, json.Unmarshal(text, &doc))
	for _, key := range []string{"id", "kind", "what", "drop_m", "factor", "factor_sd", "drag_area_m2", "sinks_mps", "maps"} {
		assert.Contains(t, doc, key)
	}
	assert.NotContains(t, doc, "cautions")
	wild := drop("12 s")
	require.Len(t, wild.Caution, 1)
	assert.Contains(t, wild.Caution[0], "disagrees with entry 1")
	text, err = json.Marshal(wild)
	require.NoError(t, err)
	assert.Contains(t, string(text), `"cautions":["it disagrees`)

	// Where the flight can no longer be read, it is refused and nothing is logged.
	require.NoError(t, os.WriteFile(f.File.Path, []byte("flight: ["), 0o644))
	_, err = LogMeasured(src, measured.Words{"mass": "610 g"}, o.Stamp)
	assert.True(t, usage.Is(err))
	_, err = WithdrawMeasured(src, 1, o.Stamp)
	assert.True(t, usage.Is(err))
	assert.Len(t, entries(t, o), 2)
	require.NoError(t, os.WriteFile(f.File.Path, []byte(flightText), 0o644))

	_, err = LogMeasured(src, measured.Words{"mass": "61 kg"}, o.Stamp)
	assert.ErrorContains(t, err, "is far from the 600 g")
	_, err = WithdrawMeasured(src, 9, o.Stamp)
	assert.ErrorContains(t, err, "has no entry 9; it has 1, 2")
	for id := range int64(2) {
		back, err := WithdrawMeasured(src, id+1, o.Stamp)
		require.NoError(t, err)
		assert.True(t, back.Entry.Withdrawn)
		assert.Nil(t, back.Result)
		assert.Len(t, back.Later, 1-int(id))
	}
}
