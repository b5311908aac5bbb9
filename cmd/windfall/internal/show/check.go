package show

import (
	"io"
	"os"

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

// Sound prints whether the logbook at path is sound, and what to do where not.
func Sound(w io.Writer, path string, problems []string) error {
	p := To(w)
	if len(problems) == 0 {
		if _, err := os.Stat(path); err != nil {
			p.F("%s does not exist yet: nothing has been logged", path)
		} else {
			p.F("%s is sound", path)
		}
		return p.Err()
	}
	for _, x := range problems {
		p.F("%s", x)
	}
	p.F(`
To restore, nobody using the logbook:
  1. put the damaged file aside, with those beside it: %[1]s, %[1]s-wal, %[1]s-shm
  2. copy your latest backup (windfall log --backup FILE) to %[1]s
  3. or, without one: windfall log --logbook THE-FILE-PUT-ASIDE --salvage %[1]s
  4. windfall log --check`, path)
	return p.Err()
}
