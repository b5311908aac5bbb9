// Package nearest finds the known word that a mistyped one was meant to be.
package nearest

import (
	"sort"
	"strings"

	"github.com/xrash/smetrics"
)

// Hint returns words for an error message: the nearest known word when one is
// near, else the list of all.
func Hint(word string, known []string) string {
	best, at := 1<<30, ""
	for _, k := range known {
		if d := smetrics.WagnerFischer(strings.ToLower(word), strings.ToLower(k), 1, 1, 1); d < best {
			best, at = d, k
		}
	}
	if best <= max(2, len(word)/3) {
		return "did you mean " + at + "?"
	}
	all := append([]string(nil), known...)
	sort.Strings(all)
	return "known are " + strings.Join(all, ", ")
}
