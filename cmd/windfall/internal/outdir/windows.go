package outdir

import (
	"fmt"
	"regexp"
	"runtime"
	"strings"
)

// Names that Windows keeps for devices, with whatever ending, and characters that
// it has no files with; a colon would hide the file in another's stream, and an
// end in a dot or a space gets lost (Microsoft, Naming Files, Paths, and
// Namespaces; from memory).
var (
	drive    = regexp.MustCompile(`^[A-Za-z]:`)
	reserved = regexp.MustCompile(`(?i)^(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³]) *(\..*)?$`)
	barred   = regexp.MustCompile(`[<>:"|?*\x00-\x1f]|[. ]$`)
)

// nameable refuses, on Windows, a path that no file can have there.
func nameable(path string) error {
	if runtime.GOOS != "windows" {
		return nil
	}
	return onWindows(path)
}

func onWindows(path string) error {
	parts := strings.FieldsFunc(drive.ReplaceAllString(path, ""), func(r rune) bool { return r == '/' || r == '\\' })
	for _, part := range parts {
		if part == "." || part == ".." {
			continue
		}
		if reserved.MatchString(part) || barred.MatchString(part) {
			return fmt.Errorf("%s: %q is no name that Windows has for a file; choose another", path, part)
		}
	}
	return nil
}
