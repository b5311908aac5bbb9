package show

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/pictures"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/report"
	"windfall/cmd/windfall/internal/situation"
	"windfall/drift/logbook"
	"windfall/geo"
)

func TestLooked(t *testing.T) {
	a := &report.Looked{Entry: logbook.Entry{ID: 4}, Left: &situation.Left{POS: 0.031},
		Survey:   pictures.Survey{Looked: 1, AreaM2: 2400, Chance: 0.9},
		Pictures: []pictures.Picture{{File: "a.jpg", Error: "is cut off"}, {File: "b.jpg", Notes: []string{"is not sharp"}}, {File: "c.jpg", Error: "is cut off"}},
		Caution:  []string{"interrupted"}}
	for n := range 12 {
		a.Survey.Candidates = append(a.Survey.Candidates, pictures.Candidate{N: n + 1, At: geo.Place{East: 100}, Error: 4, Long: 1.4, Wide: 0.1, Score: 17})
	}
	var b bytes.Buffer
	require.NoError(t, Looked(&b, "f.yaml", a, []string{"out/candidates.html"}))
	for _, want := range []string{
		"logged 4: 1 picture looked at, 2400 m2, found there with 90 % on average\n",
		"  candidate 10      100 m from the pad on bearing 090, give or take 4 m; 1.4 m by 0.1 m, score 17.0\n  and 2 more: see the page\n",
		"would have shown it with 3.1 %", "judge them: open candidates.html, then windfall look f.yaml --yes N --no N,N\n",
		"left aside: a.jpg and 1 more: is cut off\n", "note: b.jpg: is not sharp\n", "caution: interrupted\n", "wrote: out/candidates.html\n",
	} {
		assert.Contains(t, b.String(), want)
	}
	a.Survey.Candidates = nil
	b.Reset()
	require.NoError(t, Looked(&b, "f.yaml", a, nil))
	assert.Contains(t, b.String(), "next: windfall search f.yaml")
}

func TestJudged(t *testing.T) {
	body, err := json.Marshal(record.Find{Lat: 41.9, Lon: -4.9, Unconfirmed: true, Candidate: 2})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, Judged(&b, "f.yaml", []record.Verdict{{N: 1}, {N: 2, Yes: true}}, []logbook.Entry{
		{ID: 1, Kind: logbook.Track, Body: json.RawMessage(`{}`)}, {ID: 5, Kind: logbook.Find, Body: body}}))
	assert.Equal(t, "candidate 1 is not it: its ground counts as searched\n"+
		"logged 5: a find at 41.900000,-4.900000, to be confirmed on foot\n"+
		"when somebody stands there: windfall found f.yaml 41.900000,-4.900000\nnext: windfall locate f.yaml\n", b.String())
	b.Reset()
	require.NoError(t, Picture(&b, []string{"lens: 67 degrees across"}))
	assert.Contains(t, b.String(), "picture: lens: 67 degrees across")
}
