// Package rules holds figures that the hobby's codes publish, and says on which
// side of them a flight stands. It gives no permission: a figure is a number
// someone printed, named with its code and how it was read; the local code, the
// land owner, the air-space rules and the range officer decide. The codes are
// those of the United States, because theirs are public, and the one law of the
// United Kingdom that sets figures; of other countries it knows none.
package rules

// Names of the codes.
const (
	Model      = "US Model Rocket Safety Code"
	HighPower  = "US High Power Rocket Safety Code"
	Distances  = "US High Power Rocket Safety Code / NFPA 1127 Table 4.16.3"
	California = "19 CCR 1036"
	Federal    = "14 CFR 101"
)

// editions says which text of a code the figures are from.
var editions = map[string]string{
	Model:      "2012 edition (year from memory)",
	HighPower:  "2012 edition (year from memory)",
	Distances:  "as in the 2012 code; NFPA 1127-2018 with TIA 18-1 of August 2017 for several at once",
	California: "text public in 2026",
	Federal:    "eCFR text public in 2026",
	British:    "2016, articles 96 and 97, Schedule 1",
}

// How a figure was read.
const (
	lookedUp   = "published, a public copy read"
	fromMemory = "from memory"
)

const (
	foot = 0.3048  // m, exact
	mph  = 0.44704 // m/s, exact
)

// Class is a letter class of total impulse: above the class before it, up to Max.
type Class struct {
	Name  string
	Max   float64 // N s
	Level int     // US certification level; 0: none
	Basis string
}

// classes are the letter classes (NFPA 1122, 1125, 1127 as public pages print
// them). Codes print lower bounds of 1.26, 2.51 and so on, some tables 1.25,
// 2.5; here a class reaches from above the one before it.
var classes = []Class{
	{"1/8A", 0.3125, 0, fromMemory}, {"1/4A", 0.625, 0, fromMemory}, {"1/2A", 1.25, 0, lookedUp},
	{"A", 2.5, 0, lookedUp}, {"B", 5, 0, lookedUp}, {"C", 10, 0, lookedUp}, {"D", 20, 0, lookedUp},
	{"E", 40, 0, lookedUp}, {"F", 80, 0, lookedUp}, {"G", 160, 0, lookedUp},
	{"H", 320, 1, lookedUp}, {"I", 640, 1, lookedUp},
	// most sources put J in level 2; one page says 1
	{"J", 1280, 2, lookedUp}, {"K", 2560, 2, lookedUp}, {"L", 5120, 2, lookedUp},
	{"M", 10240, 3, lookedUp}, {"N", 20480, 3, lookedUp}, {"O", 40960, 3, lookedUp},
}

// row is a figure that depends on total impulse: for up to Max N s.
type row struct {
	max     float64 // N s
	feet    float64
	complex float64 // ft, for clusters and stages; 0: none given
	basis   string
}

// people are the least distances of people from the pad.
var people = map[string][]row{
	Model: {{20, 15, 0, lookedUp}, {160, 30, 0, lookedUp}},
	Distances: {
		{1280, 100, 200, lookedUp}, {2560, 200, 300, lookedUp}, {5120, 300, 500, lookedUp},
		{10240, 500, 1000, lookedUp}, {20480, 1000, 1500, lookedUp}, {40960, 1500, 2000, lookedUp},
	},
	California: {
		{320, 30, 0, lookedUp}, {1280, 150, 0, lookedUp}, {2560, 200, 0, lookedUp}, {5120, 300, 0, lookedUp},
		{10240, 500, 0, lookedUp}, {20480, 1000, 0, lookedUp},
	},
}

// sites are the least dimensions of a launch site: the diameter of a circle or
// the shortest side of a rectangle. High power: also half the altitude.
var sites = map[string][]row{
	Model: {
		{1.25, 50, 0, lookedUp}, {2.5, 100, 0, lookedUp}, {5, 200, 0, lookedUp}, {10, 400, 0, lookedUp},
		{20, 500, 0, lookedUp}, {160, 1000, 0, lookedUp}, {320, 1500, 0, fromMemory},
	},
	HighPower: {{40960, 1500, 0, lookedUp}},
	California: {
		{320, 1500, 0, lookedUp}, {640, 2500, 0, lookedUp}, {1280, 3500, 0, lookedUp}, {2560, 5000, 0, lookedUp},
		{5120, 7000, 0, lookedUp}, {10240, 10000, 0, lookedUp}, {20480, 15000, 0, lookedUp},
	},
}

// limit is a figure that does not depend on total impulse.
type limit struct {
	code, item string
	value      float64 // in unit
	unit       string
	basis      string
}

const (
	tilt         = "launcher tilt from vertical"
	windSpeed    = "wind speed"
	surfaceWind  = "surface wind"
	liftOffMass  = "lift-off mass"
	propellant   = "propellant"
	totalImpulse = "total impulse"
	class1Mass   = "Class 1 lift-off mass"
	class1Fuel   = "Class 1 propellant"
	class2Total  = "Class 2 total impulse"
)

var limits = []limit{
	{Model, tilt, 30, "deg", lookedUp},
	{Model, windSpeed, 20, "mph", fromMemory},
	{Model, liftOffMass, 1500, "g", lookedUp},
	{Model, propellant, 125, "g", lookedUp},
	{Model, totalImpulse, 320, "N s", lookedUp},
	{HighPower, tilt, 20, "deg", fromMemory},
	{HighPower, windSpeed, 20, "mph", fromMemory},
	{HighPower, totalImpulse, 40960, "N s", lookedUp},
	{California, tilt, 20, "deg", lookedUp},
	{California, surfaceWind, 20, "mph", lookedUp},
	{Federal, class1Fuel, 125, "g", lookedUp},
	{Federal, class1Mass, 1500, "g", lookedUp},
	{Federal, class2Total, 40960, "N s", lookedUp},
}

// find returns the row for a total impulse, nil beyond the last.
func find(rows []row, impulse float64) *row {
	for i := range rows {
		if impulse <= rows[i].max {
			return &rows[i]
		}
	}
	return nil
}
