package newflight

import (
	"encoding/json"
	"math"
	"path/filepath"
	"time"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
)

// practiceName is the forecast that a demo's folder holds.
const practiceName = "practice-forecast.json"

// practiceForecast is a made-up forecast around a launch, hourly in the form
// that forecast services answer in: a calm morning, a breeze that rises and
// turns until the afternoon, an evening that settles. It is for trying the
// program without a network, and for no flight.
func practiceForecast(at [2]float64, elevation float64, launch time.Time) ([]byte, error) {
	day := launch.UTC().Truncate(time.Hour).Add(-4 * time.Hour)
	levels := []struct {
		name          string
		faster, veers float64 // than the wind at 10 m, and clockwise from it in degrees
	}{{"10m", 1, 0}, {"80m", 1.5, 4}, {"180m", 1.8, 8}, {"900hPa", 2.2, 15}, {"850hPa", 2.5, 22}}
	const hours = 11
	series := map[string]any{}
	put := func(key string, f func(h float64) float64) {
		v := make([]float64, hours)
		for i := range v {
			v[i] = math.Round(10*f(float64(i))) / 10
		}
		series[key] = v
	}
	breeze := func(h float64) float64 { return 1.5 + 4.5*math.Pow(math.Sin(math.Pi*h/(hours-1)), 2) } // m/s at 10 m
	for _, l := range levels {
		put("wind_speed_"+l.name, func(h float64) float64 { return breeze(h) * l.faster })
		put("wind_direction_"+l.name, func(h float64) float64 { return math.Mod(150+9*h+l.veers, 360) })
	}
	put("geopotential_height_900hPa", func(float64) float64 { return elevation + 450 })
	put("geopotential_height_850hPa", func(float64) float64 { return elevation + 950 })
	var times []string
	for i := range hours {
		times = append(times, day.Add(time.Duration(i)*time.Hour).Format("2006-01-02T15:04"))
	}
	series["time"] = times
	units := map[string]string{"time": "iso8601"}
	for _, l := range levels {
		units["wind_speed_"+l.name], units["wind_direction_"+l.name] = "m/s", "°"
	}
	units["geopotential_height_900hPa"], units["geopotential_height_850hPa"] = "m", "m"
	text, err := json.MarshalIndent(map[string]any{
		"note": "invented for practice: no weather service made it", "latitude": at[1], "longitude": at[0],
		"elevation":          elevation,
		"utc_offset_seconds": 0, "timezone": "GMT", "hourly_units": units, "hourly": series,
	}, "", " ")
	return append(text, '\n'), err
}

// AddPractice puts a made-up forecast beside a new flight.
func AddPractice(file string) error {
	f, err := flightfile.Read(file)
	if err != nil {
		return err
	}
	text, err := practiceForecast(f.Flight.Site.Pad, f.Flight.Site.Elevation, f.Flight.When)
	if err != nil {
		return err
	}
	set := outdir.Open(filepath.Dir(file))
	defer set.Discard()
	if err := set.Bytes(practiceName, text); err != nil {
		return err
	}
	_, err = set.Commit()
	return err
}
