package fieldpage

import (
	"bytes"
	"encoding/base64"
	"image"
	"image/draw"
	"image/jpeg"
	"math"

	"windfall/geo"
	"windfall/geo/ink"
	"windfall/geo/mapfile"
	"windfall/geo/plane"
)

// ground is the flier's own map within the page: one picture, north up.
type ground struct {
	Kind   string        `json:"kind"` // image, as the page of serve calls it
	URL    string        `json:"url"`  // data: the picture itself
	Credit string        `json:"attribution"`
	Bounds [2][2]float64 `json:"bounds"` // south-west and north-east, latitude and longitude
}

// Choices of ours: a picture that is sharp where one walks, and that a message
// still takes.
const (
	mostPixels = 1600 // of a side
	finest     = 0.5  // m a pixel: no map is finer than people walk
	jpegGrade  = 70
	aroundPlan = 0.15 // of the plan's size, beyond it on each side
	leastMetre = 250  // m beyond it
)

// groundOf draws the base map of l under its plan; nil where it has none, or
// the map shows nothing there.
//
// The page lays the picture on a map in Web Mercator by its edges. It is drawn in
// a frame about its own middle: there both agree within 0.4 m to 1 km out.
func groundOf(l *mapfile.Landing, c *mapfile.Chart) (*ground, error) {
	if l.Base == nil {
		return nil, nil
	}
	box := boxOf(c)
	middle := box.Min.Add(box.Max).Scale(0.5)
	half := box.Size().Scale(0.5)
	f := geo.Frame{Origin: l.Frame.ToLonLat(middle)}
	metre := max(finest, 2*max(half.X, half.Y)/mostPixels)
	w, h := int(math.Ceil(2*half.X/metre)), int(math.Ceil(2*half.Y/metre))
	img := l.Base.Draw(f, plane.Box{Min: half.Scale(-1), Max: half}, w, h)
	seen := shown(img)
	if seen.Empty() {
		return nil, nil
	}
	data, err := packed(img, seen)
	if err != nil {
		return nil, err
	}
	at := func(px, py int) geo.XY {
		return geo.XY{X: -half.X + float64(px)/float64(w)*2*half.X, Y: half.Y - float64(py)/float64(h)*2*half.Y}
	}
	low, high := at(seen.Min.X, seen.Max.Y), at(seen.Max.X, seen.Min.Y)
	edges := [2][2]float64{
		{f.ToLonLat(geo.XY{Y: low.Y}).Lat(), f.ToLonLat(geo.XY{X: low.X}).Lon()},
		{f.ToLonLat(geo.XY{Y: high.Y}).Lat(), f.ToLonLat(geo.XY{X: high.X}).Lon()},
	}
	url := "data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(data)
	return &ground{Kind: "image", URL: url, Credit: l.Base.Credit, Bounds: edges}, nil
}

// boxOf is a square around the areas and the plan, as a phone shows them whole,
// with a margin.
func boxOf(c *mapfile.Chart) plane.Box {
	var b plane.Box // with the pad, the frame's origin
	for _, a := range c.Areas {
		for _, r := range a.Rings {
			for _, q := range r {
				b = b.Extend(geo.XY{X: q[0], Y: q[1]})
			}
		}
	}
	for _, s := range c.Searchers {
		for _, g := range s.Stages {
			for _, q := range g.Path {
				b = b.Extend(geo.XY{X: q[0], Y: q[1]})
			}
		}
	}
	size := b.Size()
	side := max(size.X, size.Y)
	half := side/2 + max(leastMetre, aroundPlan*side)
	middle := b.Min.Add(b.Max).Scale(0.5)
	return plane.Box{Min: middle.Sub(geo.XY{X: half, Y: half}), Max: middle.Add(geo.XY{X: half, Y: half})}
}

// shown is the part of a picture that is not transparent.
func shown(img image.Image) (r image.Rectangle) {
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if _, _, _, a := img.At(x, y).RGBA(); a > 0 {
				r = r.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return r.Sub(b.Min)
}

// packed is a part of a picture as JPEG; what is transparent in it is paper.
func packed(img image.Image, part image.Rectangle) ([]byte, error) {
	out := image.NewRGBA(image.Rect(0, 0, part.Dx(), part.Dy()))
	draw.Draw(out, out.Bounds(), image.NewUniform(ink.Paper), image.Point{}, draw.Src)
	draw.Draw(out, out.Bounds(), img, img.Bounds().Min.Add(part.Min), draw.Over)
	var b bytes.Buffer
	err := jpeg.Encode(&b, out, &jpeg.Options{Quality: jpegGrade})
	return b.Bytes(), err
}
