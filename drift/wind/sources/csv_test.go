package sources

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Every way of writing the same two levels reads the same: 10 m and 1000 ft
// (304.8 m), 8 kn and 20 kn (1852/3600 m/s each, by definition).
func TestUnitsInHeadingOrCells(t *testing.T) {
	for _, text := range []string{
		"height (m),from (deg),speed (kn)\n10,240,8\n304.8,255,20\n",
		"height_m,from_deg,speed_kn\n10,240,8\n304.8,255,20\n",
		"height,from,speed\n10 m,240 deg,8 kn\n1000 ft,255 deg,20 kn\n",
		"height; direction ; wind speed\n10 m;240°;8kn\n1000ft;255°;20 knots\n",
		"speed [m/s]\tfrom [degrees]\theight [ft]\n4.115555555555556\t240\t32.808398950131235\n10.28888888888889\t255\t1000\n",
		"\ufeff# levels\r\n\r\n\"height (m)\",\"from (deg)\",\"speed (km/h)\"\r\n10,240,14.816\r\n304.8,255,37.04\r\n",
		"height AGL (m),wind direction (deg),wind speed (mph)\n10,240,9.206235584188\n304.8,255,23.015588960470\n",
	} {
		r := readText(t, text, Options{})
		require.Len(t, r.Levels, 2, text)
		for i, want := range []Level{{Height: 10, FromDeg: 240, Speed: 8 * knot}, {Height: 304.8, FromDeg: 255, Speed: 20 * knot}} {
			assert.InDelta(t, want.Height, r.Levels[i].Height, 1e-9, text)
			assert.InDelta(t, want.FromDeg, r.Levels[i].FromDeg, 1e-9, text)
			assert.InDelta(t, want.Speed, r.Levels[i].Speed, 1e-9, text)
			assert.True(t, math.IsNaN(r.Levels[i].Elevation))
		}
		assert.True(t, r.Valid.IsZero())
	}
}

func TestElevationsBecomeHeights(t *testing.T) {
	text := "elevation (m),from (deg),speed (m/s)\n300,200,3\n500,210,5\n1000,220,9\n"
	r := readText(t, text, Options{Elevation: ptr(412)})
	assert.Equal(t, -112.0, r.Levels[0].Height)
	assert.Equal(t, 588.0, r.Levels[2].Height)
	cs, err := r.Choices(Options{})
	require.NoError(t, err)
	// the level under the pad goes; the wind at 10 m lies between it and 500 m
	ls := cs[0].Profile.Levels
	require.Len(t, ls, 3)
	assert.Equal(t, 10.0, ls[0].Height)
	u0, v0 := components(200, 3)
	u1, v1 := components(210, 5)
	f := (422.0 - 300) / 200
	u, v := cs[0].Profile.At(10)
	assert.InDelta(t, u0+f*(u1-u0), u, 1e-9)
	assert.InDelta(t, v0+f*(v1-v0), v, 1e-9)
	r = readText(t, text, Options{})
	assert.Equal(t, 700.0, r.Levels[2].Height, "above the lowest level")
	assert.True(t, r.FromLowest)
	r = readText(t, "elevation (m),from (deg),speed (m/s)\n380,200,3\n414,210,5\n1000,220,9\n", Options{Elevation: ptr(412)})
	cs, err = r.Choices(Options{})
	require.NoError(t, err)
	assert.Equal(t, 2.0, cs[0].Profile.Levels[0].Height, "a level at 2 m above the pad stays there")
	assert.Equal(t, 5.0, cs[0].Profile.Levels[0].Speed)
	r = readText(t, text, Options{Elevation: ptr(2000)})
	_, err = r.Choices(Options{})
	assert.ErrorContains(t, err, "all levels lie below the pad, the highest by 1000 m")
}

func TestMagneticBearings(t *testing.T) {
	opt := Options{Declination: ptr(-4.5)}
	for _, text := range []string{"height,from,speed\n10 m,2 mag,8 kn\n", "height (m),from (mag),speed (kn)\n10,2,8\n"} {
		r := readText(t, text, opt)
		assert.InDelta(t, 357.5, r.Levels[0].FromDeg, 1e-9)
		_, err := Read("wind.txt", strings.NewReader(text), Options{})
		assert.ErrorContains(t, err, "is magnetic; name the pad and the launch time")
	}
}

func TestBadCSV(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"hello\n", `wind.txt:1: "hello" is no wind file known here`},
		{"height,from\n10 m,240 deg\n", "no CSV heading such as height (m), from (deg), speed (kn)"},
		{"height,from,speed\n", "wind.txt:1: no level follows the heading"},
		{"height,from,speed\n10 m,240 deg\n", "wind.txt:2: 2 columns where the heading has 3"},
		{"height,from,speed\n10,240 deg,8 kn\n", `wind.txt:2: height "10" has no unit; write one, such as 10 m`},
		{"height,from,speed\n10 m,240 deg,\n", "wind.txt:2: speed is empty"},
		{"height,from,speed\n10 m,400 deg,8 kn\n", "wind direction 400 is no bearing; write 0 to 360 degrees"},
		{"height,from,speed\n10 m,240 deg,-8 kn\n", "is below zero"},
		{"height,from,speed\n10 m,240 deg,999 kn\n", "beyond any wind on Earth"},
		{"height,from,speed\n10 m,240 deg,8 kn\n10 m,250 deg,9 kn\n", `wind.txt:3: height "10 m" is not above the level before it; put the levels in rising order, each height once`},
		{"height,from,speed\n-10 m,240 deg,8 kn\n", "outside what flies"},
		{"height,altitude,from,speed\n1 m,1 m,240 deg,8 kn\n", `columns "height" and "altitude" mean the same`},
		{"height (kg),from,speed\n1,240 deg,8 kn\n", `column "height (kg)"`},
		{"height (m),from (deg),speed (m/s)\n10,abc,8\n", "from"},
		{"height (m),from (deg),speed (m/s)\nNaN,240,8\n", "height"},
	} {
		_, err := Read("wind.txt", strings.NewReader(c.text), Options{})
		if assert.Error(t, err, c.text) {
			assert.Contains(t, err.Error(), c.want)
		}
	}
}

func TestUnknownColumnIsSaid(t *testing.T) {
	r := readText(t, "height (m),from (deg),speed (m/s),remark\n10,240,5,by hand\n", Options{})
	assert.Contains(t, r.Warnings[0], `wind.txt:1: column "remark" is not read`)
}

// What is written with enough digits reads back as it was.
func TestCSVReadsBackWhatIsWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 20).Draw(t, "levels")
		z := 0.0
		var b strings.Builder
		b.WriteString("height (m),from (deg),speed (m/s)\n")
		var want []Level
		for range n {
			z += rapid.Float64Range(0.1, 500).Draw(t, "dz")
			l := Level{Height: z, FromDeg: rapid.Float64Range(0, 360).Draw(t, "from"), Speed: rapid.Float64Range(0, 149).Draw(t, "speed")}
			want = append(want, l)
			fmt.Fprintf(&b, "%v,%v,%v\n", l.Height, l.FromDeg, l.Speed)
		}
		r, err := Read("wind.csv", strings.NewReader(b.String()), Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i, l := range want {
			g := r.Levels[i]
			if g.Height != l.Height || g.FromDeg != l.FromDeg || math.Abs(g.Speed-l.Speed) > 1e-12*l.Speed {
				t.Fatalf("level %d: %+v, want %+v", i, g, l)
			}
		}
	})
}
