package fieldpage

import (
	"encoding/json"
	"errors"
	"math"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/mapfile"
)

func landing() *mapfile.Landing {
	return &mapfile.Landing{
		Title: `</script><b>"&'`, Frame: geo.Frame{Origin: [2]float64{-4.9, 41.9}},
		Cautions: []string{"</script><script>alert(1)</script>"},
		Plan: &mapfile.Plan{Searchers: []mapfile.Route{{Name: "<i>east", Kind: "walker",
			Legs: []mapfile.Leg{{Kind: mapfile.Search, To: geo.XY{Y: 90}, EndMin: 2}}}}},
	}
}

// The page holds the plan as it is, whatever is in its names; nothing of it is
// taken for a script, and its policy names exactly what it holds.
func TestWrite(t *testing.T) {
	files, err := Append(nil, landing(), Plan{Key: "k", Flight: "a b.yaml", Only: "<i>east"})
	require.NoError(t, err)
	require.Equal(t, "search.html", files[0].Name)
	text := string(files[0].Data)
	assert.Equal(t, 2, strings.Count(text, "<script"), "the plan and the page's own")
	doc := regexp.MustCompile(`(?s)<script id="doc" type="application/json">(.*?)</script>`).FindStringSubmatch(text)
	require.Len(t, doc, 2)
	var got struct {
		Plan, File, Only string
		Chart            mapfile.Chart
	}
	require.NoError(t, json.Unmarshal([]byte(doc[1]), &got))
	assert.Equal(t, []string{"k", "a b.yaml", "<i>east", `</script><b>"&'`}, []string{got.Plan, got.File, got.Only, got.Chart.Title})
	assert.Contains(t, text, strings.ReplaceAll(hash(script), "+", "&#43;"))
	assert.Contains(t, text, strings.ReplaceAll(hash(style), "+", "&#43;"))
	assert.NotContains(t, text, "<i>east")
	assert.NotContains(t, script+style, "\r", "a browser would read another text than the one hashed")
}

// bad is a writer that is full.
type bad struct{}

func (bad) Write([]byte) (int, error) { return 0, errors.New("no room") }

func TestWriteFails(t *testing.T) {
	assert.ErrorContains(t, Write(bad{}, landing(), Plan{}), "no room")
	l := landing()
	l.Plan.Minutes = math.NaN()
	_, err := Append(nil, l, Plan{})
	assert.ErrorContains(t, err, "NaN")
}
