package place

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"
)

// MGRS (NGA.SIG.0012, 2014, section 11): column letters run A to Z without I
// and O, eight to a zone, starting over every three zones; row letters A to V
// repeat every 2000 km, starting at A in odd zones and at F in even ones.
const (
	columns = "ABCDEFGHJKLMNPQRSTUVWXYZ"
	rows    = "ABCDEFGHJKLMNPQRSTUV"
)

// UPS squares: the columns left and right of the pole and the rows by half.
const (
	polarWest, polarEast    = "JKLPQRSTUXYZ", "ABCFGHJKLPQR"
	polarSouthRows          = "ABCDEFGHJKLMNPQRSTUVWXYZ"
	polarNorthRows          = "ABCDEFGHJKLMNP"
	polarSouth0, polarNorth = 800e3, 1300e3 // m, the first row's south edge
)

func formatMGRS(p orb.Point) string {
	g := GridAt(p, MGRS)
	e, n := g.FromLonLat(p)
	if g.zone == 0 {
		return formatPolar(g, e, n)
	}
	// A point on an edge must not fall into the next square by rounding noise.
	e, n = math.Floor(e+1e-6), math.Floor(n+1e-6)
	if !g.north {
		n = math.Min(n, 10000e3-1) // just south of the equator stays there
	}
	col := columns[(g.zone-1)%3*8+min(max(int(e/100e3)-1, 0), 7)]
	row := int(math.Mod(n, 2000e3) / 100e3)
	if g.zone%2 == 0 {
		row = (row + 5) % 20
	}
	return fmt.Sprintf("%02d%c%c%c%05.0f%05.0f", g.zone, bandAt(p.Lat()), col, rows[row],
		math.Mod(e, 100e3), math.Mod(n, 100e3))
}

func formatPolar(g Grid, e, n float64) string {
	e, n = math.Floor(e+1e-6), math.Floor(n+1e-6)
	south, rowNames := polarSouth0, polarSouthRows
	zone := "AB"
	if g.north {
		south, rowNames, zone = polarNorth, polarNorthRows, "YZ"
	}
	var z, col byte
	if e < upsFalse {
		i := len(polarWest) - int(math.Ceil((upsFalse-e)/100e3))
		z, col = zone[0], polarWest[max(i, 0)]
	} else {
		z, col = zone[1], polarEast[min(int((e-upsFalse)/100e3), len(polarEast)-1)]
	}
	row := min(max(int((n-south)/100e3), 0), len(rowNames)-1)
	return fmt.Sprintf("%c%c%c%05.0f%05.0f", z, col, rowNames[row], math.Mod(e, 100e3), math.Mod(n, 100e3))
}

// digits cuts the figures of a square in two; sizes below six figures name a
// square of a kilometre or more, no place to walk to.
func digits(d, example string) (e, n, cell float64, err error) {
	if len(d)%2 != 0 {
		return 0, 0, 0, fmt.Errorf("has %d figures; write as many for the northing as for the easting, such as %s", len(d),
			example)
	}
	h := len(d) / 2
	if h < 3 || h > 5 {
		return 0, 0, 0, fmt.Errorf("has %d figures; write 6 (100 m), 8 (10 m) or 10 (1 m), such as %s", len(d), example)
	}
	cell = math.Pow10(5 - h)
	for i := range h {
		e = e*10 + float64(d[i]-'0')
		n = n*10 + float64(d[h+i]-'0')
	}
	return e * cell, n * cell, cell, nil
}

