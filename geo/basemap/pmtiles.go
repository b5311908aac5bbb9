package basemap

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"os"
	"slices"
	"sync"
)

// pmtiles is a file of the PMTiles specification, version 3: one file of tiles
// behind a header of 127 bytes and directories that lead to them.
type pmtiles struct {
	f    *os.File
	head pmHeader

	mu   sync.Mutex
	dirs map[uint64][]pmEntry // read of late, by offset
}

// pmHeader is the file's header, little-endian, without what is not used.
type pmHeader struct {
	Magic                     [7]byte
	Version                   uint8
	RootAt, RootLen           uint64
	MetaAt, MetaLen           uint64
	LeafAt, LeafLen           uint64
	DataAt, DataLen           uint64
	Addressed, Entries, Tiles uint64
	Clustered                 uint8
	DirPacking, TilePacking   uint8 // 1 plain, 2 gzip
	Type                      uint8 // 1 vector, 2 png, 3 jpeg, 4 webp, 5 avif
	MinZoom, MaxZoom          uint8
	West, South, East, North  int32 // 1e-7 degrees
	CentreZoom                uint8
	CentreLon, CentreLat      int32
}

// pmEntry leads from tile numbers to bytes, or with no run to a directory.
type pmEntry struct {
	id, run, length, offset uint64
}

const (
	mostDirectory = 8 << 20 // bytes; the specification keeps the root under 16 kB and leaves small
	mostTile      = 8 << 20 // bytes of one tile
	keptDirs      = 64
	deepest       = 3 // directories on the way to a tile, by the specification
)

func openPMTiles(path string) (*Map, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, plain(err)
	}
	p := &pmtiles{f: f, dirs: map[uint64][]pmEntry{}}
	if err := p.open(); err != nil {
		f.Close()
		return nil, err
	}
	return &Map{Credit: p.credit(), MinZoom: int(p.head.MinZoom), MaxZoom: int(p.head.MaxZoom), tiles: p}, nil
}

func (p *pmtiles) open() error {
	if err := binary.Read(io.NewSectionReader(p.f, 0, 127), binary.LittleEndian, &p.head); err != nil ||
		string(p.head.Magic[:]) != "PMTiles" {
		return errors.New("is not a PMTiles file")
	}
	switch h := p.head; {
	case h.Version != 3:
		return errors.New("is PMTiles of another version; convert it to version 3")
	case h.Type == 1:
		return errVector
	case h.DirPacking > 2 || h.TilePacking > 2:
		return errors.New("is packed in a way that is not read here; pack it with gzip or not at all")
	}
	_, err := p.dir(p.head.RootAt, p.head.RootLen)
	return err
}

func (p *pmtiles) close() error { return p.f.Close() }

// credit is the attribution in the file's metadata; empty: none.
func (p *pmtiles) credit() string {
	b, err := p.bytes(p.head.MetaAt, p.head.MetaLen, p.head.DirPacking, mostDirectory)
	var meta struct {
		Attribution string `json:"attribution"`
	}
	if err != nil || json.Unmarshal(b, &meta) != nil {
		return ""
	}
	return textOnly(meta.Attribution)
}

// bytes reads a part of the file and unpacks it.
func (p *pmtiles) bytes(at, length uint64, packing uint8, most int64) ([]byte, error) {
	if length > uint64(most) || at > 1<<62 {
		return nil, errors.New("is damaged: a part of it would be too large")
	}
	b := make([]byte, length)
	if _, err := p.f.ReadAt(b, int64(at)); err != nil {
		return nil, errors.New("is cut short")
	}
	if packing != 2 {
		return b, nil
	}
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, errors.New("is damaged: a part of it cannot be unpacked")
	}
	b, err = io.ReadAll(io.LimitReader(z, most+1))
	if err != nil || int64(len(b)) > most {
		return nil, errors.New("is damaged: a part of it cannot be unpacked")
	}
	return b, nil
}

func (p *pmtiles) dir(at, length uint64) ([]pmEntry, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if d, ok := p.dirs[at]; ok {
		return d, nil
	}
	b, err := p.bytes(at, length, p.head.DirPacking, mostDirectory)
	if err != nil {
		return nil, err
	}
	d, err := readDirectory(b)
	if err != nil {
		return nil, err
	}
	if len(p.dirs) >= keptDirs {
		clear(p.dirs)
	}
	p.dirs[at] = d
	return d, nil
}

// readDirectory reads a directory: the number of entries, then all ids as
// differences, all runs, all lengths, all offsets (0: right behind the last).
func readDirectory(b []byte) ([]pmEntry, error) {
	r := bytes.NewReader(b)
	damaged := errors.New("is damaged: a directory cannot be read")
	n, err := binary.ReadUvarint(r)
	if err != nil || n > uint64(len(b)) {
		return nil, damaged
	}
	d := make([]pmEntry, n)
	id := uint64(0)
	for _, put := range []func(i int, v uint64){
		func(i int, v uint64) { id += v; d[i].id = id },
		func(i int, v uint64) { d[i].run = v },
		func(i int, v uint64) { d[i].length = v },
		func(i int, v uint64) {
			if v == 0 && i > 0 {
				d[i].offset = d[i-1].offset + d[i-1].length
			} else {
				d[i].offset = v - 1
			}
		},
	} {
		for i := range d {
			v, err := binary.ReadUvarint(r)
			if err != nil {
				return nil, damaged
			}
			put(i, v)
		}
	}
	return d, nil
}

func (p *pmtiles) tile(z, x, y int) ([]byte, error) {
	id := tileID(z, x, y)
	at, length := p.head.RootAt, p.head.RootLen
	for range deepest + 1 {
		d, err := p.dir(at, length)
		if err != nil {
			return nil, err
		}
		i, ok := slices.BinarySearchFunc(d, id, func(e pmEntry, id uint64) int {
			switch {
			case e.id < id:
				return -1
			case e.id > id:
				return 1
			}
			return 0
		})
		if !ok {
			i--
		}
		if i < 0 {
			return nil, nil
		}
		e := d[i]
		if e.run > 0 {
			if id >= e.id+e.run {
				return nil, nil
			}
			return p.bytes(p.head.DataAt+e.offset, e.length, p.head.TilePacking, mostTile)
		}
		at, length = p.head.LeafAt+e.offset, e.length
	}
	return nil, errors.New("is damaged: its directories go round")
}

// tileID numbers tiles: those of the levels above, then along a Hilbert curve.
func tileID(z, x, y int) uint64 {
	id := uint64(0)
	for k := range z {
		id += 1 << (2 * k)
	}
	for s := 1 << z / 2; s > 0; s /= 2 {
		rx, ry := 0, 0
		if x&s > 0 {
			rx = 1
		}
		if y&s > 0 {
			ry = 1
		}
		id += uint64(s) * uint64(s) * uint64(3*rx^ry)
		if ry == 0 {
			if rx == 1 {
				x, y = s-1-x, s-1-y
			}
			x, y = y, x
		}
	}
	return id
}
