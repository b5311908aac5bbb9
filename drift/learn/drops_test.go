package learn

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"windfall/drift"
	"windfall/drift/sink"
)

// Streamers drawn from what is believed of them (gonum's distributions, the
// numbers of docs/learning.md) are dropped one to four times by people with a
// stop-watch, a tape and scales that err. What is then said of the next flight's
// drag must hold as often as it says, to three standard errors and two in a
// hundred: the fall is not linear in the logarithm of the drag, the estimate's
// error is. A drop too short to tell is not logged.
func TestDropsHoldWhatTheySay(t *testing.T) {
	const clubs, slack = 3000, 0.02
	drop := sink.Drop{Height: 20, Mass: 0.5, CdS: 0.1386, Air: 1.13, Gravity: 9.8}
	r := rand.New(rand.NewPCG(5, 11))
	bias := distuv.StudentsT{Sigma: 0.375, Nu: 30, Src: r}
	run := distuv.Normal{Sigma: 0.15, Src: r}
	norm := func(sd float64) float64 { return distuv.Normal{Sigma: sd, Src: r}.Rand() }
	var in50, in90, width, kept float64
	for range clubs {
		f := drift.Flight{Recovery: []drift.Device{{Kind: "streamer", CdS: drop.CdS}}}
		mu := bias.Rand()
		var all []Measured
		for i := range 1 + r.IntN(4) {
			d := drop
			d.Height *= 1 + norm(0.02) // what it fell in truth
			d.Mass *= 1 + norm(0.005)
			took := d.Time(math.Exp(mu+run.Rand())) + norm(0.15)
			log, sd, err := drop.Estimate(sink.Timed{Time: took, TimeSD: 0.15, HeightSD: 0.4, MassSD: 0.005})
			var refused *sink.Error
			if errors.As(err, &refused) {
				continue
			}
			require.NoError(t, err)
			m := MeasuredDrag(&f.Recovery[0], log, sd)
			m.Entry = int64(i + 1)
			all = append(all, m)
		}
		if len(all) == 0 {
			continue
		}
		kept++
		var none Result
		none.UseMeasured(&f, all)
		a := f.Learned.Devices[0]
		sd := a.Scale * f.DragSpread(0)
		z := math.Abs(mu+run.Rand()-a.Bias) / sd
		width += sd
		if z < 0.6745 {
			in50++
		}
		if z < 1.645 {
			in90++
		}
	}
	in50, in90, width = in50/kept, in90/kept, width/kept
	t.Logf("%.0f of %d clubs had a drop that tells; the next flight's drag lay in its 50 %% interval %.1f %%, in its 90 %% one "+
		"%.1f %% of the time; its spread is %.0f %% on average, 42 %% before", kept, clubs, 100*in50, 100*in90, 100*width)
	assert.InDelta(t, 0.5, in50, 3*math.Sqrt(0.25/kept)+slack)
	assert.InDelta(t, 0.9, in90, 3*math.Sqrt(0.09/kept)+slack)
	assert.Less(t, width, 0.25)
	assert.Greater(t, kept, 0.95*clubs)
}
