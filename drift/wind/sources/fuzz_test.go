package sources

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// launches are the times for which the fuzzers read: none, and one at which
// the fixtures have wind.
var launches = []time.Time{{}, at2026(4, 18, 9, 30), time.Date(2010, 6, 1, 1, 0, 0, 0, time.UTC)}

// sound holds whatever a reader accepts to what its users rely on.
func sound(t *testing.T, data []byte) {
	for _, when := range launches {
		opt := Options{When: when}
		if !when.IsZero() {
			opt.Elevation, opt.Declination = ptr(400), ptr(-1)
		}
		r, err := Read("f", bytes.NewReader(data), opt)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "f:") || strings.Contains(err.Error(), "\n") {
				t.Fatalf("error %q does not begin with the file or has a line break", err)
			}
			continue
		}
		if len(r.Levels) == 0 {
			t.Fatal("accepted without a level")
		}
		for i, l := range r.Levels {
			bad := math.IsNaN(l.Height) || math.IsInf(l.Height, 0) || !(l.Speed >= 0 && l.Speed <= maxSpeed+1e-9) || !(l.SD > 0) || math.IsInf(l.SD, 0)
			bad = bad || l.FromDeg < 0 || l.FromDeg > 360 || (i > 0 && l.Height < r.Levels[i-1].Height)
			if bad || (math.IsNaN(l.FromDeg) && r.Kind != Airport) {
				t.Fatalf("level %d: %+v", i, l)
			}
		}
		cs, err := r.Choices(opt)
		if err != nil {
			continue // all levels below the pad
		}
		for _, c := range cs {
			if err := c.Profile.Check(); err != nil && !strings.Contains(err.Error(), "roughness") {
				t.Fatalf("profile: %v", err)
			}
		}
		if _, err := Combine([]Item{{Report: r}, {Report: r, Weight: 2}}, opt); err != nil {
			t.Fatalf("combine: %v", err)
		}
	}
}

// seeds adds the fixtures, whole and cut short.
func seeds(f *testing.F, names ...string) {
	for _, n := range names {
		b, err := os.ReadFile(filepath.Join("testdata", n))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
		f.Add(b[:len(b)/2])
	}
}

func FuzzIGRA(f *testing.F) {
	seeds(f, "igra.txt")
	f.Fuzz(func(t *testing.T, data []byte) {
		sound(t, append([]byte("#USM00070026 2010 06 01 00 2303   23 ncdc6301 ncdc6301  712889 -1567833\n"), data...))
		sound(t, data)
	})
}

func FuzzArchiveCSV(f *testing.F) {
	seeds(f, "archive.csv")
	f.Add([]byte("pressure_hPa,geopotential height_m,wind direction_degree,wind speed_knot\n900,1000,010,20\n850,,020,25\n"))
	f.Fuzz(sound)
}

func FuzzArchiveJSON(f *testing.F) {
	seeds(f, "archive.json", "nan.json")
	f.Add([]byte(`{"profiles":[{"valid":"2026-03-14T00:00:00Z","profile":[{"pres":950,"hght":NaN,"tmpc":10,"drct":null,"sknt":0}]}]}`))
	f.Fuzz(sound)
}

func FuzzForecast(f *testing.F) {
	seeds(f, "forecast.json", "ensemble.json")
	f.Add([]byte(`{"error":true,"reason":"no"}`))
	f.Fuzz(sound)
}

func FuzzMETAR(f *testing.F) {
	for _, s := range []string{reports, "METAR LEZZ 141030Z VRB03KT 9999 12/04 A2992 RMK AO2", "2026/03/01 00:20\nLEZZ 010020Z 210P99KT\n", "SPECI COR LEZZ 290000Z AUTO 00000MPS 320V030 M02/M11", "METAR\nLEZZ 141030Z 27065GP99KT="} {
		f.Add([]byte(s))
	}
	f.Fuzz(sound)
}

func FuzzCSV(f *testing.F) {
	for _, s := range []string{"height (m),from (deg),speed (kn)\n10,240,8\n300,255,20\n", "elevation,from,speed\n500 ft,240 mag,8 mph\n4000 ft,250 deg,12 kn\n", "# x\nheight;from (mag);speed\n2 m;0;0 m/s\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(sound)
}
