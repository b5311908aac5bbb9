package evidence

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"windfall/drift"
	"windfall/geo"
)

// What the likelihoods assume; the table in docs/evidence.md shows them.
const (
	soundMps    = 340.0  // m/s, air near 15 degC
	eyeM        = 1.7    // m above the ground, a standing adult's eyes: common practice, no source
	rangeShare  = 0.15   // standard deviation of a person's distance, of the distance
	partSD      = 15.0   // m, a phone's fix and the model's grain
	partFlatM   = 2000.0 // m, radius of the disc in which a mistaken part lies anywhere
	fastMps     = 18.0   // m/s, half of all people call this fast: a choice of ours
	fastSpread  = 0.35   // of the logarithm of the speed
	openSeen    = 0.95   // chance that an open canopy is called so
	openTangled = 0.30   // the same of a tangled one
	openFalse   = 0.03   // the same with nothing out
	farthest    = 60e3   // m, an observer's distance from the pad
	pieces      = 32     // of an interval of unknown time
)

// term is a sighting made ready for one model.
type term struct {
	Sighting
	from     geo.XY  // observer in the pad's frame
	eye      float64 // m above the pad
	cos, sin float64 // turn from the pad's frame into the observer's north
	rings    orb.MultiPolygon
	bounds   []orb.Bound
	found    geo.XY
	logSure  float64
	flat     float64 // log of the chance (density) of what was said if it is a mistake
	wrong    float64 // log of the chance that it is a mistake and says this
	path     bool    // the flight's path must be recorded
	tangled  int     // index of that outcome, -1
	nothing  int     // index of "no recovery", -1
	index    int     // of the part, -1
}

// ready makes the term of s for a model.
func ready(s Sighting, m model) (*term, error) {
	fl, f := m.Flight(), m.Frame()
	if err := s.Ready(); err != nil {
		return nil, fmt.Errorf("sighting %s: %w", s.label(), err)
	}
	t := &term{Sighting: s, tangled: -1, nothing: -1, index: -1, logSure: math.Log(*s.Sure), flat: flat(s)}
	t.wrong = t.flat + math.Log1p(-*s.Sure)
	for i, o := range m.Outcomes() {
		switch o.Name {
		case "tangled":
			t.tangled = i
		case "no recovery":
			t.nothing = i
		}
	}
	if s.From != nil {
		t.stand(f, fl.Site, fl.Terrain)
		if d := t.from.Norm(); d > farthest {
			return nil, fmt.Errorf("sighting %s: from %.4f,%.4f is %.0f km from the pad; nobody sees a rocket from beyond %.0f km: check the place", s.label(), s.From.Lat, s.From.Lon, d/1000, farthest/1000)
		}
	}
	if s.Found != nil {
		t.found = f.ToXY(orb.Point{s.Found.Lon, s.Found.Lat})
	}
	if s.Kind == PartFound {
		var names []string
		for i, p := range fl.Parts {
			names = append(names, p.Name)
			if p.Name == s.Part {
				t.index = i
			}
		}
		if t.index < 0 {
			return nil, fmt.Errorf("sighting %s: the flight file has no part %q; its parts: %s", s.label(), s.Part, strings.Join(names, ", "))
		}
	}
	for _, poly := range s.Area() {
		t.rings = append(t.rings, localPolygon(poly, f))
		t.bounds = append(t.bounds, t.rings[len(t.rings)-1].Bound())
	}
	t.path = t.needsPath()
	return t, nil
}

// stand places the observer. A bearing is from true north where the observer
// stands; there the pad's frame is turned by the convergence, which is found
// from the geodesic to a point 1 km north of the observer. What is left of the
// frame's distortion is (r/R)^2/6 of an offset, under 1e-4 degrees at 10 km.
// The Earth's curvature and refraction lower a target by 0.07 m at 1 km and
// 1.7 m at 5 km, at most 0.02 degrees, and are left out.
func (t *term) stand(f geo.Frame, site drift.Site, ground drift.Terrain) {
	p := orb.Point{t.From.Lon, t.From.Lat}
	t.from = f.ToXY(p)
	north := f.ToXY(geo.Frame{Origin: p}.ToLonLat(geo.XY{Y: 1000})).Sub(t.from)
	l := north.Norm()
	t.cos, t.sin = north.Y/l, north.X/l
	switch {
	case t.EyeM != nil:
		t.eye = *t.EyeM
	default:
		t.eye = eyeM
		if ground != nil {
			if e, ok := ground.Elevation(t.from); ok {
				t.eye = e - site.Elevation + eyeM
			}
		}
	}
}

func localPolygon(p orb.Polygon, f geo.Frame) orb.Polygon {
	out := make(orb.Polygon, len(p))
	for i, ring := range p {
		out[i] = make(orb.Ring, len(ring))
		for j, q := range ring {
			xy := f.ToXY(q)
			out[i][j] = orb.Point{xy.X, xy.Y}
		}
	}
	return out
}

func (t *term) needsPath() bool {
	for _, e := range []string{t.Event, t.Since} {
		if len(e) >= 7 && e[:7] == "opening" {
			return true
		}
	}
	switch t.Kind {
	case Bearing:
		return t.Event != "landing" || t.ElevDeg != nil
	case Timing:
		return t.Heard && t.Event != "landing"
	case Height:
		return t.Event != "apogee"
	case Looks:
		return true
	}
	return false
}

