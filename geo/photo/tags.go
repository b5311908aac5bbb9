package photo

import (
	"math"
	"strconv"
	"strings"
)

// tags are a file's tags by name.
type tags map[string]any

// number returns a tag as a number; "+12.3" and "1/250" are numbers too.
func (t tags) number(name string) (float64, bool) {
	var v float64
	switch x := t[name].(type) {
	case float64:
		v = x
	case float32:
		v = float64(x)
	case int:
		v = float64(x)
	case uint8:
		v = float64(x)
	case uint16:
		v = float64(x)
	case uint32:
		v = float64(x)
	case int16:
		v = float64(x)
	case int32:
		v = float64(x)
	case int64:
		v = float64(x)
	case interface{ Float64() float64 }:
		v = x.Float64()
	case string:
		f, err := strconv.ParseFloat(strings.TrimPrefix(strings.TrimSpace(x), "+"), 64)
		if err != nil {
			return 0, false
		}
		v = f
	default:
		return 0, false
	}
	return v, !math.IsNaN(v) && !math.IsInf(v, 0)
}

// within returns a tag's number where it lies between lo and hi.
func (t tags) within(name string, lo, hi float64) (float64, bool) {
	v, ok := t.number(name)
	if !ok || v < lo || v > hi {
		return 0, false
	}
	return v, true
}

// text returns a tag as text without control characters; "" where it has none.
func (t tags) text(name string) string {
	s, _ := t[name].(string)
	return strings.Map(func(r rune) rune {
		if r < ' ' {
			return -1
		}
		return r
	}, s)
}
