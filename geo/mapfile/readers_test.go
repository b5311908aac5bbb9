package mapfile

import (
	"encoding/xml"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/place"
)

// GPSBabel (Debian package gpsbabel) feeds the small devices: what it reads of
// a route, in order, is what a device shows.
func TestGPXThroughGPSBabel(t *testing.T) {
	l := demo()
	out := filepath.Join(t.TempDir(), "out.gpx")
	tool(t, "gpsbabel", "gpsbabel", "-r", "-i", "gpx", "-f", written(t, l, "gpx", Options{}), "-o", "gpx", "-F", out)
	data, err := os.ReadFile(out)
	require.NoError(t, err)
	var doc struct {
		Routes []struct {
			Name   string `xml:"name"`
			Points []struct {
				Lat  float64 `xml:"lat,attr"`
				Lon  float64 `xml:"lon,attr"`
				Name string  `xml:"name"`
			} `xml:"rtept"`
		} `xml:"rte"`
	}
	require.NoError(t, xml.Unmarshal(data, &doc))
	require.Len(t, doc.Routes, len(l.Plan.Searchers))
	for i, r := range l.Plan.Searchers {
		want, name, number := []geo.XY{r.Start}, r.Name, "%03d"
		for _, g := range r.Legs {
			if g.From != g.To {
				want = append(want, g.To)
			}
		}
		for _, x := range l.Plan.stages(r) {
			if x.block != nil {
				want, name, number = x.path(), x.block.Name+" "+r.Name, x.block.Name+"-%02d"
			}
		}
		got := doc.Routes[i]
		assert.Equal(t, name, got.Name)
		require.Len(t, got.Points, len(want))
		for j, p := range got.Points {
			near(t, want[j], orb.Point{l.Frame.ToXY(orb.Point{p.Lon, p.Lat}).X, l.Frame.ToXY(orb.Point{p.Lon, p.Lat}).Y})
			assert.Equal(t, fmt.Sprintf(number, j+1), p.Name)
		}
	}
}

// One GPSBabel reads every awkward file, one after another.
func TestAwkwardFilesOpenInGPSBabel(t *testing.T) {
	args := []string{"-w", "-r", "-t"}
	for _, l := range awkward() {
		args = append(args, "-i", "gpx", "-f", written(t, l, "gpx", Options{}))
		args = append(args, "-i", "gpx", "-f", written(t, l, "gpx", Options{Tracks: true}))
		args = append(args, "-i", "kml", "-f", written(t, l, "kml", Options{}))
	}
	tool(t, "gpsbabel", "gpsbabel", append(args, "-o", "gpx", "-F", os.DevNull)...)
}

// The checker is @placemarkio/check-geojson from the npm registry, a general
// one: it knows RFC 7946, not this program. See .ci/run for how to get it.
func TestGeoJSONPassesANeutralChecker(t *testing.T) {
	modules := os.Getenv("WINDFALL_GEOJSON_CHECK")
	if modules == "" {
		t.Skip("WINDFALL_GEOJSON_CHECK=FOLDER, after: npm install --prefix FOLDER @placemarkio/check-geojson@0.1.14")
	}
	dir := t.TempDir()
	var files []string
	for name, l := range awkward() {
		for kind, plan := range map[string]*Plan{"search": l.Plan, "landing": nil} {
			c := *l
			c.Plan = plan
			path := filepath.Join(dir, name+"."+kind+".geojson")
			require.NoError(t, os.WriteFile(path, made(t, &c, "geojson", Options{}), 0o644))
			files = append(files, path)
		}
	}
	script := filepath.Join(modules, "windfall-check.mjs")
	require.NoError(t, os.WriteFile(script, []byte(`
import { getIssues } from "@placemarkio/check-geojson";
import { readFileSync } from "node:fs";
let bad = 0;
for (const f of process.argv.slice(2)) {
  for (const i of getIssues(readFileSync(f, "utf8"))) { console.log(f, i.severity ?? "error", i.message, i.from); bad++; }
}
console.log(process.argv.length - 2, "files,", bad, "issues");
`), 0o644))
	defer os.Remove(script)
	out := tool(t, "nodejs", "node", append([]string{script}, files...)...)
	assert.Contains(t, out, fmt.Sprintf("%d files, 0 issues", len(files)), out)
}

