package contactpage_test

import (
	"bytes"
	"encoding/json"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/twpayne/go-gpx"

	"windfall/cmd/windfall/internal/contactpage"
	"windfall/cmd/windfall/internal/pictures"
	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/plane"
)

func data(t testing.TB) contactpage.Data {
	m := image.NewRGBA(image.Rect(0, 0, 240, 240))
	for i := range 240 * 240 {
		m.Set(i%240, i/240, color.RGBA{90, uint8(110 + i%20), 60, 255})
	}
	var crop bytes.Buffer
	require.NoError(t, jpeg.Encode(&crop, m, nil))
	c := pictures.Candidate{N: 3, At: geo.Place{Lat: 41.909, Lon: -4.9195, East: 120, North: 450}, Error: 3.4, Score: 17.5, Level: 0.11,
		Long: 1.4, Wide: 0.1, Colour: "#d06020", Pictures: []pictures.Where{{File: `dcim/<img src=x onerror=alert(1)>.JPG`, Pixel: [2]int{205, 202}}},
		Crop: crop.Bytes(), Middle: [2]int{120, 120}, CropSize: [2]int{240, 240}, LongPixels: 106}
	other := c
	other.N, other.At.North, other.Crop = 4, 470, nil
	return contactpage.Data{Flight: "garza-03", File: "club's flight.yaml", Survey: pictures.Survey{Candidates: []pictures.Candidate{c, other}, Looked: 40, More: 2},
		Areas:    []grid.Area{{Probability: 0.5, Shape: plane.Polygons{plane.Rectangle(0, 300, 300, 600)}}},
		Ground:   plane.Polygons{plane.Rectangle(90, 420, 160, 480)},
		Verdicts: map[int]string{4: "no"}, LeftAside: []string{"x.jpg: is cut off"}, Sharpness: "Sharp."}
}

// The page needs nothing but itself, and what files are called is text in it.
func TestPage(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, contactpage.Write(&b, data(t)))
	s := b.String()
	require.NotContains(t, s, "<img src=x")
	require.Contains(t, s, "&lt;img src=x onerror=alert(1)&gt;.JPG at 205,202")
	require.NotRegexp(t, `(src|href)="https?:`, s)
	require.Equal(t, 1, strings.Count(s, "data:image/jpeg;base64,"))
	require.Contains(t, s, `class="card no" data-n="4"`)
	require.Contains(t, s, "466 m from the pad on bearing 015")
	require.Contains(t, s, "2 fainter ones are left out")
	require.Contains(t, s, "x.jpg: is cut off")
	require.Contains(t, s, "to be confirmed on foot")

	d := data(t)
	d.Survey = pictures.Survey{Looked: 1}
	d.Ground, d.Areas = nil, nil
	b.Reset()
	require.NoError(t, contactpage.Write(&b, d))
	require.Contains(t, b.String(), "Nothing was found")
}

func TestFiles(t *testing.T) {
	files, err := contactpage.Files(data(t))
	require.NoError(t, err)
	byName := map[string][]byte{}
	for _, f := range files {
		byName[f.Name] = f.Data
	}
	require.Len(t, byName, 4)
	g, err := gpx.Read(bytes.NewReader(byName["candidates.gpx"]))
	require.NoError(t, err)
	require.Len(t, g.Wpt, 2)
	require.Equal(t, "candidate 3", g.Wpt[0].Name)
	require.InDelta(t, 41.909, g.Wpt[0].Lat, 1e-9)
	var v pictures.Survey
	require.NoError(t, json.Unmarshal(byName["candidates.json"], &v))
	require.Equal(t, 3, v.Candidates[0].N)
	require.NotContains(t, string(byName["candidates.json"]), "base64")

	tool, err := exec.LookPath("ogrinfo")
	if err != nil {
		t.Skip("ogrinfo is not installed")
	}
	for _, name := range []string{"candidates.kml", "candidates.gpx"} {
		path := filepath.Join(t.TempDir(), name)
		require.NoError(t, os.WriteFile(path, byName[name], 0o644))
		out, err := exec.Command(tool, "-ro", "-al", path).CombinedOutput()
		require.NoError(t, err)
		require.Regexp(t, `POINT (Z )?\(-4\.9195 41\.909`, string(out), name)
	}
}

// In a browser, the keys judge the candidates and the command that logs it
// stands below.
func TestKeys(t *testing.T) {
	tool, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("chromium is not installed")
	}
	if testing.Short() {
		t.Skip("starts a browser")
	}
	var b bytes.Buffer
	require.NoError(t, contactpage.Write(&b, data(t)))
	press := `<script>
for (const k of ["r", "y", "ArrowUp"]) document.dispatchEvent(new KeyboardEvent("keydown", {key: k}));
document.title = document.getElementById("line").textContent + "|" + document.getElementById("count").textContent + "|" +
  document.querySelector(".now").dataset.n + "|" + (document.documentElement.scrollWidth <= document.documentElement.clientWidth);
</script></body>`
	page := strings.Replace(b.String(), "</body>", press, 1)
	path := filepath.Join(t.TempDir(), "c.html")
	require.NoError(t, os.WriteFile(path, []byte(page), 0o644))
	out, err := exec.Command(tool, "--headless", "--no-sandbox", "--disable-gpu", "--window-size=500,800", "--dump-dom", "file://"+path).Output()
	require.NoError(t, err)
	title := regexp.MustCompile(`<title>(.*)</title>`).FindStringSubmatch(string(out))
	require.NotNil(t, title)
	require.Equal(t, `windfall look 'club'\''s flight.yaml' --yes 3 --no 4|2 of 2 judged. To log it:|3|true`, title[1])
}
