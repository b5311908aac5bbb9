package evidence

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
)

// Sighting is one thing that somebody saw, heard or measured. Its JSON form is
// the body that the logbook keeps, whose entry has id, name and kind.
type Sighting struct {
	ID   int64 // the logbook's number; 0 outside it
	By   string
	Kind Kind // what is told, and from where and when

	// Sure is the chance that the sighting is of this vehicle and not a
	// mistake, 0 to 1; nil: the default of its kind (docs/evidence.md).
	Sure *float64
	Said string // the bearing as typed, where it was magnetic
	Note string

	Picture *Picture // that it was taken from; nil: none
	Habit   *Habit   // of the person who made it; nil: none is known
}

// Picture is the photograph that a sighting was taken from.
type Picture struct {
	Name   string     `json:"name"` // of the file, without its folder
	SHA256 string     `json:"sha256"`
	Pixel  [2]float64 `json:"pixel"` // x and y of what was seen, the picture held upright
}

// Kind is what a sighting tells: Bearing, Timing, Height, NothingIn, PartFound
// or Looks. Each kind is one file; what it weighs in a flight is its law.
type Kind interface {
	// Name is the kind's name, Entry that of its logbook entries, which two
	// kinds may share.
	Name() string
	Entry() string
	Where() Observer
	When() Moment

	// filled returns the kind with its defaults (docs/evidence.md) and the
	// chance that one is right where nobody says.
	filled() (k Kind, sure float64)
	limits() []limit           // of the kind's own numbers
	check() error              // whether what it needs is there
	words(sure float64) string // what is told, in one line, without its times
	// ready makes the kind ready for a model; errors need not name the sighting.
	ready(m model, p post) (law, error)
}

// kinds are all of them, those first that share an entry with a later one.
var kinds = [...]struct {
	kind  Kind
	field string // that a body of this kind has and of later ones not; "": any body
	read  func(body []byte) (Kind, error)
}{
	{Looks{}, "looked", read[Looks]},
	{Bearing{}, "", read[Bearing]},
	{Timing{}, "", read[Timing]},
	{Height{}, "", read[Height]},
	{NothingIn{}, "", read[NothingIn]},
	{PartFound{}, "", read[PartFound]},
}

func read[K Kind](body []byte) (Kind, error) {
	var k K
	err := json.Unmarshal(body, &k)
	return k, err
}

// limit is what a number of a sighting may be.
type limit struct {
	name   string
	v      *float64 // nil: not said
	lo, hi float64
	say    string
}

// Ready fills the defaults of s, so that what was assumed can be shown, and
// refuses what cannot be. The error names the field as the command's flag does,
// without its dashes; its method Named says it by other names.
func (s *Sighting) Ready() error {
	if s.Kind == nil {
		return errors.New("a sighting needs a kind: a bearing, a timing, a height")
	}
	k, sure := s.Kind.filled()
	s.Kind = k
	if s.Sure == nil {
		s.Sure = &sure
	}
	o, when := k.Where(), k.When()
	all := append(k.limits(), when.limits()...)
	all = append(all, limit{"sure", s.Sure, 0, 1, "a chance from 0 to 1"})
	for _, f := range append(all, o.limits()...) {
		if f.v != nil && !(*f.v >= f.lo && *f.v <= f.hi) {
			return faulty("{"+f.name+"} %g is not possible: give %s", *f.v, f.say)
		}
	}
	if err := when.check(); err != nil {
		return err
	}
	if when.Heard && o.From == nil {
		return faulty("{heard} needs {from}, the place where it was heard: sound takes 3 s for a kilometre")
	}
	return k.check()
}

// String says the sighting in one line.
func (s Sighting) String() string {
	var b strings.Builder
	if s.By != "" {
		fmt.Fprintf(&b, "%s: ", s.By)
	}
	if s.Kind != nil {
		sure := math.NaN()
		if s.Sure != nil {
			sure = *s.Sure
		}
		b.WriteString(s.Kind.words(sure))
		b.WriteString(s.Kind.When().words())
	}
	if s.Picture != nil {
		fmt.Fprintf(&b, ", by %s", s.Picture.Name)
	}
	return b.String()
}

// label is the sighting in an error: its number and what it says.
func (s Sighting) label() string {
	if s.ID != 0 {
		return fmt.Sprintf("%d (%s)", s.ID, s)
	}
	return fmt.Sprintf("(%s)", s)
}

// remarks are what a body of any kind has at its end.
type remarks struct {
	Sure *float64 `json:"sure,omitempty"`
	Said string   `json:"said,omitempty"`
	Note string   `json:"note,omitempty"`

	Picture *Picture `json:"picture,omitempty"`
}

// MarshalJSON makes one object of the kind's fields and the remarks.
func (s Sighting) MarshalJSON() ([]byte, error) {
	head, err := json.Marshal(s.Kind)
	if err != nil {
		return nil, err
	}
	tail, err := json.Marshal(remarks{s.Sure, s.Said, s.Note, s.Picture})
	if err != nil {
		return nil, err
	}
	var comma []byte
	if len(head) > 2 && len(tail) > 2 {
		comma = []byte(",")
	}
	return bytes.Join([][]byte{head[:len(head)-1], tail[1:]}, comma), nil
}
