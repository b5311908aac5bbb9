package report

import (
	"encoding/json"
	"fmt"

	"windfall/cmd/windfall/internal/measured"
	"windfall/cmd/windfall/internal/record"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
)

// Measured is a measurement that was logged, or taken back.
type Measured struct {
	Entry logbook.Entry
	*measured.Result
	Later   []string // what maps take from all that was measured of the same, a sentence each
	Caution []string
}

// MarshalJSON writes the entry's object with the result's keys and "maps" in it.
func (m *Measured) MarshalJSON() ([]byte, error) {
	out := map[string]any{}
	for _, part := range []any{m.Entry, m.Result} {
		text, err := json.Marshal(part)
		if err == nil {
			err = json.Unmarshal(text, &out)
		}
		if err != nil {
			return nil, err
		}
	}
	out["maps"] = append([]string{}, m.Later...)
	if len(m.Caution) > 0 {
		out["cautions"] = m.Caution
	}
	return json.Marshal(out)
}

// LogMeasured logs what was measured of a flight, in words by flag.
func LogMeasured(src record.Source, w measured.Words, st record.Stamp) (*Measured, error) {
	plain := src
	plain.NoLearning = true
	f, err := record.Read(plain)
	if err != nil {
		return nil, err
	}
	weighed, err := record.Read(src)
	if err != nil {
		return nil, err
	}
	m, err := measured.Read(w, f.File, weighed.Input.Model)
	if err != nil {
		return nil, usage.Mark(err)
	}
	entry, caution, err := record.AddMeasured(src.Logbook, f.File, m, st)
	if err != nil {
		return nil, err
	}
	out := &Measured{Entry: entry, Result: m.Result()}
	if caution != "" {
		out.Caution = append(out.Caution, caution)
	}
	if l, err := record.LastLearned(src); err == nil {
		for _, id := range l.Measured().Disagreeing() {
			out.Caution = append(out.Caution, fmt.Sprintf("it disagrees with entry %d by more than three standard "+
				"deviations; take back whichever is wrong: windfall measured %s --withdraw ID", id, src.Flight))
		}
	}
	return out.later(src)
}

// WithdrawMeasured takes a measurement back.
func WithdrawMeasured(src record.Source, id int64, st record.Stamp) (*Measured, error) {
	f, err := record.Read(src)
	if err != nil {
		return nil, err
	}
	entry, err := record.Withdraw(src.Logbook, f.File, id, st, logbook.Measured)
	if err != nil {
		return nil, err
	}
	return (&Measured{Entry: entry}).later(src)
}

// later says how maps stand now. It is logged already: what goes wrong is a word
// more and no failure.
func (m *Measured) later(src record.Source) (*Measured, error) {
	f, err := record.Read(src)
	if err != nil {
		m.Later = append(m.Later, fmt.Sprintf("it is logged, but a map cannot be made of it: %v", err))
		return m, nil
	}
	e, err := measured.Decode(m.Entry.Body)
	if err != nil {
		return nil, err
	}
	m.Later = e.About(m.Entry.ID, f.Input.Measured)
	return m, nil
}
