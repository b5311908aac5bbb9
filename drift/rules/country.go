package rules

import (
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// Country is where a code is law; "" is any other than those named here.
type Country string

// The countries whose figures are held.
const (
	US Country = "US"
	UK Country = "UK"
)

// outlines are coarse, some 20 km at land borders, read off a map from memory:
// near a border the neighbour's code may be shown.
var outlines = []struct {
	country Country
	ring    orb.Ring
}{
	{US, orb.Ring{
		{-124.9, 48.4}, {-123.2, 48.3}, {-123.3, 49}, {-95.15, 49}, {-94.6, 48.7}, {-89.5, 48}, {-88.4, 48.3}, {-84.8,
			46.8}, {-83.6, 46.1},
		{-82.5, 45.3}, {-82.4, 43}, {-83.1, 42.2}, {-82.7, 41.7}, {-79, 42.8}, {-79.1, 43.4}, {-76.8, 43.6}, {-75,
			45}, {-71.5, 45}, {-70.3, 46.2},
		{-69.2, 47.45}, {-67.8, 47.1}, {-67.8, 45.7}, {-66.9, 44.8}, {-66, 42}, {-74, 38}, {-75, 34}, {-79, 30}, {-79.5,
			24.4}, {-83, 24.3},
		{-97, 25.8}, {-99.1, 26.4}, {-99.5, 27.5}, {-101.4, 29.8}, {-102.7, 29.7}, {-103.2, 29}, {-104.5, 29.6}, {-106.5,
			31.75}, {-108.2, 31.78},
		{-108.2, 31.33}, {-111.07, 31.33}, {-114.8, 32.5}, {-117.1, 32.53}, {-121, 33}, {-125, 40}, {-124.9, 48.4},
	}},
	{US, orb.Bound{Min: orb.Point{-170, 54}, Max: orb.Point{-141, 71.6}}.ToRing()},       // Alaska without its south-east
	{US, orb.Bound{Min: orb.Point{-160.7, 18.5}, Max: orb.Point{-154.5, 22.5}}.ToRing()}, // Hawaii
	{US, orb.Bound{Min: orb.Point{-67.4, 17.8}, Max: orb.Point{-65.2, 18.6}}.ToRing()},   // Puerto Rico
	{UK, orb.Ring{
		{-6.6, 49.8}, {-5, 49.8}, {1, 50.6}, {1.6, 51.1}, {2, 52.5}, {0.5, 54}, {-1, 55.5}, {-1.2, 57.5}, {-0.5,
			61}, {-3, 61}, {-8.9, 57.9},
		{-8, 56}, {-6.3, 55.4}, {-5.3, 54.6}, {-5.3, 53.4}, {-5.5, 51.7}, {-6.6, 49.8},
	}},
	{UK, orb.Ring{ // Northern Ireland
		{-8.2, 54.45}, {-7.3, 54.12}, {-6.3, 54.05}, {-5.3, 54.2}, {-5.3, 55}, {-6.3, 55.4}, {-7.2, 55.2}, {-7.5,
			54.75}, {-8.2, 54.45},
	}},
}

// CountryAt returns the country that a place, in longitude and latitude, lies
// in, as far as its code is held here.
func CountryAt(p orb.Point) Country {
	for _, o := range outlines {
		if planar.RingContains(o.ring, p) {
			return o.country
		}
	}
	return ""
}

// Note is what must stand beside the findings of a country.
func Note(c Country) string {
	switch c {
	case US:
		return Deference
	case UK:
		return "figures of UK law as far as known here, not permission: your club's safety code, the land owner, the " +
			"air-space rules and the range officer decide"
	}
	return "no figures of this country's codes are known here: your local code, the land owner, the air-space rules " +
		"and the range officer decide"
}

// British is the order that divides rockets by their impulse.
const British = "Air Navigation Order 2016"

// british compares with the impulses at which the order asks for more: above
// 160 N s article 96 (cloud, air traffic), above 10 240 N s article 97 (the
// authority's permission).
func british(f Facts) (out []Finding) {
	if f.Impulse == 0 {
		return nil
	}
	for _, x := range []struct {
		most   float64
		figure string
	}{
		{160, "at most 160 N s, above which article 96 sets conditions of cloud and air traffic"},
		{10240, "at most 10240 N s, above which it is a large rocket and article 97 wants the authority's permission"},
	} {
		out = append(out, Finding{Item: "total impulse", Value: newtonSeconds(f.Impulse), Within: f.Impulse <= x.most,
			Figure: x.figure,
			Code:   British, Edition: editions[British], Basis: fromMemory})
	}
	return out
}
