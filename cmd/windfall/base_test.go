package main

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/paulmach/orb/planar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The invented base map: the example's own ground from the air, with a world
// file.
const (
	baseWest, baseNorth = -4.9340, 41.9205
	baseStep            = 2e-5 // degrees a pixel: 1.7 by 2.2 m
	baseWide, baseHigh  = 1550, 1000
)

// groundInks are the colours of the covers from the air.
var groundInks = map[string]color.NRGBA{
	"short grass": {0x9D, 0xB0, 0x72, 255}, "crop": {0xD9, 0xC8, 0x83, 255}, "scrub": {0x83, 0x8C, 0x5C, 255},
	"woodland": {0x39, 0x52, 0x33, 255}, "water": {0x4E, 0x7D, 0x9C, 255}, "rails": {0x6E, 0x62, 0x5C, 255},
	"house": {0xB4, 0x6A, 0x50, 255}, "": {0x9A, 0x9B, 0x74, 255},
}

// inventBase draws the example's ground as it might look from the air.
func inventBase(t *testing.T, path string) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/garza/ground.geojson")
	require.NoError(t, err)
	fc, err := geojson.UnmarshalFeatureCollection(text)
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(3, 9))
	img := image.NewNRGBA(image.Rect(0, 0, baseWide, baseHigh))
	for y := range baseHigh {
		for x := range baseWide {
			p := orb.Point{baseWest + (float64(x)+0.5)*baseStep, baseNorth - (float64(y)+0.5)*baseStep}
			kind := coverAt(fc, p, x, y)
			c, shade := groundInks[kind], 12*r.NormFloat64()
			if kind == "crop" {
				shade += 10 * math.Sin(float64(x+y/3)/2.5) // drill lines
			}
			of := func(v uint8) uint8 { return uint8(min(max(float64(v)+shade, 0), 255)) }
			img.SetNRGBA(x, y, color.NRGBA{of(c.R), of(c.G), of(c.B), 255})
		}
	}
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
	world := fmt.Sprintf("%g\n0\n0\n%g\n%.7f\n%.7f\n", baseStep, -baseStep, baseWest+baseStep/2, baseNorth-baseStep/2)
	require.NoError(t, os.WriteFile(strings.TrimSuffix(path, ".png")+".pgw", []byte(world), 0o644))
}

// coverAt is what lies at a place; houses stand in the named places.
func coverAt(fc *geojson.FeatureCollection, p orb.Point, x, y int) (kind string) {
	metres := func(l orb.LineString) float64 { return planar.DistanceFrom(l, p) * 100e3 } // about
	for _, f := range fc.Features {
		switch g := f.Geometry.(type) {
		case orb.Polygon:
			if !planar.PolygonContains(g, p) {
				continue
			}
			if kind = f.Properties.MustString("cover", kind); f.Properties["kind"] == "place" && x/7%3 == 0 && y/6%4 == 0 {
				kind = "house"
			}
		case orb.LineString:
			if near := metres(g); near < 7 && f.Properties["kind"] == "barrier" {
				kind = "water"
			} else if near < 6 {
				kind = "rails"
			}
		}
	}
	return kind
}

// The pictures of maps and plans go over the flier's own picture, their sheet
// too; all else stays as it was, and what cannot serve is refused before any
// work. WINDFALL_SHOTS keeps the pictures.
func TestBaseStory(t *testing.T) {
	dir := t.TempDir()
	base := filepath.Join(dir, "garza.png")
	inventBase(t, base)
	do := func(want int, args ...string) (said string) {
		var out, errs bytes.Buffer
		e := env{out: &out, err: &errs, now: testClock, getenv: func(k string) string {
			return map[string]string{"WINDFALL_LOGBOOK": dir + "/logbook.db"}[k]
		}}
		require.Equal(t, want, run(context.Background(), e, args), "%v: %s", args, errs.String())
		return errs.String()
	}
	do(0, "predict", garza, "--runs", "2000", "--out", dir+"/bare")
	do(0, "predict", garza, "--runs", "2000", "--out", dir+"/over", "--base", base, "--base-credit", "Llano survey, invented")
	read := func(name string) []byte {
		b, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		return b
	}
	for _, name := range []string{"landing.kml", "landing.geojson"} {
		assert.Equal(t, read("bare/"+name), read("over/"+name))
	}
	bare, over := read("bare/landing.png"), read("over/landing.png")
	assert.NotEqual(t, bare, over)
	assert.Greater(t, inksOf(t, over), 2*inksOf(t, bare), "the ground shows")
	if shots := os.Getenv("WINDFALL_SHOTS"); shots != "" {
		do(0, "search", garza, "--runs", "4000", "--out", shots, "--base", base, "--base-credit", "Llano survey, invented")
		require.NoError(t, os.Rename(shots+"/search.png", shots+"/search-base.png"))
	}
	own := filepath.Join(dir, "own")
	require.NoError(t, os.CopyFS(own, os.DirFS(garza)))
	text := strings.Replace(string(read("own/flight.yaml")), "\nsite:\n", "\nsite:\n  map: ../garza.png\n", 1)
	require.NoError(t, os.WriteFile(own+"/flight.yaml", []byte(text), 0o644))
	do(0, "predict", own, "--runs", "2000", "--out", dir+"/own1", "--base-credit", "Llano survey, invented")
	assert.Equal(t, over, read("own1/landing.png"))
	do(0, "predict", own, "--runs", "2000", "--out", dir+"/own2", "--base", "none")
	assert.Equal(t, bare, read("own2/landing.png"))
	for _, c := range []struct{ args, says string }{
		{"--base " + dir + "/none.png", "none.png: no such file or directory; name a base map that is there"},
		{"--base ../../testdata/garza/flight.yaml", "is no base map; name a .pmtiles"},
		{"--base-credit ours", "--base-credit \"ours\" without a base map; name it with --base"},
	} {
		assert.Contains(t, do(misused, append([]string{"predict", garza, "--out", dir + "/no"}, strings.Fields(c.args)...)...), c.says)
	}
	require.NoError(t, os.WriteFile(dir+"/garza.pgw", []byte("2e-5\n0\n0\n-2e-5\n2.1\n48.2\n"), 0o644))
	assert.Contains(t, do(misused, "search", garza, "--base", base, "--out", dir+"/no"), "does not cover 41.90500, -4.92100")
	assert.Contains(t, do(misused, "predict", own, "--out", dir+"/no"), "site.map "+dir+"/garza.png: does not cover")
	assert.NoDirExists(t, dir+"/no")
}

// inksOf counts the colours of a picture.
func inksOf(t *testing.T, text []byte) int {
	img, err := png.Decode(bytes.NewReader(text))
	require.NoError(t, err)
	seen := map[color.Color]bool{}
	for y := 0; y < img.Bounds().Dy(); y += 2 {
		for x := 0; x < img.Bounds().Dx(); x += 2 {
			seen[img.At(x, y)] = true
		}
	}
	return len(seen)
}
