package record

import (
	"slices"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/compare"
)

// Variants is one flight file to be read with keys set otherwise, the logbook's
// learning put into each.
type Variants struct {
	path    string
	learned *Learning
}

// ReadVariants reads the logbook; the flight file is read for each variant.
func ReadVariants(src Source) (v Variants, err error) {
	v.path = src.Flight
	v.learned, err = LastLearned(src)
	return v, err
}

// File is the flight file with settings in place.
func (v Variants) File(settings ...compare.Setting) (*flightfile.File, error) {
	var s []flightfile.Setting
	for _, x := range settings {
		s = append(s, flightfile.Setting(x))
	}
	f, err := flightfile.Read(v.path, s...)
	if err != nil {
		return nil, usage.Mark(err)
	}
	v.learned.Apply(f)
	return f, nil
}

// Flight is the flight with settings in place, ready to be compared.
func (v Variants) Flight(settings []compare.Setting) (compare.Flight, error) {
	f, err := v.File(settings...)
	if err != nil {
		return compare.Flight{}, err
	}
	f.Flight.Parts = nil // they cost time and do not move the vehicle
	m, err := f.Model()
	assumed := slices.Clone(f.Assumed)
	for _, s := range f.Measured {
		assumed = append(assumed, "as measured: "+s)
	}
	return compare.Flight{Model: m, Field: f.Field, Ground: f.Ground,
		Assumed: assumed, Warnings: f.Warnings}, usage.Mark(err)
}
