// Package pictures looks through photographs of the ground, file by file: what
// each says of its camera, what ground it shows how sharply, and what lies
// there that does not belong. It keeps what is done, so that a run that was
// stopped goes on where it was, and a picture that cannot be used is said and
// left aside, the others done.
package pictures

import (
	"time"

	"windfall/geo"
	"windfall/geo/photo"
	"windfall/search/look"
)

// Settings are what holds for all pictures of a run.
type Settings struct {
	Site    photo.Site
	Given   photo.Given
	Path    photo.Path    // the drone's own log; nil: none
	Ahead   time.Duration // by which the cameras' clock is ahead of the true time
	Begins  time.Time     // of the first picture, where they are frames of a film
	Every   time.Duration // between frames; 0: no film
	Launch  time.Time     // zero: not known
	Things  []look.Thing
	Colours []look.Colour
	Narrow  float64 // m, the narrow side by which ground counts as seen
	// Chance of finding the target at a place of the ground where its narrow
	// side spans so many pixels.
	Chance  func(at geo.XY, pixels float64) float64
	Workers int    // 0: two
	Key     string // of all the above, in words: results of another key are not gone on with
}

// Picture is what was made of one file.
type Picture struct {
	File   string     `json:"file"`
	SHA256 string     `json:"sha256,omitempty"`
	Error  string     `json:"error,omitempty"` // why it was left aside
	Notes  []string   `json:"notes,omitempty"`
	Size   [2]int     `json:"size,omitzero"` // pixels
	At     *geo.Place `json:"at,omitempty"`
	Up     float64    `json:"above_ground_m,omitempty"`
	Pixel  float64    `json:"pixel_m,omitempty"` // on the ground at its middle
	Blur   float64    `json:"blur_pixels,omitempty"`
	Ground []Area     `json:"ground,omitempty"`
	Found  []Found    `json:"found,omitempty"`
}

// Area is ground that the picture shows, with the chance to find the target there.
type Area struct {
	Ring   [][2]float64 `json:"ring"`   // longitude, latitude
	Pixels float64      `json:"pixels"` // that the target's narrow side spans
	Chance float64      `json:"chance"`
}

// Found is one candidate on the ground.
type Found struct {
	Pixel      [2]int    `json:"pixel"` // of the picture as it is stored
	Long       float64   `json:"long_m"`
	Wide       float64   `json:"wide_m"`
	Colour     string    `json:"colour"` // #rrggbb
	Score      float64   `json:"score"`
	At         geo.Place `json:"at"`
	Error      float64   `json:"error_m"`
	Crop       []byte    `json:"crop,omitempty"` // JPEG
	CropMiddle [2]int    `json:"crop_middle,omitzero"`
	CropSize   [2]int    `json:"crop_size,omitzero"`
	LongPixels float64   `json:"long_pixels"`
	Cut        bool      `json:"cut,omitempty"` // the picture's edge cuts it off
}

// Strip takes out of p what only the page needs.
func (p *Picture) Strip() {
	for i := range p.Found {
		p.Found[i].Crop = nil
	}
}

// Limits of what is looked at.
const (
	mostPixels   = 80e6      // of a picture
	mostBytes    = 200 << 20 // of a file
	farFromPad   = 20e3      // m: beyond it a picture is not of this flight
	clockApart   = 48 * time.Hour
	leastAcross  = 1.5  // pixels that the narrow side must span for ground to be looked at
	largePicture = 25e6 // pixels; such pictures are looked at one at a time, for memory's sake
)
