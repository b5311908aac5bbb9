package place

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"github.com/paulmach/orb"
)

// Forms is the list of accepted forms that error messages and help texts show.
const Forms = "39.0512, -5.5831 or 39°03.072'N 5°34.986'W or 30N 276470 4325634 or 30STJ7647025634 or SK 12345 67890"

var (
	utmForm   = regexp.MustCompile(`^(\d{1,2}) ?([A-Z]) (\d+(?:\.\d+)?) ?M?E?,? (\d+(?:\.\d+)?) ?M?N?$`)
	upsForm   = regexp.MustCompile(`^UPS ([NS]) (\d+(?:\.\d+)?),? (\d+(?:\.\d+)?)$`)
	mgrsForm  = regexp.MustCompile(`^(\d{1,2}) ?([A-Z]) ?([A-Z]{2}) ?(\d*) ?(\d*)$`)
	polarForm = regexp.MustCompile(`^([ABYZ]) ?([A-Z]{2}) ?(\d+) ?(\d*)$`)
	bngForm   = regexp.MustCompile(`^([A-Z]{2}) ?(\d+) ?(\d*)$`)
	number    = regexp.MustCompile(`^[+-]?(?:\d+\.?\d*|\.\d+)$`)
)

// Parse reads a place in any of the styles, in upper or lower case:
//
//	39.0512, -5.5831        39.0512N 5.5831W        N39.0512 W5.5831
//	39°03.072'N 5°34.986'W  39 3.072 N, 5 34.986 W
//	39°03'04.3"N 5°34'59"W  39 3 4.3 N, 5 34 59 W   39:03:04.3 -5:34:59
//	30N 652310 4340120      UPS N 2305541 1470788
//	30SXJ5231040120         30S XJ 523 401          SK 12345 67890
//
// Without letters the latitude comes first. In UTM the letter after the zone
// is the hemisphere, N or S; a band letter is taken too, but "30S" before a
// northing that fits band S (32 to 40 degrees north) is refused. MGRS and
// British references with 6, 8 or 10 figures give the middle of their square.
// The result is longitude, latitude in degrees with longitude in [-180, 180].
func Parse(s string) (orb.Point, error) {
	p, err := parse(s)
	if err != nil {
		return orb.Point{}, fmt.Errorf("place %q %w", short(s), err)
	}
	return p, nil
}

func short(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "..."
	}
	return s
}

func parse(s string) (orb.Point, error) {
	t := tidy(s)
	if t == "" {
		return orb.Point{}, errors.New("is empty; write one such as " + Forms)
	}
	if len(t) > 100 {
		return orb.Point{}, errors.New("is too long for a place; write one such as " + Forms)
	}
	if m := utmForm.FindStringSubmatch(t); m != nil {
		return parseUTM(m)
	}
	if m := upsForm.FindStringSubmatch(t); m != nil {
		return parseUPS(m)
	}
	if m := mgrsForm.FindStringSubmatch(t); m != nil {
		zone, _ := strconv.Atoi(m[1])
		if zone < 1 || zone > 60 {
			return orb.Point{}, fmt.Errorf("has no zone %d; zones run 1 to 60", zone)
		}
		return parseMGRS(zone, m[2]+m[3], m[4]+m[5])
	}
	if m := polarForm.FindStringSubmatch(t); m != nil {
		return parsePolar(m[1]+m[2], m[3]+m[4])
	}
	if m := bngForm.FindStringSubmatch(t); m != nil {
		return parseBNG(m[1], m[2]+m[3])
	}
	return parseDegrees(t)
}

// tidy brings the many signs for degrees, minutes, seconds and minus to one,
// letters to upper case and space to single blanks.
func tidy(s string) string {
	s = strings.TrimPrefix(strings.TrimSpace(s), "geo:")
	var b strings.Builder
	for _, r := range s {
		switch r {
		case '°', 'º', '˚', '*':
			b.WriteString("D ")
		case '\'', '′', '’', '‘', '´':
			b.WriteString("M ")
		case '"', '″', '”', '“', '¨':
			b.WriteString("S2 ")
		case '−', '–', '‐':
			b.WriteByte('-')
		case ':':
			b.WriteString(": ")
		case ',', ';':
			b.WriteString(" , ")
		default:
			if unicode.IsSpace(r) {
				r = ' '
			}
			b.WriteRune(unicode.ToUpper(r))
		}
	}
	t := strings.ReplaceAll(b.String(), "M M ", "S2 ") // two primes are seconds
	return strings.ReplaceAll(strings.Join(strings.Fields(t), " "), " , ", ", ")
}

