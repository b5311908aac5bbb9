package measured

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift/learn"
)

// garza is the example flight: 1.46 kg, a streamer of 220 mm by 4.2 m, a delay
// of 8 s, a rail that leans 3 deg toward 190.
func garza(t testing.TB, set ...flightfile.Setting) *flightfile.File {
	f, err := flightfile.Read("../../../../testdata/garza", set...)
	require.NoError(t, err)
	return f
}

func entry(t testing.TB, w Words) Entry {
	f := garza(t)
	m, err := f.Model()
	require.NoError(t, err)
	e, err := Read(w, f, m)
	require.NoError(t, err)
	return e
}

func logged(es ...Entry) (all All) {
	for i, e := range es {
		all = append(all, Logged{ID: int64(i + 1), Revision: 1, Flight: "garza-03", Entry: e})
	}
	return all
}

// A bottle of 500 g under a streamer of 0.1386 m2 (0.22 m x 4.2 m x 0.15) in air
// of 1.1326 kg/m3 (14 degC and a QNH of 1021 hPa at 741 m, by the gas law): at
// the steady speed of sqrt(2 m g/(rho CdS)) = 7.90 m/s it sinks 40 m in 5.06 s.
func TestSinkTest(t *testing.T) {
	e := entry(t, Words{"device": "streamer", "descent": "40 m", "time": "5.06 s", "mass": "500 g"})
	assert.InDelta(t, 0.1386, e.FileArea, 1e-9)
	r := e.Result()
	require.NotNil(t, r)
	assert.InDelta(t, 1, r.Factor, 0.005)
	assert.InDelta(t, math.Sqrt(2*0.5*9.801/(1.1326*0.1386)), r.SinksMps, 0.03)
	assert.InDelta(t, 2*math.Hypot(0.15/5.06, 0.02), r.FactorSD, 0.003, "2 sd/t of time and height, little of the mass")
	assert.Contains(t, e.Sentence("Ana"), "Ana: the streamer sank, at its steady speed, 40 m in 5.06 s under 500 g, 1.00 of")

	whole := entry(t, Words{"drop": "20 m", "time": "2.6 s"})
	assert.InDelta(t, 1.35, whole.HungKg, 1e-9, "without its propellant")
	assert.InDelta(t, 0.066*1.42, whole.HungArea, 1e-9, "the body tumbles")
	packed := entry(t, Words{"drop": "30 m", "time": "3.4 s", "packed": "true"})
	assert.InDelta(t, 0.6, packed.OpeningS, 1e-9)
	assert.Zero(t, whole.OpeningS)
}

// What is written is what is read.
func TestEntriesComeBack(t *testing.T) {
	for _, w := range []Words{
		{"drop": "20 m", "time": "3 s", "mass": "500 g", "note": "from the tower"},
		{"drop": "20 m", "time": "2.7 s", "mass": "1.4 kg", "under": "vehicle"},
		{"mass": "1.5 kg"}, {"mass": "70 g", "of": "Camera Pod"}, {"mass": "115 g", "of": "propellant", "mass-sd": "1 g"},
		{"delay": "7 s", "delay-sd": "0.1 s"}, {"lean": "4 deg", "toward": "SW"}, {"lean": "0 deg"},
		{"lean": "4 deg"},
	} {
		e := entry(t, w)
		text, err := json.Marshal(e)
		require.NoError(t, err)
		back, err := Decode(text)
		require.NoError(t, err, "%s", text)
		assert.Equal(t, e, back)
		assert.NotContains(t, e.Sentence("Ana"), "NaN")
	}
	assert.Contains(t, (&Entry{What: Mass, weighing: weighing{Of: "vehicle", MassKg: 1.5, FileMass: 1.46}}).Sentence(""),
		"(no name): the vehicle weighs 1.5 kg, the file has 1.46 kg")
}

