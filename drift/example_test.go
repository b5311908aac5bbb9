package drift_test

import (
	"context"
	"fmt"

	"github.com/paulmach/orb"

	"windfall/drift"
	"windfall/drift/trigger"
	"windfall/drift/wind"
)

// A flight on a streamer in a wind from the west, and its cloud of landings.
func Example() {
	impulse, burn, propellant, delay := 40.0, 1.5, 0.03, 6.0
	m, err := drift.Prepare(drift.Flight{
		Site:     drift.Site{Pad: orb.Point{-4.92, 41.9}, Elevation: 780},
		Rail:     drift.Rail{Length: 1.5},
		Vehicle:  drift.Vehicle{Mass: 0.5, Diameter: 0.05, Drag: []drift.MachCd{{Cd: 0.6}}},
		Motor:    drift.Motor{Impulse: &impulse, Burn: &burn, Propellant: &propellant, Delay: &delay},
		Recovery: []drift.Device{{Kind: "streamer", Trigger: trigger.Trigger{Kind: trigger.Ejection}, CdS: 0.06}},
		Wind:     []wind.Choice{{Profile: wind.Profile{Levels: []wind.Level{{Height: 2, Speed: 4, FromDeg: 270}}}, Weight: 1}},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	cloud, err := m.Run(context.Background(), drift.Options{Runs: 512, Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	s := cloud.Scatter(nil)
	fmt.Println(len(cloud.Landings), s.SemiMajor > s.SemiMinor)
	// Output: 512 true
}
