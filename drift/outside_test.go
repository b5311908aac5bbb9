package drift

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/trigger"
	"windfall/drift/wind"
	"windfall/geo/geotest"
)

// U.S. Standard Atmosphere, 1976: 30 rows computed from its defining constants
// and 9 of its printed main table (rounded to five figures).
func TestStandardAtmosphere(t *testing.T) {
	a := newAir(Site{})
	for name, tolerance := range map[string]float64{"atmosphere_1976.csv": 1e-5, "atmosphere_1976_printed.csv": 1e-4} {
		for _, r := range geotest.Table(t, name) {
			z := r.Number("geometric_z_m")
			temp, p, rho, sound := a.at(z)
			assert.InEpsilon(t, r.Number("temperature_k"), temp, tolerance, z)
			assert.InEpsilon(t, r.Number("pressure_pa"), p, tolerance, z)
			assert.InEpsilon(t, r.Number("density_kg_m3"), rho, tolerance, z)
			assert.InEpsilon(t, r.Number("speed_of_sound_m_s"), sound, tolerance, z)
		}
	}
	rows := a.tabulate(-belowPad, 12000)
	m := Model{air: a, airRows: rows, airBottom: -belowPad}
	for z := -900.0; z < 11900; z += 7.3 {
		_, _, rho, _ := a.at(z)
		assert.InEpsilon(t, rho, m.airAt(z).rho, 2e-5)
	}
}

// WGS 84 normal gravity: 9.7803253359 at the equator, 9.8321849379 at the pole
// (NIMA TR8350.2, 3rd edition, table 3.4).
func TestNormalGravity(t *testing.T) {
	assert.InDelta(t, 9.7803253359, normalGravity(0), 1e-10)
	assert.InDelta(t, 9.8321849379, normalGravity(-90), 1e-9)
}

// bench is a model over constant air of 1.225 kg/m3 and gravity 9.80665 m/s2 at
// the pad, calm, and a Work in the middle of a flight of it.
func bench(t *testing.T) (*Model, *Work) {
	t.Helper()
	f := small()
	f.Wind[0].Profile.Levels[0].Speed = 0
	m, err := Prepare(f)
	require.NoError(t, err)
	m.g0, m.air.padElevation = gStandard, 0
	for i := range m.airRows {
		m.airRows[i] = airNode{rho: rho0, inv: 1 / 340.0}
	}
	w := &Work{exact: true}
	w.begin(m, Input{Z: make([]float64, len(m.coords))})
	w.burning, w.past, w.left = false, true, true
	return m, w
}

// drop puts the work under the descent equation with terminal speed vt.
func (w *Work) drop(z, vt float64) {
	w.phase, w.h = descent, 0
	w.fall = falling{mass: 1, c0: 2 * gStandard / (rho0 * vt * vt)}
	w.t, w.y = 0, [dim]float64{2: z}
}

// Fall from rest with quadratic drag: v = vt tanh(g t/vt) and the time to fall
// z in closed form. Gravity here falls by 1.6e-4 in 500 m.
func TestQuadraticDragFall(t *testing.T) {
	for _, r := range geotest.Table(t, "trajectory.csv") {
		var vt, x float64
		switch r.Text("kind") {
		case "quadratic_drag_fall":
			if n, _ := fmt.Sscanf(r.Text("inputs"), "from rest vt=%f m/s t=%f s", &vt, &x); n != 2 || r.Text("quantity") != "speed_m_s" {
				continue
			}
			_, w := bench(t)
			w.drop(600, vt)
			require.Equal(t, timeUp, w.descend(x))
			assert.InEpsilon(t, r.Number("value"), -w.y[5], 5e-4, r.Text("inputs"))
		case "quadratic_drag_fall_time":
			_, err := fmt.Sscanf(r.Text("inputs"), "from rest vt=%f m/s fall %f m", &vt, &x)
			require.NoError(t, err)
			_, w := bench(t)
			w.drop(x, vt)
			require.Equal(t, grounded, w.descend(math.Inf(1)))
			assert.InEpsilon(t, r.Number("value"), w.t, 5e-4, r.Text("inputs"))
		}
	}
}

