package show

import (
	"fmt"
	"strings"
)

// mostNamed is how many of those left out for one reason are named.
const mostNamed = 5

// LeftOut sums up sentences of the form "who: why", a line for each why: a
// logbook of hundreds of flights may have as many left out for the same reason.
func LeftOut(sentences []string) (out []string) {
	who := map[string][]string{}
	var whys []string
	for _, s := range sentences {
		s = strings.Replace(s, " of the logbook is left out: ", ": ", 1) // which the heading says
		name, why, ok := strings.Cut(s, ": ")
		if !ok {
			name, why = "", s
		}
		if who[why] == nil {
			whys = append(whys, why)
		}
		who[why] = append(who[why], name)
	}
	for _, why := range whys {
		names := who[why]
		switch n := len(names); {
		case n == 1 && names[0] == "":
			out = append(out, why)
		case n <= mostNamed:
			out = append(out, fmt.Sprintf("%s: %s", strings.Join(names, ", "), why))
		default:
			out = append(out, fmt.Sprintf("%s and %d more: %s", strings.Join(names[:mostNamed], ", "), n-mostNamed, why))
		}
	}
	return out
}
