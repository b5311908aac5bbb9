package pictures

import (
	"fmt"
	"math"
	"path/filepath"
	"time"

	"windfall/geo/photo"
)

// Clock ties a camera's clock to the ignition.
type Clock struct {
	Ahead    *time.Duration // by which the camera's clock is ahead of the true time
	Ignition string         // a picture of the same camera, taken at ignition
}

// Witness is what a pixel of a picture says of where and when something was.
type Witness struct {
	Name, SHA256           string
	Pixel                  [2]float64 // of the picture held upright
	Data                   []byte
	Lat, Lon, Up           float64 // of the camera; Up is m above the pad
	Aloft                  bool    // it was carried by a drone, not by hand
	Bearing, BearingSD     float64 // degrees true
	Elevation, ElevationSD float64 // degrees above the horizontal, where Tilted
	Tilted                 bool
	After                  *float64 // s after the ignition; nil: not known
	Rests                  []string // what the numbers come from
}

// See makes a witness of a pixel (of the picture held upright).
func See(path string, pixel [2]float64, g photo.Given, s photo.Site, c Clock) (w Witness, err error) {
	x, y := pixel[0], pixel[1]
	data, m, err := open(path)
	if err != nil {
		return w, fmt.Errorf("%s: %w", path, err)
	}
	for _, p := range append([][2]float64{pixel}, g.Horizon...) {
		if err := inside(m, p); err != nil {
			return w, fmt.Errorf("%s: %w", path, err)
		}
	}
	if g.Landmark != nil {
		if err := inside(m, g.Landmark.Pixel); err != nil {
			return w, fmt.Errorf("%s: %w", path, err)
		}
	}
	v, err := m.View(g, s)
	if err != nil {
		return w, fmt.Errorf("%s: %w", path, err)
	}
	if away := v.Camera.At.Norm(); away > farFromPad {
		return w, fmt.Errorf("%s: %w", path, abroad(away))
	}
	at := s.Frame.ToLonLat(v.Camera.At)
	w = Witness{Name: filepath.Base(path), SHA256: hashOf(data), Data: data, Pixel: pixel,
		Lat: at.Lat(), Lon: at.Lon(), Up: v.Camera.Up,
		Aloft: v.Camera.Up-height(s, v.Camera.At) > 3, Tilted: v.Tilted, Rests: v.Rests}
	w.Bearing, w.Elevation = v.Camera.Sight(x, y)
	w.BearingSD, w.ElevationSD = v.SightSpread(x, y)
	w.After, err = c.after(m, s.When)
	if err != nil {
		return w, fmt.Errorf("%s: %w", path, err)
	}
	return w, nil
}

func inside(m *photo.Meta, p [2]float64) error {
	w, h := float64(m.Width), float64(m.Height)
	if p[0] < 0 || p[1] < 0 || p[0] > w || p[1] > h {
		return fmt.Errorf("pixel %g,%g lies outside the picture, which is %g wide and %g high", p[0], p[1], w, h)
	}
	return nil
}

// longestFlight bounds the time of a picture after ignition, s.
const longestFlight = 3600.0

// after returns the seconds from ignition to the picture; nil where its clock
// is not tied to it.
func (c Clock) after(m *photo.Meta, ignition time.Time) (*float64, error) {
	if c.Ahead == nil && c.Ignition == "" {
		return nil, nil
	}
	if m.Time.IsZero() {
		return nil, fmt.Errorf("the picture has no time; give --at")
	}
	var s float64
	if c.Ignition != "" {
		_, first, err := open(c.Ignition)
		if err != nil {
			return nil, fmt.Errorf("--ignition-photo %s: %w", c.Ignition, err)
		}
		if first.Time.IsZero() {
			return nil, fmt.Errorf("--ignition-photo %s has no time; give --clock-offset", c.Ignition)
		}
		s = shown(m.Time, time.UTC).Sub(shown(first.Time, time.UTC)).Seconds()
	} else {
		if ignition.IsZero() {
			return nil, fmt.Errorf("--clock-offset needs the time of the ignition: write when: in the flight file")
		}
		t := m.Time
		if !m.Zoned {
			t = shown(t, ignition.Location())
		}
		s = t.Add(-*c.Ahead).Sub(ignition).Seconds()
	}
	if s < -1 || s > longestFlight {
		return nil, fmt.Errorf("its clock puts it %s the ignition; give --at, or the right --clock-offset", span(s))
	}
	s = math.Max(s, 0)
	return &s, nil
}

// shown is the time in a zone whose clocks show what the camera's showed.
func shown(t time.Time, zone *time.Location) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), zone)
}

// span says seconds before or after in the largest unit that fits.
func span(s float64) string {
	side := "after"
	if s < 0 {
		s, side = -s, "before"
	}
	switch {
	case s >= 2*86400:
		return fmt.Sprintf("%.0f days %s", s/86400, side)
	case s >= 2*3600:
		return fmt.Sprintf("%.0f h %s", s/3600, side)
	}
	return fmt.Sprintf("%.0f s %s", s, side)
}