// Terminal speeds sqrt(2 m g/(rho Cd S)) of parachutes, streamers and bodies.
func TestTerminalVelocity(t *testing.T) {
	for _, r := range geotest.Table(t, "terminal_velocity.csv") {
		m, w := bench(t)
		want := r.Number("terminal_speed_m_s")
		w.drop(400, 1)
		for i := range m.airRows {
			m.airRows[i].rho = r.Number("rho_kg_m3")
		}
		w.fall = falling{mass: r.Number("mass_kg"), c0: r.Number("cd") * r.Number("area_m2")}
		w.y[5] = -want * 0.97
		w.descend(math.Inf(1))
		assert.InEpsilon(t, want, -w.y[5], 0.02, r.Text("case")) // near it at once
		w.drop(400, 1)
		w.fall = falling{mass: r.Number("mass_kg"), c0: r.Number("cd") * r.Number("area_m2")}
		w.y[5] = -want
		w.descend(math.Inf(1))
		assert.InEpsilon(t, want, -w.y[5], 2e-4, r.Text("case"))
	}
}

// Vacuum projectiles: apogee v^2 sin^2/(2 g), from the same height and from
// another.
func TestVacuumProjectile(t *testing.T) {
	for _, r := range geotest.Table(t, "trajectory.csv") {
		var v, angle float64
		if r.Text("kind") != "vacuum_projectile" {
			continue
		}
		n, _ := fmt.Sscanf(r.Text("inputs"), "v0=%f m/s elevation=%f deg", &v, &angle)
		require.Equal(t, 2, n)
		m, w := bench(t)
		m.drag = []MachCd{{0, 0}}
		w.phase, w.past, w.h, w.t = axial, false, 0, 0
		s, c := math.Sincos(angle * math.Pi / 180)
		w.y = [dim]float64{3: v * c, 5: v * s}
		require.Equal(t, topped, w.ascend(math.Inf(1)))
		apogee := w.y[2]
		w.past = true
		require.Equal(t, grounded, w.ascend(math.Inf(1)))
		got := map[string]float64{"range_m": w.y[0], "apogee_m": apogee, "flight_time_s": w.t}[r.Text("quantity")]
		assert.InEpsilon(t, r.Number("value"), got, 5e-4, r.Text("inputs")) // gravity falls by 3e-4 in a kilometre
	}
}

// The rocket equation with gravity: v = ve ln(m0/mf) - g tb, and the apogee of
// the coast after it, no drag.
func TestRocketEquation(t *testing.T) {
	var m0, mp, impulse, burn float64
	checked := 0
	for _, r := range geotest.Table(t, "trajectory.csv") {
		if r.Text("kind") != "vertical_burn_no_drag" {
			continue
		}
		if r.Text("inputs") != "same" {
			_, err := fmt.Sscanf(r.Text("inputs"), "m0=%f kg mp=%f kg total impulse=%f N s burn=%f s", &m0, &mp, &impulse, &burn)
			require.NoError(t, err)
		}
		f := small()
		f.Rail.LeanDeg, f.Wind[0].Profile.Levels[0].Speed = 0, 0
		f.Vehicle.Mass = m0
		f.Motor = Motor{Impulse: &impulse, Burn: &burn, Propellant: &mp}
		f.Recovery = nil
		m, err := Prepare(f)
		require.NoError(t, err)
		m.drag, m.g0, m.air.padElevation = []MachCd{{0, 0}}, gStandard, 0
		w := &Work{exact: true, Record: true}
		l := m.Fly(Input{Z: make([]float64, len(m.coords))}, w)
		want := r.Number("value")
		at := w.trackAt(burn)
		switch r.Text("quantity") {
		case "burnout_speed_m_s":
			assert.InEpsilon(t, want, at[5], 5e-4)
		case "burnout_height_m":
			assert.InEpsilon(t, want, at[2], 5e-4)
		case "apogee_m":
			assert.InEpsilon(t, want, l.ApogeeM, 1.5e-3) // gravity falls by 1e-3 in 3 km
		case "time_to_apogee_s":
			assert.InEpsilon(t, want, l.ApogeeS, 1.5e-3)
		default:
			continue
		}
		checked++
	}
	assert.Greater(t, checked, 8)
}

