package search

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"math"

	"windfall/geo/grid"
	"windfall/geo/ground"
	"windfall/search/detect"
)

// keyHeights is how many heights of the terrain stand for it in a key.
const keyHeights = 400

// Key is the same for two problems and options exactly when Make gives the same
// plan, short of a change of the program; terrain is told by a sample of its
// heights. A plan that is kept with its key need not be made again.
func Key(p Problem, o Options) (string, error) {
	o.Progress = nil
	all := struct {
		Searchers  []Searcher
		Target     Target
		Law        detect.Law
		Dark, Wind float64
		Ground     *ground.Ground
		Seed       uint64
		Pattern    Pattern
		Blocks     int
		Abreast    bool
		Heights    []float64
	}{p.Searchers, p.Target, p.Law, p.Dark, p.Wind, p.Ground, o.Seed, o.Pattern, o.Blocks, o.Abreast, heights(p)}
	text, err := json.Marshal(all)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	h.Write(text)
	m := p.Map
	binary.Write(h, binary.LittleEndian, []float64{m.Frame.Origin[0], m.Frame.Origin[1], m.West, m.South, m.Cell,
		float64(m.NX), m.Outside})
	binary.Write(h, binary.LittleEndian, m.P)
	return hex.EncodeToString(h.Sum(nil))[:32], nil
}

func heights(p Problem) (out []float64) {
	if p.Terrain == nil {
		return nil
	}
	for _, c := range some(p.Map) {
		z, ok := p.Terrain.Elevation(p.Map.Centre(c%p.Map.NX, c/p.Map.NX))
		if !ok {
			z = math.MaxFloat64
		}
		out = append(out, z)
	}
	return out
}

// some are cells spread over the map.
func some(m *grid.Map) (out []int) {
	for c := 0; c < len(m.P); c += 1 + len(m.P)/keyHeights {
		out = append(out, c)
	}
	return out
}