func parseUTM(m []string) (orb.Point, error) {
	zone, _ := strconv.Atoi(m[1])
	e, _ := strconv.ParseFloat(m[3], 64)
	n, _ := strconv.ParseFloat(m[4], 64)
	if zone < 1 || zone > 60 {
		return orb.Point{}, fmt.Errorf("has no zone %d; zones run 1 to 60", zone)
	}
	band := strings.Index(bands, m[2])
	if band < 0 {
		return orb.Point{}, fmt.Errorf("has no band %s; write N or S for the hemisphere, such as %dN", m[2], zone)
	}
	north := m[2] == "N" || m[2] != "S" && band >= 10
	if m[2] == "S" && maybeBandS(n) {
		return orb.Point{}, fmt.Errorf("could mean the southern hemisphere or band S; write %dN for north of the "+
			"equator, or for the south a band letter such as %dF", zone, zone)
	}
	if !(e >= 100e3 && e <= 900e3) {
		return orb.Point{}, fmt.Errorf("has easting %s m; it lies between 100000 and 900000 in every zone, and comes before "+
			"the northing", m[3])
	}
	if !(n >= 0 && n <= 10000e3) {
		return orb.Point{}, fmt.Errorf("has northing %s m; it lies between 0 and 10000000", m[4])
	}
	p := Grid{zone: zone, north: north}.ToLonLat(e, n)
	if p.Lat() > 84.5 || p.Lat() < -80.5 {
		return orb.Point{}, fmt.Errorf("has northing %s m, beyond 84 N or 80 S; write UPS or degrees there", m[4])
	}
	if m[2] != "N" && m[2] != "S" {
		if b := bandAt(p.Lat()); b != m[2][0] && math.Abs(p.Lat()-float64(8*band-76)) > 9 {
			return orb.Point{}, fmt.Errorf("lies in band %c, not %s; write N or S for the hemisphere, such as %dN", b, m[2],
				zone)
		}
	}
	return p, nil
}

func parseUPS(m []string) (orb.Point, error) {
	e, _ := strconv.ParseFloat(m[2], 64)
	n, _ := strconv.ParseFloat(m[3], 64)
	lon, lat := polarToLonLat(m[1] == "N", e, n)
	if !(math.Abs(lat) >= 79) {
		return orb.Point{}, errors.New("is not near a pole; UPS serves beyond 84 N and 80 S, write UTM or degrees")
	}
	return orb.Point{lon, lat}, nil
}

// angle is one half of a place in degrees.
type angle struct {
	deg    float64
	letter byte // N, S, E, W or 0
	text   string
}

func parseDegrees(t string) (orb.Point, error) {
	halves, err := splitDegrees(t)
	if err != nil {
		return orb.Point{}, err
	}
	var a [2]angle
	for i, h := range halves {
		if a[i], err = parseAngle(h); err != nil {
			return orb.Point{}, err
		}
	}
	lat, lon := a[0], a[1]
	if isLon(lat.letter) || isLat(lon.letter) {
		lat, lon = lon, lat
	}
	if isLon(lat.letter) || isLat(lon.letter) || (lat.letter == 0) != (lon.letter == 0) {
		return orb.Point{}, errors.New("needs one of N, S and one of E, W, or no letters and the latitude first; such as " +
			"39.0512, -5.5831")
	}
	if !(math.Abs(lat.deg) <= 90) {
		return orb.Point{}, fmt.Errorf("has latitude %s, beyond 90; the latitude comes first", lat.text)
	}
	if !(math.Abs(lon.deg) <= 180) {
		return orb.Point{}, fmt.Errorf("has longitude %s, beyond 180; write it between -180 and 180", lon.text)
	}
	return orb.Point{lon.deg, lat.deg}, nil
}

