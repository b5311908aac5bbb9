package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// Backup writes a whole copy of the logbook to path, also while others write
// to it: the copy holds every entry logged before the call. An older file at
// path is replaced only once the new one is complete and checked.
func (b *Book) Backup(path string) error {
	if b.db == nil {
		return fmt.Errorf("%s does not exist; there is nothing to back up", b.path)
	}
	path, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	if same, err := sameFile(path, b.path); err != nil || same {
		return errors.Join(err, onlyIf(same, fmt.Errorf("%s is the logbook itself; name another file for the backup", path)))
	}
	if st, err := os.Stat(path); err == nil && st.IsDir() {
		return fileErrorf("%s is a folder; name a file for the backup", path)
	}
	dir, err := os.MkdirTemp(filepath.Dir(path), ".backup-*") // the same disk, so that rename is atomic
	if err != nil {
		return fmt.Errorf("%s: the backup cannot be written there (%v)", path, errors.Unwrap(err))
	}
	defer os.RemoveAll(dir)
	tmp := filepath.Join(dir, "logbook.db")
	if err := b.vacuumInto(tmp); err != nil {
		return b.explain(err)
	}
	if problems, err := Check(tmp); err != nil || len(problems) > 0 {
		return fmt.Errorf("%s: the copy did not pass its check; run 'windfall log --check'", path)
	}
	if err := syncFile(tmp); err != nil {
		return err
	}
	if err := os.Rename(tmp, path); err != nil {
		return err
	}
	return syncFile(filepath.Dir(path))
}

// vacuumInto copies within one read transaction of a connection of its own.
// SQLite counts it as a write, which a book open for reading otherwise refuses.
func (b *Book) vacuumInto(path string) error {
	ctx := context.Background()
	conn, err := b.db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, "PRAGMA query_only = 0"); err != nil {
		return err
	}
	_, err = conn.ExecContext(ctx, "VACUUM INTO ?", path)
	if b.read {
		_, err2 := conn.ExecContext(ctx, "PRAGMA query_only = 1")
		err = errors.Join(err, err2)
	}
	return err
}

func onlyIf(cond bool, err error) error {
	if cond {
		return err
	}
	return nil
}

func sameFile(a, b string) (bool, error) {
	ia, err := os.Stat(a)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	ib, err := os.Stat(b)
	return err == nil && os.SameFile(ia, ib), nil
}

func syncFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// Check reads the whole logbook at path and returns what is wrong with it, a
// line each; none for a sound one and for a missing one. It changes nothing.
func Check(path string) ([]string, error) {
	b, err := OpenRead(path)
	if err != nil {
		return []string{err.Error()}, nil
	}
	defer b.Close()
	if b.db == nil {
		return nil, nil
	}
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if err := eachText(b.db, "PRAGMA integrity_check(20)", func(s string) {
		if s != "ok" {
			say("%s", s)
		}
	}); err != nil {
		say("%v", err)
	}
	if err := eachText(b.db,
		"SELECT \"table\" || ' row ' || coalesce(rowid, '') || ' points to a missing ' || parent FROM "+
			"pragma_foreign_key_check", func(s string) { say("%s", s) }); err != nil {
		say("%v", err)
	}
	if err := eachText(b.db,
		"SELECT 'entry ' || id || ' has lost its text' FROM entry WHERE NOT EXISTS (SELECT 1 FROM revision WHERE entry "+
			"= id)", func(s string) { say("%s", s) }); err != nil {
		say("%v", err)
	}
	// A gap in the numbers, which never run backwards, is an entry that went.
	if err := eachText(b.db,
		"SELECT (seq - n) || ' entries are missing' FROM (SELECT (SELECT seq FROM sqlite_sequence WHERE name = 'entry') "+
			"AS seq, (SELECT count(*) FROM entry) AS n) WHERE seq > n", func(s string) { say("%s", s) }); err != nil {
		say("%v", err)
	}
	if b.schema >= notesSince {
		if err := eachText(b.db,
			"SELECT (seq - n) || ' notes are missing' FROM (SELECT (SELECT seq FROM sqlite_sequence WHERE name = 'note') "+
				"AS seq, (SELECT count(*) FROM note) AS n) WHERE seq > n", func(s string) { say("%s", s) }); err != nil {
			say("%v", err)
		}
	}
	for _, p := range b.checkContent() {
		say("%s", p)
	}
	return out, nil
}

func (b *Book) checkContent() (out []string) {
	if _, err := b.Entries(Query{Withdrawn: true}); err != nil {
		out = append(out, err.Error())
	}
	var hashes []string
	if err := eachText(b.db, "SELECT sha256 FROM file", func(s string) { hashes = append(hashes, s) }); err != nil {
		return append(out, err.Error())
	}
	for _, h := range hashes {
		if err := b.unpack(&File{Name: h[:12], SHA256: h}); err != nil {
			out = append(out, err.Error())
		}
	}
	return out
}

func eachText(db *sql.DB, query string, do func(string)) error {
	rows, err := db.Query(query)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return err
		}
		do(s)
	}
	return rows.Err()
}

