package sources

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// metar is one decoded aerodrome report, METAR or SPECI (WMO-No. 306, FM 15
// and FM 16). NaN stands for what is missing.
type metar struct {
	special, corrected, auto, nil_ bool
	station                        string
	day, hour, minute              int
	variable                       bool    // VRB: no one direction
	from                           float64 // degrees true; 0 and speed 0: calm
	speed, gust                    float64 // m/s
	atLeast, gustAtLeast           bool    // P99KT: faster than can be coded
	unit                           string  // KT, MPS, KMH
	sector                         *[2]float64
	temperature, dew               float64 // degC
	qnh                            float64 // hPa
	altimeter                      float64 // inHg, where A was given
	warnings                       []string
}

var (
	metarStation = regexp.MustCompile(`^[A-Z][A-Z0-9]{3}$`)
	metarTime    = regexp.MustCompile(`^(\d{2})(\d{2})(\d{2})Z$`)
	metarWind    = regexp.MustCompile(`^(\d{3}|VRB|///)(P?\d{2,3}|/{2,3})(?:G(P?\d{2,3}|//))?(KT|MPS|KMH)$`)
	metarNoWind  = regexp.MustCompile(`^/{5,6}(KT|MPS|KMH)?$`)
	metarSector  = regexp.MustCompile(`^(\d{3})V(\d{3})$`)
	metarTemp    = regexp.MustCompile(`^(M?\d{2}|//)/(M?\d{2}|//)?$`)
	metarQNH     = regexp.MustCompile(`^([QA])(\d{4})$`)
	metarWindish = regexp.MustCompile(`(KTS?|MPS|KMH)$|^-?\d{5,6}(G\d+)?$|^VRB`)
)

var metarUnits = map[string]float64{"KT": knot, "MPS": 1, "KMH": 1 / 3.6}

// decodeMETAR reads one report, from its keyword to the '=' or the end. Trends
// and remarks are not read: a forecast or a peak wind is not the wind.
func decodeMETAR(s string) (metar, error) {
	nan := math.NaN()
	m := metar{from: nan, speed: nan, gust: nan, temperature: nan, dew: nan, qnh: nan, altimeter: nan}
	w := strings.Fields(strings.TrimSuffix(strings.TrimSpace(s), "="))
	if len(w) > 0 && (w[0] == "METAR" || w[0] == "SPECI") {
		m.special = w[0] == "SPECI"
		w = w[1:]
	}
	if len(w) > 0 && w[0] == "COR" {
		m.corrected = true
		w = w[1:]
	}
	if len(w) == 0 {
		return m, errors.New("the report is empty; write one such as METAR LEBZ 141030Z 24008KT 9999 11/05 Q1019")
	}
	if !metarStation.MatchString(w[0]) {
		return m, fmt.Errorf("%q is no station; four letters belong there, such as LEBZ", clip(w[0]))
	}
	m.station = w[0]
	if w = w[1:]; len(w) == 0 || !metarTime.MatchString(w[0]) {
		return m, fmt.Errorf("%q is no time group; day, hour and minute belong there, such as 141030Z", clip(first(w)))
	}
	if err := m.time(w[0]); err != nil {
		return m, err
	}
	w = w[1:]
	for len(w) > 0 && (w[0] == "AUTO" || w[0] == "COR" || w[0] == "NIL") {
		m.auto = m.auto || w[0] == "AUTO"
		m.corrected = m.corrected || w[0] == "COR"
		if w[0] == "NIL" {
			m.nil_ = true
			return m, nil
		}
		w = w[1:]
	}
	if err := m.wind(first(w)); err != nil {
		return m, err
	}
	return m, m.rest(w[1:])
}

func first(w []string) string {
	if len(w) == 0 {
		return ""
	}
	return w[0]
}

func (m *metar) time(s string) error {
	g := metarTime.FindStringSubmatch(s)
	m.day, _ = strconv.Atoi(g[1])
	m.hour, _ = strconv.Atoi(g[2])
	m.minute, _ = strconv.Atoi(g[3])
	if m.day < 1 || m.day > 31 || m.hour > 23 || m.minute > 59 {
		return fmt.Errorf("%q is no day, hour and minute; write one such as 141030Z", s)
	}
	return nil
}

