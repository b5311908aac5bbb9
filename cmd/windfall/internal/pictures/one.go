package pictures

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"math"
	"time"

	"windfall/geo"
	"windfall/geo/photo"
	"windfall/search/look"
)

// lookAt makes everything of one file. n is its number among the files, which
// tells the time of a film's frame.
func (s *Settings) lookAt(path string, n int, large func() (done func())) Picture {
	p := Picture{File: path}
	data, m, err := open(path)
	if err != nil {
		p.Error = err.Error()
		return p
	}
	p.SHA256 = hashOf(data)
	if err := s.lookIn(&p, data, m, n, large); err != nil {
		p.Error = err.Error()
	}
	return p
}

func (s *Settings) lookIn(p *Picture, data []byte, m *photo.Meta, n int, large func() func()) error {
	if m.Format == "HEIC" {
		return errHEIC
	}
	s.timed(p, m, n)
	v, err := m.View(s.Given, s.Site)
	if err != nil {
		return err
	}
	if !v.Tilted {
		return errors.New("does not say how far the camera was tilted; give --tilt, -90 for straight down")
	}
	if away := v.Camera.At.Norm(); away > farFromPad {
		return abroad(away)
	}
	place := s.Site.Frame.Place(v.Camera.At)
	p.At, p.Up = &place, v.Camera.Up-height(s.Site, v.Camera.At)
	if float64(m.Width)*float64(m.Height) > largePicture {
		defer large()()
	}
	img, err := decode(data)
	if err != nil {
		return err
	}
	if b := img.Bounds().Size(); max(b.X, b.Y) != max(m.Width, m.Height) {
		return fmt.Errorf("says it is %d by %d pixels but is %d by %d; save it anew", m.Width, m.Height, b.X, b.Y)
	}
	far := v.Camera.Focal * s.Narrow / leastAcross
	p.Size = [2]int{m.Width, m.Height}
	ready := look.Ready(img)
	p.Blur = ready.Blur()
	if h, ok := v.Camera.Hit(float64(m.Width)/2, float64(m.Height)/2, s.Site.Ground, far); ok {
		p.Pixel = h.Pixel
	}
	if p.Ground = s.ground(v, far, p.Blur); len(p.Ground) == 0 {
		return fmt.Errorf("shows no ground near enough: the target's narrow side spans less than %.1f pixels everywhere",
			leastAcross)
	}
	if p.Blur > 1 {
		p.Notes = append(p.Notes, fmt.Sprintf("is not sharp: its detail spans %.0f pixels", p.Blur))
	}
	for _, c := range ready.Find(look.Options{Pixel: s.pixel(v, m, far), Things: s.Things, Colours: s.Colours}) {
		p.Found = append(p.Found, s.found(c, img, v, m, far))
	}
	return nil
}

// abroad is the error of a picture taken so many metres from the pad.
func abroad(away float64) error {
	return fmt.Errorf("was taken %.0f km from the pad; it is not of this flight, or its position is wrong: give --from",
		away/1000)
}

// timed sets the picture's time by its own clock or the film's, and fills in
// from the drone's log.
func (s *Settings) timed(p *Picture, m *photo.Meta, n int) {
	switch {
	case s.Every > 0 && !s.Begins.IsZero():
		m.Time, m.Zoned = s.Begins.Add(time.Duration(n)*s.Every), true
	case !m.Time.IsZero():
		if !m.Zoned && !s.Launch.IsZero() { // the clock of the place, as the flight file has it
			m.Time = shown(m.Time, s.Launch.Location())
		}
		m.Time = m.Time.Add(-s.Ahead)
		if d := m.Time.Sub(s.Launch); !s.Launch.IsZero() && d.Abs() > clockApart {
			p.Notes = append(p.Notes, fmt.Sprintf("its clock says %s, %.0f days from the launch; its place is used all the same",
				m.Time.Format("2006-01-02 15:04"), d.Abs().Hours()/24))
		}
	}
	if s.Path != nil {
		m.Fill(s.Path)
	}
}

func height(s photo.Site, q geo.XY) float64 {
	if s.Ground == nil {
		return 0
	}
	return s.Ground(q)
}

// pixel returns the metres of a pixel of the stored picture, 0 where it shows
// no ground near enough.
func (s *Settings) pixel(v photo.View, m *photo.Meta, far float64) func(x, y float64) float64 {
	return func(x, y float64) float64 {
		x, y = m.Upright(x, y)
		h, ok := v.Camera.Hit(x, y, s.Site.Ground, far)
		if !ok {
			return 0
		}
		return h.Pixel
	}
}

