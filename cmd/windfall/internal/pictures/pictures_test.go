package pictures_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/pictures"
	"windfall/cmd/windfall/internal/situation"
	"windfall/drift"
	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/ground"
	"windfall/geo/photo"
	"windfall/geo/photo/phototest"
	"windfall/geo/plane"
	"windfall/search"
	"windfall/search/look"
	"windfall/search/look/scene"
)

var pad = orb.Point{-4.9210, 41.9050}

func ptr(v float64) *float64 { return &v }

// settings are those of a drone over flat ground, told nothing by hand.
func settings() *pictures.Settings {
	return &pictures.Settings{
		Site:   photo.Site{Frame: geo.Frame{Origin: pad}, PadUp: 741},
		Launch: time.Date(2026, 4, 18, 11, 20, 0, 0, time.FixedZone("", 7200)), Things: []look.Thing{{Long: 1.42, Wide: 0.066}},
		Colours: look.Colours("orange"), Narrow: 0.066, Key: "test",
		Chance: func(_ geo.XY, px float64) float64 { return math.Min(1, px/10) },
	}
}

// drone is a picture from 30 m above q, with what the drone writes into it.
func drone(t testing.TB, q geo.XY, change func(*phototest.Tags), things ...scene.Thing) []byte {
	t.Helper()
	rng := rand.New(rand.NewPCG(1, uint64(100+q.X)))
	p := scene.FromImage(scene.Meadow(256, 2), 640, 480, 1, image.Pt(0, 0))
	for _, th := range things {
		p.Draw(th, rng)
	}
	file, err := p.Take(scene.Camera{Blur: 0.7, Noise: 2, Exposure: 1, Quality: 85}, rng)
	require.NoError(t, err)
	at := (geo.Frame{Origin: pad}).ToLonLat(q)
	tags := phototest.Tags{Lat: ptr(at.Lat()), Lon: ptr(at.Lon()), Above: ptr(30), Yaw: ptr(0), Pitch: ptr(-90), Focal35: 122,
		Time: time.Date(2026, 4, 18, 12, 0, 0, 0, time.FixedZone("", 7200)), Zoned: true}
	if change != nil {
		change(&tags)
	}
	file, err = phototest.Write(file, tags)
	require.NoError(t, err)
	return file
}

var rocket = scene.Thing{Shape: scene.Rocket, Paint: scene.Paints[2], Width: 5, X: 400, Y: 180, Turn: 0.5}

func write(t testing.TB, dir, name string, data []byte) string {
	t.Helper()
	path := filepath.Join(dir, name)
	require.NoError(t, os.WriteFile(path, data, 0o644))
	return path
}

func run(t testing.TB, s *pictures.Settings, files ...string) []pictures.Picture {
	t.Helper()
	out, err := s.Run(context.Background(), files, filepath.Join(t.TempDir(), "kept.jsonl"), nil)
	require.NoError(t, err)
	require.Len(t, out, len(files))
	return out
}

// The candidate's place is where the camera geometry puts the pixel: a focal
// length of 122 mm on 43.27 mm of film diagonal is 2256 pixels, 13.3 mm a pixel
// from 30 m up; pixel 400,180 lies 80 pixels right and 60 above the middle.
func TestRun(t *testing.T) {
	dir := t.TempDir()
	got := run(t, settings(), write(t, dir, "a.jpg", drone(t, geo.XY{X: 100, Y: 50}, nil, rocket)))[0]
	require.Empty(t, got.Error)
	require.NotEmpty(t, got.Found)
	pixel := 30 / (122 / math.Hypot(36, 24) * 800)
	require.InDelta(t, pixel, got.Pixel, 1e-3)
	f := got.Found[0]
	require.InDelta(t, 100+80*pixel, f.At.East, 0.1)
	require.InDelta(t, 50+60*pixel, f.At.North, 0.1)
	require.InDelta(t, 1.42, f.Long, 0.25)
	require.Greater(t, f.Error, 3.0)
	require.Less(t, f.Error, 8.0)
	crop, err := jpeg.Decode(bytes.NewReader(f.Crop))
	require.NoError(t, err)
	require.Equal(t, f.CropSize, [2]int{crop.Bounds().Dx(), crop.Bounds().Dy()})
	r, g, b, _ := crop.At(f.CropMiddle[0], f.CropMiddle[1]).RGBA()
	require.True(t, r > g && g > b, "the crop's middle is orange")
	require.Len(t, got.Ground, 4)
	for _, a := range got.Ground {
		require.InDelta(t, 0.066/pixel, a.Pixels, 0.3)
	}
}

