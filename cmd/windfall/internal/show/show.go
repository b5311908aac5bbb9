// Package show prints the documents of windfall for people: a map, a plan, what
// is left, how well a map had done, a comparison, a wind. It computes nothing.
package show

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"windfall/geo"
	"windfall/geo/place"
	"windfall/geo/quantity"
)

// JSON writes v as the one document there is on w.
func JSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	err := enc.Encode(v)
	var bad *json.UnsupportedValueError
	if errors.As(err, &bad) {
		return fmt.Errorf("a result is not a number (%s): please report this", bad.Str)
	}
	return err
}

// Printer writes lines and keeps the first error.
type Printer struct {
	w     io.Writer
	quiet bool
	err   error
}

// To is a printer to w.
func To(w io.Writer) *Printer {
	_, quiet := w.(quiet)
	return &Printer{w: w, quiet: quiet}
}

// Quiet is w for printers that leave out hints and files written.
func Quiet(w io.Writer) io.Writer { return quiet{w} }

type quiet struct{ io.Writer }

// F prints a line, spaces at its end cut.
func (p *Printer) F(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintln(p.w, strings.TrimRight(fmt.Sprintf(format, args...), " "))
	}
}

// List prints lines with a word before each, after an empty line.
func (p *Printer) List(head string, lines []string) {
	if len(lines) > 0 {
		p.F("")
	}
	for _, l := range lines {
		p.F("%s: %s", head, l)
	}
}

// Hint prints a line that is no result: what to do next.
func (p *Printer) Hint(format string, args ...any) {
	if !p.quiet {
		p.F(format, args...)
	}
}

// Wrote lists the files written.
func (p *Printer) Wrote(files []string) {
	if !p.quiet {
		p.List("wrote", files)
	}
}

// Err returns the first error of writing.
func (p *Printer) Err() error { return p.err }

// fromPad says where a place lies from the pad.
func fromPad(q geo.Place) string {
	v := geo.XY{X: q.East, Y: q.North}
	if v.Norm() < 0.5 {
		return "on the pad"
	}
	return fmt.Sprintf("%.0f m from the pad on bearing %03.0f", v.Norm(), wholeBearing(v.BearingDeg()))
}

// wholeBearing is a bearing in whole degrees, 0 to 359.
func wholeBearing(deg float64) float64 { return math.Mod(math.Round(deg), 360) }

// placeText writes a place in the local grid and in degrees.
func placeText(q geo.Place) string {
	p := orb.Point{q.Lon, q.Lat}
	return place.Format(p, place.Local(p)) + "   " + place.Format(p, place.Decimal)
}

func hectares(m2 float64) string { return quantity.Hectares(m2) }

// percent writes a chance with its standard error.
func percent(p, se float64) string { return fmt.Sprintf("%5.1f %% (+- %.1f)", 100*p, 100*se) }

// count writes a number of things.
func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// orNobody is a name for people, where there may be none.
func orNobody(by string) string {
	if by == "" {
		return "(no name)"
	}
	return by
}
