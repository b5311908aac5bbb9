package place

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"windfall/geo/geotest"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/tidwall/geodesic"
	"pgregory.net/rapid"
)

func zoneOf(t *testing.T, s string) int {
	n, err := strconv.Atoi(s[:2])
	require.NoError(t, err)
	return n
}

func metres(a, b orb.Point) float64 {
	var s float64
	geodesic.WGS84.Inverse(a.Lat(), a.Lon(), b.Lat(), b.Lon(), &s, nil, nil)
	return s
}

// Source: testdata/utm_mgrs.csv, GeographicLib 2.1.2 GeoConvert, printed to
// 1 mm: 0.5 mm of rounding and as much of the printed digits of the degrees.
func TestUTMAgreesWithGeoConvert(t *testing.T) {
	for _, r := range geotest.Table(t, "utm_mgrs.csv") {
		p := orb.Point{r.Number("lon_wgs84"), r.Number("lat_wgs84")}
		zone, north := 0, strings.HasSuffix(r.Text("utm_zone_hemi"), "n")
		if len(r.Text("utm_zone_hemi")) == 3 {
			zone = zoneOf(t, r.Text("utm_zone_hemi"))
		}
		g := Grid{zone: zone, north: north}
		e, n := g.FromLonLat(p)
		assert.InDelta(t, r.Number("easting_m"), e, 1e-3, r.Text("note"))
		assert.InDelta(t, r.Number("northing_m"), n, 1e-3, r.Text("note"))
		back := g.ToLonLat(r.Number("easting_m"), r.Number("northing_m"))
		assert.Less(t, metres(p, back), 1e-3, r.Text("note"))
		if got := GridAt(p, UTM); p.Lon() != -108 && p.Lat() != 0 { // on edges either side is legal
			assert.Equal(t, g.zone, got.zone, r.Text("note"))
			assert.Equal(t, g.north, got.north, r.Text("note"))
			assert.Equal(t, r.Text("mgrs_1m"), Format(p, MGRS), r.Text("note"))
		}
		for _, ref := range []string{r.Text("mgrs_1m"), r.Text("mgrs_10m")} {
			q, err := Parse(ref)
			require.NoError(t, err, ref)
			cell := 1.0
			if ref == r.Text("mgrs_10m") {
				cell = 10
			}
			// From the middle of a square no point is further than half its
			// diagonal; the scale is within 0.7 % of 1.
			assert.Less(t, metres(p, q), cell*math.Sqrt2/2*1.01, ref)
		}
	}
}

// Source: testdata/british_grid.csv; tolerances are its column.
func TestBritishGridAgreesWithOrdnanceSurveyAndPROJ(t *testing.T) {
	for _, r := range geotest.Table(t, "british_grid.csv") {
		lat, lon, e0, n0 := r.Number("lat"), r.Number("lon"), r.Number("easting_m"), r.Number("northing_m")
		tol, err := strconv.ParseFloat(strings.Fields(r.Text("tolerance_m"))[0], 64)
		require.NoError(t, err)
		var e, n float64
		if strings.HasPrefix(r.Text("input_datum"), "OSGB36") {
			e, n = bngMercator.fromLonLat(lon, lat)
			lo, la := bngMercator.toLonLat(e0, n0)
			assert.InDelta(t, lat, la, tol/111e3, r.Text("grid_reference_10_digit"))
			assert.InDelta(t, lon, lo, tol/60e3, r.Text("grid_reference_10_digit"))
		} else {
			p := orb.Point{lon, lat}
			e, n = GridAt(p, BNG).FromLonLat(p)
			assert.Equal(t, r.Text("grid_reference_10_digit"), Format(p, BNG))
			q, err := Parse(r.Text("grid_reference_10_digit"))
			require.NoError(t, err)
			assert.Less(t, metres(p, q), math.Sqrt2/2+tol, r.Text("grid_reference_10_digit"))
		}
		assert.InDelta(t, e0, e, tol, r.Text("grid_reference_10_digit"))
		assert.InDelta(t, n0, n, tol, r.Text("grid_reference_10_digit"))
	}
}