// Drift in a linear shear is the integral of the wind over the descent, and to
// it comes what the lag vt/g behind a changing wind adds, (vt/g) times the
// change (first order in the shear).
func TestDriftInShear(t *testing.T) {
	checked := 0
	for _, r := range geotest.Table(t, "trajectory.csv") {
		var u, k, h, vt float64
		if n, _ := fmt.Sscanf(r.Text("inputs"), "wind U0=%f m/s at ground rising by k=%f 1/s, descent from h=%f m at constant vd=%f m/s", &u, &k, &h, &vt); n != 4 {
			continue
		}
		_, w := bench(t)
		w.drop(h, vt)
		w.wind = []windNode{{z: 0, u: u, du: k}, {z: 2000, u: u + 2000*k}}
		w.cell = 0
		w.y[3], w.y[5] = u+k*h, -vt
		require.Equal(t, grounded, w.descend(math.Inf(1)))
		want := r.Number("value") + vt/gStandard*k*h
		assert.InEpsilon(t, want, w.y[0], 5e-3, r.Text("inputs"))
		checked++
	}
	assert.Positive(t, checked)
}

// A canopy fills in 8 diameters of travel (Knacke 1991, flat circular, from
// memory).
func TestFillDistance(t *testing.T) {
	_, w := bench(t)
	w.y = [dim]float64{2: 100, 5: -20}
	d := deviceRun{fill: fillDiameters * 1.5, fillTime: -1}
	w.startFilling(&d)
	assert.InDelta(t, 8*1.5/20, d.full-d.from, 1e-12)
}

// A heavy 3 kg, 2.4 m airframe on a mid-power motor to about 75 m is down 12 to
// 13 s after ignition when its parachute fills only near the ground: common
// practice, no source.
func TestHeavyAirframeLow(t *testing.T) {
	f := small()
	f.Rail = Rail{Length: 1.8, LeanDeg: 3}
	f.Vehicle = Vehicle{Mass: 3, Diameter: 0.1, Length: 2.4, Drag: []MachCd{{0, 0.6}}}
	f.Motor = Motor{Impulse: ptr(150), Burn: ptr(1.7), Propellant: ptr(0.075)}
	f.Recovery = []Device{{Kind: "parachute", Canopy: true, Trigger: trigger.Trigger{Kind: trigger.Apogee}, CdS: 1.4, OpeningDelay: 6, FillTime: ptr(1)}}
	n := nominal(t, f)
	t.Logf("apogee %.1f m at %.1f s, down at %.1f s", n.ApogeeM, n.ApogeeS, n.LandingS)
	assert.InDelta(t, 75, n.ApogeeM, 8)
	assert.InDelta(t, 12.5, n.LandingS, 1)
}

// The random shape of the wind has the covariance s(z) s(z') exp(-|z-z'|/400 m)
// at the heights where it is drawn: the bridges are multiplied out.
func TestShapeCovariance(t *testing.T) {
	f := dual()
	f.Terrain = plain(0)
	m, err := Prepare(f)
	require.NoError(t, err)
	n := len(m.table.shapeAt)
	rows := make([][]float64, n)
	for k, b := range m.table.bridges[0] {
		row := make([]float64, n)
		for j := range row {
			if k > 0 {
				row[j] = b.a*rows[b.left][j] + b.b*rows[b.right][j]
			}
		}
		row[k] += b.s
		rows[b.node] = row
	}
	for i := range n {
		for j := range n {
			sum := 0.0
			for k := range n {
				sum += rows[i][k] * rows[j][k]
			}
			want := math.Exp(-math.Abs(m.table.shapeAt[i]-m.table.shapeAt[j]) / wind.ShapeScale)
			assert.InDelta(t, want, sum, 1e-12)
		}
	}
}
