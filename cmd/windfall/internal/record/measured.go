package record

import (
	"errors"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/measured"
	"windfall/drift/logbook"
)

// measurements reads all that was measured and not taken back; what cannot be
// read counts for nothing, which is said.
func measurements(b *logbook.Book) (all measured.All, cautions []string, err error) {
	entries, err := b.Entries(logbook.Query{Kinds: []logbook.Kind{logbook.Measured}})
	for _, x := range entries {
		m, err := measured.Decode(x.Body)
		if err != nil {
			cautions = append(cautions, leftOut(x, err))
			continue
		}
		all = append(all, measured.Logged{ID: x.ID, Revision: x.Revision, Flight: x.Flight, Entry: m})
	}
	return all, cautions, err
}

// AddMeasured logs a measurement. A caution, where there is one, names an entry
// that says the same.
func AddMeasured(path string, f *flightfile.File, m measured.Entry, st Stamp) (
	entry logbook.Entry, caution string, err error) {
	in, err := Inputs(f, st)
	if err != nil {
		return entry, "", err
	}
	b, err := logbook.Open(path)
	if err != nil {
		return entry, "", err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	if entry, err = add(b, in, logbook.Measured, st, m); err == nil {
		caution = saidBefore(b, entry)
	}
	return entry, caution, err
}

// Withdraw takes an entry of the flight back that is of one of the kinds; of
// none, one that was seen.
func Withdraw(path string, f *flightfile.File, id int64, st Stamp, kinds ...logbook.Kind) (
	entry logbook.Entry, err error) {
	b, err := logbook.Open(path)
	if err != nil {
		return entry, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	if _, err := ownEntry(b, f, id, kinds); err != nil {
		return entry, err
	}
	return b.Withdraw(id, st.By, st.Now)
}
