package logbook

import (
	"bytes"
	"compress/flate"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
)

// maxFile is the largest input file whose bytes are kept, in bytes; of a
// larger one the hash alone is. A one-arcsecond elevation tile is 26 MB.
const maxFile = 64 << 20

// Inputs is all that made a map: with the same version of the program they
// make it again, byte for byte.
type Inputs struct {
	ID       int64     // set by the logbook
	Flight   string    // the flight's id
	Launched time.Time // planned or actual ignition
	When     time.Time // when these inputs were used
	Version  string    // of the program
	Seed     uint64
	Runs     int
	Learned  int64  // Learned.ID in use; 0: none
	Main     string // name of the flight file in Files
	Files    []File // the flight file and every file it names
}

// File is an input file. Name is as the flight file has it, so that written
// back beside the flight file they find each other again.
type File struct {
	Name   string
	Bytes  []byte // nil when read back: over maxFile, only the hash was kept
	SHA256 string // set by the logbook, hexadecimal
	Size   int64  // set by the logbook
}

// putInputs stores in, or finds it where the same inputs are the flight's
// latest already, and returns its id.
func putInputs(tx *sql.Tx, in *Inputs) (int64, error) {
	if in.Flight == "" || in.When.IsZero() {
		return 0, errors.New("inputs without a flight or a time")
	}
	files := slices.Clone(in.Files)
	for i := range files {
		sum := sha256.Sum256(files[i].Bytes)
		files[i].SHA256, files[i].Size = hex.EncodeToString(sum[:]), int64(len(files[i].Bytes))
	}
	slices.SortFunc(files, func(a, b File) int { return strings.Compare(a.Name, b.Name) })
	if _, err := tx.Exec("INSERT INTO flight VALUES (?, ?, ?) ON CONFLICT DO NOTHING", in.Flight,
		stampTime(in.Launched), stampTime(in.When)); err != nil {
		return 0, err
	}
	if id, err := sameInputs(tx, in, files); err != nil || id != 0 {
		return id, err
	}
	r, err := tx.Exec("INSERT INTO inputs (flight, at, version, seed, runs, learned, main) VALUES (?, ?, ?, ?, ?, ?, ?)",
		in.Flight, stampTime(in.When), in.Version, int64(in.Seed), in.Runs, sql.NullInt64{Int64: in.Learned,
			Valid: in.Learned != 0}, in.Main)
	if err != nil {
		return 0, err
	}
	id, err := r.LastInsertId()
	if err != nil {
		return 0, err
	}
	for _, f := range files {
		if err := putFile(tx, id, f); err != nil {
			return 0, err
		}
	}
	return id, nil
}

// sameInputs returns the id of the flight's latest inputs if they equal in.
func sameInputs(tx *sql.Tx, in *Inputs, files []File) (int64, error) {
	var id int64
	err := tx.QueryRow(`SELECT id FROM inputs WHERE id = (SELECT max(id) FROM inputs WHERE flight = ?)
AND version = ? AND seed = ? AND runs = ? AND coalesce(learned, 0) = ? AND main = ?`,
		in.Flight, in.Version, int64(in.Seed), in.Runs, in.Learned, in.Main).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	var list string
	if err := tx.QueryRow("SELECT coalesce(group_concat(name || char(0) || sha256, char(10)), '') FROM (SELECT name, "+
		"sha256 FROM input_file WHERE inputs = ? ORDER BY name)", id).Scan(&list); err != nil {
		return 0, err
	}
	mine := make([]string, len(files))
	for i, f := range files {
		mine[i] = f.Name + "\x00" + f.SHA256
	}
	if list != strings.Join(mine, "\n") {
		return 0, nil
	}
	return id, nil
}