// likelihood returns the logarithm of the chance (or chance density) that the
// sighting is right and says what it says, under a run. The whole likelihood
// adds that of a mistake, t.wrong, which no run changes.
func (t *term) likelihood(l *drift.Landing, w *drift.Work) float64 {
	right := math.Inf(-1)
	switch t.Kind {
	case Bearing:
		right = t.bearing(l, w)
	case Timing:
		right = t.timing(l, w)
	case Height:
		right = t.height(l, w)
	case Looks:
		right = math.Log(t.looks(l, w))
	case PartFound:
		right = t.part(w)
	case NothingIn:
		if t.inside(l.At) {
			return math.Log1p(-*t.Sure)
		}
		return 0
	}
	if math.IsNaN(right) {
		return math.Inf(-1)
	}
	return t.logSure + right
}

// flat is the logarithm of the chance, or chance density, of what a mistaken
// sighting says: nothing of the flight, anything its instrument can show.
func flat(s Sighting) float64 {
	switch s.Kind {
	case Bearing:
		v := -math.Log(360)
		if s.ElevDeg != nil {
			v -= math.Log(90)
		}
		if s.Event != "" && s.At != nil {
			v -= math.Log(math.Max(2**s.At, 60))
		}
		return v
	case Timing:
		if s.At != nil {
			return -math.Log(math.Max(2**s.At, 60))
		}
		return math.Log(0.5)
	case Height:
		return -math.Log(math.Max(2**s.HeightM, 100))
	case Looks:
		return math.Log(0.5)
	case PartFound:
		return -math.Log(math.Pi * partFlatM * partFlatM)
	}
	return math.Inf(-1)
}

func (t *term) inside(p geo.XY) bool {
	q := orb.Point{p.X, p.Y}
	for i, poly := range t.rings {
		if t.bounds[i].Contains(q) && planar.PolygonContains(poly, q) {
			return true
		}
	}
	return false
}

// timing: normal about the run's time for a stated one; for an interval the
// chance that the run's time, blurred by TimeSD, lies in it. A mistaken time
// is anywhere between 0 and twice the stated one (at least 60 s).
func (t *term) timing(l *drift.Landing, w *drift.Work) float64 {
	v := t.seconds(l, w)
	if t.At != nil {
		return logNormal(v-*t.At, t.TimeSD)
	}
	if math.IsNaN(v) { // it has not come: later than any time
		v = math.Inf(1)
	}
	p := 1.0
	if t.After != nil {
		p = upper((*t.After - v) / t.TimeSD)
	}
	if t.Before != nil {
		p *= upper((v - *t.Before) / t.TimeSD)
	}
	return math.Log(p)
}

// seconds is the run's time of the event, as the observer has it.
func (t *term) seconds(l *drift.Landing, w *drift.Work) float64 {
	v := eventTime(t.Event, l, w) - eventTime(t.Since, l, w)
	if t.Heard {
		v += t.away(l, w) / soundMps
	}
	return v
}

// away is the distance in m from the observer to the vehicle at the event.
func (t *term) away(l *drift.Landing, w *drift.Work) float64 {
	if t.Event == "landing" {
		return l.At.Sub(t.from).Norm()
	}
	m := at(w.Path, eventTime(t.Event, l, w))
	return math.Hypot(math.Hypot(m.x-t.from.X, m.y-t.from.Y), m.z-t.eye)
}

// height: normal about the run's height at the event or time. A mistaken one
// is anywhere between 0 and twice the stated one (at least 100 m).
func (t *term) height(l *drift.Landing, w *drift.Work) float64 {
	z, sd := l.ApogeeM, t.HeightSD
	if t.Event != "apogee" {
		m := at(w.Path, t.when(l, w))
		if math.IsNaN(m.t) {
			m.z = math.NaN()
		}
		z, sd = m.z, math.Hypot(sd, m.vz*t.TimeSD)
	}
	return logNormal(z-*t.HeightM, sd)
}

// when is the run's time of the sighting's one moment, NaN if it never came.
func (t *term) when(l *drift.Landing, w *drift.Work) float64 {
	if t.Event != "" {
		return eventTime(t.Event, l, w)
	}
	if t.At != nil {
		return *t.At + eventTime(t.Since, l, w)
	}
	return math.NaN()
}

// looks returns the chance that a right observer would say open, or fast.
func (t *term) looks(l *drift.Landing, w *drift.Work) float64 {
	when := t.when(l, w)
	if t.Event == "" && t.At == nil {
		when = l.LandingS
	}
	if t.Looked == Fast {
		v := l.LandingMps
		if when < l.LandingS {
			m := at(w.Path, when)
			v = math.Max(-m.vz, 0.01)
		}
		return openFalse + (1-2*openFalse)*upper(-math.Log(v/fastMps)/fastSpread)
	}
	first := eventTime("opening", l, w)
	switch {
	case l.Outcome == t.nothing || !(first <= when):
		return openFalse
	case l.Outcome == t.tangled:
		return openTangled
	}
	return openSeen
}

// logNormal is the logarithm of the normal density at d.
func logNormal(d, sd float64) float64 {
	return -0.5*(d/sd)*(d/sd) - math.Log(sd) - 0.5*math.Log(2*math.Pi)
}

// upper is the chance that a standard normal exceeds x.
func upper(x float64) float64 { return 0.5 * math.Erfc(x/math.Sqrt2) }

// part: normal in both axes about the run's landing of the part. A mistaken
// find lies anywhere within partFlatM of the pad.
func (t *term) part(w *drift.Work) float64 {
	if t.index < 0 || t.index >= len(w.Parts) || !w.Parts[t.index].Shed {
		return math.Inf(-1)
	}
	d := w.Parts[t.index].At.Sub(t.found)
	return logNormal(d.X, partSD) + logNormal(d.Y, partSD)
}

func (s Sighting) label() string {
	if s.ID != 0 {
		return fmt.Sprintf("%d (%s)", s.ID, s)
	}
	return fmt.Sprintf("(%s)", s)
}