// Weighings take the file's place: their mean by precision.
func TestMassReplaces(t *testing.T) {
	a, b := entry(t, Words{"mass": "1.50 kg", "mass-sd": "10 g"}), entry(t, Words{"mass": "1.53 kg", "mass-sd": "20 g"})
	f := garza(t)
	logged(a, b, entry(t, Words{"mass": "80 g", "of": "camera pod"})).Use(f, &learn.Result{})
	assert.InDelta(t, (1.50*4+1.53)/5, f.Flight.Vehicle.Mass, 1e-9)
	assert.InDelta(t, 0.01*math.Sqrt(0.8)/1.506, *f.Flight.Spread.Mass, 1e-9)
	assert.InDelta(t, 0.08, f.Flight.Parts[0].Mass, 1e-12)
	assert.Len(t, f.Measured, 2)

	other := garza(t, flightfile.Setting{Key: "vehicle.mass", Value: "1.8 kg"})
	logged(a).Use(other, &learn.Result{})
	assert.InDelta(t, 1.8, other.Flight.Vehicle.Mass, 1e-12)
	assert.Contains(t, other.Measured[0], "entry 1 is left out")

	x := logged(a)
	x[0].Flight = "garza-04"
	f = garza(t)
	x.Use(f, &learn.Result{})
	assert.Empty(t, f.Measured, "another flight's")
}

// A motor timed at 6.4 s tells of its batch, by Bayes's rule summed over what
// the batch is off by; the file says 8 s and 10 %, half the variance a batch's.
func TestDelayNarrows(t *testing.T) {
	f := garza(t)
	logged(entry(t, Words{"delay": "6.4 s", "delay-sd": "0.2 s"})).Use(f, &learn.Result{})
	prior := distuv.Normal{Sigma: 0.1 * math.Sqrt(0.5)}
	seen := distuv.Normal{Mu: 6.4/8 - 1, Sigma: math.Hypot(0.1*math.Sqrt(0.5), 0.2/8)}
	var w, w1, w2 float64
	for x := -0.6; x < 0.6; x += 1e-4 {
		p := prior.Prob(x) * seen.Prob(x)
		w, w1, w2 = w+p, w1+p*x, w2+p*x*x
	}
	mean, sd := w1/w, math.Sqrt(w2/w-w1*w1/w/w)
	require.NotNil(t, f.Flight.Motor.Delay)
	assert.InDelta(t, 8*(1+mean), *f.Flight.Motor.Delay, 1e-6)
	assert.InDelta(t, math.Hypot(sd, 0.1*math.Sqrt(0.5))/(1+mean), *f.Flight.Spread.Delay, 1e-6)

	other := garza(t, flightfile.Setting{Key: "motor.delay", Value: "6 s"})
	logged(entry(t, Words{"delay": "6.4 s"})).Use(other, &learn.Result{})
	assert.Equal(t, 6.0, *other.Flight.Motor.Delay, "another delay is another motor")
}

func TestLeanReplaces(t *testing.T) {
	f := garza(t)
	logged(entry(t, Words{"lean": "4 deg", "toward": "180 deg"}), entry(t, Words{"lean": "4 deg", "toward": "270 deg"})).Use(f,
		&learn.Result{})
	assert.InDelta(t, 4/math.Sqrt2, f.Flight.Rail.LeanDeg, 1e-9, "the mean of the arrows' tips")
	assert.InDelta(t, 225, f.Flight.Rail.TowardDeg, 1e-9)
	assert.Less(t, *f.Flight.Spread.LeanDeg, 1.0)
	assert.GreaterOrEqual(t, *f.Flight.Spread.LeanDeg, math.Sqrt(0.5), "what a launch adds stays")

	f = garza(t)
	logged(entry(t, Words{"lean": "0 deg"})).Use(f, &learn.Result{})
	assert.Zero(t, f.Flight.Rail.LeanDeg)
	m, err := f.Model()
	require.NoError(t, err)
	assert.NotNil(t, m)
	f = garza(t, flightfile.Setting{Key: "rail.lean", Value: "6 deg"})
	logged(entry(t, Words{"lean": "4 deg"})).Use(f, &learn.Result{})
	assert.Equal(t, 6.0, f.Flight.Rail.LeanDeg)
	assert.Contains(t, f.Measured[0], "left out")
}

