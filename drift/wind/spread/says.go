package spread

import (
	"fmt"
	"math"

	"windfall/drift/wind"
)

// Hours writes an age: "40 min", "2.5 h", "12 h", "9 days".
func Hours(h float64) string {
	switch h = math.Abs(h); {
	case h < 2:
		return fmt.Sprintf("%.0f min", 60*h)
	case h < 10:
		return fmt.Sprintf("%.1f h", h)
	case h < 72:
		return fmt.Sprintf("%.0f h", h)
	}
	return fmt.Sprintf("%.0f days", h/24)
}

// loneSays names one reading.
func loneSays(l wind.Level, h float64, s Source) string {
	name := "the surface wind alone"
	switch {
	case l.Height > surfaceTop:
		name = fmt.Sprintf("one wind at %.0f m alone", l.Height)
	case s.Name == airport:
		name = "an airport report alone"
	}
	return name + aged(h, s) + light(s)
}

// Names of kinds of source; see package sources.
const (
	airport      = "airport report"
	soundingName = "sounding"
)

func oldSays(h float64, s Source) string {
	name := "a profile"
	if s.Name == soundingName {
		name = "a sounding"
	}
	return name + aged(h, s)
}

func freshSays(top float64, s Source) string {
	if s.Name == soundingName {
		return "a sounding of the hour"
	}
	return fmt.Sprintf("levels of the hour up to %.0f m", top)
}

// aged says how old and how far a wind is, "" for neither.
func aged(h float64, s Source) string {
	out := ""
	if h <= fresh {
		return out
	}
	if s.Age != 0 {
		out = ", " + Hours(s.Age) + " old"
		if s.Age < 0 {
			out = ", from " + Hours(s.Age) + " after the launch"
		}
	}
	if s.Away > 1000 {
		out += fmt.Sprintf(", from %.0f km away", s.Away/1000)
	}
	return out
}

func light(s Source) string {
	switch d := s.day(); {
	case d == 1:
		return ", by day"
	case d == 0:
		return ", by night"
	}
	return ""
}
