package picture

import (
	"bytes"
	"encoding/xml"
	"image/png"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/wind"
	"windfall/geo/ink"
)

func choice(ls ...wind.Level) wind.Choice {
	return wind.Choice{Profile: wind.Profile{Levels: ls, VeerDeg: wind.DefaultVeer}, Weight: 1}
}

// awkward are the winds that every picture must survive.
func awkward() map[string]Wind {
	rose := Wind{Title: "from all round"}
	for d := 0.0; d < 360; d += 30 {
		rose.Choices = append(rose.Choices, choice(wind.Level{Height: 10, Speed: 2, FromDeg: d}))
	}
	return map[string]Wind{
		"one level":    {Title: "a hand anemometer", Note: "valid now", Choices: []wind.Choice{choice(wind.Level{Height: 2, Speed: 4, FromDeg: 240})}},
		"calm":         {Title: "calm", Choices: []wind.Choice{choice(wind.Level{Height: 10})}},
		"across north": {Title: "across north", Choices: []wind.Choice{choice(wind.Level{Height: 10, Speed: 4, FromDeg: 350}, wind.Level{Height: 900, Speed: 9, FromDeg: 20})}},
		"turning back": {Title: "turning back, with a title much longer than the picture is wide, which must be cut to fit into it", Choices: []wind.Choice{choice(wind.Level{Height: 10, Speed: 5, FromDeg: 90}, wind.Level{Height: 300, Speed: 0.1, FromDeg: 180}, wind.Level{Height: 20000, Speed: 40, FromDeg: 270})}},
		"rose":         rose,
		"storm":        {Title: "storm", Above: "the lowest level", Choices: []wind.Choice{choice(wind.Level{Height: 10, Speed: 60, FromDeg: 0}, wind.Level{Height: 20, Speed: 149, FromDeg: 360})}},
	}
}

func TestPicturesOfAwkwardWinds(t *testing.T) {
	for name, w := range awkward() {
		for kind, draw := range map[string]func(io.Writer, Format, Wind) error{"profile": Profile, "hodograph": Hodograph} {
			t.Run(name+" "+kind, func(t *testing.T) {
				var a, svg, again bytes.Buffer
				require.NoError(t, draw(&a, PNG, w))
				img, err := png.Decode(&a)
				require.NoError(t, err)
				assert.Greater(t, img.Bounds().Dx(), 800)
				require.NoError(t, draw(&svg, SVG, w))
				require.NoError(t, draw(&again, SVG, w))
				assert.Equal(t, svg.String(), again.String(), "the same bytes each time")
				text := wellFormed(t, svg.Bytes())
				switch {
				case kind == "hodograph":
					assert.Contains(t, text, "carried toward east, m/s")
				case name == "calm":
					assert.Contains(t, text, "calm: no direction")
				default:
					assert.Contains(t, text, "blows from, degrees true")
				}
			})
		}
	}
}

// wellFormed reads SVG with the standard library's XML reader and returns its
// text.
func wellFormed(t *testing.T, b []byte) string {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(b))
	var text bytes.Buffer
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return text.String()
		}
		require.NoError(t, err)
		if c, ok := tok.(xml.CharData); ok {
			text.Write(c)
		}
	}
}

func TestNothingToDraw(t *testing.T) {
	assert.Error(t, Profile(io.Discard, PNG, Wind{}))
	assert.Error(t, Hodograph(io.Discard, SVG, Wind{}))
}

// The curve follows the wind itself: at the level of 100 m the mean of two
// winds from opposite sides is calm, and its spread holds both.
func TestCurveIsTheMeanOfTheChoices(t *testing.T) {
	a := choice(wind.Level{Height: 100, Speed: 6, FromDeg: 90}, wind.Level{Height: 200, Speed: 6, FromDeg: 90})
	b := choice(wind.Level{Height: 100, Speed: 6, FromDeg: 270}, wind.Level{Height: 200, Speed: 6, FromDeg: 270})
	w := Wind{Choices: []wind.Choice{a, b}}
	for _, p := range w.curve(w.Choices) {
		if p.z == 100 {
			assert.InDelta(t, 0, p.speed(), 1e-12)
			assert.Greater(t, p.sd, 6/1.4143)
			return
		}
	}
	t.Fatal("no point at the level")
}

func TestRoundSteps(t *testing.T) {
	for _, c := range []struct{ width, want float64 }{{8, 1}, {8.1, 2}, {30, 5}, {3000, 500}, {0.7, 0.1}, {80, 10}} {
		assert.InDelta(t, c.want, ink.RoundUp(c.width/8), 1e-12, "%v", c.width)
	}
	ticks := roundTicks(-3, 7)
	assert.Equal(t, "-2", ticks[0].Label)
	assert.Equal(t, "0", ticks[1].Label)
}

func TestCompassTicksNameTheQuarters(t *testing.T) {
	var labels []string
	for _, k := range compassTicks(-60, 100) {
		labels = append(labels, k.Label)
	}
	assert.Equal(t, []string{"300", "330", "N", "030", "060", "E"}, labels)
}