// Tiles a side that a picture's ground is told in, where pixels differ much in
// size over it.
const (
	fewTiles, manyTiles = 2, 6
	unlikePixels        = 1.3
)

// ground returns the ground that the picture shows near enough, in pieces of
// nearly one pixel size.
func (s *Settings) ground(v photo.View, far, blur float64) []Area {
	c := v.Camera
	w, h := float64(c.Width), float64(c.Height)
	n := fewTiles
	least, most := math.Inf(1), 0.0
	for _, q := range [][2]float64{{0, 0}, {w, 0}, {0, h}, {w, h}} {
		hit, ok := c.Hit(q[0], q[1], s.Site.Ground, far)
		if !ok {
			hit.Pixel = math.Inf(1)
		}
		least, most = min(least, hit.Pixel), max(most, hit.Pixel)
	}
	if most > unlikePixels*least {
		n = manyTiles
	}
	var out []Area
	for k := range n * n {
		if a, ok := s.tile(c, image.Pt(k%n, k/n), n, far, blur); ok {
			out = append(out, a)
		}
	}
	return out
}

// tile is one piece of the ground; ok is false where a corner of it is sky or
// too far away.
func (s *Settings) tile(c photo.Camera, cell image.Point, n int, far, blur float64) (a Area, ok bool) {
	w, h := float64(c.Width)/float64(n), float64(c.Height)/float64(n)
	x, y := float64(cell.X)*w, float64(cell.Y)*h
	worst := 0.0
	chance := 1.0
	var at []geo.XY
	for _, q := range [][2]float64{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}} {
		hit, ok := c.Hit(q[0], q[1], s.Site.Ground, far)
		if !ok {
			return a, false
		}
		worst = max(worst, hit.Pixel)
		at = append(at, hit.At)
		p := s.Site.Frame.ToLonLat(hit.At)
		a.Ring = append(a.Ring, [2]float64{round7(p.Lon()), round7(p.Lat())})
	}
	a.Ring = append(a.Ring, a.Ring[0])
	a.Pixels = s.Narrow / (worst * blur)
	for _, q := range append(at, at[0].Add(at[2]).Scale(0.5)) {
		chance = min(chance, s.Chance(q, a.Pixels))
	}
	a.Pixels, a.Chance = math.Round(a.Pixels*10)/10, math.Round(chance*1000)/1000
	return a, true
}

func round7(v float64) float64 { return math.Round(v*1e7) / 1e7 }

// found places a candidate and cuts it out.
func (s *Settings) found(c look.Candidate, img image.Image, v photo.View, m *photo.Meta, far float64) Found {
	x, y := m.Upright(c.X, c.Y)
	h, _ := v.Camera.Hit(x, y, s.Site.Ground, far)
	f := Found{Pixel: [2]int{int(c.X), int(c.Y)}, Long: round2(c.Long * h.Pixel), Wide: round2(c.Wide * h.Pixel),
		Colour: fmt.Sprintf("#%02x%02x%02x", c.Colour[0], c.Colour[1], c.Colour[2]), Score: round2(c.Score),
		LongPixels: round2(c.Long), Cut: c.Cut,
		At: s.Site.Frame.Place(h.At), Error: round2(v.Camera.PlaceError(x, y, s.Site.Ground, far, v.Spread))}
	f.Crop, f.CropMiddle, f.CropSize = crop(img, c)
	return f
}

func round2(v float64) float64 { return math.Round(v*100) / 100 }

const (
	leastCrop, mostCrop = 120, 300 // pixels to each side of the candidate
)

// crop cuts a candidate out at full size with ground about it, as JPEG, and
// says where in it the candidate lies.
func crop(img image.Image, c look.Candidate) (data []byte, middle, size [2]int) {
	half := int(math.Max(leastCrop, math.Min(mostCrop, 0.8*c.Long)))
	b := img.Bounds()
	mid := image.Pt(b.Min.X+int(c.X), b.Min.Y+int(c.Y))
	r := image.Rect(mid.X-half, mid.Y-half, mid.X+half, mid.Y+half).Intersect(b)
	out := image.NewRGBA(image.Rect(0, 0, r.Dx(), r.Dy()))
	draw.Draw(out, out.Rect, img, r.Min, draw.Src)
	var buf bytes.Buffer
	if jpeg.Encode(&buf, out, &jpeg.Options{Quality: 88}) != nil {
		return nil, middle, size
	}
	return buf.Bytes(), [2]int{mid.X - r.Min.X, mid.Y - r.Min.Y}, [2]int{r.Dx(), r.Dy()}
}
