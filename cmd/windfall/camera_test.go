package main

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	_ "image/png" // grounds
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/paulmach/orb"

	"windfall/geo"
	"windfall/geo/photo/phototest"
	"windfall/geo/place"
	"windfall/search/look/scene"
)

// camera is the program of the scripts that takes pictures:
//
//	camera drone DIR PLACE                forty of a drone over the ground about PLACE; in one of them, and where
//	                                      they overlap in more, an orange rocket lies there. The ground is made up,
//	                                      or that of $WINDFALL_GROUNDS (testdata/grounds/fetch)
//	camera phone FILE PLACE PLACE2 ERROR  one of a phone at PLACE that looks at PLACE2, its compass off by ERROR degrees
func camera() {
	if err := takePictures(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "camera:", err)
		os.Exit(1)
	}
}

func takePictures(args []string) error {
	at, err := place.Parse(args[2])
	if err != nil {
		return err
	}
	if args[0] == "phone" {
		to, err := place.Parse(args[3])
		if err != nil {
			return err
		}
		off, err := strconv.ParseFloat(args[4], 64)
		if err != nil {
			return err
		}
		return phonePicture(args[1], at, to, off)
	}
	ground := scene.Meadow(256, 7)
	if dir := os.Getenv("WINDFALL_GROUNDS"); dir != "" {
		if ground, err = groundPicture(filepath.Join(dir, "grass", "india-grass_01.png")); err != nil {
			return err
		}
	}
	return dronePictures(args[1], at, ground)
}

func groundPicture(file string) (*image.RGBA, error) {
	r, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	m, _, err := image.Decode(r)
	if err != nil {
		return nil, err
	}
	out := image.NewRGBA(image.Rect(0, 0, m.Bounds().Dx(), m.Bounds().Dy()))
	draw.Draw(out, out.Rect, m, m.Bounds().Min, draw.Src)
	return out, nil
}

const (
	droneWide, droneHigh = 800, 600
	dronePixel           = 0.0132 // m on the ground: five of them are 66 mm
	droneUp              = 30.0   // m
)

// dronePictures flies five rows of eight pictures, a fifth of each overlapping
// the next; the rocket lies near the middle of the ground.
func dronePictures(dir string, at orb.Point, ground *image.RGBA) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	f := geo.Frame{Origin: at}
	stepX, stepY := 0.8*droneWide*dronePixel, 0.8*droneHigh*dronePixel
	start := time.Date(2026, 4, 18, 12, 5, 0, 0, time.FixedZone("", 7200))
	for k := range 40 {
		rng := rand.New(rand.NewPCG(3, uint64(k)))
		mid := geo.XY{X: (float64(k%8) - 3.7) * stepX, Y: (float64(k/8) - 2.2) * stepY}
		// The picture's top left corner on the seamless ground, y downward.
		px := func(m float64) int { return int(math.Round(m / dronePixel)) }
		left, top := px(mid.X)-droneWide/2, -px(mid.Y)-droneHigh/2
		wrap := func(v, n int) int { return ((v % n) + n) % n }
		p := scene.FromImage(ground, droneWide, droneHigh, 1, image.Pt(wrap(left, ground.Rect.Dx()), wrap(top, ground.Rect.Dy())))
		if math.Abs(float64(left)+droneWide/2) < droneWide && math.Abs(float64(top)+droneHigh/2) < droneHigh {
			p.Draw(scene.Thing{Shape: scene.Rocket, Paint: scene.Paints[2], Width: 5, X: float64(-left), Y: float64(-top), Turn: 0.6}, rng)
		}
		file, err := p.Take(scene.Camera{Blur: 0.7, Noise: 2, Exposure: 1, Quality: 88}, rng)
		if err != nil {
			return err
		}
		// Satellite positions are a metre or so off.
		q := f.ToLonLat(mid.Add(geo.XY{X: 0.7 * rng.NormFloat64(), Y: 0.7 * rng.NormFloat64()}))
		lat, lon, up, yaw, pitch := q.Lat(), q.Lon(), droneUp, 0.0, -90.0
		focal := droneUp / dronePixel / math.Hypot(droneWide, droneHigh) * math.Hypot(36, 24)
		file, err = phototest.Write(file, phototest.Tags{Lat: &lat, Lon: &lon, Above: &up, Yaw: &yaw, Pitch: &pitch,
			Focal35: int(math.Round(focal)), Time: start.Add(time.Duration(k) * 3 * time.Second), Zoned: true})
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("P%04d.JPG", k+1)), file, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// phonePicture is a plain picture whose data alone matters: 400 by 300, 26 mm.
// What it looks at lies in its middle, the horizon at its level.
func phonePicture(file string, at, to orb.Point, off float64) error {
	m := image.NewRGBA(image.Rect(0, 0, 400, 300))
	draw.Draw(m, m.Rect, image.NewUniform(color.RGBA{120, 160, 220, 255}), image.Point{}, draw.Src)
	draw.Draw(m, image.Rect(0, 200, 400, 300), image.NewUniform(color.RGBA{90, 120, 60, 255}), image.Point{}, draw.Src)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		return err
	}
	d := geo.NormDeg((geo.Frame{Origin: at}).ToXY(to).BearingDeg() + off)
	lat, lon := at.Lat(), at.Lon()
	out, err := phototest.Write(b.Bytes(), phototest.Tags{Lat: &lat, Lon: &lon, Direction: &d, Focal35: 26,
		Time: time.Date(2026, 4, 18, 11, 21, 12, 0, time.UTC), Caption: "<script>alert(1)</script>"})
	if err != nil {
		return err
	}
	return os.WriteFile(file, out, 0o644)
}
