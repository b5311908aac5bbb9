package basemap

import (
	"errors"
	"fmt"
	"image"
	_ "image/jpeg" // pictures that a base map may be
	_ "image/png"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	_ "golang.org/x/image/webp" // tiles that a file may hold
)

// picture is a picture with its corners in degrees, north up.
type picture struct {
	path                     string
	width, height            int // pixels
	west, south, east, north float64
	img                      image.Image // nil until load
}

// mostPixels is the largest picture that is drawn: 80 million, 320 MB at most.
const mostPixels = 80e6

// openPicture takes a picture with its world file in degrees: six lines, of
// which the second and third, turns, are 0.
func openPicture(path string) (*Map, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, plain(err)
	}
	defer f.Close()
	c, _, err := image.DecodeConfig(f)
	if err != nil {
		return nil, errors.New("is not a picture that can be read; save it anew as .png or .jpg")
	}
	w, name, err := worldFile(path)
	if err != nil {
		return nil, err
	}
	if w[1] != 0 || w[2] != 0 || !(w[0] > 0) || !(w[3] < 0) {
		return nil, fmt.Errorf("%s turns the picture; give one with north up", name)
	}
	p := &picture{path: path, width: c.Width, height: c.Height, west: w[4] - w[0]/2, north: w[5] - w[3]/2}
	p.east, p.south = p.west+w[0]*float64(c.Width), p.north+w[3]*float64(c.Height)
	if p.west < -181 || p.east > 181 || p.south < -90 || p.north > 90 {
		return nil, fmt.Errorf("%s is not in degrees; reproject the picture to EPSG:4326, such as with gdalwarp -t_srs "+
			"EPSG:4326", name)
	}
	return &Map{picture: p}, nil
}

// load reads the pixels, once.
func (p *picture) load() error {
	if p.img != nil {
		return nil
	}
	if float64(p.width)*float64(p.height) > mostPixels {
		return fmt.Errorf("has %d by %d pixels, more than the 80 million that are drawn; cut out the launch site and its "+
			"surroundings, or make tiles of it", p.width, p.height)
	}
	f, err := os.Open(p.path)
	if err != nil {
		return plain(err)
	}
	defer f.Close()
	if p.img, _, err = image.Decode(f); err != nil {
		p.img = nil
		return fmt.Errorf("is broken (%v); save it anew as .png or .jpg", err)
	}
	return nil
}

// worldFile reads the six numbers beside a picture.
func worldFile(path string) (w [6]float64, name string, err error) {
	ext := filepath.Ext(path)
	stem := strings.TrimSuffix(path, ext)
	for _, x := range []string{ext[:2] + ext[len(ext)-1:] + "w", ext + "w", ".wld"} {
		name = stem + x
		text, err := os.ReadFile(name)
		if err != nil {
			continue
		}
		lines := strings.Fields(string(text))
		if len(lines) != 6 {
			return w, name, fmt.Errorf("%s has %d numbers; a world file has 6", name, len(lines))
		}
		for i, l := range lines {
			if w[i], err = strconv.ParseFloat(l, 64); err != nil {
				return w, name, fmt.Errorf("%s: %.40q is no number; a world file has 6", name, l)
			}
		}
		return w, name, nil
	}
	return w, "", fmt.Errorf("has no world file beside it, such as %s",
		filepath.Base(stem)+ext[:2]+ext[len(ext)-1:]+"w")
}
