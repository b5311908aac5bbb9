package drift

import (
	"fmt"
	"math"
	"strings"
)

// outcome is a way the flight may go.
type outcome uint8

const (
	asDesigned outcome = iota
	lateOpening
	tangled
	noRecovery
	earlyOpening
	mainAtApogee
)

// outcomeNames in the order of the constants.
var outcomeNames = [...]string{"nominal", "late opening", "tangled", "no recovery", "early opening", "main at apogee"}

// DefaultOutcomes returns the chances taken where a flight file gives none and
// no find has taught better: a guess of ours.
func (f *Flight) DefaultOutcomes() []Chance {
	devices := len(f.Recovery)
	list := []Chance{{"nominal", 0.87}, {"late opening", 0.05}, {"tangled", 0.04}, {"no recovery", 0.03},
		{"early opening", 0.01}}
	if devices >= 2 {
		list[0].P = 0.84
		list = append(list, Chance{"main at apogee", 0.03})
	}
	return list
}

// outcomeKinds finds the outcomes of a list by name and checks its chances.
func outcomeKinds(list []Chance) ([]outcome, error) {
	kinds := make([]outcome, len(list))
	seen := map[string]bool{}
	sum := 0.0
	for i, c := range list {
		k := -1
		for j, name := range outcomeNames {
			if c.Name == name {
				k = j
			}
		}
		if k < 0 {
			return nil, &FieldError{"outcomes." + c.Name, c.Name, "is not an outcome; write one of " +
				strings.Join(outcomeNames[:], ", ")}
		}
		if seen[c.Name] {
			return nil, &FieldError{"outcomes." + c.Name, c.Name, "is given twice; give each outcome once"}
		}
		seen[c.Name] = true
		if !(c.P >= 0 && c.P <= 1) {
			return nil, &FieldError{"outcomes." + c.Name, fmt.Sprintf("%g", c.P), "is not a chance; write a number from 0 to 1"}
		}
		kinds[i] = outcome(k)
		sum += c.P
	}
	if math.Abs(sum-1) > 1e-6 {
		return nil, &FieldError{"outcomes", fmt.Sprintf("%g", sum), "is the sum of the chances; make it 1"}
	}
	return kinds, nil
}

// FieldError says which field of the flight file is wrong and what to write
// instead.
type FieldError struct {
	Field string // path in the flight file, such as recovery[1].diameter
	Value string
	Msg   string // follows the quoted value
}

func (e *FieldError) Error() string { return fmt.Sprintf("%s %q %s", e.Field, e.Value, e.Msg) }
