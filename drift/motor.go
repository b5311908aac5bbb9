package drift

// propellantPerImpulse is the propellant assumed where none is given, kg per
// N s: a specific impulse near 170 s, between black powder and composite, a
// choice of ours.
const propellantPerImpulse = 0.0006

// thrustRow is a row of the curve: thrust and impulse delivered at t, and the
// slope of the thrust up to the next row.
type thrustRow struct {
	t, n, slope, impulse float64 // s, N, N/s, N s
}

// thrustCurve returns the rows, each with its line up to the next, zero
// outside. Two rows of one time make a jump; the first of them stays out, for
// the line before already ends there.
func thrustCurve(table []TimeThrust) []thrustRow {
	var rows []thrustRow
	impulse := 0.0
	for i, r := range table {
		row := thrustRow{t: r.T, n: r.N, impulse: impulse}
		if i+1 < len(table) {
			next := table[i+1]
			dt := next.T - r.T
			if dt == 0 {
				continue
			}
			row.slope = (next.N - r.N) / dt
			impulse += 0.5 * (r.N + next.N) * dt
		}
		rows = append(rows, row)
	}
	return rows
}
