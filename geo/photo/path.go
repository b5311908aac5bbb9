package photo

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"
	"github.com/twpayne/go-gpx"
)

// Fix is where a drone was at a time, and which way its camera looked where its
// log says so.
type Fix struct {
	Time    time.Time
	At      orb.Point // longitude, latitude
	Above   *float64  // m above take-off
	Heading *float64  // degrees true
	Pitch   *float64  // degrees above the horizontal
}

// Path is a drone's log in the order of time.
type Path []Fix

const mostFixes = 1 << 20

// ReadPath reads a flight path: a GPX track, whose elevations are left aside
// because they are above the sea, or a CSV table with the columns time,
// latitude and longitude and, where it has them, height (m above take-off),
// heading and pitch (degrees). Times are RFC 3339, or seconds since 1970.
func ReadPath(r io.Reader) (Path, error) {
	data, err := io.ReadAll(io.LimitReader(r, 64<<20+1))
	if err != nil {
		return nil, err
	}
	if len(data) > 64<<20 {
		return nil, errors.New("is larger than 64 MiB; cut the log to the search flight")
	}
	text := strings.TrimPrefix(string(data), "\ufeff")
	var p Path
	if strings.HasPrefix(strings.TrimSpace(text), "<") {
		p, err = pathGPX(text)
	} else {
		p, err = pathCSV(text)
	}
	if err != nil {
		return nil, err
	}
	if len(p) < 2 {
		return nil, errors.New("has fewer than two positions with a time")
	}
	sort.SliceStable(p, func(i, j int) bool { return p[i].Time.Before(p[j].Time) })
	return p, nil
}

func pathGPX(text string) (Path, error) {
	g, err := gpx.Read(strings.NewReader(text))
	if err != nil {
		return nil, fmt.Errorf("is no GPX file: %w", err)
	}
	var p Path
	for _, t := range g.Trk {
		for _, s := range t.TrkSeg {
			for _, w := range s.TrkPt {
				if !w.Time.IsZero() {
					p = append(p, Fix{Time: w.Time, At: orb.Point{w.Lon, w.Lat}})
				}
			}
		}
	}
	return p, nil
}

// columns are the names that a table's columns may have.
var columns = map[string][]string{
	"time":      {"time", "timestamp", "datetime", "utc"},
	"latitude":  {"latitude", "lat"},
	"longitude": {"longitude", "lon", "lng"},
	"height":    {"height", "height_m", "relative_altitude", "height_above_takeoff"},
	"heading":   {"heading", "yaw", "gimbal_yaw"},
	"pitch":     {"pitch", "gimbal_pitch"},
}

func pathCSV(text string) (Path, error) {
	c := csv.NewReader(strings.NewReader(text))
	c.FieldsPerRecord, c.TrimLeadingSpace = -1, true
	head, err := c.Read()
	if err != nil {
		return nil, fmt.Errorf("is no CSV table: %w", err)
	}
	col := map[string]int{}
	for name, as := range columns {
		col[name] = -1
		for i, h := range head {
			for _, a := range as {
				if strings.EqualFold(strings.TrimSpace(h), a) && col[name] < 0 {
					col[name] = i
				}
			}
		}
	}
	for _, name := range []string{"time", "latitude", "longitude"} {
		if col[name] < 0 {
			return nil, fmt.Errorf("line 1: has no column %q; its columns are %s", name, strings.Join(head, ", "))
		}
	}
	var p Path
	for line := 2; ; line++ {
		row, err := c.Read()
		if errors.Is(err, io.EOF) {
			return p, nil
		}
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", line, err)
		}
		f, err := fixOf(row, col)
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", line, err)
		}
		if p = append(p, f); len(p) > mostFixes {
			return nil, fmt.Errorf("line %d: has more than %d positions; cut the log to the search flight", line, mostFixes)
		}
	}
}

func fixOf(row []string, col map[string]int) (f Fix, err error) {
	cell := func(name string) string {
		if i := col[name]; i >= 0 && i < len(row) {
			return strings.TrimSpace(row[i])
		}
		return ""
	}
	number := func(name string, most float64) *float64 {
		s := cell(name)
		if s == "" || err != nil {
			return nil
		}
		v, e := strconv.ParseFloat(s, 64)
		if e != nil || !(math.Abs(v) <= most) {
			err = fmt.Errorf("%s %q is not a number up to %g", name, s, most)
			return nil
		}
		return &v
	}
	lat, lon := number("latitude", 90), number("longitude", 180)
	f.Above, f.Heading, f.Pitch = number("height", 10e3), number("heading", 360), number("pitch", 180)
	if err != nil {
		return f, err
	}
	if lat == nil || lon == nil {
		return f, errors.New("latitude or longitude is empty")
	}
	f.At = orb.Point{*lon, *lat}
	s := cell("time")
	if sec, e := strconv.ParseFloat(s, 64); e == nil && sec > 0 && sec < 1e11 {
		f.Time = time.UnixMilli(int64(sec * 1000)).UTC()
		return f, nil
	}
	if f.Time, err = time.Parse(time.RFC3339Nano, strings.Replace(s, " ", "T", 1)); err != nil {
		return f, fmt.Errorf("time %q; write one such as 2026-03-14T10:30:00Z, or seconds since 1970", s)
	}
	return f, nil
}

// mostGap is how far apart two positions may be for a picture between them.
const mostGap = 5 * time.Second

// At returns the fix at a time, between the two about it; ok is false outside
// the path and in gaps of more than five seconds.
func (p Path) At(t time.Time) (f Fix, ok bool) {
	i := sort.Search(len(p), func(i int) bool { return p[i].Time.After(t) })
	if i == 0 || i == len(p) && t.Sub(p[i-1].Time) > 0 {
		return f, false
	}
	if i == len(p) {
		return p[i-1], true
	}
	a, b := p[i-1], p[i]
	gap := b.Time.Sub(a.Time)
	if gap > mostGap {
		return f, false
	}
	s := t.Sub(a.Time).Seconds() / gap.Seconds()
	mix := func(u, v float64) float64 { return u + s*(v-u) }
	f = Fix{Time: t, At: orb.Point{a.At[0] + s*math.Remainder(b.At[0]-a.At[0], 360), mix(a.At[1], b.At[1])}}
	if a.Above != nil && b.Above != nil {
		v := mix(*a.Above, *b.Above)
		f.Above = &v
	}
	if a.Heading != nil && b.Heading != nil {
		v := math.Mod(*a.Heading+s*math.Remainder(*b.Heading-*a.Heading, 360)+360, 360)
		f.Heading = &v
	}
	if a.Pitch != nil && b.Pitch != nil {
		v := mix(*a.Pitch, *b.Pitch)
		f.Pitch = &v
	}
	return f, true
}

// Fill puts what the path says at the picture's time where the picture itself
// says nothing.
func (m *Meta) Fill(p Path) {
	f, ok := p.At(m.Time)
	if !ok {
		return
	}
	if m.At == nil {
		m.At = &f.At
	}
	if m.AboveStart == nil {
		m.AboveStart = f.Above
	}
	if m.Direction == nil {
		m.Direction = f.Heading
	}
	if m.Pitch == nil {
		m.Pitch = f.Pitch
	}
}