// The point of every form is worked out by hand from the first.
func TestParseForms(t *testing.T) {
	want := orb.Point{-5.5831, 39.0512}
	for _, s := range []string{
		"39.0512, -5.5831", "39.0512,-5.5831", "39.0512 -5.5831", "39.0512; −5.5831", "+39.0512, -5.5831",
		"39.0512N 5.5831W", "N39.0512 W5.5831", "n 39.0512, w 5.5831", "W5.5831 N39.0512", "5.5831°W, 39.0512°N",
		"39°03.072'N 5°34.986'W", "39 3.072 N, 5 34.986 W", "39 3.072 N 5 34.986 W", "39°03.072′ -5°34.986′",
		`39°03'04.32"N 5°34'59.16"W`, "39 3 4.32 N, 5 34 59.16 W", "39:03:04.32 -5:34:59.16", "39:03:04.32N 5:34:59.16W",
		"39° 3′ 4.32″ N, 5° 34′ 59.16″ W", "39 3 4.32 -5 34 59.16", "39°03''04.32", "geo:39.0512,-5.5831",
		"39 deg 3 min 4.32'' N 5 deg 34 min 59.16'' W",
	} {
		p, err := Parse(s)
		if s == "39°03''04.32" { // two primes are seconds, and half a place is missing
			assert.Error(t, err)
			continue
		}
		if assert.NoError(t, err, s) {
			assert.InDelta(t, want.Lon(), p.Lon(), 1e-12, s)
			assert.InDelta(t, want.Lat(), p.Lat(), 1e-12, s)
		}
	}
	for _, s := range []string{"30N 276470 4325634", "30 N 276470 4325634", "30STJ7647025634", "30S TJ 76470 25634",
		"30stj 7647 2563", "30STJ764256"} {
		p, err := Parse(s)
		if assert.NoError(t, err, s) {
			assert.Less(t, metres(want, p), 60.0, s)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for s, say := range map[string]string{
		"":                                "is empty; write one such as",
		"over there":                      "write one such as",
		"91, 5":                           "has latitude 91, beyond 90; the latitude comes first",
		"5, 181":                          "has longitude 181, beyond 180",
		"39,0512, -5,5831":                "more than one comma",
		"39°61'N 5°W":                     "60 or more minutes",
		"39 3 60 N, 5 W":                  "60 or more minutes",
		"-39.05N, 5W":                     "both a minus sign and a letter",
		"39N 5N":                          "needs one of N, S and one of E, W",
		"39N, 5":                          "needs one of N, S and one of E, W",
		"39.5 3, 5":                       "where an angle belongs",
		"NaN, 5":                          "where an angle belongs",
		"1e1, 5":                          "needs one of N, S and one of E, W",
		"0x10, 5":                         "where an angle belongs",
		"61N 276470 4325634":              "has no zone 61",
		"0N 276470 4325634":               "has no zone 0",
		"30I 276470 4325634":              "has no band I",
		"30S 276470 4325634":              "could mean the southern hemisphere or band S",
		"30N 4325634 276470":              "comes before the northing",
		"30N 276470 14325634":             "lies between 0 and 10000000",
		"30C 276470 4325634":              "lies in band",
		"30STJ764702563":                  "has 9 figures",
		"30STJ":                           "has 0 figures",
		"30STJ7625":                       "has 4 figures; write 6 (100 m), 8 (10 m) or 10 (1 m)",
		"30SAA7647025634":                 "has no square AA in zone 30S",
		"61STJ7647025634":                 "has no zone 61",
		"SI 12345 67890":                  "has no square SI in the British National Grid",
		"AA 12345 67890":                  "has no square AA in the British National Grid",
		"SK 12345 6789":                   "has 9 figures",
		"UPS N 9e9 1":                     "write one such as",
		"UPS N 99999999 1":                "is not near a pole",
		strings.Repeat("9", 5000) + ", 5": "too long",
	} {
		_, err := Parse(s)
		if assert.Error(t, err, s) {
			assert.Contains(t, err.Error(), say)
			assert.NotContains(t, err.Error(), "\n")
		}
	}
}

// Half the diagonal of the last written digit, in metres, bounds what Format
// followed by Parse may move a point.
var resolution = map[Style]float64{
	Decimal: 0.08, DegMin: 0.14, DegMinSec: 0.23, UTM: 0.72, MGRS: 0.72, BNG: 0.72,
}

func TestFormatThenParseComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon"), rapid.Float64Range(-90, 90).Draw(t, "lat")}
		if rapid.Bool().Draw(t, "british") {
			p = orb.Point{rapid.Float64Range(-8, 3).Draw(t, "lon"), rapid.Float64Range(49.5, 61).Draw(t, "lat")}
		}
		for st, m := range resolution {
			s := Format(p, st)
			q, err := Parse(s)
			if err != nil {
				t.Fatalf("%v %s: %v", p, s, err)
			}
			if d := metres(p, q); d > m {
				t.Fatalf("%v as %v is %s, which reads as %v, %g m away", p, st, s, q, d)
			}
		}
	})
}