func putFile(tx *sql.Tx, inputs int64, f File) error {
	var n int
	if err := tx.QueryRow("SELECT count(*) FROM file WHERE sha256 = ?", f.SHA256).Scan(&n); err != nil {
		return err
	}
	if n == 0 {
		var packed []byte
		if f.Size <= maxFile {
			var buf bytes.Buffer
			w, _ := flate.NewWriter(&buf, flate.DefaultCompression) // errs only for a level out of range
			if _, err := w.Write(f.Bytes); err != nil {
				return err
			}
			if err := w.Close(); err != nil {
				return err
			}
			packed = buf.Bytes()
		}
		if _, err := tx.Exec("INSERT INTO file VALUES (?, ?, ?)", f.SHA256, f.Size, packed); err != nil {
			return err
		}
	}
	_, err := tx.Exec("INSERT INTO input_file VALUES (?, ?, ?)", inputs, f.Name, f.SHA256)
	return err
}

// FlightInputs returns every set of inputs stored for a flight (every flight
// when it is empty), oldest first, without the files' bytes.
func (b *Book) FlightInputs(flight string) ([]Inputs, error) {
	if b.db == nil {
		return nil, nil
	}
	return b.inputs("WHERE ? IN ('', i.flight) ORDER BY i.id", flight)
}

// Inputs returns the inputs with that id, with the bytes of their files.
func (b *Book) Inputs(id int64) (*Inputs, error) {
	if b.db == nil {
		return nil, fmt.Errorf("%s has no inputs %d; 'windfall log FLIGHT' lists them", b.path, id)
	}
	all, err := b.inputs("WHERE i.id = ?", id)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("%s has no inputs %d; 'windfall log FLIGHT' lists them", b.path, id)
	}
	in := &all[0]
	for i := range in.Files {
		if err := b.unpack(&in.Files[i]); err != nil {
			return nil, err
		}
	}
	return in, nil
}

// inputs reads inputs and the names of their files.
func (b *Book) inputs(where string, args ...any) ([]Inputs, error) {
	rows, err := b.db.Query(`SELECT i.id, i.flight, l.launched, i.at, i.version, i.seed, i.runs, coalesce(i.learned, 0), i.main
FROM inputs i JOIN flight l ON l.id = i.flight `+where, args...)
	if err != nil {
		return nil, b.explain(err)
	}
	defer rows.Close()
	var out []Inputs
	for rows.Next() {
		var in Inputs
		var launched, at string
		var seed int64
		if err := rows.Scan(&in.ID, &in.Flight, &launched, &at, &in.Version, &seed, &in.Runs, &in.Learned,
			&in.Main); err != nil {
			return nil, b.explain(err)
		}
		in.Seed = uint64(seed)
		in.Launched, _ = time.Parse(time.RFC3339Nano, launched) // '' stays zero
		if in.When, err = time.Parse(time.RFC3339Nano, at); err != nil {
			return nil, fmt.Errorf("%s: inputs %d: %w", b.path, in.ID, err)
		}
		out = append(out, in)
	}
	if err := rows.Err(); err != nil {
		return nil, b.explain(err)
	}
	for i := range out {
		if out[i].Files, err = b.fileNames(out[i].ID); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (b *Book) fileNames(inputs int64) ([]File, error) {
	rows, err := b.db.Query("SELECT n.name, f.sha256, f.size FROM input_file n JOIN file f USING (sha256) WHERE "+
		"n.inputs = ? ORDER BY n.name", inputs)
	if err != nil {
		return nil, b.explain(err)
	}
	defer rows.Close()
	var out []File
	for rows.Next() {
		var f File
		if err := rows.Scan(&f.Name, &f.SHA256, &f.Size); err != nil {
			return nil, b.explain(err)
		}
		out = append(out, f)
	}
	return out, b.explain(rows.Err())
}

// unpack fills in the bytes of f and holds them against their hash.
func (b *Book) unpack(f *File) error {
	var packed []byte
	if err := b.db.QueryRow("SELECT packed FROM file WHERE sha256 = ?", f.SHA256).Scan(&packed); err != nil {
		return b.explain(err)
	}
	if packed == nil {
		return nil
	}
	got, err := io.ReadAll(io.LimitReader(flate.NewReader(bytes.NewReader(packed)), maxFile+1))
	sum := sha256.Sum256(got)
	if err != nil || hex.EncodeToString(sum[:]) != f.SHA256 {
		return fmt.Errorf("%s: the stored file %s is damaged; run 'windfall log --check' for what to do", b.path, f.Name)
	}
	f.Bytes = got
	return nil
}