func (m *metar) wind(s string) error {
	if metarNoWind.MatchString(s) {
		return nil
	}
	g := metarWind.FindStringSubmatch(s)
	switch {
	case g == nil && metarWindish.MatchString(s):
		return fmt.Errorf("wind group %q is malformed; write direction, speed and unit such as 24008KT, 24008G18KT or "+
			"VRB02KT", clip(s))
	case g == nil:
		return fmt.Errorf("the wind group is missing before %q; write one such as 24008KT", clip(s))
	}
	m.unit = g[4]
	k := metarUnits[m.unit]
	m.speed, m.atLeast = metarSpeed(g[2], k)
	if g[3] != "" {
		m.gust, m.gustAtLeast = metarSpeed(g[3], k)
	}
	if m.gust < m.speed {
		return fmt.Errorf("wind group %q has a gust below the mean; correct it", s)
	}
	switch g[1] {
	case "VRB":
		m.variable = true
	case "///":
	default:
		d, _ := strconv.Atoi(g[1])
		m.from = float64(d)
		if d == 0 && m.speed > 0 {
			return fmt.Errorf("wind group %q has direction 000 with a speed; north is 360", s)
		}
		if d%10 != 0 {
			m.warnings = append(m.warnings,
				fmt.Sprintf("direction %03d in %q is not in whole tens of degrees, as reports have it", d, s))
		}
	}
	return m.check(s)
}

func (m *metar) check(s string) error {
	from, speed := m.from, m.speed
	if math.IsNaN(from) {
		from = 0
	}
	if math.IsNaN(speed) {
		speed = 0
	}
	if err := checkWind(from, speed); err != nil {
		return fmt.Errorf("wind group %q: %w", s, err)
	}
	if m.gust > maxSpeed {
		return fmt.Errorf("wind group %q: gust %.4g m/s is beyond any wind on Earth; write at most %g m/s", s, m.gust,
			maxSpeed)
	}
	return nil
}

// metarSpeed reads 08, 105 or P99; solidi become NaN.
func metarSpeed(s string, k float64) (mps float64, atLeast bool) {
	atLeast = strings.HasPrefix(s, "P")
	n, err := strconv.Atoi(strings.TrimPrefix(s, "P"))
	if err != nil {
		return math.NaN(), false
	}
	return float64(n) * k, atLeast
}

// rest reads the groups after the wind up to a trend or the remarks.
func (m *metar) rest(w []string) error {
	for _, s := range w {
		switch {
		case s == "RMK" || s == "BECMG" || s == "TEMPO" || s == "NOSIG":
			return nil
		case metarSector.MatchString(s):
			g := metarSector.FindStringSubmatch(s)
			a, _ := strconv.ParseFloat(g[1], 64)
			b, _ := strconv.ParseFloat(g[2], 64)
			if a > 360 || b > 360 {
				return fmt.Errorf("sector %q goes beyond 360 degrees; correct it", s)
			}
			m.sector = &[2]float64{a, b}
		case metarTemp.MatchString(s) && math.IsNaN(m.temperature):
			g := metarTemp.FindStringSubmatch(s)
			m.temperature, m.dew = metarDegrees(g[1]), metarDegrees(g[2])
		case metarQNH.MatchString(s):
			m.pressure(s)
		}
	}
	return nil
}

func metarDegrees(s string) float64 {
	n, err := strconv.Atoi(strings.TrimPrefix(s, "M"))
	if err != nil {
		return math.NaN()
	}
	if strings.HasPrefix(s, "M") {
		n = -n
	}
	return float64(n)
}

// pressure reads Q1019 and A2992; Q wins where both are given.
func (m *metar) pressure(s string) {
	g := metarQNH.FindStringSubmatch(s)
	n, _ := strconv.ParseFloat(g[2], 64)
	hPa := n
	if g[1] == "A" {
		hPa = n / 100 * inchMercury
	}
	if hPa < 850 || hPa > 1090 { // the extremes measured at sea level are 870 and 1085 hPa
		m.warnings = append(m.warnings, fmt.Sprintf("pressure group %q is outside 850 to 1090 hPa and is left out", s))
		return
	}
	if g[1] == "A" {
		m.altimeter = n / 100
		if !math.IsNaN(m.qnh) {
			return
		}
	}
	m.qnh = hPa
}

const inchMercury = 33.86389 // hPa, conventional, at 0 degC
