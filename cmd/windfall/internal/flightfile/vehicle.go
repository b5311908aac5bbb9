package flightfile

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"windfall/drift"
	"windfall/geo/quantity"
	"windfall/geo/textin"
)

func (f *File) vehicle(d *decoder) {
	n := d.need(f.root, "vehicle", "{mass: 1.85 kg, diameter: 76 mm}")
	if n == nil || !d.keys(n, "vehicle") {
		return
	}
	f.Names.Vehicle = d.text(n.get("name"))
	v := &f.Flight.Vehicle
	v.Mass = d.value(d.need(n, "mass", "1.85 kg"), quantity.Mass, positive)
	v.Diameter = d.value(d.need(n, "diameter", "76 mm"), quantity.Length, positive)
	v.Length = d.value(n.get("length"), quantity.Length, positive)
	v.Apogee = d.pointer(n.get("apogee"), quantity.Length, positive)
	v.YawWavelength = d.pointer(n.get("yaw_wavelength"), quantity.Length, nonNeg)
	if z, ok := d.number(n.get("yaw_damping"), nonNeg); ok {
		v.YawDamping = &z
	}
	drag := n.get("drag")
	if drag == nil {
		return
	}
	if v.Apogee != nil {
		d.fail(n.get("apogee"), "and drag are both given; keep one: the drag is found from an expected apogee")
		return
	}
	if _, err := strconv.ParseFloat(d.text(drag), 64); err == nil || !strings.Contains(drag.text, ".") {
		if cd, ok := d.number(drag, positive); ok {
			v.Drag = []drift.MachCd{{Cd: cd}}
		}
		return
	}
	for _, r := range f.table(d, drag, "mach", "cd") {
		v.Drag = append(v.Drag, drift.MachCd{Mach: r[0], Cd: r[1]})
	}
}

func (f *File) motor(d *decoder) {
	n := d.need(f.root, "motor", "{designation: H150-9}")
	if n == nil || !d.keys(n, "motor") {
		return
	}
	m := &f.Flight.Motor
	m.Designation = d.text(n.get("designation"))
	m.Impulse = d.pointer(n.get("impulse"), quantity.Impulse, positive)
	m.Burn = d.pointer(n.get("burn"), quantity.Time, positive)
	m.Propellant = d.pointer(n.get("propellant"), quantity.Mass, nonNeg)
	if x := n.get("delay"); x != nil && d.text(x) != "none" {
		m.Delay = d.pointer(x, quantity.Time, nonNeg)
	}
	if x := n.get("thrust"); x != nil {
		for _, r := range f.table(d, x, "time_s", "thrust_n") {
			m.Thrust = append(m.Thrust, drift.TimeThrust{T: r[0], N: r[1]})
		}
	}
	if m.Designation == "" && m.Thrust == nil && m.Impulse == nil && d.err == nil {
		d.fail(n, "says too little; write a designation such as H150-9, or impulse with burn, or thrust: motor.csv")
	}
}

// table reads a CSV side file of two columns, by header or by order.
func (f *File) table(d *decoder, n *node, first, second string) (rows [][2]float64) {
	f.sideFile(d, n, func(r io.Reader, name string) (err error) {
		rows, err = readTable(r, name, first, second)
		return err
	})
	return rows
}

const maxRows = 100_000 // of a table; a measured thrust curve has some thousand

// readTable reads rows of two finite numbers under the header "first,second",
// the first column rising; two rows of one time are a jump. Lines that start
// with # are comments.
func readTable(r io.Reader, name, first, second string) ([][2]float64, error) {
	in, err := textin.Reader(r, name)
	if err != nil {
		return nil, err
	}
	c := csv.NewReader(in)
	c.Comment, c.FieldsPerRecord, c.TrimLeadingSpace = '#', -1, true
	var out [][2]float64
	at := [2]int{0, 1}
	for head := true; ; {
		rec, err := c.Read()
		if err == io.EOF {
			break
		}
		var pe *csv.ParseError
		if errors.As(err, &pe) {
			return nil, &Error{File: name, Line: pe.Line, Msg: pe.Err.Error() + "; write rows of " + first + "," + second}
		}
		if err != nil {
			return nil, &Error{File: name, Msg: reason(err)}
		}
		line, _ := c.FieldPos(0)
		if head {
			head = false
			if isHeader(rec) {
				if at, err = columns(rec, first, second); err != nil {
					return nil, &Error{File: name, Line: line, Msg: err.Error()}
				}
				continue
			}
		}
		row, err := numbers(rec, at, first, second)
		if err == nil && len(out) > 0 && (row[0] < out[len(out)-1][0] || row[0] == out[len(out)-1][0] && first != "time_s") {
			err = fmt.Errorf("%s %g does not rise above %g of the row before; write the rows in order, each once", first,
				row[0], out[len(out)-1][0])
		}
		if err == nil && len(out) >= maxRows {
			err = fmt.Errorf("has more than %d rows", maxRows)
		}
		if err != nil {
			return nil, &Error{File: name, Line: line, Msg: err.Error()}
		}
		out = append(out, row)
	}
	if len(out) == 0 {
		return nil, &Error{File: name, Msg: "has no rows; write " + first + "," + second + " and numbers below"}
	}
	return out, nil
}

func isHeader(rec []string) bool {
	_, err := strconv.ParseFloat(strings.TrimSpace(rec[0]), 64)
	return err != nil
}

func columns(rec []string, first, second string) (at [2]int, err error) {
	at = [2]int{-1, -1}
	for i, h := range rec {
		h = strings.ToLower(strings.TrimSpace(h))
		for k, want := range [2]string{first, second} {
			if h == want {
				at[k] = i
			}
		}
	}
	if at[0] < 0 || at[1] < 0 {
		return at, fmt.Errorf("header %q lacks a column; write %s,%s", strings.Join(rec, ","), first, second)
	}
	return at, nil
}

func numbers(rec []string, at [2]int, first, second string) (row [2]float64, err error) {
	for k, name := range [2]string{first, second} {
		if at[k] >= len(rec) {
			return row, fmt.Errorf("row %q has no %s; write %s,%s", strings.Join(rec, ","), name, first, second)
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(rec[at[k]]), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
			return row, fmt.Errorf("%s %q is not a number of zero or more; write one such as 12.5", name, rec[at[k]])
		}
		row[k] = v
	}
	return row, nil
}