// parseMGRS returns the middle of the square that is named.
func parseMGRS(zone int, letters, figures string) (orb.Point, error) {
	e, n, cell, err := digits(figures, "30STJ7647025634")
	if err != nil {
		return orb.Point{}, err
	}
	e, n = e+cell/2, n+cell/2
	band := strings.IndexByte(bands, letters[0])
	col := strings.IndexByte(columns[(zone-1)%3*8:(zone-1)%3*8+8], letters[1])
	row := strings.IndexByte(rows, letters[2])
	if band < 0 || zone < 1 || zone > 60 {
		return orb.Point{}, fmt.Errorf("has no zone %d%c; zones run 1 to 60, bands C to X without I and O", zone, letters[0])
	}
	if col < 0 || row < 0 {
		return orb.Point{}, fmt.Errorf("has no square %s in zone %d%c; check the two letters", letters[1:], zone, letters[0])
	}
	if zone%2 == 0 {
		row = (row + 15) % 20
	}
	e += float64(col+1) * 100e3
	north := band >= 10
	g := Grid{zone: zone, north: north}
	// The row repeats every 2000 km: take the repeat whose point lies in the
	// band. A square that straddles the band's edge may lie a little outside.
	var best orb.Point
	bestOff := math.Inf(1)
	for base := 0.0; base < 10000e3; base += 2000e3 {
		p := g.ToLonLat(e, base+float64(row)*100e3+n)
		south, top := float64(8*band-80), float64(8*band-72)
		if band == len(bands)-1 {
			top = 84
		}
		if off := math.Max(south-p.Lat(), p.Lat()-top); off < bestOff {
			best, bestOff = p, off
		}
	}
	if bestOff > 1 || math.Abs(math.Remainder(best.Lon()-utm(zone, north).lon0, 360)) > 6.5 {
		return orb.Point{}, fmt.Errorf("has no square %s in zone %d%c; check the letters", letters[1:], zone, letters[0])
	}
	return best, nil
}

func parsePolar(letters, figures string) (orb.Point, error) {
	e, n, cell, err := digits(figures, "ZAH0000000000")
	if err != nil {
		return orb.Point{}, err
	}
	north := letters[0] >= 'Y'
	south, rowNames := polarSouth0, polarSouthRows
	if north {
		south, rowNames = polarNorth, polarNorthRows
	}
	row := strings.IndexByte(rowNames, letters[2])
	var col int
	if west := letters[0] == 'A' || letters[0] == 'Y'; west {
		col = strings.IndexByte(polarWest, letters[1])
		e += upsFalse - float64(len(polarWest)-col)*100e3
	} else {
		col = strings.IndexByte(polarEast, letters[1])
		e += upsFalse + float64(col)*100e3
	}
	if row < 0 || col < 0 {
		return orb.Point{}, fmt.Errorf("has no square %s; check the letters", letters)
	}
	lon, lat := polarToLonLat(north, e+cell/2, south+float64(row)*100e3+n+cell/2)
	if math.Abs(lat) < 79 || north && lat < 83 {
		return orb.Point{}, fmt.Errorf("has no square %s; check the letters", letters)
	}
	return orb.Point{lon, lat}, nil
}

// bngLetters are the letters of the National Grid's 500 km and 100 km squares.
const bngLetters = "ABCDEFGHJKLMNOPQRSTUVWXYZ"

func formatBNG(p orb.Point) (string, bool) {
	if !(p.Lat() > 49 && p.Lat() < 62 && p.Lon() > -10 && p.Lon() < 4) {
		return "", false
	}
	e, n := bngMercator.fromLonLat(toOSGB36(p.Lon(), p.Lat()))
	e, n = math.Floor(e+1e-6), math.Floor(n+1e-6)
	if !(e >= 0 && n >= 0 && e < 700e3 && n < 1300e3) {
		return "", false
	}
	i, j := int(e/100e3), int(n/100e3)
	first := bngLetters[(3-j/5)*5+2+i/5]
	second := bngLetters[(4-j%5)*5+i%5]
	return fmt.Sprintf("%c%c %05.0f %05.0f", first, second, math.Mod(e, 100e3), math.Mod(n, 100e3)), true
}

func parseBNG(letters, figures string) (orb.Point, error) {
	e, n, cell, err := digits(figures, "SK 12345 67890")
	if err != nil {
		return orb.Point{}, err
	}
	a, b := strings.IndexByte(bngLetters, letters[0]), strings.IndexByte(bngLetters, letters[1])
	if a < 0 || b < 0 {
		return orb.Point{}, fmt.Errorf("has no square %s in the British National Grid; check the letters", letters)
	}
	e += float64((a%5-2)*5+b%5)*100e3 + cell/2
	n += float64((3-a/5)*5+4-b/5)*100e3 + cell/2
	if !(e >= 0 && n >= 0 && e < 700e3 && n < 1300e3) {
		return orb.Point{}, fmt.Errorf("has no square %s in the British National Grid; check the letters", letters)
	}
	return Grid{bng: true}.ToLonLat(e, n), nil
}
