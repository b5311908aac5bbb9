package blocks

// tuning holds every number of the method that was chosen by trial. Unless it
// says otherwise a number was tried on scenarios of the search benchmark
// (cmd/windfall/search_benchmark_test.go): every fifth, every fourth without a
// river and, where ways bend, two dozen with one; and on the example flight. It
// is a choice between finding soon and being easy to follow. Values of a
// plan are shares of what finding everything at once would be worth.
type tuning struct {
	Afterwards float64 // a find is worth something until this share of the time is over, so that the last minutes count
	MaxCells   int     // of a raster; cells grow when there would be more
	Chance     float64 // share of the map's chance that the raster is to hold
	Ground     float64 // ... or this many times the ground that can be swept once, if that is less

	LeastLanes  int // on foot; fewer are no block to anybody
	LeastSpiral int // courses
	MostLanes   int
	LeastLane   float64 // m, on foot
	LaneWidths  float64 // ... and in sweep widths
	AirLane     float64 // m, for drones
	LooseLane   float64 // m, when there is no time for more
	GapLeast    float64 // spacing in sweep widths
	GapMost     float64

	PriceBlock  float64 // a block is one more thing to explain
	PriceSpiral float64 // an expanding rectangle takes more explaining than lanes
	PriceLane   float64 // a lane is one more turn to get right
	PriceShort  float64 // a lane of LaneLong or more costs PriceLane, shorter ones up to this more
	LaneLong    float64 // m
	PriceOwn    float64 // crossing one's own lanes
	PriceOther  float64 // a way through somebody else's block or over somebody's way
	PriceBend   float64 // each leg of a way that is not straight
	PriceTangle float64 // each crossing beyond Own, each leg beyond Strays that is neither in a block nor plainly a way
	Own, Strays float64
	BentShare   float64 // a bent way through another's block counts as this share of all ground walked by two
	PriceRow    float64 // each line of a walker's list beyond RowsHour an hour
	RowsHour    float64
	PriceShare  float64 // times the share of walkers' ground that two look at, beyond Shared
	Shared      float64
	Apart       float64 // spacings of bare ground beside a lane that nobody else's block may touch

	Cells, Fewest           float64 // of a layout, before chains are made shorter; to this share at least
	Leap                    float64 // no move is thought to find this much more
	StrictFirst, StrictLast float64 // price of all ground being walked by two, first and last

	Rounds []heat
	Again  heat // when an earlier layout is taken up
}

// heat is one round of annealing: Keep of the chains before it go on, each in
// Copies, on a raster of Across cells across the usual sweep width, for Steps
// steps and More for each further searcher, from temperature Hot to Cold.
type heat struct {
	Keep, Copies int
	Across       float64
	Steps, More  int
	Hot, Cold    float64
}

var tuned = tuning{
	Afterwards: 1.05, MaxCells: 40000, Chance: 0.995, Ground: 3,
	LeastLanes: 3, LeastSpiral: 6, MostLanes: 24, LeastLane: 40, LaneWidths: 1.02, AirLane: 30, LooseLane: 12,
	GapLeast: 0.43, GapMost: 2.2,
	PriceBlock: 0.0002, PriceSpiral: 0.0002, PriceLane: 0.00002, PriceShort: 0.00015, LaneLong: 140,
	PriceOwn: 0.0003, PriceTangle: 0.004, Own: 2, Strays: 3, PriceOther: 0.0002,
	PriceBend: 0.0002, PriceShare: 0.2, Shared: 0.04, Apart: 0.2,
	BentShare: 0.005, Leap: 0.05, Cells: 10000, Fewest: 0.25, PriceRow: 0.0006, RowsHour: 6.5,
	StrictFirst: 0.1, StrictLast: 10,
	Rounds: []heat{
		{Copies: 4, Across: 2, Steps: 2000, More: 250, Hot: 0.001, Cold: 0.0001},
		{Keep: 4, Copies: 1, Across: 2, Steps: 8000, More: 1500, Hot: 0.0004, Cold: 0.00005},
		{Keep: 2, Copies: 1, Across: 3, Steps: 20000, More: 2750, Hot: 0.0002, Cold: 0.00001},
	},
	Again: heat{Copies: 2, Across: 2, Steps: 3000, More: 1500, Hot: 0.0002, Cold: 0.00002},
}
