// Package ink holds what every picture of the program shares: its colours and
// the round figures of its scales. It draws nothing.
//
// The colours keep apart by lightness first and by blue against yellow second,
// the differences that red-green blindness, grey printing and glare leave.
package ink

import (
	"image/color"
	"math"
)

// RGB is an opaque colour, 0xRRGGBB.
func RGB(hex uint32) color.NRGBA {
	return color.NRGBA{uint8(hex >> 16), uint8(hex >> 8), uint8(hex), 255}
}

// Faded returns c with an alpha of 0 to 1.
func Faded(c color.NRGBA, alpha float64) color.NRGBA {
	c.A = uint8(math.Round(255 * alpha))
	return c
}

// The colours by name, with what they stand for.
var (
	Dark  = RGB(0x16161D) // letters, frames, contours
	Paper = RGB(0xFFFFFF)
	Blue  = RGB(0x0B4F8A) // the pad, wind, landings in the field
	Red   = RGB(0xC8102E) // ground to keep out of, barriers
	Rust  = RGB(0xD13B1F) // landings outside the field
	Teal  = RGB(0x0FA3A3) // sightings
	Brown = RGB(0x8A4B08) // shed parts
	Amber = RGB(0xD97B0C) // measured levels
	Grey  = RGB(0x6B7280) // what is past: ground searched, single members
	Slate = RGB(0x4B5260) // notes
	Mist  = RGB(0xBBBBBB) // frames of small panels
	Hair  = RGB(0xD6DAE0) // lines of a chart's grid
	Moss  = RGB(0x3F6B3A) // outlines of the field and of named places on a map
	Leaf  = RGB(0x4C6B2F) // the field's edge in a small panel
	Field = RGB(0xE6EFDA) // the field's ground in a small panel
	Cream = RGB(0xFFF6CC) // likely spots
)

// Series are the lines of a chart, in order.
var Series = [...]color.NRGBA{Blue, RGB(0xE06A3C), RGB(0x5E2A86), RGB(0x1B9E8C), RGB(0xC99A06), Dark}

// Searchers are the searchers' colours in order; beside them each has a dash
// pattern and a letter of its own.
var Searchers = [...]color.NRGBA{
	RGB(0xFFD23F), RGB(0x2D7DF6), RGB(0xC2247A), RGB(0x5EEAD4), RGB(0xFF8C42), RGB(0xB9A6FF),
}

// Searcher is the colour of the searcher counted i from 0.
func Searcher(i int) color.NRGBA { return Searchers[i%len(Searchers)] }

// On is Dark or Paper, whichever reads better on c.
func On(c color.NRGBA) color.NRGBA {
	if 0.299*float64(c.R)+0.587*float64(c.G)+0.114*float64(c.B) > 110 {
		return Dark
	}
	return Paper
}

// Contour is the line of an area of that probability on a map over pictures of
// the ground: the more probable, the stronger.
func Contour(probability float64) color.NRGBA {
	switch {
	case probability <= 0.5:
		return Paper
	case probability <= 0.75:
		return RGB(0xFFE680)
	case probability <= 0.9:
		return RGB(0xFFB347)
	}
	return RGB(0xF07A5A)
}
