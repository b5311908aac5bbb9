// Package wind holds the wind over a pad: a profile of levels, and what is
// known of its error. Directions are where the wind blows from, degrees true.
// Readers of weather files are in the sub-package sources.
package wind

// Level is the wind at one height.
type Level struct {
	Height  float64 // m above the pad
	Speed   float64 // m/s
	FromDeg float64 // degrees true, where it blows from
}

// Profile is the mean wind above a pad, by height.
type Profile struct {
	Levels    []Level // ascending by Height, at least one
	Roughness float64 // roughness length, m; 0 means 0.03 (open grassland)
	VeerDeg   float64 // turn from 60 m to 600 m where there is one level alone
	South     bool    // southern hemisphere: the turn is anticlockwise
	Shape     []SD    // spread of the shape, strictly ascending heights; empty: the default of ShapeSD
}

// Choice is one of several alternative winds.
type Choice struct {
	Profile Profile
	Weight  float64 // relative; runs draw a choice in proportion
	Label   string
}
