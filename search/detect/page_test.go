package detect

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the table of docs/ground.md anew")

// docs/ground.md lists every class of cover with the figures in force.
func TestGroundPage(t *testing.T) {
	const page = "../../docs/ground.md"
	text, err := os.ReadFile(page)
	require.NoError(t, err)
	head, rest, ok := strings.Cut(string(text), "<!-- covers -->\n")
	require.True(t, ok)
	_, tail, ok := strings.Cut(rest, "<!-- end of covers -->")
	require.True(t, ok)
	var b strings.Builder
	b.WriteString("| cover | first seen on foot at | walking pace | left visible from above | seen by nobody |\n|---|---|---|---|---|\n")
	for _, name := range Classes() {
		c, known := CoverOf(name)
		require.True(t, known)
		fmt.Fprintf(&b, "| `%s` | %.0f m | %.0f %% | %.0f %% | %.0f %% |\n", name, c.Rd, 100*c.Pace, 100*c.Above, 100*c.Unseen)
	}
	want := head + "<!-- covers -->\n" + b.String() + "<!-- end of covers -->" + tail
	if *update {
		require.NoError(t, os.WriteFile(page, []byte(want), 0o644))
	}
	got, err := os.ReadFile(page)
	require.NoError(t, err)
	assert.Equal(t, want, string(got), "run go test ./search/detect -run TestGroundPage -update")
}
