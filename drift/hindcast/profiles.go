package hindcast

import (
	"bufio"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"windfall/drift/wind"
	"windfall/drift/wind/sources"
	"windfall/geo/sun"
)

// Profile is a wind of the past over a place.
type Profile struct {
	Source, Station string
	Place           orb.Point
	Time            time.Time
	wind.Profile
}

// Top is the height of the highest level, m.
func (p *Profile) Top() float64 { return p.Levels[len(p.Levels)-1].Height }

// SunDeg is how high the sun stands, degrees.
func (p *Profile) SunDeg() float64 {
	h, _ := sun.At(p.Time, p.Place)
	return h
}

// ReadProfiles reads a CSV with a heading and the columns profile, source,
// station, lat, lon, elevation_m, time_utc and levels, the last as
// "height:from:speed" with blanks between (m above ground, degrees true, m/s).
func ReadProfiles(name string, r io.Reader) ([]Profile, error) {
	in := csv.NewReader(r)
	var out []Profile
	for line := 1; ; line++ {
		row, err := in.Read()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		if line == 1 {
			continue
		}
		p, err := parseRow(row)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", name, line, err)
		}
		out = append(out, p)
	}
}

func parseRow(row []string) (p Profile, err error) {
	if len(row) != 8 {
		return p, fmt.Errorf("%d columns where 8 are wanted", len(row))
	}
	p.Source, p.Station = row[1], row[2]
	for i, s := range row[3:5] {
		if p.Place[1-i], err = strconv.ParseFloat(s, 64); err != nil {
			return p, err
		}
	}
	if p.Time, err = time.Parse("2006-01-02T15:04Z", row[6]); err != nil {
		return p, err
	}
	for _, s := range strings.Fields(row[7]) {
		var l wind.Level
		if _, err := fmt.Sscanf(s, "%g:%g:%g", &l.Height, &l.FromDeg, &l.Speed); err != nil {
			return p, fmt.Errorf("level %q: %w", s, err)
		}
		p.Levels = append(p.Levels, l)
	}
	p.South = p.Place[1] < 0
	p.VeerDeg = wind.DefaultVeer
	return p, p.Check()
}

// ReadIGRA reads every sounding of a station's file of the Integrated Global
// Radiosonde Archive, version 2, that has a wind near the ground and reaches
// 600 m; the others are counted.
func ReadIGRA(name string, r io.Reader) (out []Profile, passed int, err error) {
	in := bufio.NewScanner(r)
	var text strings.Builder
	add := func() {
		if text.Len() == 0 {
			return
		}
		if p, ok := oneSounding(name, text.String()); ok {
			out = append(out, p)
		} else {
			passed++
		}
		text.Reset()
	}
	for in.Scan() {
		if strings.HasPrefix(in.Text(), "#") {
			add()
		}
		text.WriteString(in.Text())
		text.WriteByte('\n')
	}
	add()
	return out, passed, in.Err()
}

// soundingTop is how high a sounding must reach to be flown in, m.
const soundingTop = 650.0

func oneSounding(name, text string) (p Profile, ok bool) {
	rep, err := sources.Read(name, strings.NewReader(text), sources.Options{})
	if err != nil || rep.Place == nil {
		return p, false
	}
	p = Profile{Source: "igra", Station: rep.Source, Place: *rep.Place, Time: rep.Valid}
	ground := rep.Levels[0].Elevation
	choices, err := rep.Choices(sources.Options{Elevation: &ground, Pad: rep.Place})
	if err != nil || len(choices) != 1 || len(choices[0].Profile.Levels) < 4 {
		return p, false
	}
	p.Profile = choices[0].Profile
	p.Spread = nil
	return p, p.Levels[0].Height <= 12 && p.Top() > soundingTop && !math.IsNaN(p.Place[0])
}