// Without its direction only the angle of a lean counts; the direction stays the
// file's or what others measured.
func TestLeanWithoutDirection(t *testing.T) {
	f := garza(t)
	alone := entry(t, Words{"lean": "4 deg"})
	assert.Contains(t, alone.Sentence("Ana"), "leans 4.0 deg, toward where was not measured")
	logged(alone, entry(t, Words{"lean": "5 deg"})).Use(f, &learn.Result{})
	assert.InDelta(t, 4.5, f.Flight.Rail.LeanDeg, 1e-9)
	assert.Equal(t, 190.0, f.Flight.Rail.TowardDeg)
	assert.Nil(t, f.Flight.Spread.LeanDeg, "in the other direction nothing is known better")
	assert.Equal(t, []string{"rail lean: 4.5 deg as measured, the file has 3.0 deg; toward 190 as the file has it, " +
		"which was not measured"}, f.Measured)

	f = garza(t)
	logged(alone, entry(t, Words{"lean": "4 deg", "toward": "250 deg"})).Use(f, &learn.Result{})
	assert.InDelta(t, 4, f.Flight.Rail.LeanDeg, 1e-9)
	assert.InDelta(t, 250, f.Flight.Rail.TowardDeg, 1e-9)

	upright := garza(t, flightfile.Setting{Key: "rail.lean", Value: "0 deg"}, flightfile.Setting{Key: "rail.toward",
		Value: "0 deg"})
	m, err := upright.Model()
	require.NoError(t, err)
	_, err = Read(Words{"lean": "4 deg"}, upright, m)
	assert.ErrorContains(t, err, "--lean needs --toward here")
}

// Drops that scatter beyond their errors count for less, by Birge's ratio: for
// two at -a and a with one error s that is sqrt(2) a/s.
func TestDropsThatDisagree(t *testing.T) {
	one := entry(t, Words{"drop": "40 m", "time": "6.6 s", "mass": "500 g"})
	two := entry(t, Words{"drop": "40 m", "time": "6.7 s", "mass": "500 g"})
	far := entry(t, Words{"drop": "40 m", "time": "13 s", "mass": "500 g"})
	f := garza(t)
	agree := logged(one, two).drops(&f.Flight)
	assert.Empty(t, agree.scale)
	assert.Equal(t, logged(one).drops(&f.Flight).Measured[0], agree.Measured[0])

	apart := logged(one, far).drops(&f.Flight)
	var p pooled
	chi2, before := 0.0, logged(one).drops(&f.Flight).Measured[0]
	var v []float64
	for i, m := range []learn.Measured{before, logged(far).drops(&f.Flight).Measured[0]} {
		v = append(v, m.SD*m.SD+apart.run[i]*apart.run[i])
		p.add(m.Value, math.Sqrt(v[i]))
	}
	for i, m := range apart.Measured {
		chi2 += (m.Value - p.mean()) * (m.Value - p.mean()) / v[i]
	}
	assert.Greater(t, chi2, 3.84, "the 95 % point of one degree of freedom, any statistician's table")
	assert.InDelta(t, math.Sqrt(chi2), apart.scale[before.Factor+before.Group], 1e-9)
	assert.InDelta(t, math.Sqrt(v[0]*chi2-apart.run[0]*apart.run[0]), apart.Measured[0].SD, 1e-9)

	scale := func(es ...Entry) float64 {
		f := garza(t)
		logged(es...).Use(f, &learn.Result{})
		return f.Flight.Learned.Devices[0].Scale
	}
	assert.Greater(t, scale(one, one, far), scale(one, one, two), "a wild drop widens, it does not narrow")
	f = garza(t)
	logged(one, one, far).Use(f, &learn.Result{})
	require.Len(t, f.Measured, 2)
	assert.Contains(t, f.Measured[0], "streamer drag: its drops differ by more than")
	assert.Equal(t, f.Measured, far.About(3, append([]string{"rail lean: 3 deg"}, f.Measured...)))
}

