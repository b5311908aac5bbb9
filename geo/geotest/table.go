// Package geotest reads the tables of check values that tests hold the program
// to. It is for tests alone.
//
// A table is a CSV file with a header, in testdata/reference or testdata of the
// package under test or of a folder above it; lines that begin with # are
// remarks. Its column basis, where it has one, says of every row where the
// value is from.
package geotest

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// Row is a row of a table.
type Row struct {
	t     testing.TB
	where string // file and number of the row
	cells map[string]string
}

// Table returns the rows of the table of that name, at least one. A row
// without a basis in a table that has the column fails the test.
func Table(t testing.TB, name string) []Row {
	t.Helper()
	path := find(t, name)
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	if len(all) < 2 {
		t.Fatalf("%s: holds no rows", path)
	}
	var out []Row
	for i, cells := range all[1:] {
		row := Row{t, name + " row " + strconv.Itoa(i+1), map[string]string{}}
		for k, column := range all[0] {
			row.cells[column] = cells[k]
		}
		if b, has := row.cells["basis"]; has && b == "" {
			t.Fatalf("%s has no basis", row.where)
		}
		out = append(out, row)
	}
	return out
}

// find looks for a table in the package's folder and those above it, up to the
// module's.
func find(t testing.TB, name string) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		for _, folder := range []string{"testdata/reference", "testdata"} {
			path := filepath.Join(dir, folder, name)
			if _, err := os.Stat(path); err == nil {
				return path
			}
		}
		_, err := os.Stat(filepath.Join(dir, "go.mod"))
		if up := filepath.Dir(dir); err != nil && up != dir {
			dir = up
			continue
		}
		t.Fatalf("no table %s in testdata/reference or testdata, here or above", name)
	}
}

// String is the row's table and number.
func (r Row) String() string { return r.where }

// Text returns the cell of a column, which the table must have.
func (r Row) Text(column string) string {
	r.t.Helper()
	s, ok := r.cells[column]
	if !ok {
		r.t.Fatalf("%s has no column %q", r.where, column)
	}
	return s
}

// Number returns the cell of a column as a number.
func (r Row) Number(column string) float64 {
	r.t.Helper()
	v, err := strconv.ParseFloat(r.Text(column), 64)
	if err != nil {
		r.t.Fatalf("%s: column %q: %v", r.where, column, err)
	}
	return v
}
