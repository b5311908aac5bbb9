package evidence

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"windfall/drift"
	"windfall/geo"
)

const (
	partSD    = 15.0   // m, a phone's fix and the model's grain
	partFlatM = 2000.0 // m, radius of the disc in which a mistaken part lies anywhere
)

// PartFound is where a shed part was found.
type PartFound struct {
	Part  string     `json:"part,omitempty"` // its name in the flight file
	Found *geo.Place `json:"found,omitempty"`
}

// Name is how messages call it.
func (PartFound) Name() string { return "part-found" }

// Entry is the kind of its logbook entries.
func (PartFound) Entry() string { return "find" }

// Where is nowhere: the part is where it was found.
func (PartFound) Where() Observer { return Observer{} }

// When is no moment.
func (PartFound) When() Moment { return Moment{} }

func (p PartFound) filled() (Kind, float64) { return p, 0.98 }

func (p PartFound) limits() []limit { return []limit{latitude(p.Found)} }

func (p PartFound) check() error {
	if p.Part == "" || p.Found == nil {
		return errors.New("a found part needs its name in the flight file and the place")
	}
	return nil
}

func (p PartFound) words(float64) string {
	if p.Found == nil {
		return p.Part + " found"
	}
	return fmt.Sprintf("%s found at %.5f,%.5f", p.Part, p.Found.Lat, p.Found.Lon)
}

func (p PartFound) ready(m model, _ post) (law, error) {
	var names []string
	for i, part := range m.Flight().Parts {
		if part.Name == p.Part {
			return &partLaw{at: m.Frame().ToXY(orb.Point{p.Found.Lon, p.Found.Lat}), index: i}, nil
		}
		names = append(names, part.Name)
	}
	return nil, fmt.Errorf("the flight file has no part %q; its parts: %s", p.Part, strings.Join(names, ", "))
}

// partLaw is normal in both axes about the run's landing of the part. A
// mistaken find lies anywhere within partFlatM of the pad.
type partLaw struct {
	noMoment
	at    geo.XY
	index int // among the flight's parts
}

func (p *partLaw) mistaken() float64 { return -math.Log(math.Pi * partFlatM * partFlatM) }

func (p *partLaw) right(_ *drift.Landing, w *drift.Work) float64 {
	if p.index >= len(w.Parts) || !w.Parts[p.index].Shed {
		return math.Inf(-1)
	}
	d := w.Parts[p.index].At.Sub(p.at)
	return logNormal(d.X, partSD) + logNormal(d.Y, partSD)
}
