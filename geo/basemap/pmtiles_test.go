package basemap

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Numbers of tiles along the curve; the last is the specification's own example
// (PMTiles version 3, from memory).
func TestTileID(t *testing.T) {
	for _, x := range []struct {
		z, x, y int
		id      uint64
	}{{0, 0, 0, 0}, {1, 0, 0, 1}, {1, 0, 1, 2}, {1, 1, 1, 3}, {1, 1, 0, 4}, {2, 0, 0, 5}, {12, 3423, 1763, 19078479}} {
		assert.Equal(t, x.id, tileID(x.z, x.x, x.y))
	}
	seen := map[uint64]bool{}
	for x := range 16 {
		for y := range 16 {
			seen[tileID(4, x, y)] = true
		}
	}
	assert.Len(t, seen, 256)
}

// writePMTiles makes a file of one level-1 tile behind a leaf directory.
func writePMTiles(t *testing.T, path string, tile []byte, change func(*pmHeader)) {
	pack := func(b []byte) []byte {
		var z bytes.Buffer
		w := gzip.NewWriter(&z)
		w.Write(b)
		require.NoError(t, w.Close())
		return z.Bytes()
	}
	dir := func(id, run, length, offset uint64) []byte {
		b := binary.AppendUvarint(nil, 1)
		for _, v := range []uint64{id, run, length, offset + 1} {
			b = binary.AppendUvarint(b, v)
		}
		return pack(b)
	}
	leaf := dir(tileID(1, 1, 0), 1, uint64(len(tile)), 0)
	root := dir(1, 0, uint64(len(leaf)), 0)
	meta := pack([]byte(`{"attribution": "&copy; <a href='x'>invented maps</a>"}`))
	h := pmHeader{Version: 3, DirPacking: 2, TilePacking: 1, Type: 2, MinZoom: 1, MaxZoom: 1}
	copy(h.Magic[:], "PMTiles")
	h.RootAt, h.RootLen = 127, uint64(len(root))
	h.MetaAt, h.MetaLen = h.RootAt+h.RootLen, uint64(len(meta))
	h.LeafAt, h.LeafLen = h.MetaAt+h.MetaLen, uint64(len(leaf))
	h.DataAt, h.DataLen = h.LeafAt+h.LeafLen, uint64(len(tile))
	if change != nil {
		change(&h)
	}
	var b bytes.Buffer
	require.NoError(t, binary.Write(&b, binary.LittleEndian, h))
	for _, p := range [][]byte{root, meta, leaf, tile} {
		b.Write(p)
	}
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
}

func TestPMTiles(t *testing.T) {
	path := filepath.Join(t.TempDir(), "map.pmtiles")
	tile := smallPicture(t)
	writePMTiles(t, path, tile, nil)
	m, err := Open(path)
	require.NoError(t, err)
	defer m.Close()
	assert.Equal(t, []any{"\u00a9 invented maps", 1, 1}, []any{m.Credit, m.MinZoom, m.MaxZoom})
	got, err := m.Tile(1, 1, 0)
	require.NoError(t, err)
	assert.Equal(t, tile, got)
	for _, at := range [][3]int{{1, 0, 0}, {0, 0, 0}, {2, 3, 0}, {1, 9, 0}, {-1, 0, 0}, {99, 1, 1}} {
		got, err := m.Tile(at[0], at[1], at[2])
		assert.NoError(t, err)
		assert.Nil(t, got, at)
	}
	for says, change := range map[string]func(*pmHeader){
		"vector tiles":     func(h *pmHeader) { h.Type = 1 },
		"another version":  func(h *pmHeader) { h.Version = 2 },
		"packed in a way":  func(h *pmHeader) { h.DirPacking = 4 },
		"cut short":        func(h *pmHeader) { h.RootAt = 1 << 30 },
		"too large":        func(h *pmHeader) { h.RootLen = 1 << 40 },
		"cannot be":        func(h *pmHeader) { h.RootLen = 3 },
		"not a PMTiles fi": func(h *pmHeader) { h.Magic[0] = 'X' },
	} {
		writePMTiles(t, path, tile, change)
		_, err := Open(path)
		assert.ErrorContains(t, err, says)
	}
}

func smallPicture(t *testing.T) []byte {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewRGBA(image.Rect(0, 0, 4, 2))))
	return b.Bytes()
}

func FuzzDirectory(f *testing.F) {
	f.Add([]byte{1, 1, 0, 3, 1})
	f.Add(binary.AppendUvarint(nil, 1<<60))
	f.Fuzz(func(t *testing.T, b []byte) {
		d, err := readDirectory(b)
		if err == nil {
			assert.LessOrEqual(t, len(d), len(b))
		}
	})
}
