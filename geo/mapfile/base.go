package mapfile

import (
	"image"
	"math"

	"gonum.org/v1/plot/vg"

	"windfall/geo"
	"windfall/geo/ink"
	"windfall/geo/plane"
)

// Base is a picture of the ground that a map's picture is laid over. Draw draws
// a box of a frame, width by height pixels, north up; what it does not know is
// transparent.
type Base struct {
	Credit string // whose it is; said on the picture
	Draw   func(f geo.Frame, b plane.Box, width, height int) image.Image
}

// washed is how much of a base map is whitened, so that the chance and the lanes
// stand out from it: a choice of ours, held to differences of lightness by a test.
const washed = 0.42

// creditRoom is how many units the credit takes at the top of the map.
const creditRoom = 14

// base draws the base map under all else.
func (k *canvas) base(l *Landing, scale float64) {
	if l.Base == nil {
		return
	}
	size := k.box.Size()
	width, height := int(math.Round(size.X.Points()*scale)), int(math.Round(size.Y.Points()*scale))
	k.DrawImage(k.box, l.Base.Draw(l.Frame, k.window(), width, height))
	k.SetColor(ink.Faded(ink.Paper, washed))
	k.Fill(rectPath(k.box))
	if l.Base.Credit != "" {
		k.top = creditRoom
	}
}

// credit says whose the base map is, in the upper left.
func (k *canvas) credit(l *Landing) {
	if k.top == 0 {
		return
	}
	text := k.fit("map: "+clean(l.Base.Credit), letters{size: 8.5}, k.box.Size().X-k.unit*50)
	k.note(text, vg.Point{X: k.box.Min.X + k.unit*3, Y: k.box.Max.Y - k.unit*10}, 0)
}
