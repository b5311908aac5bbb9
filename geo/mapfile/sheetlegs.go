package mapfile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"windfall/geo/place"
)

// setting is how closely the legs stand on the sheet: whatever the plan, it
// keeps to two pages.
type setting struct {
	Name string
	room int // rows on the sheet, heads counted
}

// headRows is the room of a searcher's name, summary and start, in rows.
const headRows = 5

var settings = []setting{
	{"roomy", 38},  // one column, two grids of places
	{"dense", 100}, // two columns
	{"fine", 175},  // three columns in small letters: bearing, distance, where it ends
}

// layOut takes the widest layout that the rows fit in. What does not even fit in
// the closest one is cut, the longest lists first, and the sheet says so.
func (s *sheet) layOut() {
	want := 0
	for _, t := range s.Searchers {
		want += headRows + t.room()
	}
	for _, lay := range settings {
		s.Layout = lay.Name
		if want <= lay.room {
			return
		}
	}
	room := settings[len(settings)-1].room - headRows*len(s.Searchers)
	keep := share(room, s.Searchers)
	for i := range s.Searchers {
		t := &s.Searchers[i]
		if keep[i] == len(t.Rows) {
			continue
		}
		from := strings.SplitN(t.Rows[keep[i]].N, "-", 2)[0]
		t.Rows = t.Rows[:keep[i]]
		t.Rest = fmt.Sprintf("Leg %s and later: on the sheet of %s alone (windfall export --for) and in the GPX file.", from,
			t.Name)
		if len(s.Searchers) == 1 {
			t.Rest = fmt.Sprintf("Leg %s and later: in the GPX file; two pages hold no more.", from)
		}
	}
}

// share divides room rows: nobody is cut while somebody else's list is longer.
func share(room int, ts []searcherSheet) []int {
	keep := make([]int, len(ts))
	for room > 0 {
		gave := false
		for i := range ts {
			if room > 0 && keep[i] < len(ts[i].Rows) {
				keep[i]++
				room--
				gave = true
			}
		}
		if !gave {
			break
		}
	}
	return keep
}

// Legs in a row are one line to walk when they turn by no more than straightDeg
// degrees; a leg under sliver metres is part of the one before.
const (
	straightDeg = 1.0
	sliver      = 2.0
)

// lines joins legs in a row that are one straight line of the same kind, by the
// bearing of the first: the plan parts them where the ground cover changes, feet
// do not. A sliver joins whatever its kind.
func lines(legs []Leg) [][]Leg {
	var out [][]Leg
	for _, g := range legs {
		if n := len(out); n > 0 {
			first := out[n-1][0]
			deg, m := g.Bearing()
			before, k := first.Bearing()
			on := g.Kind == first.Kind && k > 0 && math.Abs(math.Remainder(deg-before, 360)) < straightDeg
			if m > 0 && (on || m < sliver) {
				out[n-1] = append(out[n-1], g)
				continue
			}
		}
		out = append(out, []Leg{g})
	}
	return out
}

func searcherTable(l *Landing, o Options, i int, r Route) (searcherSheet, error) {
	s := searcherSheet{
		Letter: routeLetter(i), Name: clean(r.Name), Summary: clean(r.summary()), StartName: clean(r.StartName),
		StartGrid: spaced(place.Format(l.Frame.ToLonLat(r.Start), o.Grid)), StartDecimal: shortDecimal(l, r.Start),
		Paces: r.Pace > 0, Magnetic: l.Declination != nil,
	}
	if r.Blocks != nil {
		s.Blocks = true
		s.Rows = stageRows(l, o, r)
	} else {
		for _, run := range lines(r.Legs) {
			s.Rows = append(s.Rows, tableRow(l, o, r, run))
		}
	}
	s.QRText = qrText(l, r, o.QRList)
	var err error
	s.QR, err = qrSVG(s.QRText)
	return s, err
}

// tableRow is the row of legs that are one straight line.
func tableRow(l *Landing, o Options, r Route, run []Leg) legRow {
	g := run[0]
	last := run[len(run)-1]
	g.To, g.EndMin = last.To, last.EndMin
	row := legRow{N: fmt.Sprint(g.N), Kind: g.Kind, Mark: kindMark[g.Kind], Until: minutes(g.EndMin),
		Search: g.Kind == Search,
		Grid:   spaced(place.Format(l.Frame.ToLonLat(g.To), o.Grid)), Decimal: shortDecimal(l, g.To)}
	if len(run) > 1 {
		row.N = fmt.Sprintf("%d-%d", g.N, last.N)
	}
	row.Short = row.Decimal
	if f := strings.Fields(row.Grid); len(f) > 2 && (o.Grid == place.UTM || o.Grid == place.MGRS || o.Grid == place.BNG) {
		row.Short = strings.Join(f[len(f)-2:], " ")
	}
	if deg, m := g.Bearing(); m > 0 {
		row.True, row.Metres = bearing(deg), fmt.Sprintf("%.0f", m)
		if l.Declination != nil {
			row.Magnetic = bearing(deg - *l.Declination)
		}
		if r.Pace > 0 {
			row.Paces = fmt.Sprintf("%.0f", m/r.Pace)
		}
	}
	if row.Search {
		narrow, wide := g.SweepWidth, g.SweepWidth
		for _, k := range run {
			narrow, wide = math.Min(narrow, k.SweepWidth), math.Max(wide, k.SweepWidth)
		}
		row.Width = fmt.Sprintf("%.0f", wide)
		if w := fmt.Sprintf("%.0f", narrow); w != row.Width {
			row.Width = w + "-" + row.Width
		}
	}
	return row
}

// kindMark stands for what a leg is for where room is short; search legs have
// none.
var kindMark = map[string]string{"transit": "t", "return": "r", "recharge": "c"}

// room is how many rows of the sheet the list takes: a block is told in three.
func (t *searcherSheet) room() int {
	n := len(t.Rows)
	for _, r := range t.Rows {
		if len(r.Ticks) > 0 {
			n += 2
		}
	}
	return n
}

// stageRows is a row for each block and each way.
func stageRows(l *Landing, o Options, r Route) (out []legRow) {
	sum := 0.0
	for _, s := range l.Plan.stages(r) {
		row := legRow{Until: minutes(s.last().EndMin), Told: s.wayText(l, r)}
		if b := s.block; b != nil {
			row.N, row.Told, row.Search = b.Name, b.text(l, r), true
			row.Grid, row.Decimal = spaced(place.Format(l.Frame.ToLonLat(b.Begin), o.Grid)), shortDecimal(l, b.Begin)
			for k := range b.Lanes {
				row.Ticks = append(row.Ticks, k+1)
			}
		}
		if sum += s.pos(); s.tells() {
			row.Finds, row.Sum = percent(s.pos()), percent(sum)
		}
		if s.later && !slices.ContainsFunc(out, func(r legRow) bool { return r.Later != "" }) {
			row.Later = l.Plan.beyond()
		}
		out = append(out, row)
	}
	return out
}