// What is wrong with a picture is said and it is left aside; the others are
// done.
func TestBadPictures(t *testing.T) {
	dir := t.TempDir()
	good := drone(t, geo.XY{}, nil)
	bomb := hugePNG(25000, 20000)
	heic := append([]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), make([]byte, 200)...)
	far := func(tags *phototest.Tags) { tags.Lat, tags.Lon = ptr(-33.9), ptr(18.4) }
	for name, c := range map[string]struct {
		data []byte
		want string
		set  func(*pictures.Settings)
	}{
		"noexif.jpg":    {plain(t), "does not say its lens; give --field-of-view", nil},
		"nowhere.jpg":   {drone(t, geo.XY{}, func(t *phototest.Tags) { t.Lat, t.Lon = ptr(0), ptr(0) }), "does not say its position; give --from", nil},
		"direction.jpg": {drone(t, geo.XY{}, func(t *phototest.Tags) { t.Yaw = nil }), "does not say its direction; give --heading", nil},
		"level.jpg":     {drone(t, geo.XY{}, func(t *phototest.Tags) { t.Pitch = nil; t.Direction = ptr(3) }), "how far the camera was tilted; give --tilt", nil},
		"sky.jpg":       {drone(t, geo.XY{}, func(t *phototest.Tags) { t.Pitch = ptr(50) }), "shows no ground near enough", nil},
		"high.jpg":      {drone(t, geo.XY{}, func(t *phototest.Tags) { t.Above = ptr(900) }), "shows no ground near enough", nil},
		"abroad.jpg":    {drone(t, geo.XY{}, far), "km from the pad; it is not of this flight", nil},
		"cut.jpg":       {good[:len(good)/2], "is cut off or damaged; copy it from the camera's card again", nil},
		"text.jpg":      {[]byte("not a picture at all"), "not a picture that can be read", nil},
		"film.mp4":      {[]byte("\x00\x00\x00\x18ftypisom\x00\x00\x02\x00isomiso2"), "is a film; take frames out of it first", nil},
		"bomb.png":      {bomb, "has 500 megapixels; pictures of up to 80 are looked at", byHand},
		"IMG.HEIC":      {heic, "is a HEIC file", nil},
	} {
		s := settings()
		if c.set != nil {
			c.set(s)
		}
		ps := run(t, s, write(t, dir, name, c.data), write(t, dir, "good.jpg", good))
		require.Contains(t, ps[0].Error, c.want, name)
		require.Empty(t, ps[1].Error, "the good one beside %s", name)
		require.NotContains(t, ps[0].Error, "\n")
	}
	ps := run(t, settings(), dir, filepath.Join(dir, "none.jpg"))
	require.Contains(t, ps[0].Error, "is a folder; name its pictures")
	require.Contains(t, ps[1].Error, "cannot be read; check the name")
	require.ElementsMatch(t, []string{dir + ": " + ps[0].Error, filepath.Join(dir, "none.jpg") + ": " + ps[1].Error}, pictures.Reasons(ps))
}

// byHand says of the camera all that a picture without data leaves open.
func byHand(s *pictures.Settings) {
	s.Given = photo.Given{At: &pad, AboveGround: ptr(30), Heading: ptr(0), Pitch: ptr(-90), FieldDeg: 40}
}

func plain(t testing.TB) []byte {
	var b bytes.Buffer
	m := image.NewGray(image.Rect(0, 0, 64, 64))
	require.NoError(t, jpeg.Encode(&b, m, nil))
	return b.Bytes()
}

// hugePNG is a small file that says it holds w by h pixels.
func hugePNG(w, h uint32) []byte {
	var b bytes.Buffer
	b.WriteString("\x89PNG\r\n\x1a\n")
	head := binary.BigEndian.AppendUint32([]byte("IHDR"), w)
	head = append(binary.BigEndian.AppendUint32(head, h), 8, 2, 0, 0, 0)
	binary.Write(&b, binary.BigEndian, uint32(13))
	b.Write(head)
	binary.Write(&b, binary.BigEndian, crc32.ChecksumIEEE(head))
	return b.Bytes()
}