// A drop acts on the device as the file has it; a file brought to the measured
// drag since is not moved by it again; a larger streamer takes the kind's share.
func TestDropActs(t *testing.T) {
	e := entry(t, Words{"drop": "40 m", "time": "6.6 s", "mass": "500 g"})
	log := math.Log(e.Result().Factor)
	require.Greater(t, log, 0.2)
	f := garza(t)
	logged(e).Use(f, &learn.Result{})
	require.Len(t, f.Flight.Learned.Devices, 1)
	bias := f.Flight.Learned.Devices[0].Bias
	assert.Greater(t, bias, 0.7*log)
	assert.Less(t, bias, log)
	assert.Contains(t, f.Measured[0], "of the file's")

	now := garza(t, flightfile.Setting{Key: "recovery[0].drag", Value: "0.2"})
	corrected := math.Log(e.Result().AreaM2 / (0.22 * 4.2 * 0.2))
	require.Less(t, math.Abs(corrected), 0.3*log)
	logged(e).Use(now, &learn.Result{})
	assert.InDelta(t, bias/log*corrected, now.Flight.Learned.Devices[0].Bias, 1e-9)

	large := garza(t, flightfile.Setting{Key: "recovery[0].length", Value: "3 m"})
	logged(e).Use(large, &learn.Result{})
	assert.InDelta(t, bias, large.Flight.Learned.Devices[0].Bias, 0.01)
	assert.Contains(t, large.Measured[0], "another of its kind")
	assert.Len(t, logged(e).ForLearning(), 1)
}

func TestDecodeRefuses(t *testing.T) {
	good, err := json.Marshal(entry(t, Words{"drop": "20 m", "time": "3 s", "mass": "500 g"}))
	require.NoError(t, err)
	for _, c := range []struct{ old, new, says string }{
		{`"what":"drag"`, `"what":"speed"`, "write drag, mass, delay or lean"},
		{`"what":"drag"`, `"what":1`, "what is a number"},
		{`"drop_m":20`, `"drop_m":-20`, "write metres of fall"},
		{`"drop_m":20`, `"drop_m":20,"colour":"red"`, `unknown field "colour"`},
		{`"time_s":3`, `"time_s":0.1`, "in free fall"},
		{`"time_s":3`, `"time_s":900`, "too slow"},
		{`"time_s":3`, `"time_s":1e400`, "is a number 1e400"},
		{`"time_sd_s":0.15`, `"time_sd_s":0`, "how far the stop-watch"},
		{`"hung_kg":0.5`, `"hung_kg":0`, "write the mass that fell"},
		{`"air_kgm3":1.1`, `"air_kgm3":11.1`, "density"},
		{`"device":"streamer",`, ``, "device is missing"},
	} {
		text := strings.Replace(string(good), c.old, c.new, 1)
		require.NotEqual(t, string(good), text, c.old)
		_, err := Decode([]byte(text))
		assert.ErrorContains(t, err, c.says, c.new)
	}
	for text, says := range map[string]string{
		`{}`: "write drag, mass", `[]`: "array", `{"what":"mass","of":"vehicle"}`: "mass_kg",
		`{"what":"mass","mass_kg":1}`: "of is missing", `{"what":"delay","delay_s":400}`: "delay_s",
		`{"what":"lean","lean_deg":95}`: "lean_deg", `{"what":"lean","lean_deg":5,"lean_sd_deg":1,"toward_deg":7}`: "toward_sd_deg",
	} {
		_, err := Decode([]byte(text))
		assert.ErrorContains(t, err, says, text)
	}
}

// FuzzDecode: no panic, and what is accepted is finite, can be said, and comes
// back from its own JSON.
func FuzzDecode(f *testing.F) {
	for _, w := range []Words{{"drop": "20 m", "time": "3 s", "mass": "500 g"}, {"mass": "1.5 kg"}, {"delay": "7 s"},
		{"lean": "4 deg"}} {
		text, err := json.Marshal(entry(f, w))
		require.NoError(f, err)
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		e, err := Decode(text)
		if err != nil {
			return
		}
		if r := e.Result(); r != nil && !(r.Factor > 0 && r.FactorSD > 0 && r.SinksMps > 0) {
			t.Fatalf("%s: %+v", text, *r)
		}
		again, err := json.Marshal(e)
		require.NoError(t, err)
		_, err = Decode(again)
		require.NoError(t, err)
		require.NotContains(t, e.Sentence(""), "NaN")
	})
}

