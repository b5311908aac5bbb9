package mapfile

import (
	"fmt"

	"windfall/geo"
)

// Told is a plan of blocks in words, for one searcher.
type Told struct {
	Name    string
	Summary string // kind, number of blocks, way, minutes, sweep widths by cover
	Lines   []Sentence
}

// Sentence is a block or a way in words.
type Sentence struct {
	Block            string // name; "": a way
	Text             string
	Begin            geo.Place // of a block
	StartMin, EndMin float64
	POS, Sum         float64 // chance to find it here, and here and before
	Tells            bool    // POS is worth telling
	Later            string  // said above the first line after which little is gained
}

// Tell puts the plan into words, bearings true; nil without a plan, and no lines
// for a searcher whose plan has no blocks.
func Tell(l *Landing) (out []Told) {
	if l.Plan == nil {
		return nil
	}
	l = l.ready()
	for _, r := range l.Plan.Searchers {
		t := Told{Name: clean(r.Name), Summary: clean(r.summary())}
		if r.Blocks != nil {
			t.Lines = l.tellRoute(r)
		}
		out = append(out, t)
	}
	return out
}

func (l *Landing) tellRoute(r Route) (out []Sentence) {
	plain := *l
	plain.Declination = nil
	r.Pace = 0
	said, sum := false, 0.0
	for _, s := range l.Plan.stages(r) {
		line := Sentence{StartMin: s.legs[0].StartMin, EndMin: s.last().EndMin, Text: s.wayText(&plain, r),
			POS: s.pos(), Tells: s.tells()}
		sum += line.POS
		line.Sum = sum
		if b := s.block; b != nil {
			line.Block, line.Text, line.Begin = b.Name, b.text(&plain, r), l.Frame.Place(b.Begin)
		}
		if s.later && !said {
			line.Later, said = l.Plan.beyond(), true
		}
		out = append(out, line)
	}
	return out
}

// beyond says what comes after the point where enough is done.
func (p *Plan) beyond() string {
	last := 0.0
	for _, r := range p.Searchers {
		last = max(last, r.Minutes)
	}
	return fmt.Sprintf("to here %.0f minutes, %s; beyond, %s for %.0f minutes more", p.Enough.Minutes,
		percent(p.Enough.POS), percent(p.POS-p.Enough.POS), last-p.Enough.Minutes)
}