// Salvage copies what can still be read of a damaged logbook at path into a
// new one at to, which must not exist. It returns how many entries came over
// and how many did not. The damaged file is not changed.
func Salvage(path, to string) (kept, lost int, err error) {
	if _, err := os.Stat(to); !errors.Is(err, fs.ErrNotExist) {
		return 0, 0, fmt.Errorf("%s exists; name a new file", to)
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return 0, 0, err
	}
	if _, err := os.Stat(abs); err != nil {
		return 0, 0, fmt.Errorf("%s: %v", abs, errors.Unwrap(err))
	}
	from, err := sql.Open("sqlite", uri(filepath.ToSlash(abs))+"?mode=ro&_pragma=busy_timeout(20000)")
	if err != nil {
		return 0, 0, err
	}
	defer from.Close()
	book, err := Open(to)
	if err != nil {
		return 0, 0, err
	}
	defer book.Close()
	err = book.write(func(tx *sql.Tx) error {
		kept, lost, err = salvage(from, tx)
		return err
	})
	return kept, lost, err
}

// salvage copies row by row, by key, so that a bad page costs only its rows.
func salvage(from *sql.DB, tx *sql.Tx) (kept, lost int, err error) {
	for _, table := range []string{"flight", "file", "learned", "inputs", "input_file"} {
		if err := copyRows(from, tx, table); err != nil {
			return 0, 0, err
		}
	}
	last := 0
	// Each may fail on a damaged file; the greatest of them is a bound.
	for _, q := range []string{"SELECT seq FROM sqlite_sequence WHERE name = 'entry'", "SELECT max(id) FROM entry",
		"SELECT max(entry) FROM revision"} {
		var n sql.NullInt64
		if from.QueryRow(q).Scan(&n) == nil {
			last = max(last, int(n.Int64))
		}
	}
	for id := 1; id <= last; id++ {
		ok, err := salvageEntry(from, tx, id)
		if err != nil {
			return 0, 0, err
		}
		if ok {
			kept++
		} else {
			lost++
		}
	}
	for _, table := range []string{"note", "said", "judged"} { // which older logbooks have not
		if err := copyRows(from, tx, table); err != nil {
			return 0, 0, err
		}
	}
	return kept, lost, nil
}

func salvageEntry(from *sql.DB, tx *sql.Tx, id int) (bool, error) {
	var flight, kind string
	var inputs sql.NullInt64
	if from.QueryRow("SELECT flight, kind, inputs FROM entry WHERE id = ?", id).Scan(&flight, &kind, &inputs) != nil {
		return false, nil
	}
	type rev struct{ at, by, state, body string }
	var revs []rev
	for n := 1; ; n++ {
		var r rev
		if from.QueryRow("SELECT at, by, state, body FROM revision WHERE entry = ? AND n = ?", id, n).Scan(&r.at, &r.by,
			&r.state, &r.body) != nil {
			break
		}
		revs = append(revs, r)
	}
	if len(revs) == 0 {
		return false, nil
	}
	if _, err := tx.Exec("INSERT INTO flight VALUES (?, '', ?) ON CONFLICT DO NOTHING", flight, revs[0].at); err != nil {
		return false, nil // refused by the table's checks: not an entry any more
	}
	var n int
	if err := tx.QueryRow("SELECT count(*) FROM inputs WHERE id = ?", inputs.Int64).Scan(&n); err != nil {
		return false, err
	}
	inputs.Valid = inputs.Valid && n == 1
	if _, err := tx.Exec("INSERT INTO entry VALUES (?, ?, ?, ?)", id, flight, kind, inputs); err != nil {
		return false, nil
	}
	for i, r := range revs {
		if _, err := time.Parse(time.RFC3339Nano, r.at); err != nil {
			return i > 0, nil
		}
		if _, err := tx.Exec("INSERT INTO revision VALUES (?, ?, ?, ?, ?, ?)", id, i+1, r.at, r.by, r.state,
			r.body); err != nil {
			return i > 0, nil
		}
	}
	return true, nil
}

// copyRows copies the rows of a table that can be read and fit; once reading
// forward stops at a bad page it reads from the other end.
func copyRows(from *sql.DB, tx *sql.Tx, table string) error {
	for _, order := range []string{"ASC", "DESC"} {
		key := map[string]string{"flight": "id", "file": "sha256", "learned": "id", "inputs": "id",
			"input_file": "inputs", "note": "id", "said": "key", "judged": "entry"}[table]
		rows, err := from.Query("SELECT * FROM " + table + " ORDER BY " + key + " " + order)
		if err != nil {
			continue
		}
		cols, _ := rows.Columns()
		marks := "?"
		for range len(cols) - 1 {
			marks += ", ?"
		}
		vals, ptrs := make([]any, len(cols)), make([]any, len(cols))
		for i := range vals {
			ptrs[i] = &vals[i]
		}
		for rows.Next() {
			if rows.Scan(ptrs...) != nil {
				break
			}
			_, err := tx.Exec("INSERT OR IGNORE INTO "+table+" VALUES ("+marks+")", vals...)
			if err != nil && !refused(err) {
				rows.Close()
				return err
			}
		}
		err = rows.Err()
		rows.Close()
		if err == nil {
			return nil
		}
	}
	return nil
}