// A picture without data is looked at with what is said by hand, whatever its
// format.
func TestByHand(t *testing.T) {
	m := scene.Meadow(256, 5)
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, m))
	s := settings()
	byHand(s)
	s.Given.AboveGround = ptr(5)
	got := run(t, s, write(t, t.TempDir(), "a.png", b.Bytes()))[0]
	require.Empty(t, got.Error)
	require.InDelta(t, 5, got.Up, 1e-9)
}

// A clock a year off is said; the place counts all the same.
func TestClock(t *testing.T) {
	wrong := drone(t, geo.XY{}, func(t *phototest.Tags) { t.Time = t.Time.AddDate(-1, 0, 0) })
	got := run(t, settings(), write(t, t.TempDir(), "a.jpg", wrong))[0]
	require.Empty(t, got.Error)
	require.Len(t, got.Notes, 1)
	require.Contains(t, got.Notes[0], "its clock says 2025-04-18 12:00, 365 days from the launch")
	s := settings()
	s.Ahead = -365 * 24 * time.Hour
	require.Empty(t, run(t, s, write(t, t.TempDir(), "a.jpg", wrong))[0].Notes)
}

// Frames of a film get their time from their number, and their place from the
// drone's log at that time.
func TestFramesOfAFilm(t *testing.T) {
	path, err := photo.ReadPath(strings.NewReader("time,latitude,longitude,height,heading,pitch\n" +
		"2026-04-18T10:00:00Z,41.9050,-4.9210,30,0,-90\n2026-04-18T10:00:02Z,41.9051,-4.9210,30,0,-90\n"))
	require.NoError(t, err)
	s := settings()
	s.Path, s.Begins, s.Every = path, time.Date(2026, 4, 18, 10, 0, 0, 0, time.UTC), time.Second
	s.Given.FieldDeg = 20
	bare := drone(t, geo.XY{}, func(t *phototest.Tags) { *t = phototest.Tags{} })
	dir := t.TempDir()
	ps := run(t, s, write(t, dir, "f1.jpg", bare), write(t, dir, "f2.jpg", bare), write(t, dir, "f3.jpg", bare), write(t, dir, "f4.jpg", bare))
	for i, north := range []float64{0, 5.56, 11.1} {
		require.Empty(t, ps[i].Error)
		require.InDelta(t, north, ps[i].At.North, 0.1, "frame %d", i+1)
	}
	require.Contains(t, ps[3].Error, "does not say its position", "after the log's end")
}

