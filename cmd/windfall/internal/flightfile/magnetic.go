package flightfile

import (
	"errors"
	"strings"

	"windfall/geo"
	"windfall/geo/compass"
	"windfall/geo/magnetic"
	"windfall/geo/quantity"
)

// direction reads a direction in degrees true, 0 to 360, or magnetic:
// "240 deg", "240 mag", or a point of the compass.
func (f *File) direction(d *decoder, n *node) float64 {
	if n == nil {
		return 0
	}
	if p, ok := compass.Point(d.text(n)); ok {
		d.assume("%s: %s read as %g deg, %.0f deg either way", n.path, n.text, p.Deg, p.SD)
		return p.Deg
	}
	v, mag, err := splitMagnetic(d.text(n))
	if err != nil {
		d.fail(n, "%v", err)
		return 0
	}
	if v < 0 || v > 360 {
		d.fail(n, "%q is not a direction; write 0 deg to 360 deg, clockwise from true north", n.text)
	}
	if mag {
		dec, err := f.declination()
		if err != nil {
			d.fail(n, "%q is magnetic: %v", n.text, err)
		}
		v += dec
	}
	return geo.NormDeg(v)
}

// splitMagnetic reads degrees and tells whether they are magnetic.
func splitMagnetic(s string) (v float64, mag bool, err error) {
	s = strings.TrimSpace(s)
	if num, ok := strings.CutSuffix(s, "mag"); ok && num != "" {
		if v, err = quantity.Parse(strings.TrimSpace(num)+" deg", quantity.Angle); err != nil {
			return 0, true, errors.New(`"` + s + `" is no bearing; write one such as 240 mag`)
		}
		return v, true, nil
	}
	v, err = quantity.Parse(s, quantity.Angle)
	return v, false, err
}

// declination returns the angle from true to magnetic north at the pad at the
// launch time, degrees east.
func (f *File) declination() (float64, error) {
	if f.Flight.When.IsZero() {
		return 0, errors.New("the launch time must be known, write when: 2026-03-14T10:30:00+01:00, or a true bearing " +
			"such as 240 deg")
	}
	return magnetic.Declination(f.Flight.Site.Pad, f.Flight.Site.Elevation, f.Flight.When)
}