// Awkward places: poles, the antimeridian, the equator, zone and band edges,
// the corners of the British grid.
func TestAwkwardPlacesComeBack(t *testing.T) {
	for _, p := range []orb.Point{
		{0, 90}, {0, -90}, {123, 90}, {180, 0}, {-180, 0}, {180, 89.9999}, {179.9999999, 12}, {-179.9999999, -12}, {0, 0},
		{0, -1e-9}, {-1e-9, 0}, {6, 56}, {3, 60}, {12, 63.9999}, {9, 75}, {21, 80}, {33, 83.9}, {42, 72}, {20, 84}, {20, -80},
		{20, -80.0001}, {5, 40}, {5, 8}, {5, 31.99999999}, {-65, -52}, {-1.999999999, 49.9}, {-7.55, 49.77}, {3, 61}, {1.9, 49.78},
		{11.9999999, 56}, {59.99999999 / 60, 1}, {1e-12, 1e-12},
	} {
		for st, m := range resolution {
			s := Format(p, st)
			q, err := Parse(s)
			if assert.NoError(t, err, "%v as %v: %s", p, st, s) {
				assert.Less(t, metres(p, q), m, "%v as %v: %s -> %v", p, st, s, q)
			}
		}
	}
	assert.Equal(t, "no place", Format(orb.Point{math.NaN(), 0}, UTM))
	assert.Equal(t, "no place", Format(orb.Point{0, 91}, Decimal))
	assert.Equal(t, "no place", Format(orb.Point{math.Inf(1), 0}, MGRS))
	assert.Equal(t, "1°00'00.00\"N 0°00'00.00\"E", Format(orb.Point{0, 0.9999999999}, DegMinSec))
}

// Which side of the water a town lies on is common knowledge.
func TestLocalGrid(t *testing.T) {
	for name, p := range map[string]orb.Point{
		"Dover": {1.31, 51.13}, "Land's End": {-5.71, 50.07}, "Lowestoft": {1.75, 52.48}, "Lerwick": {-1.14, 60.15},
		"Stornoway": {-6.39, 58.21}, "Holyhead": {-4.63, 53.31}, "Douglas": {-4.48, 54.15}, "Stranraer": {-5.03, 54.9},
		"Islay": {-6.19, 55.63}, "Barra": {-7.5, 56.98}, "Scilly": {-6.3, 49.92},
	} {
		assert.Equal(t, BNG, Local(p), name)
	}
	for name, p := range map[string]orb.Point{
		"Calais": {1.86, 50.95}, "Belfast": {-5.93, 54.6}, "Dublin": {-6.26, 53.35}, "Cherbourg": {-1.62, 49.63},
		"Jersey": {-2.1, 49.2}, "Larne": {-5.81, 54.85}, "Ballycastle": {-6.25, 55.2}, "Torshavn": {-6.77, 62.01}, "Garza": {-5.5831, 39.0512},
	} {
		assert.Equal(t, MGRS, Local(p), name)
	}
}

func TestStyleNames(t *testing.T) {
	for s := Decimal; s <= BNG; s++ {
		got, err := StyleOf(s.String())
		assert.NoError(t, err)
		assert.Equal(t, s, got)
	}
	_, err := StyleOf("maidenhead")
	assert.ErrorContains(t, err, "write decimal, deg-min")
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"39.0512, -5.5831", "39°03.072'N 5°34.986'W", `39°03'04.32"N 5°34'59.16"W`, "30N 276470 4325634",
		"30STJ7647025634", "SK 12345 67890", "UPS S 2009224 3057011", "ZFB0554070788", "N N", "D M \"", "::,", "1 2 3 4 5 6", "60X ZZ 000000"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := Parse(s)
		if err != nil {
			return
		}
		if !(math.Abs(p.Lat()) <= 90 && math.Abs(p.Lon()) <= 180) {
			t.Fatalf("%q reads as %v", s, p)
		}
		for st, m := range resolution {
			q, err := Parse(Format(p, st))
			if err != nil || metres(p, q) > m {
				t.Fatalf("%q reads as %v, written as %s, read as %v, %v", s, p, Format(p, st), q, err)
			}
		}
	})
}
