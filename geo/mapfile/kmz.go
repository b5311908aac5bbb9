package mapfile

import (
	"archive/zip"
	"image"
	"io"
	"math"

	"github.com/twpayne/go-kml/v3"
)

// KMZ writes l as a KMZ: doc.kml first, the chance picture as a ground overlay
// under everything else, the icons, and a legend that can be switched on. No file has a date.
func KMZ(w io.Writer, l *Landing) error {
	l = l.ready()
	doc := document(l, true)
	z := zip.NewWriter(w)
	files := map[string]image.Image{}
	var order []string
	put := func(name string, img image.Image) {
		files[name] = img
		order = append(order, name)
	}
	if o := l.Overlay(); o != nil {
		for i, piece := range o.split() {
			name := []string{"chance.png", "chance-2.png"}[i]
			put(name, piece.Image)
			doc.Append(kml.GroundOverlay(kml.Name("Chance"),
				kml.Description("The darker, the likelier. Ground without colour holds half a percent at most."),
				kml.DrawOrder(0), kml.Icon(kml.Href(name)),
				kml.LatLonBox(kml.North(piece.North), kml.South(piece.South), kml.East(piece.East), kml.West(piece.West))))
		}
	}
	put("legend.png", legendImage(l))
	doc.Append(kml.ScreenOverlay(kml.Name("Legend"), kml.Visibility(false), kml.Icon(kml.Href("legend.png")),
		kml.OverlayXY(kml.Vec2{X: 0, Y: 1, XUnits: kml.UnitsFraction, YUnits: kml.UnitsFraction}),
		kml.ScreenXY(kml.Vec2{X: 8, Y: 8, XUnits: kml.UnitsPixels, YUnits: kml.UnitsInsetPixels})))
	for _, ic := range icons(l) {
		put("icons/"+ic.name+".png", ic.img)
	}
	out, err := z.Create("doc.kml")
	if err != nil {
		return err
	}
	if err := kml.KML(doc).WriteIndent(out, "", " "); err != nil {
		return err
	}
	for _, name := range order {
		data, err := pngBytes(files[name])
		if err != nil {
			return err
		}
		out, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store}) // PNG is packed already
		if err != nil {
			return err
		}
		if _, err := out.Write(data); err != nil {
			return err
		}
	}
	return z.Close()
}

// split parts an overlay at the antimeridian, where KML's longitudes end; the
// meridian is an edge between two columns by then.
func (o *Overlay) split() []*Overlay {
	shiftBy := 0.0
	if o.West < -180 {
		shiftBy = 360
	}
	west, east := o.West+shiftBy, o.East+shiftBy
	if east <= 180 {
		return []*Overlay{{o.Image, o.North, o.South, round8(east), round8(west)}}
	}
	if west >= 180 {
		return []*Overlay{{o.Image, o.North, o.South, round8(east - 360), round8(west - 360)}}
	}
	b := o.Image.Bounds()
	n := int(math.Round((180 - west) / (east - west) * float64(b.Dx())))
	left := o.Image.SubImage(image.Rect(0, 0, n, b.Dy())).(*image.Paletted)
	right := o.Image.SubImage(image.Rect(n, 0, b.Dx(), b.Dy())).(*image.Paletted)
	return []*Overlay{
		{left, o.North, o.South, 180, round8(west)},
		{right, o.North, o.South, round8(east - 360), -180},
	}
}
