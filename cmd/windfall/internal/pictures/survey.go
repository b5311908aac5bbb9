package pictures

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/plane"
	"windfall/search"
	"windfall/search/look"
)

// Candidate is one thing that does not belong to the ground, in all pictures
// that show it.
type Candidate struct {
	N        int       `json:"n"`
	At       geo.Place `json:"at"`
	Error    float64   `json:"error_m"` // one standard deviation each way
	Score    float64   `json:"score"`
	Level    float64   `json:"level"` // of the map: the area of this probability just reaches it
	Rank     float64   `json:"rank"`  // the score with the map's chance in it
	Long     float64   `json:"long_m"`
	Wide     float64   `json:"wide_m"`
	Colour   string    `json:"colour"`
	Pictures []Where   `json:"pictures"`
	Radius   float64   `json:"radius_m"` // within which it may lie
	Crop     []byte    `json:"-"`
	Middle   [2]int    `json:"-"`
	CropSize [2]int    `json:"-"`

	LongPixels float64 `json:"-"` // its long side in the crop
}

// Where is where one picture shows a candidate.
type Where struct {
	File  string `json:"file"`
	Pixel [2]int `json:"pixel"`
}

// Survey is what a run found in all.
type Survey struct {
	Candidates []Candidate `json:"candidates"`
	Looked     int         `json:"looked"` // pictures
	LeftAside  int         `json:"left_aside"`
	AreaM2     float64     `json:"area_m2"` // of ground pictured, told once
	Chance     float64     `json:"chance"`  // of finding the target in it, mean over that ground
	More       int         `json:"more"`    // candidates beyond those given, fainter
}

// radiusSDs is how many standard deviations about a candidate's place its
// ground counts as not searched until somebody has judged it.
const radiusSDs = 2.5

// Candidates that somebody is asked to look at, at most and where there are
// but few pictures.
const (
	mostCandidates  = 200
	leastCandidates = 3
)

// Gather joins what the pictures hold and puts it in order: the oddest first,
// with the map's chance. One candidate is kept for each twelve megapixels, the
// rate at which the chances of finding the target were measured.
func (s *Settings) Gather(ps []Picture, m *grid.Map) Survey {
	var out Survey
	var sights []look.Sight
	of := map[int]Found{}
	pixels := 0.0
	for i, p := range ps {
		if p.Error != "" {
			out.LeftAside++
			continue
		}
		out.Looked++
		pixels += float64(p.Size[0]) * float64(p.Size[1])
		for _, f := range p.Found {
			c := look.Candidate{X: float64(f.Pixel[0]), Y: float64(f.Pixel[1]), Long: f.Long, Wide: f.Wide,
				Score: f.Score, Colour: colour(f.Colour), Cut: f.Cut}
			of[len(sights)] = f
			sights = append(sights, look.Sight{Candidate: c, Picture: i, Number: len(sights), Pixel: 1,
				At: geo.XY{X: f.At.East, Y: f.At.North}, Error: f.Error})
		}
	}
	spots := look.Rank(look.Join(sights), s.density(m, ps, &out))
	most := min(mostCandidates, max(int(math.Ceil(pixels/12e6)), leastCandidates))
	out.More = max(0, len(spots)-most)
	for n, sp := range spots[:len(spots)-out.More] {
		best := of[sp.Sights[0].Number]
		c := Candidate{N: n + 1, At: s.Site.Frame.Place(sp.At), Error: round2(sp.Error), Score: round2(sp.Score),
			Level: math.Round(1000*m.LevelAt(sp.At)) / 1000,
			Rank:  round2(sp.Rank()), Long: best.Long, Wide: best.Wide, Colour: best.Colour,
			Crop: best.Crop, Middle: best.CropMiddle, CropSize: best.CropSize, LongPixels: best.LongPixels}
		c.Radius = round2(radiusSDs*sp.Error + s.longest())
		for _, v := range sp.Sights {
			c.Pictures = append(c.Pictures, Where{ps[v.Picture].File, of[v.Number].Pixel})
		}
		out.Candidates = append(out.Candidates, c)
	}
	return out
}

