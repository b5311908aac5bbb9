package evidence_test

import (
	"fmt"

	"windfall/drift/evidence"
	"windfall/geo"
)

// A bearing as somebody tells it, with what is assumed where nothing is said.
func ExampleSighting() {
	deg := 47.0
	s := evidence.Sighting{By: "Ines", Kind: evidence.Bearing{
		Observer:   evidence.Observer{From: &geo.Place{Lat: 41.905, Lon: -4.926}},
		BearingDeg: &deg,
		Moment:     evidence.Moment{Event: "landing"},
	}}
	if err := s.Ready(); err != nil {
		fmt.Println(err)
	}
	fmt.Println(s)
	fmt.Println(s.Kind.(evidence.Bearing).BearingSD, *s.Sure)
	// Output:
	// Ines: bearing 47 deg from 41.90500,-4.92600 at landing
	// 3 0.95
}
