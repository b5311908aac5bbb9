package learn

import (
	"math"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"windfall/drift"
)

// Result is what was learned, as reports, the logbook and Apply need it.
// Spreads are standard deviations: of the logarithm for factors that multiply,
// in degrees for angles.
type Result struct {
	Finds    int          `json:"finds"`
	Flights  int          `json:"flights_used"` // with those never found
	Factors  []Factor     `json:"factors"`
	Outcomes []Outcome    `json:"outcomes"`
	Coverage []Coverage   `json:"coverage"`
	Scores   []Score      `json:"flights"`
	Doubts   []doubtful   `json:"doubts,omitempty"`
	Thin     []thinFlight `json:"rough,omitempty"`
	Next     string       `json:"next,omitempty"` // what would teach most next
	// Observers are people whose bearings or times are known by flights that were found.
	Observers []Observer    `json:"observers,omitempty"`
	Heard     int           `json:"heard,omitempty"` // flights never found, whose sightings were taken as theirs
	Lost      []ownLearning `json:"never_found,omitempty"`
	Verdict   []string      `json:"verdict"` // plain sentences: before learning, after it, wrong entries
	// Withheld says that maps do not use it, since it scores worse on finds left
	// out than no learning does.
	Withheld bool `json:"withheld,omitempty"`
	// Measured is what was measured on the ground and learned from with the finds.
	Measured []Measured `json:"measured,omitempty"`
}

// Factor is one factor before and after.
type Factor struct {
	Name    string  `json:"name"`
	Unit    string  `json:"unit,omitempty"` // of Mean and SD: "deg", or "" for a factor that multiplies
	Mean    float64 `json:"mean"`           // over the flights found: a multiplier (median), or degrees
	MeanSE  float64 `json:"mean_se"`        // how well it is known, in SD's unit
	SD      float64 `json:"sd"`             // of a new flight: from run to run, and how well the mean is known
	SDLow   float64 `json:"sd_low"`         // 90 % interval of the part from run to run
	SDHigh  float64 `json:"sd_high"`
	WasMean float64 `json:"was_mean"`
	WasSD   float64 `json:"was_sd"`
	// Elsewhere is what is used for a place, vehicle or device never found
	// before; Members for those that were. Their SD is a new flight's whole
	// uncertainty, that of the mean included.
	Elsewhere Member   `json:"elsewhere"`
	Members   []Member `json:"members,omitempty"`
	Pool      string   `json:"pool,omitempty"` // what members are: place, vehicle, device
	Log       bool     `json:"log,omitempty"`  // it multiplies

	// Gain is how much more likely, in the logarithm, learning it makes what was
	// logged of a flight left out; where that is below 0 maps do not use it.
	Gain     float64 `json:"gain"`
	Withheld bool    `json:"withheld,omitempty"`

	Taught []teacher     `json:"taught_by,omitempty"`    // what taught it, most first, not all
	Kinds  []taughtByAll `json:"taught_kinds,omitempty"` // all that taught it, by kind, most first
}

// Member is a factor at one place, of one vehicle or device.
type Member struct {
	Name  string  `json:"name,omitempty"`
	Title string  `json:"title,omitempty"` // what people call it, else the flights; places may have none
	Lat   float64 `json:"lat,omitempty"`   // places only
	Lon   float64 `json:"lon,omitempty"`
	Finds int     `json:"finds"` // flights behind it
	Mean  float64 `json:"mean"`
	SD    float64 `json:"sd"`

	Measured int `json:"measured,omitempty"` // measurements on the ground behind it
}

// Outcome is the chance of an outcome before and after, over the flights found.
type Outcome struct {
	Name        string  `json:"name"`
	Probability float64 `json:"probability"`
	SE          float64 `json:"se"` // standard deviation of what is known of it
	Was         float64 `json:"was"`
	Odds        float64 `json:"odds"` // by which a flight's own chance is multiplied, before norming

	Members []outcomeMember `json:"members,omitempty"` // vehicles that were found
}

// outcomeMember is the chance of an outcome of one vehicle.
type outcomeMember struct {
	Name        string  `json:"name"`
	Title       string  `json:"title,omitempty"` // for people
	Finds       int     `json:"finds"`
	Probability float64 `json:"probability"`
	SE          float64 `json:"se"`
	Odds        float64 `json:"odds"` // as Outcome's
}

// value brings x default spreads into the factor's unit.
func (s Spec) value(x float64) float64 {
	if s.Log {
		return math.Exp(x * s.SD)
	}
	return x * s.SD
}