func isLat(b byte) bool { return b == 'N' || b == 'S' }
func isLon(b byte) bool { return b == 'E' || b == 'W' }

// splitDegrees parts latitude from longitude: at the comma, else at the
// letters, else in the middle of an even count of numbers.
func splitDegrees(t string) ([2]string, error) {
	if i := strings.Index(t, ", "); i >= 0 {
		if strings.Contains(t[i+2:], ",") {
			return [2]string{}, errors.New("has more than one comma; write decimals with a point, such as 39.0512, -5.5831")
		}
		return [2]string{t[:i], t[i+2:]}, nil
	}
	w := words(t)
	if len(w) > 0 && isHemisphere(w[0]) {
		for i := 1; i < len(w); i++ {
			if isHemisphere(w[i]) {
				return [2]string{strings.Join(w[:i], " "), strings.Join(w[i:], " ")}, nil
			}
		}
	}
	for i := range w {
		if isHemisphere(w[i]) && i+1 < len(w) {
			return [2]string{strings.Join(w[:i+1], " "), strings.Join(w[i+1:], " ")}, nil
		}
	}
	if n := len(w); n > 0 && n%2 == 0 {
		return [2]string{strings.Join(w[:n/2], " "), strings.Join(w[n/2:], " ")}, nil
	}
	return [2]string{}, errors.New("is not a place; write one such as " + Forms)
}

func isHemisphere(w string) bool { return len(w) == 1 && strings.ContainsAny(w, "NSEW") }

// words parts letters, figures and signs.
func words(t string) []string {
	var b strings.Builder
	t = strings.ReplaceAll(t, "S2", "\"")
	last := 0
	for _, r := range t {
		kind := 1
		if unicode.IsLetter(r) {
			kind = 2
		} else if r == '"' || r == ':' {
			kind = 3
		}
		if kind != last && last != 0 {
			b.WriteByte(' ')
		}
		last = kind
		b.WriteRune(r)
	}
	return strings.Fields(b.String())
}

// parseAngle reads degrees with optional minutes and seconds, with or without
// their signs, a letter before or after, or a sign.
func parseAngle(h string) (angle, error) {
	a := angle{text: strings.NewReplacer("D", "°", "M", "'", "S2", "\"").Replace(h)}
	bad := fmt.Errorf("has %q where an angle belongs; write one such as %s", a.text, Forms)
	var nums []string
	unit := 0
	for _, w := range words(h) {
		switch {
		case isHemisphere(w):
			if a.letter != 0 {
				return a, bad
			}
			a.letter = w[0]
		case w == "D" || w == "M" || w == "\"" || w == ":" || w == "DEG" || w == "MIN":
			u := map[string]int{"D": 1, "DEG": 1, "M": 2, "MIN": 2, "\"": 3, ":": len(nums)}[w]
			if u != len(nums) || u <= unit {
				return a, bad
			}
			unit = u
		default:
			if !number.MatchString(w) || len(nums) == 3 {
				return a, bad
			}
			nums = append(nums, w)
		}
	}
	if len(nums) == 0 {
		return a, bad
	}
	sign := 1.0
	for i, w := range nums {
		v, err := strconv.ParseFloat(w, 64)
		if err != nil || (i < len(nums)-1 && v != math.Trunc(v)) {
			return a, bad
		}
		if i == 0 && strings.HasPrefix(w, "-") {
			sign, v = -1, -v
		} else if w[0] == '-' || w[0] == '+' && i > 0 {
			return a, bad
		}
		if i > 0 && v >= 60 {
			return a, fmt.Errorf("has %q with 60 or more minutes or seconds; they run from 0 to below 60", a.text)
		}
		a.deg += v / math.Pow(60, float64(i))
	}
	if sign < 0 && a.letter != 0 {
		return a, fmt.Errorf("has %q with both a minus sign and a letter; write one of the two", a.text)
	}
	if a.letter == 'S' || a.letter == 'W' {
		sign = -1
	}
	a.deg *= sign
	return a, nil
}
