package flightfile

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func readText(t *testing.T, text string) (*File, error) {
	path := filepath.Join(t.TempDir(), "flight.yaml")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	return Read(path)
}

// A short text that grows without end in a parser must be refused before it
// costs memory.
func TestBombs(t *testing.T) {
	aliases := "a: &a [x,x,x,x,x,x,x,x,x]\n"
	for c := 'b'; c <= 'j'; c++ {
		p := string(c - 1)
		aliases += string(c) + ": &" + string(c) + " [*" + strings.Join(strings.Split(strings.Repeat(p, 9), ""), ",*") + "]\n"
	}
	for name, text := range map[string]string{
		"brackets":  "a: " + strings.Repeat("[", 1000),
		"braces":    "a: " + strings.Repeat("{a: ", 500),
		"few deep":  "a: " + strings.Repeat("[", 39),
		"closed":    "a: " + strings.Repeat("[", 39) + strings.Repeat("]", 39),
		"aliases":   aliases,
		"dashes":    strings.Repeat("- ", 2000) + "x",
		"questions": strings.Repeat("? ", 2000) + "x",
		"self":      "a: &a {b: *a}",
		"colons":    strings.Repeat("a: ", 2000),
		"many keys": strings.Repeat("k: 1\n", 100_000),
		"many":      "wind: [" + strings.Repeat("1,", 200_000) + "1]",
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := readText(t, text)
		runtime.ReadMemStats(&after)
		require.Error(t, err, name)
		assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(600<<20), name)
		assert.Less(t, len(err.Error()), 400, name)
		t.Logf("%s: %d MB, %v", name, (after.TotalAlloc-before.TotalAlloc)>>20, err)
	}
}

// Tables of thrust and drag: whatever they hold, no panic, and what is taken
// rises and is finite.
func FuzzTable(f *testing.F) {
	for _, s := range []string{"time_s,thrust_n\n0,5\n1,0\n", "0,5\n0,7\n1,0\n", "thrust_n,time_s\n1,2\n", "# x\ntime_s,thrust_n\n\"1\",2\n", "\xef\xbb\xbf0,1\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		rows, err := readTable(strings.NewReader(text), "motor.csv", "time_s", "thrust_n")
		if err != nil {
			return
		}
		for i, r := range rows {
			if !(r[0] >= 0 && r[1] >= 0) || i > 0 && r[0] < rows[i-1][0] {
				t.Fatalf("%q gives %v", text, rows)
			}
		}
	})
}
