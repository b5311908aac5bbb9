package show

import (
	"io"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/pictures"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/report"
	"windfall/drift/logbook"
)

// mostCandidates is how many candidates are printed; the page has all.
const mostCandidates = 10

// Looked prints what pictures of a flight file at path hold, and the files
// written.
func Looked(w io.Writer, path string, a *report.Looked, files []string) error {
	p := To(w)
	v := a.Survey
	p.F("logged %d: %s looked at, %s, found there with %.0f %% on average", a.Entry.ID, count(v.Looked, "picture"),
		hectares(v.AreaM2), 100*v.Chance)
	for i, c := range v.Candidates {
		if i == mostCandidates {
			p.F("  and %d more: see the page", len(v.Candidates)-i)
			break
		}
		p.F("  candidate %-7d %s, give or take %.0f m; %.1f m by %.1f m, score %.1f", c.N, fromPad(c.At), c.Error, c.Long,
			c.Wide, c.Score)
	}
	if l := a.Left; l != nil {
		p.F("  these pictures    would have shown it with %.1f %%", 100*l.POS)
		p.F("  50 / 90 %% in      %s / %s", hectares(l.Landing.Within(0.5)), hectares(l.Landing.Within(0.9)))
	}
	if len(v.Candidates) > 0 {
		p.F("judge them: open candidates.html, then windfall look %s --yes N --no N,N", path)
	} else {
		p.F("next: windfall search %s", path)
	}
	p.List("left aside", pictures.Reasons(a.Pictures))
	p.List("note", pictures.Notes(a.Pictures))
	p.List("caution", a.Caution)
	p.Wrote(files)
	return p.Err()
}

// Judged prints what verdicts on the candidates of a flight file at path came to.
func Judged(w io.Writer, path string, vs []record.Verdict, entries []logbook.Entry) error {
	p := To(w)
	for _, v := range vs {
		if !v.Yes {
			p.F("candidate %d is not it: its ground counts as searched", v.N)
		}
	}
	for _, x := range entries {
		if at, ok := x.Geometry().(orb.Point); ok {
			p.F("logged %d: a find at %.6f,%.6f, to be confirmed on foot", x.ID, at.Lat(), at.Lon())
			p.F("when somebody stands there: windfall found %s %.6f,%.6f", path, at.Lat(), at.Lon())
		}
	}
	p.Hint("next: windfall locate %s", path)
	return p.Err()
}

// Picture prints what the numbers of a sighting in a picture come from.
func Picture(w io.Writer, rests []string) error {
	p := To(w)
	p.List("picture", rests)
	return p.Err()
}
