package hindcast

import (
	"context"
	"fmt"
	"io"
	"os"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// winds are the real winds to be had: those of WINDFALL_WINDS, station files of
// the Integrated Global Radiosonde Archive, version 2, or a CSV such as that of
// testdata/winds/README.md, divided by colons; else that CSV where it lies
// beside the project.
func winds(t *testing.T) (all []Profile) {
	t.Helper()
	names := []string{"../../../shared/data/winds/profiles.csv"}
	if s := os.Getenv("WINDFALL_WINDS"); s != "" {
		names = strings.Split(s, ":")
	}
	for _, name := range names {
		f, err := os.Open(name)
		if err != nil {
			t.Skipf("NO REAL WINDS, THE MAPS ARE NOT TESTED ON ANY: %v; name an IGRA version 2 station file in WINDFALL_WINDS", err)
		}
		defer f.Close()
		var got []Profile
		if head := make([]byte, 1); mustRead(t, f, head) == "#" {
			_, err = f.Seek(0, io.SeekStart)
			require.NoError(t, err)
			got, _, err = ReadIGRA(name, f)
		} else {
			_, err = f.Seek(0, io.SeekStart)
			require.NoError(t, err)
			got, err = ReadProfiles(name, f)
		}
		require.NoError(t, err)
		all = append(all, got...)
	}
	require.NotEmpty(t, all, "no wind that reaches %g m from near the ground", soundingTop)
	return all
}

func mustRead(t *testing.T, r io.Reader, b []byte) string {
	_, err := io.ReadFull(r, b)
	require.NoError(t, err)
	return string(b)
}

// reaches is how high a truth must reach for a rocket, m.
var reaches = map[string]float64{"short": 115, "tall": 650, "high": 1750}

// tally flies every step-th case of each kind of the part kept out of the fit.
func tally(t *testing.T, cases []Case, rockets []string, step int) map[string]*Tally {
	out := map[string]*Tally{}
	for _, name := range rockets {
		rocket := Rockets()[name]
		seen := map[string]int{}
		for i := range cases {
			c := &cases[i]
			if c.Truth.Top() < reaches[name] {
				continue
			}
			kinds := []string{c.Kind}
			if c.Kind == "surface" {
				kinds[0] += map[bool]string{true: " by day", false: " by night"}[c.Given.Sun > 0]
				if c.Had.Levels[0].Speed < 2.01 {
					kinds = append(kinds, "surface, light")
				}
			}
			if seen[kinds[0]]++; seen[kinds[0]]%step != 0 {
				continue
			}
			f, err := Fly(context.Background(), rocket, c, 1024, false)
			require.NoError(t, err)
			old, err := Fly(context.Background(), rocket, c, 1024, true)
			require.NoError(t, err)
			for _, k := range kinds {
				k = name + ", " + k
				if out[k] == nil {
					out[k] = &Tally{}
				}
				out[k].Add(c, f, old)
			}
		}
	}
	return out
}

func show(tallies map[string]*Tally) {
	var keys []string
	for k := range tallies {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	fmt.Println(Heading)
	for _, k := range keys {
		fmt.Println(tallies[k].Row(k))
	}
}

// held are the cases that took no part in the fit; of winds that are not the
// fit's own, all.
func held(all []Case) (out []Case) {
	for _, c := range all {
		if c.Held() || os.Getenv("WINDFALL_WINDS") != "" {
			out = append(out, c)
		}
	}
	return out
}

// TestHindcast flies rockets in real winds: the 90 % areas of maps made from
// what a flier would have had hold about 90 % of the landings in what the air
// then did, and those of the old spreads do not. Kinds with the old spreads'
// areas much too small are asked for; 4 standard errors beyond 80 to 99 % fail.
func TestHindcast(t *testing.T) {
	cases := held(Pairs(winds(t)))
	step, rockets := 12, []string{"short", "tall"}
	if os.Getenv("WINDFALL_SLOW") != "" {
		step, rockets = 1, []string{"short", "tall", "high"}
	}
	tallies := tally(t, cases, rockets, step)
	show(tallies)
	all, gained := &Tally{}, 0
	for k, x := range tallies {
		all.flown, all.old, all.groups = append(all.flown, x.flown...), append(all.old, x.old...), append(all.groups, x.groups...)
		if n, _ := x.N(); n < 10 {
			continue
		}
		share, se := x.Inside(0.9)
		assert.Greater(t, share+4*se, 0.8, k)
		share, se = x.Inside(0.5)
		assert.Greater(t, share+4*se, 0.42, k)
		if old, e := x.OldInside(0.9); old+2*e < 0.8 {
			gained++
		}
	}
	share, se := all.Inside(0.9)
	assert.InDelta(t, 0.9, share, 0.05+3*se, "90 %% areas")
	share, se = all.Inside(0.5)
	assert.InDelta(t, 0.5, share, 0.08+3*se, "50 %% areas")
	old, se := all.OldInside(0.9)
	assert.Less(t, old+3*se, 0.8, "the old spreads should fail here")
	assert.Positive(t, gained)
}
