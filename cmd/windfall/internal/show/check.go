package show

import (
	"io"

	"windfall/cmd/windfall/internal/record"
)

// Check prints what was read of a flight file.
func Check(w io.Writer, path string, r record.Reading) error {
	p := To(w)
	p.F("%s reads well", path)
	for _, l := range r.Understood {
		p.F("  %-10s %s", l.Key, l.Says)
	}
	p.List("assumed", r.Assumptions)
	p.List("caution", r.Cautions)
	return p.Err()
}
