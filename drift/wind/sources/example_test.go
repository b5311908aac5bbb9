package sources_test

import (
	"fmt"
	"strings"
	"time"

	"windfall/drift/wind/sources"
)

// An airport report corrects a profile by hand.
func Example() {
	opt := sources.Options{When: time.Date(2026, 4, 18, 9, 20, 0, 0, time.UTC)}
	read := func(name, text string) sources.Report {
		r, err := sources.Read(name, strings.NewReader(text), opt)
		if err != nil {
			fmt.Println(err)
		}
		return r
	}
	levels := read("levels.csv", "height (m),from (deg),speed (kn)\n10,240,8\n600,260,20\n")
	report := read("metar.txt", "METAR LEZZ 180900Z 24012KT 9999 12/04 Q1019=\n")
	choices, err := sources.Combine([]sources.Item{{Report: levels}, {Report: report}}, opt)
	if err != nil {
		fmt.Println(err)
	}
	for _, z := range []float64{10, 100, 600} {
		u, v := choices[0].Profile.At(z)
		fmt.Printf("%3.0f m: %.1f m/s toward east, %.1f toward north\n", z, u, v)
	}
	// Output:
	//  10 m: 4.8 m/s toward east, 2.8 toward north
	// 100 m: 5.5 m/s toward east, 2.6 toward north
	// 600 m: 10.4 m/s toward east, 1.9 toward north
}
