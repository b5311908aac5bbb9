// Package track reads the tracks that phones and drones keep (GPX 1.1) and
// makes of them the ground that was really gone over.
//
//	io.Reader -> Read -> *Track as recorded -> Clean -> *Walked, straight ways
//
// What cannot have been searched is taken out and said: fixes that jump away and
// back, stretches without fixes, stretches faster than anybody searches, such as
// the drive home with the recorder still running. Places are longitude and
// latitude in a Track, metres of a frame in a Walked. Sweep widths and chances
// are the planner's affair.
package track

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/paulmach/orb"
	"github.com/twpayne/go-gpx"

	"windfall/geo/textin"
)

// Limits of what Read takes.
const (
	MaxBytes = 24 << 20 // a day of fixes every second is about 10 MB
	maxDepth = 40       // of nested elements; GPX needs 6
	maxFixes = 400000
)

// Fix is one recorded position. Time is zero when the track has none.
type Fix struct {
	At   orb.Point
	Time time.Time
}

// Track is a recording: segments of fixes in the order of the file.
type Track struct{ Segments [][]Fix }

// Read reads the tracks of a GPX file; name stands in messages. Files above
// MaxBytes, with a document type declaration or nested too deep are refused
// before anything is built from them.
func Read(r io.Reader, name string) (*Track, error) {
	b, err := textin.Read(r, name, MaxBytes, "cut the track to the search, or record a fix every few seconds")
	if err != nil {
		return nil, err
	}
	if err := guard(b, name); err != nil {
		return nil, err
	}
	g, err := gpx.Read(bytes.NewReader(b))
	if err != nil {
		return nil, fmt.Errorf("%s: not GPX 1.1 (%s); export the track again as GPX", name, oneLine(err))
	}
	t, n := &Track{}, 0
	for _, tr := range g.Trk {
		for _, sg := range tr.TrkSeg {
			var seg []Fix
			for _, p := range sg.TrkPt {
				n++
				if n > maxFixes {
					return nil, fmt.Errorf("%s: more than %d fixes; cut the track to the search", name, maxFixes)
				}
				if !(math.Abs(p.Lat) <= 90 && math.Abs(p.Lon) <= 180) {
					return nil, fmt.Errorf("%s: fix %d: lat %g, lon %g is no place; export the track again", name, n, p.Lat, p.Lon)
				}
				seg = append(seg, Fix{orb.Point{p.Lon, p.Lat}, p.Time})
			}
			if len(seg) > 0 {
				t.Segments = append(t.Segments, seg)
			}
		}
	}
	if n == 0 {
		if len(g.Rte) > 0 {
			return nil, fmt.Errorf("%s: holds a planned route, no recorded track; export the track itself", name)
		}
		return nil, fmt.Errorf("%s: holds no track points; export the recorded track as GPX", name)
	}
	return t, nil
}

// guard walks the tokens once without keeping them.
func guard(b []byte, name string) error {
	d := xml.NewDecoder(bytes.NewReader(b))
	d.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil }
	depth := 0
	at := func() int { return 1 + bytes.Count(b[:d.InputOffset()], []byte("\n")) }
	for {
		t, err := d.RawToken()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("%s:%d: not XML (%s); export the track again as GPX", name, at(), oneLine(err))
		}
		switch t.(type) {
		case xml.Directive:
			return fmt.Errorf("%s:%d: a document type declaration; GPX has none, export the track again", name, at())
		case xml.StartElement:
			if depth++; depth > maxDepth {
				return fmt.Errorf("%s:%d: elements nested more than %d deep; this is no GPX file", name, at(), maxDepth)
			}
		case xml.EndElement:
			depth--
		}
	}
}

func oneLine(err error) string { return strings.ReplaceAll(err.Error(), "\n", " ") }
