package outdir

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestOnWindows(t *testing.T) {
	for _, good := range []string{"out", `C:\Users\Ana Maria\maps`, "C:/maps/x", `\\club\share\maps`, `..\maps`, ".", "a.b.c",
		"console", "aux1", "com", "com10", "nullarbor.csv", "Wiese süd"} {
		assert.NoError(t, onWindows(good), good)
	}
	for bad, part := range map[string]string{"CON": "CON", `aux\maps`: "aux", "maps/nul.csv": "nul.csv", "Com1": "Com1", "lpt9.txt": "lpt9.txt",
		"land:x.csv": "land:x.csv", `C:\a\b:c`: "b:c", "what?": "what?", "a*": "a*", `"x"`: `\"x\"`, "maps.": "maps.", "maps ": "maps ", "a|b": "a|b"} {
		assert.ErrorContains(t, onWindows(bad), `"`+part+`" is no name that Windows has`, bad)
	}
}
