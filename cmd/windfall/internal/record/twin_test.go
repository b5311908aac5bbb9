package record

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"windfall/drift/learn"
	"windfall/geo"
)

// One flight under two names counts once, the copy with most entries; flights that
// only look alike count each.
func TestTwins(t *testing.T) {
	at := time.Date(2026, 5, 9, 11, 0, 0, 0, time.UTC)
	make := func(name string, when time.Time, find geo.XY, lost bool, says ...string) *lesson {
		return &lesson{Case: learn.Case{Flight: name, Vehicle: "54 mm", Find: find, Lost: lost}, when: when, says: says}
	}
	for _, c := range []struct {
		name string
		made []*lesson
		left []string
	}{
		{"typed twice, one with one more entry", []*lesson{
			make("a", at, geo.XY{X: 300}, false, "landing at 60 s"),
			make("b", at, geo.XY{X: 300.5}, false, "landing at 60 s", "bearing 80 deg")}, []string{"b"}},
		{"as many entries", []*lesson{
			make("a", at, geo.XY{X: 300}, false), make("b", at, geo.XY{X: 300}, false)}, []string{"a"}},
		{"three", []*lesson{make("a", at, geo.XY{X: 300}, false), make("b", at, geo.XY{X: 300}, false, "x"),
			make("c", at, geo.XY{X: 300}, false, "x")}, []string{"b"}},
		{"never found, with the same entries", []*lesson{
			make("a", at, geo.XY{}, true, "landing at 60 s", "bearing 80 deg"),
			make("b", at, geo.XY{}, true, "landing at 60 s")}, []string{"a"}},
		{"the very same place at another time", []*lesson{
			make("a", at, geo.XY{X: 300}, false), make("b", at.Add(2*time.Minute), geo.XY{X: 300}, false)}, []string{"a"}},
		{"near by at another time", []*lesson{
			make("a", at, geo.XY{X: 300}, false), make("b", at.Add(time.Hour), geo.XY{X: 301}, false)}, []string{"a", "b"}},
		{"planned for the same hour, found apart", []*lesson{
			make("a", at, geo.XY{X: 300}, false), make("b", at, geo.XY{X: 340}, false)}, []string{"a", "b"}},
		{"planned for the same hour, seen apart", []*lesson{
			make("a", at, geo.XY{}, true, "landing at 60 s"), make("b", at, geo.XY{}, true, "landing at 75 s")}, []string{"a", "b"}},
	} {
		all := Lessons{lost: map[int]*lesson{}}
		all.takeIn(c.made)
		var left []string
		for i, x := range all.Cases {
			left = append(left, x.Flight)
			assert.Equal(t, x.Lost, all.lost[i] != nil, c.name)
		}
		assert.Equal(t, c.left, left, c.name)
		assert.Len(t, all.LeftOut, len(c.made)-len(left), c.name)
	}
}