// What a person gets wrong is refused with what to write.
func TestReadRefuses(t *testing.T) {
	f := garza(t)
	m, err := f.Model()
	require.NoError(t, err)
	for _, c := range []struct {
		w    Words
		says string
	}{
		{Words{}, "nothing to log; give --drop"},
		{Words{"drop": "20 m", "time": "0.1 s"}, "in free fall without any air: 0.10 s is too fast; correct"},
		{Words{"drop": "20 m", "time": "5 min"}, "too slow"},
		{Words{"drop": "20 m", "time": "2.1 s", "mass": "5 kg"}, "let it fall farther, or hang less from it"},
		{Words{"drop": "20 m"}, "--drop without a time"},
		{Words{"time": "2.6 s"}, "--time belongs to --drop: give that with it, such as --drop '20 m'"},
		{Words{"drop": "-20 m", "time": "2.6 s"}, `--drop "-20 m": is not above zero`},
		{Words{"drop": "20", "time": "2.6 s"}, `"20" has no unit`},
		{Words{"drop": "4.2 m", "time": "1 s"}, "no more than the device's own 4.2 m"},
		{Words{"drop": "20 m", "time": "2.6 s", "device": "kite"}, "is not in the flight; name one that is: streamer"},
		{Words{"drop": "20 m", "time": "2.6 s", "time-sd": "0 s"}, "nobody measures without error"},
		{Words{"drop": "20 m", "time": "2.6 s", "under": "weight"}, "--under weight without its mass"},
		{Words{"drop": "20 m", "time": "2.6 s", "under": "table"}, "write vehicle, or weight"},
		{Words{"drop": "20 m", "descent": "20 m", "time": "2.6 s"}, "--drop and --descent are measurements of their own"},
		{Words{"mass": "1.4 kg", "packed": "true"}, "--packed belongs to --drop"},
		{Words{"mass": "1460 kg"}, "is far from the 1.46 kg of the flight file"},
		{Words{"mass": "90 g", "of": "nose"}, "write vehicle, propellant, camera pod"},
		{Words{"mass": "1.46 kg", "of": "propellant"}, "no less than the vehicle's"},
		{Words{"mass": "100 g"}, "no more than the propellant's"},
		{Words{"delay": "30 s"}, "time from burnout, not from ignition"},
		{Words{"lean": "70 deg"}, "write 0 to 60 deg"},
		{Words{"lean": "4 m"}, "--lean"},
		{Words{"lean": "4 deg", "toward": "sideways"}, "--toward: "},
		{Words{"toward": "200 deg"}, "--toward belongs to --lean"},
		{Words{"lean": "4 deg", "toward-sd": "3 deg"}, "--toward-sd without --toward"},
		{Words{"lean": "4 deg", "lean-sd": "80 deg"}, `--lean-sd "80 deg"; write how far it may be off`},
		{Words{"drop": "6000 m", "time": "99 s", "mass": "1 kg"}, `--drop "6000 m"; write metres of fall`},
		{Words{"descent": "6000 m", "time": "99 s", "mass": "1 kg"}, `--descent "6000 m"; write metres of fall`},
		{Words{"drop": "20 m", "time": "5 s", "mass": "1 kg", "mass-sd": "3000 kg"}, `--mass-sd "3000 kg"; write how far`},
	} {
		_, err := Read(c.w, f, m)
		assert.ErrorContains(t, err, c.says, "%v", c.w)
	}
	bare := garza(t)
	bare.Flight.Recovery, bare.Flight.Motor.Delay, bare.Flight.Motor.Designation = nil, nil, "no code"
	_, err = Read(Words{"drop": "20 m", "time": "2.6 s"}, bare, m)
	assert.ErrorContains(t, err, "no recovery device")
	_, err = Read(Words{"delay": "7 s"}, bare, m)
	assert.ErrorContains(t, err, "write motor.delay there first")
	two := garza(t)
	two.Flight.Recovery = append(two.Flight.Recovery, two.Flight.Recovery[0])
	_, err = Read(Words{"drop": "20 m", "time": "2.6 s"}, two, m)
	assert.ErrorContains(t, err, "streamer 1 and streamer 2: name one with --device")
	_, err = Read(Words{"drop": "20 m", "time": "2.6 s", "device": "streamer"}, two, m)
	assert.ErrorContains(t, err, "there are several")
	e, err := Read(Words{"drop": "20 m", "time": "2.6 s", "device": "Streamer 1"}, two, m)
	require.NoError(t, err)
	assert.Equal(t, "streamer", e.Device)
}