// factorResults tells what is known of each factor.
func (p *Posterior) factorResults() []Factor {
	var out []Factor
	for k := range p.problem.factors {
		f := &p.problem.factors[k]
		r := Factor{Name: f.Name, Unit: f.Unit, WasMean: f.value(0), WasSD: f.wasSD(), Pool: f.Pool, Log: f.Log}
		share, count, measured := p.problem.shares(k)
		means, sds := make([]float64, len(p.draws)), make([]float64, len(p.draws))
		for d := range p.draws {
			means[d] = p.draws[d].mu[k]
			for g, v := range share {
				means[d] += p.draws[d].u[k][g] * v
			}
			sds[d] = p.draws[d].s[k]
		}
		m, se := stat.PopMeanStdDev(means, nil)
		s := stat.Mean(sds, nil)
		slices.Sort(sds)
		r.Mean, r.MeanSE, r.SD = f.value(m), se*f.SD, math.Hypot(s, se)*f.SD
		r.SDLow, r.SDHigh = f.SD*sds[len(sds)/20], f.SD*sds[len(sds)-1-len(sds)/20]
		m, s = p.predict(k, -1, 1, nil)
		r.Elsewhere = Member{Mean: f.value(m), SD: s * f.SD}
		for g, name := range f.groups {
			m, s := p.predict(k, g, 1, nil)
			mem := Member{Name: name, Title: p.memberTitle(f, g), Finds: count[g], Measured: measured[g], Mean: f.value(m),
				SD: s * f.SD}
			if f.Pool == "place" {
				for i, at := range p.places {
					if placeName(i) == name {
						mem.Lat, mem.Lon = at.Lat(), at.Lon()
					}
				}
			}
			r.Members = append(r.Members, mem)
		}
		out = append(out, r)
	}
	order := func(name string) int {
		for i, s := range specs {
			if base, _, _ := strings.Cut(name, kindMark); s.Name == base {
				return i
			}
		}
		return 1 // drag of devices after the wind's speed
	}
	slices.SortStableFunc(out, func(a, b Factor) int { return order(a.Name) - order(b.Name) })
	return out
}

// shares tells, by group of factor k, what share of all its values come from
// there, and how many flights and measurements they are from.
func (p *problem) shares(k int) (share []float64, flights, measured []int) {
	f := &p.factors[k]
	n := len(f.groups)
	share, flights, measured = make([]float64, n), make([]int, n), make([]int, n)
	all := float64(len(f.slots))
	for _, s := range f.slots {
		if s.group >= 0 {
			flights[s.group]++
			share[s.group]++
		}
	}
	for _, g := range p.gauges {
		if g.factor == k {
			all++
			if g.group >= 0 {
				measured[g.group]++
				share[g.group]++
			}
		}
	}
	floats.Scale(1/max(all, 1), share)
	return share, flights, measured
}

// leaveOut returns weights of the draws that stand for the posterior without
// site i: the inverse of the find's density, cut off at sqrt(draws) times the
// mean (Ionides 2008, truncated importance sampling, J. Comput. Graph. Stat. 17).
func (p *Posterior) leaveOut(i int) []float64 {
	w := make([]float64, len(p.draws))
	low := math.Inf(1)
	for d := range p.draws {
		low = min(low, p.draws[d].logp[i])
	}
	for d := range p.draws {
		w[d] = math.Exp(low - p.draws[d].logp[i])
	}
	bounded(w)
	return w
}

// bounded cuts weights off at the root of their number times their mean.
func bounded(w []float64) {
	top := floats.Sum(w) / math.Sqrt(float64(len(w)))
	for d := range w {
		w[d] = min(w[d], top)
	}
}

// movedFactor tells how far one find moved one factor.
type movedFactor struct {
	Factor string  `json:"factor"`
	From   float64 `json:"from"` // its mean without this find
	To     float64 `json:"to"`
	Share  float64 `json:"share"` // of the mean's own uncertainty
}

// influence returns what the find of site i moved, most first, at most n.
func (p *Posterior) influence(i int, w []float64, n int) []movedFactor {
	var out []movedFactor
	s := &p.problem.sites[i]
	for l, k := range s.slots {
		f := &p.problem.factors[k]
		if f.scaleOnly {
			continue
		}
		var with, sq, without, tot float64
		for d := range p.draws {
			x := p.draws[d].mu[k]
			if s.group[l] >= 0 {
				x += p.draws[d].u[k][s.group[l]]
			}
			with += x
			sq += x * x
			without += w[d] * x
			tot += w[d]
		}
		nd := float64(len(p.draws))
		with, without = with/nd, without/tot
		sd := math.Sqrt(max(sq/nd-with*with, 1e-12))
		out = append(out, movedFactor{f.Name, f.value(without), f.value(with), (with - without) / sd})
	}
	sort.SliceStable(out, func(a, b int) bool { return math.Abs(out[a].Share) > math.Abs(out[b].Share) })
	return out[:min(n, len(out))]
}

// wasSD is the spread of a flight before any find, as maps are drawn with it.
func (s Spec) wasSD() float64 {
	if s.Pool != "device" {
		return s.SD
	}
	f := drift.Flight{Recovery: []drift.Device{*s.device()}}
	return f.DragSpread(0)
}