// A run that was stopped goes on: what is done is not looked at again, and the
// results are those of one run. One worker or two give the same.
func TestGoesOn(t *testing.T) {
	dir := t.TempDir()
	var files []string
	for i := range 5 {
		files = append(files, write(t, dir, fmt.Sprintf("p%d.jpg", i), drone(t, geo.XY{X: float64(10 * i)}, nil, rocket)))
	}
	whole := run(t, settings(), files...)
	kept := filepath.Join(dir, "out", "kept.jsonl")
	ctx, stop := context.WithCancel(context.Background())
	s := settings()
	s.Workers = 1
	_, err := s.Run(ctx, files, kept, func(done, _ int) {
		if done == 2 {
			stop()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
	// a stop in the middle of a line
	f, err := os.OpenFile(kept, os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteString(`{"number":3,"picture":{"file":"p3`)
	require.NoError(t, err)
	require.NoError(t, f.Close())
	before, err := os.ReadFile(kept)
	require.NoError(t, err)
	got, err := s.Run(context.Background(), files, kept, nil)
	require.NoError(t, err)
	require.Equal(t, whole, got)
	after, err := os.ReadFile(kept)
	require.NoError(t, err)
	require.True(t, bytes.HasPrefix(after, before), "what is done is kept")
	require.Less(t, bytes.Count(after, []byte(`"sha256"`)), 7, "and not done again")

	s.Key = "other settings"
	_, err = s.Run(context.Background(), files[:1], kept, nil)
	require.NoError(t, err)
	anew, err := os.ReadFile(kept)
	require.NoError(t, err)
	require.Equal(t, 1, bytes.Count(anew, []byte(`"sha256"`)), "other settings begin anew")
}

// Five overlapping pictures of one rocket are one candidate, nearer to the truth
// than one picture; the map's chance goes into its rank.
func TestGather(t *testing.T) {
	dir := t.TempDir()
	s := settings()
	pixel := 30 / (122 / math.Hypot(36, 24) * 800)
	var files []string
	for i := range 3 {
		th := rocket
		th.X, th.Y = 320-float64(i-1)*100, 240
		files = append(files, write(t, dir, fmt.Sprintf("p%d.jpg", i), drone(t, geo.XY{X: float64(i-1) * 100 * pixel}, nil, th)))
	}
	files = append(files, write(t, dir, "bad.jpg", []byte("?")))
	ps := run(t, s, files...)
	m := &grid.Map{West: -50, South: -50, Cell: 10, NX: 10, NY: 10, P: make([]float64, 100)}
	for i := range m.P {
		m.P[i] = 0.01
	}
	v := s.Gather(ps, m)
	require.Equal(t, 3, v.Looked)
	require.Equal(t, 1, v.LeftAside)
	require.NotEmpty(t, v.Candidates)
	c := v.Candidates[0]
	require.Len(t, c.Pictures, 3)
	require.Less(t, math.Hypot(c.At.East, c.At.North), 0.3)
	require.Greater(t, c.Radius, 2*c.Error)
	require.InDelta(t, (640+200)*480*pixel*pixel, v.AreaM2, 3)
	require.InDelta(t, 0.066/pixel/10, v.Chance, 0.03)
	require.InDelta(t, c.Score, c.Rank, 1e-9, "an even map changes no rank")
	l := pictures.Entry(ps, v)
	require.Len(t, l.Chances, 12)
	require.Len(t, l.Pictures, 3)
	require.Len(t, l.Candidates, len(v.Candidates))
	require.Equal(t, "Its narrow side of 66 mm spans 5.0 pixels in them.", s.Words(ps))
	require.Empty(t, s.Words(nil))
	require.NotEmpty(t, s.Shown(ps))
}

// What is looked for is the vehicle and the devices that lie beside it; where
// plants hide it, the chance is less.
func TestTarget(t *testing.T) {
	field := ground.Cover{Class: "woodland", Area: plane.Polygons{plane.Rectangle(0, 0, 50, 50)}}
	in := situation.Input{
		Target: search.Target{Length: 1.65, Width: 0.076, Colour: "lime"}, Ground: &ground.Ground{Covers: []ground.Cover{field}},
		Flight: drift.Flight{Recovery: []drift.Device{{CdS: 0.15 * 3 * 0.3}, {Canopy: true, Diameter: 1}, {Canopy: true, CdS: 0.8 * math.Pi / 4}}},
	}
	s := settings()
	s.Target(in)
	require.Equal(t, 0.076, s.Narrow)
	require.Len(t, s.Things, 4)
	require.InDelta(t, 3, s.Things[1].Long, 0.01, "the streamer of 3 m by 30 cm")
	require.InDelta(t, 0.8, s.Things[2].Long, 1e-9)
	require.InDelta(t, 0.8, s.Things[3].Long, 1e-9, "a canopy of a metre by its drag")
	require.Len(t, s.Colours, 1)
	open, wood := s.Chance(geo.XY{X: -10}, 8), s.Chance(geo.XY{X: 10, Y: 10}, 8)
	require.Greater(t, open, 0.85)
	require.Less(t, wood, 0.15)
	key := s.Key
	s.Given.Pitch = ptr(-80)
	s.Target(in)
	tilted := s.Key
	require.NotEqual(t, key, tilted)
	s.Given.Pitch = ptr(-80) // the same said again
	s.Path = photo.Path{{Above: ptr(30)}}
	s.Target(in)
	withPath := s.Key
	require.NotEqual(t, tilted, withPath)
	s.Path = photo.Path{{Above: ptr(30)}}
	s.Target(in)
	require.Equal(t, withPath, s.Key, "what is said counts, not where it is kept")
	in.Ground.Covers[0].Class = "crop"
	s.Target(in)
	require.NotEqual(t, key, s.Key)
	s.Target(situation.Input{})
	require.Equal(t, 0.075, s.Narrow, "nobody says the size")
}

func TestNames(t *testing.T) {
	dir := t.TempDir()
	a, b := write(t, dir, "a.jpg", nil), write(t, dir, "b.jpg", nil)
	got, err := pictures.Names([]string{filepath.Join(dir, "*.jpg"), "c.jpg"})
	require.NoError(t, err)
	require.Equal(t, []string{a, b, "c.jpg"}, got)
	_, err = pictures.Names([]string{filepath.Join(dir, "*.png")})
	require.ErrorContains(t, err, "names no file")
	odd := write(t, dir, "x[1.jpg", nil)
	got, err = pictures.Names([]string{odd})
	require.NoError(t, err)
	require.Equal(t, []string{odd}, got)
}

// A picture is a witness of the bearing of a pixel, and of the time since the
// ignition where its clock is tied to it.
func TestSee(t *testing.T) {
	dir := t.TempDir()
	site := settings().Site
	site.When = settings().Launch
	phone := func(at time.Time) string {
		return write(t, dir, fmt.Sprint(at.Unix(), ".jpg"), drone(t, geo.XY{X: -200}, func(g *phototest.Tags) {
			*g = phototest.Tags{Lat: g.Lat, Lon: g.Lon, Direction: ptr(90), Focal35: 26, Time: at}
		}))
	}
	landed := phone(time.Date(2026, 4, 18, 11, 21, 30, 0, time.UTC))
	ignition := phone(time.Date(2026, 4, 18, 11, 20, 12, 0, time.UTC))
	w, err := pictures.See(landed, [2]float64{320, 240}, photo.Given{}, site, pictures.Clock{Ignition: ignition})
	require.NoError(t, err)
	require.InDelta(t, 90, w.Bearing, 1e-6)
	require.InDelta(t, 10, w.BearingSD, 0.5)
	require.False(t, w.Tilted)
	require.False(t, w.Aloft)
	require.InDelta(t, 78, *w.After, 1e-9)
	require.Len(t, w.SHA256, 64)
	ahead := 12 * time.Second
	w, err = pictures.See(landed, [2]float64{320, 240}, photo.Given{Horizon: [][2]float64{{320, 240}}}, site, pictures.Clock{Ahead: &ahead})
	require.NoError(t, err)
	require.InDelta(t, 78, *w.After, 1e-9, "a clock without a zone is the flight file's")
	require.True(t, w.Tilted)
	require.InDelta(t, 0, w.Elevation, 1e-6)

	aloft := write(t, dir, "drone.jpg", drone(t, geo.XY{X: 30}, nil))
	w, err = pictures.See(aloft, [2]float64{320, 0}, photo.Given{}, site, pictures.Clock{})
	require.NoError(t, err)
	require.True(t, w.Aloft)
	require.Nil(t, w.After)
	require.InDelta(t, -84, w.Elevation, 0.5)

	for want, c := range map[string]struct {
		x     float64
		g     photo.Given
		clock pictures.Clock
	}{
		"pixel 900,0 lies outside the picture, which is 640 wide and 480 high": {x: 900},
		"pixel 1,999 lies outside":            {g: photo.Given{Horizon: [][2]float64{{1, 999}}}},
		"pixel -1,5 lies outside":             {g: photo.Given{Landmark: &photo.Landmark{Pixel: [2]float64{-1, 5}}}},
		"78 s before the ignition; give --at": {clock: pictures.Clock{Ignition: landed}},
		"cannot be read; check the name":      {clock: pictures.Clock{Ignition: "none.jpg"}},
	} {
		_, err := pictures.See(ignition, [2]float64{c.x, 0}, c.g, site, c.clock)
		require.ErrorContains(t, err, want)
	}
	year := phone(time.Date(2025, 4, 18, 11, 20, 12, 0, time.UTC))
	_, err = pictures.See(year, [2]float64{1, 1}, photo.Given{}, site, pictures.Clock{Ahead: &ahead})
	require.ErrorContains(t, err, "365 days before the ignition; give --at")
	_, err = pictures.See(year, [2]float64{1, 1}, photo.Given{At: &orb.Point{0, 0}}, site, pictures.Clock{})
	require.ErrorContains(t, err, "km from the pad")
}
