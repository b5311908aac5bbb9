package magnetic_test

import (
	"fmt"
	"time"

	"github.com/paulmach/orb"

	"windfall/geo/magnetic"
)

func ExampleDeclination() {
	d, err := magnetic.Declination(orb.Point{-118, 34}, 600, time.Date(2026, 4, 18, 0, 0, 0, 0, time.UTC))
	if err != nil {
		fmt.Println(err)
	}
	fmt.Printf("a compass bearing of 240 is %.0f true\n", 240+d)
	// Output: a compass bearing of 240 is 251 true
}