// zbarimg (Debian package zbar-tools) reads the codes off the printed sheet.
func TestQRCodesScan(t *testing.T) {
	l := demo()
	for _, list := range []bool{false, true} {
		for _, r := range l.Plan.Searchers {
			text := qrText(l, r, list)
			svg, err := qrSVG(text)
			require.NoError(t, err)
			path := filepath.Join(t.TempDir(), "code.png")
			writeCode(t, string(svg), path)
			got := tool(t, "zbar-tools", "zbarimg", "-q", "--nodbus", "--raw", path)
			assert.Equal(t, text, strings.TrimSpace(got))
		}
	}
	assert.Regexp(t, `^geo:39\.\d{5},-5\.\d{5}$`, qrText(l, l.Plan.Searchers[0], false))
	p, err := place.Parse(qrText(l, l.Plan.Searchers[0], false))
	require.NoError(t, err)
	assert.Less(t, l.Frame.ToXY(p).Sub(l.Plan.Searchers[0].Legs[0].To).Norm(), 1.0)
}

// writeCode paints a code's path as pixels, 4 a module.
func writeCode(t *testing.T, svg, path string) {
	var n int
	_, err := fmt.Sscanf(svg[strings.Index(svg, "viewBox"):], `viewBox="0 0 %d`, &n)
	require.NoError(t, err)
	const side = 4
	img := image.NewGray(image.Rect(0, 0, n*side, n*side))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, m := range regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1`).FindAllStringSubmatch(svg, -1) {
		var x, y, w int
		fmt.Sscan(m[1], &x)
		fmt.Sscan(m[2], &y)
		fmt.Sscan(m[3], &w)
		for py := y * side; py < (y+1)*side; py++ {
			for px := x * side; px < (x+w)*side; px++ {
				img.SetGray(px, py, color.Gray{})
			}
		}
	}
	f, err := os.Create(path)
	require.NoError(t, err)
	defer f.Close()
	require.NoError(t, png.Encode(f, img))
}

// A browser prints the sheet: two pages, with everything on them.
func TestSheetPrints(t *testing.T) {
	l, b := demo(), browse(t)
	for _, o := range []Options{{}, {Letter: true}} {
		info, text := b.printed(t, written(t, l, "sheet", o))
		assert.Regexp(t, `Pages:\s+2\n`, info)
		if o.Letter {
			assert.Contains(t, info, "612 x 792 pts")
		} else {
			assert.Contains(t, info, "(A4)")
		}
		for _, want := range []string{"garza-07", "Whom to call", "power line", "car park", "Declination 1.4° east", "30S TJ", "north", "lane", "scout"} {
			assert.Contains(t, text, want)
		}
	}
}

// zigzag gives the plan n legs shared among k searchers, no two of them on one
// line.
func zigzag(l *Landing, n, k int) {
	l.Plan.Searchers = nil
	for i := range k {
		r := Route{Name: fmt.Sprint("searcher ", i+1), Kind: "walker", Start: geo.XY{X: 30 * float64(i), Y: -60}, StartName: "car park", SweepWidth: 18, Pace: 0.75, Minutes: 90}
		at := r.Start
		for j := range n/k + (i+n%k)/k {
			to := geo.XY{X: 200 + 30*float64(i) + 150*float64(j%2), Y: 5 * float64(j%97)}
			g := Leg{N: j + 1, Kind: "search", From: at, To: to, StartMin: float64(j), EndMin: float64(j + 1), SweepWidth: 18, POA: 0.01, POD: 0.6, POS: 0.006}
			if j == 0 {
				g.Kind = "transit"
			}
			r.Legs, at = append(r.Legs, g), to
		}
		l.Plan.Searchers = append(l.Plan.Searchers, r)
	}
}

// The sheet of any plan keeps to two pages, and each leg is on it or the sheet
// says which are not.
func TestSheetOfAnyPlan(t *testing.T) {
	legs, searchers := []int{0, 80, 1000}, []int{1, 6}
	if os.Getenv("WINDFALL_SLOW") != "" {
		legs, searchers = []int{0, 10, 35, 80, 100, 165, 250, 1000}, []int{1, 2, 6}
	}
	b := browse(t)
	for _, n := range legs {
		for _, k := range searchers {
			for _, o := range []Options{{}, {Letter: true, Grid: place.DegMinSec}} {
				t.Run(fmt.Sprintf("%d legs, %d searchers, letter %v", n, k, o.Letter), func(t *testing.T) { anyPlan(t, b, n, k, o) })
			}
		}
	}
}

func anyPlan(t *testing.T, b *browser, n, k int, o Options) {
	l := demo()
	zigzag(l, n, k)
	for i := range 2 * k {
		l.Cautions = append(l.Cautions, fmt.Sprintf("searcher %d may do something that fills more than one line of this box, and must be told so", i))
	}
	path := written(t, l, "sheet", o)
	info, text := b.printed(t, path)
	assert.Regexp(t, `Pages:\s+[12]\n`, info)
	html, err := os.ReadFile(path)
	require.NoError(t, err)
	if rows := strings.Count(string(html), `<span class="tick">`); rows < n {
		assert.Greater(t, rows, 140, "cut with room to spare")
		assert.Contains(t, strings.Join(strings.Fields(text), " "), "and later:")
	}
}
