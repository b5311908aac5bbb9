package logbook

import (
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// ErrFile is an error of a file that is no logbook, or not one for this
// program: another must be named.
var ErrFile = errors.New("not a logbook")

type fileError struct{ error }

func (fileError) Is(target error) bool { return target == ErrFile }

func fileErrorf(format string, a ...any) error { return fileError{fmt.Errorf(format, a...)} }

// Book is an open logbook. Its methods may be called from several goroutines,
// and several processes may hold the same file: writers wait for each other
// (up to 20 s), readers wait for no one.
type Book struct {
	path   string
	db     *sql.DB // nil: a missing file opened for reading
	read   bool
	schema int
}

// dsn names path to the driver. The settings hold for every connection of the
// pool: synchronous FULL so that a commit is on the disk when it returns.
func dsn(path, more string) string {
	return uri(filepath.ToSlash(path)) + "?_pragma=busy_timeout(20000)&_pragma=foreign_keys(1)&_pragma=synchronous(FULL)&_pragma=trusted_schema(0)&_txlock=immediate" + more
}

// uri names an absolute path with slashes as SQLite wants it: before a Windows
// drive stands a slash more, or the drive is taken for a host.
func uri(path string) string {
	if !strings.HasPrefix(path, "/") {
		path = "/" + path
	}
	u := url.URL{Scheme: "file", Path: path}
	return u.String()
}

// Open opens the logbook at path for reading and writing, makes it (and its
// folder) when it is missing, and brings an older schema up to date.
func Open(path string) (*Book, error) { return open(path, migrations) }

func open(path string, steps []string) (*Book, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, fmt.Errorf("%s: cannot make the folder of the logbook: %v; name a file you may write with --logbook",
			path, errors.Unwrap(err))
	}
	if err := writable(path); err != nil {
		return nil, err
	}
	b := &Book{path: path, schema: len(steps)}
	if b.db, err = sql.Open("sqlite", dsn(path, "")); err != nil {
		return nil, err
	}
	// The stamp first: another program's file is not even put into WAL mode.
	_, err = b.checkStamp(len(steps))
	if err == nil {
		_, err = b.db.Exec("PRAGMA journal_mode = WAL") // kept in the file
		err = b.explain(err)
	}
	if err == nil {
		err = b.migrate(steps)
	}
	if err != nil {
		b.db.Close()
		return nil, err
	}
	return b, nil
}

// writable refuses early what SQLite would refuse at the first write.
func writable(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if errors.Is(err, fs.ErrNotExist) {
		// Where people were and what they said is theirs alone.
		f, err = os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	}
	if err != nil {
		return fmt.Errorf("%s: the logbook cannot be written (%v); make it writable, or name another with --logbook",
			path, errors.Unwrap(err))
	}
	return f.Close()
}

// OpenRead opens the logbook at path for reading. It makes no file, changes
// none, and reads a missing one as an empty logbook. A file of an older schema
// is read as it is where that is possible, and refused with advice where not.
func OpenRead(path string) (*Book, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	b := &Book{path: path, read: true}
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) || (err == nil && info.Size() == 0) {
		return b, nil
	}
	if err != nil {
		return nil, fmt.Errorf("%s: the logbook cannot be read (%v)", path, errors.Unwrap(err))
	}
	if info.IsDir() {
		return nil, fileErrorf("%s: the logbook is a folder; name a file with --logbook", path)
	}
	version, err := b.openRead()
	if err != nil {
		return nil, err
	}
	if version == 0 { // made, but never written
		b.db.Close()
		return &Book{path: path, read: true}, nil
	}
	return b, nil
}

// openRead opens b.db for reading. Where file and folder can be written,
// SQLite's own lock files (removed at Close) keep readers and writers apart.
// Where not, and with no write-ahead log beside it, no one writes: the file is
// read as it stands.
func (b *Book) openRead() (version int, err error) {
	modes := []string{"&mode=rw&_pragma=query_only(1)", "&mode=ro"}
	if writable(b.path) != nil {
		modes = modes[1:]
	}
	if _, err := os.Stat(b.path + "-wal"); errors.Is(err, fs.ErrNotExist) {
		modes = append(modes, "&mode=ro&immutable=1")
	}
	for _, mode := range modes {
		if b.db, err = sql.Open("sqlite", dsn(b.path, mode)); err != nil {
			return 0, err
		}
		if version, err = b.checkStamp(len(migrations)); err == nil && version > 0 && version < readable {
			err = fmt.Errorf("%s: schema %d of an older windfall; a command that writes (such as windfall learn) brings it "+
				"to schema %d", b.path, version, len(migrations))
		}
		if err == nil {
			b.schema = version
			return version, nil
		}
		b.db.Close()
		if !errors.Is(err, errCannotWrite) {
			return 0, err
		}
	}
	return 0, err
}

// Close closes the logbook.
func (b *Book) Close() error {
	if b.db == nil {
		return nil
	}
	return b.db.Close()
}

// write runs do in one transaction.
func (b *Book) write(do func(tx *sql.Tx) error) error {
	if b.read {
		return fmt.Errorf("%s: the logbook is open for reading", b.path)
	}
	tx, err := b.db.Begin()
	if err != nil {
		return b.explain(err)
	}
	defer tx.Rollback()
	if err := do(tx); err != nil {
		return b.explain(err)
	}
	return b.explain(tx.Commit())
}

var errCannotWrite = errors.New("the logbook or its folder cannot be written")

// explain adds to SQLite's errors what to do about them.
func (b *Book) explain(err error) error {
	var se *sqlite.Error
	if err == nil || !errors.As(err, &se) {
		return err
	}
	code := se.Code() & 0xff
	if se.Code() == sqlite3.SQLITE_IOERR_SHMSIZE {
		code = sqlite3.SQLITE_FULL // no room for the index of the write-ahead log
	}
	switch code {
	case sqlite3.SQLITE_FULL:
		return fmt.Errorf("%s: the disk is full; this was not logged, everything before it is: make room and run the "+
			"command again", b.path)
	case sqlite3.SQLITE_IOERR:
		return fmt.Errorf("%s: the disk refused a read or write (%v); this was not logged: check the disk and its room, "+
			"then run the command again", b.path, se)
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN:
		return fmt.Errorf("%s: %w; make both writable, or name another with --logbook", b.path, errCannotWrite)
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return fmt.Errorf("%s: another program has held the logbook for 20 s; this was not logged: close that program "+
			"and run the command again", b.path)
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return fileErrorf("%s: the logbook is damaged (%s); run 'windfall log --check' for what to do", b.path,
			strings.TrimSpace(se.Error()))
	}
	return fmt.Errorf("%s: %w", b.path, err)
}

// refused tells an error of the tables' own rules from one of the disk.
func refused(err error) bool {
	var se *sqlite.Error
	return errors.As(err, &se) && (se.Code()&0xff == sqlite3.SQLITE_CONSTRAINT ||
		se.Code()&0xff == sqlite3.SQLITE_MISMATCH)
}