func (s *Settings) longest() float64 {
	long := 0.0
	for _, t := range s.Things {
		long = max(long, t.Long)
	}
	return long
}

// rasterSide is how many points a side the ground pictured is summed up over.
const rasterSide = 300

// density returns the map's density against its mean over the ground pictured,
// and sums that ground up.
func (s *Settings) density(m *grid.Map, ps []Picture, out *Survey) func(geo.XY) float64 {
	v := s.Searched(ps, nil)
	box := plane.Empty()
	for _, a := range v.Areas {
		box = box.Union(a.Ground.Bound())
	}
	unseen, size := v.Unseen(), box.Size()
	step := geo.XY{X: size.X / rasterSide, Y: size.Y / rasterSide}
	n, mass, chance := 0, 0.0, 0.0
	for k := range rasterSide * rasterSide {
		q := box.Min.Add(geo.XY{X: (float64(k%rasterSide) + 0.5) * step.X, Y: (float64(k/rasterSide) + 0.5) * step.Y})
		if c := 1 - unseen(q); c > 0 {
			n, mass, chance = n+1, mass+massAt(m, q), chance+c
		}
	}
	if n == 0 {
		return func(geo.XY) float64 { return 1 }
	}
	out.AreaM2 = math.Round(float64(n) * step.X * step.Y)
	out.Chance = math.Round(1000*chance/float64(n)) / 1000
	mean := mass / float64(n)
	return func(q geo.XY) float64 {
		if mean == 0 {
			return 1 // the map holds none of this ground
		}
		return massAt(m, q) / mean
	}
}

// massAt is the mass of the map's cell at a place; 0 outside the map.
func massAt(m *grid.Map, q geo.XY) float64 {
	i, j, ok := m.At(q)
	if !ok {
		return 0
	}
	return m.P[j*m.NX+i]
}

// Searched is the ground of all pictures that were looked at, with the
// candidates that nobody has judged.
func (s *Settings) Searched(ps []Picture, open []Candidate) search.Survey {
	var out search.Survey
	for _, p := range ps {
		for _, a := range p.Ground {
			var ring plane.Ring
			for _, q := range a.Ring {
				ring = append(ring, s.Site.Frame.ToXY(q))
			}
			out.Areas = append(out.Areas, search.Looked{Ground: plane.Polygon{ring}, Chance: a.Chance})
		}
	}
	for _, c := range open {
		out.Open = append(out.Open, search.Round{At: geo.XY{X: c.At.East, Y: c.At.North}, Radius: c.Radius})
	}
	return out
}

func colour(hex string) (c [3]uint8) {
	for k := range c {
		v, _ := strconv.ParseUint(hex[1+2*k:3+2*k], 16, 8)
		c[k] = uint8(v)
	}
	return c
}

// Reasons says why pictures were left aside, each reason once with the files.
func Reasons(ps []Picture) []string {
	return told(ps, func(p Picture) []string {
		if p.Error == "" {
			return nil
		}
		return []string{p.Error}
	})
}

// Notes says what was noticed of pictures that were looked at, in the same way.
func Notes(ps []Picture) []string { return told(ps, func(p Picture) []string { return p.Notes }) }

func told(ps []Picture, of func(Picture) []string) (out []string) {
	by := map[string][]string{}
	for _, p := range ps {
		for _, w := range of(p) {
			by[w] = append(by[w], p.File)
		}
	}
	for why, files := range by {
		slices.Sort(files)
		if len(files) == 1 {
			out = append(out, fmt.Sprintf("%s: %s", files[0], why))
			continue
		}
		out = append(out, fmt.Sprintf("%s and %d more: %s", files[0], len(files)-1, why))
	}
	slices.SortFunc(out, cmp.Compare)
	return out
}
