package hindcast

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/wind/spread"
)

// kept are the summaries of real winds that go with the project. Source: made
// by go run ./testdata/winds -errors of the winds that testdata/winds/README.md
// lists.
func kept(t *testing.T) []Fact {
	f, err := os.Open("../../testdata/winds/errors.csv")
	require.NoError(t, err)
	defer f.Close()
	facts, err := ReadFacts(f)
	require.NoError(t, err)
	return facts
}

// The spread of each kind of wind is as wide as such winds were wrong, layer by
// layer; the spreads that all winds once had alike are not, but for a surface
// wind by day in the lowest hundred metres. Places differ by a third from their
// mean (docs/how-well.md), and 30 dates tell a root mean square to an eighth.
func TestSpreadsAreAsWideAsRealErrors(t *testing.T) {
	counted, narrow := 0, 0
	for _, f := range kept(t) {
		if f.Dates < 30 {
			continue
		}
		counted++
		ratio := f.Expected(&spread.Fitted, false) / f.RMS
		assert.Greater(t, ratio, 0.7, "%s up to %g m: too narrow", f.Kind, f.Top)
		assert.Less(t, ratio, 1.5, "%s up to %g m: too wide", f.Kind, f.Top)
		if f.Expected(&spread.Fitted, true)/f.RMS < 0.7 {
			narrow++
		}
	}
	assert.Greater(t, counted, 40)
	assert.Greater(t, narrow, 2*counted/3, "the old spreads should be too narrow")
}

func TestFactsReadBack(t *testing.T) {
	want := []Fact{{"report 1 h", 1, true, false, 300, 12, 4, 4.25, 1.5}, {"surface by night", 0, true, true, 110, 3, 3, 2, 0.75}}
	var b strings.Builder
	require.NoError(t, WriteFacts(&b, want))
	got, err := ReadFacts(strings.NewReader(b.String()))
	require.NoError(t, err)
	assert.Equal(t, want, got)
	_, err = ReadFacts(strings.NewReader("kind\n\"x\",1,2,3,4,5,6,7,8\n"))
	assert.Error(t, err)
}

func readerOf(s string) *strings.Reader { return strings.NewReader(s) }
