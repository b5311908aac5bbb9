package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// applicationID marks the file as ours in SQLite's header ("WFLB").
const applicationID = 0x57464C42

// migrations lead from schema n to n+1. A released one never changes; PRAGMA
// user_version holds how many have been applied.
var migrations = []string{schema1, schema2, schema3, schema4}

// readable is the oldest schema that is read as it stands: those since then have
// grown in what they allow alone.
const readable = 1

// notesSince is the schema that first has notes.
const notesSince = 3

// judgedSince is the schema that first keeps judgements.
const judgedSince = 4

const schema1 = `
CREATE TABLE flight (
  id       TEXT PRIMARY KEY CHECK (id <> ''),
  launched TEXT NOT NULL,             -- RFC 3339, planned or actual ignition; '' not known
  added    TEXT NOT NULL              -- RFC 3339, when the flight came into the logbook
) STRICT, WITHOUT ROWID;

CREATE TABLE file (                   -- the bytes of input files, each kept once
  sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
  size   INTEGER NOT NULL,            -- bytes before packing
  packed BLOB                         -- raw DEFLATE (RFC 1951); NULL: too large, the hash alone is kept
) STRICT, WITHOUT ROWID;

CREATE TABLE learned (                -- what was learned, the newest row is in use
  id      INTEGER PRIMARY KEY AUTOINCREMENT,
  at      TEXT NOT NULL,
  version TEXT NOT NULL,
  seed    INTEGER NOT NULL,
  finds   TEXT NOT NULL,              -- digest of the finds it rests on
  result  TEXT NOT NULL CHECK (json_valid(result))
) STRICT;

CREATE TABLE inputs (                 -- what made a map, so that it can be made again
  id      INTEGER PRIMARY KEY AUTOINCREMENT,
  flight  TEXT NOT NULL REFERENCES flight (id),
  at      TEXT NOT NULL,
  version TEXT NOT NULL,              -- of the program
  seed    INTEGER NOT NULL,           -- the 64 bits of an unsigned number
  runs    INTEGER NOT NULL,
  learned INTEGER REFERENCES learned (id),
  main    TEXT NOT NULL               -- name of the flight file among its input_file rows
) STRICT;
CREATE INDEX inputs_flight ON inputs (flight);

CREATE TABLE input_file (
  inputs INTEGER NOT NULL REFERENCES inputs (id),
  name   TEXT NOT NULL,               -- as the flight file names it
  sha256 TEXT NOT NULL REFERENCES file (sha256),
  PRIMARY KEY (inputs, name)
) STRICT, WITHOUT ROWID;

CREATE TABLE entry (
  id     INTEGER PRIMARY KEY AUTOINCREMENT,
  flight TEXT NOT NULL REFERENCES flight (id),
  kind   TEXT NOT NULL CHECK (kind IN ('sighting','timing','height','nothing-in','track','find')),
  inputs INTEGER REFERENCES inputs (id)
) STRICT;
CREATE INDEX entry_flight ON entry (flight);

CREATE TABLE revision (               -- n = 1: as first logged; the highest n counts
  entry INTEGER NOT NULL REFERENCES entry (id),
  n     INTEGER NOT NULL CHECK (n >= 1),
  at    TEXT NOT NULL,
  by    TEXT NOT NULL,
  state TEXT NOT NULL CHECK (state IN ('logged','amended','withdrawn')),
  body  TEXT NOT NULL CHECK (json_valid(body) AND json_type(body) = 'object'),
  PRIMARY KEY (entry, n)
) STRICT, WITHOUT ROWID;
` + keepTriggers

// schema2 lets entries be measurements too. A table's checks cannot be changed in
// place: the entries move into a new one of the same name, with foreign keys off
// (the procedure of sqlite.org/lang_altertable.html, section 7).
const schema2 = `
CREATE TABLE entry2 (
  id     INTEGER PRIMARY KEY AUTOINCREMENT,
  flight TEXT NOT NULL REFERENCES flight (id),
  kind   TEXT NOT NULL CHECK (kind IN ('sighting','timing','height','nothing-in','track','find','measured')),
  inputs INTEGER REFERENCES inputs (id)
) STRICT;
INSERT INTO entry2 SELECT id, flight, kind, inputs FROM entry;
UPDATE sqlite_sequence SET seq = (SELECT seq FROM sqlite_sequence WHERE name = 'entry')
  WHERE name = 'entry2' AND EXISTS (SELECT 1 FROM sqlite_sequence WHERE name = 'entry');
DROP TABLE entry;
ALTER TABLE entry2 RENAME TO entry;
CREATE INDEX entry_flight ON entry (flight);
CREATE TRIGGER entry_kept_u      BEFORE UPDATE ON entry      BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER entry_kept_d      BEFORE DELETE ON entry      BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
`

// keepTriggers refuse change and removal of rows: a logbook only grows.
const keepTriggers = `
CREATE TRIGGER flight_kept_u     BEFORE UPDATE ON flight     BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER flight_kept_d     BEFORE DELETE ON flight     BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER file_kept_u       BEFORE UPDATE ON file       BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER file_kept_d       BEFORE DELETE ON file       BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER learned_kept_u    BEFORE UPDATE ON learned    BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER learned_kept_d    BEFORE DELETE ON learned    BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER inputs_kept_u     BEFORE UPDATE ON inputs     BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER inputs_kept_d     BEFORE DELETE ON inputs     BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER input_file_kept_u BEFORE UPDATE ON input_file BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER input_file_kept_d BEFORE DELETE ON input_file BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER entry_kept_u      BEFORE UPDATE ON entry      BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER entry_kept_d      BEFORE DELETE ON entry      BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER revision_kept_u   BEFORE UPDATE ON revision   BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER revision_kept_d   BEFORE DELETE ON revision   BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
`

// schema3 adds what a crew says to each other in the field, the keys by which a
// phone's words are known again, and an order of everything that was added.
const schema3 = `
CREATE TABLE note (                   -- what was said in the field that is no evidence
  id     INTEGER PRIMARY KEY AUTOINCREMENT,
  flight TEXT NOT NULL REFERENCES flight (id),
  at     TEXT NOT NULL,
  by     TEXT NOT NULL,
  kind   TEXT NOT NULL CHECK (kind <> ''),
  body   TEXT NOT NULL CHECK (json_valid(body) AND json_type(body) = 'object')
) STRICT;
CREATE INDEX note_flight ON note (flight);

CREATE TABLE said (                   -- what came with a key of its sender's making
  key    TEXT PRIMARY KEY CHECK (key <> ''),
  flight TEXT NOT NULL REFERENCES flight (id),
  sha256 TEXT NOT NULL,               -- of what was sent
  entry  INTEGER REFERENCES entry (id),
  note   INTEGER REFERENCES note (id)
) STRICT;
CREATE INDEX said_entry ON said (entry);
CREATE INDEX said_note ON said (note);

CREATE TABLE change (                 -- every revision and note, in the order they came
  seq    INTEGER PRIMARY KEY AUTOINCREMENT,
  flight TEXT NOT NULL REFERENCES flight (id),
  entry  INTEGER REFERENCES entry (id),
  note   INTEGER REFERENCES note (id)
) STRICT;
CREATE INDEX change_flight ON change (flight, seq);
INSERT INTO change (flight, entry) SELECT e.flight, r.entry FROM revision r JOIN entry e ON e.id = r.entry
 ORDER BY r.at, r.entry, r.n;
CREATE TRIGGER change_revision AFTER INSERT ON revision BEGIN
 INSERT INTO change (flight, entry) SELECT flight, id FROM entry WHERE id = NEW.entry; END;
CREATE TRIGGER change_note AFTER INSERT ON note BEGIN
 INSERT INTO change (flight, note) VALUES (NEW.flight, NEW.id); END;

CREATE TRIGGER note_kept_u   BEFORE UPDATE ON note   BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER note_kept_d   BEFORE DELETE ON note   BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER said_kept_u   BEFORE UPDATE ON said   BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER said_kept_d   BEFORE DELETE ON said   BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER change_kept_u BEFORE UPDATE ON change BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER change_kept_d BEFORE DELETE ON change BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
`

// schema4 keeps how well the map had done for a find when it was logged.
const schema4 = `
CREATE TABLE judged (
  entry INTEGER NOT NULL REFERENCES entry (id),
  n     INTEGER NOT NULL,             -- the revision that was judged
  at    TEXT NOT NULL,
  body  TEXT NOT NULL CHECK (json_valid(body) AND json_type(body) = 'object'),
  PRIMARY KEY (entry, n)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER judged_kept_u BEFORE UPDATE ON judged BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
CREATE TRIGGER judged_kept_d BEFORE DELETE ON judged BEGIN SELECT raise(ABORT, 'a logbook only grows'); END;
`

// stamp reads which program made the file and its schema version.
func stamp(db *sql.DB) (app, version int, err error) {
	if err = db.QueryRow("PRAGMA application_id").Scan(&app); err != nil {
		return
	}
	err = db.QueryRow("PRAGMA user_version").Scan(&version)
	return
}

// checkStamp refuses a file of another program and one of a newer schema.
func (b *Book) checkStamp(known int) (version int, err error) {
	app, version, err := stamp(b.db)
	if err != nil {
		return 0, b.explain(err)
	}
	if app != applicationID {
		var n int
		if err := b.db.QueryRow("SELECT count(*) FROM sqlite_schema").Scan(&n); err != nil {
			return 0, b.explain(err)
		}
		if app != 0 || version != 0 || n != 0 {
			return 0, fileErrorf("%s: an SQLite file of another program; name a logbook with --logbook", b.path)
		}
		return 0, nil // an empty database: a file just made, or one whose making was interrupted
	}
	if version > known {
		return 0, fileErrorf("%s: schema %d, written by a newer windfall; this one knows schema %d: update it, or name "+
			"another file with --logbook", b.path, version, known)
	}
	return version, nil
}

// migrate brings the file to the schema of steps, in one transaction: an
// interrupted migration leaves the file as it was.
func (b *Book) migrate(steps []string) error {
	version, err := b.checkStamp(len(steps))
	if err != nil || version == len(steps) {
		return err
	}
	conn, err := b.db.Conn(context.Background())
	if err != nil {
		return b.explain(err)
	}
	defer conn.Close()
	return b.explain(migrateOn(conn, steps))
}

func migrateOn(conn *sql.Conn, steps []string) (err error) {
	ctx := context.Background()
	// A table that is replaced would take what points to it with it. The pragma
	// holds for this connection and does nothing within a transaction.
	if _, err := conn.ExecContext(ctx, "PRAGMA foreign_keys = OFF"); err != nil {
		return err
	}
	defer func() {
		_, back := conn.ExecContext(ctx, "PRAGMA foreign_keys = ON")
		err = errors.Join(err, back)
	}()
	tx, err := conn.BeginTx(ctx, nil) // immediate: see dsn
	if err != nil {
		return err
	}
	defer tx.Rollback()
	var version int // again, now that no one else can write
	if err := tx.QueryRow("PRAGMA user_version").Scan(&version); err != nil {
		return err
	}
	for ; version < len(steps); version++ {
		if _, err := tx.Exec(steps[version]); err != nil {
			return fmt.Errorf("migration to schema %d: %w", version+1, err)
		}
	}
	var table string
	switch err := tx.QueryRow("SELECT \"table\" FROM pragma_foreign_key_check LIMIT 1").Scan(&table); {
	case err == nil:
		return fmt.Errorf("migration to schema %d: rows of %s point to what is missing", version, table)
	case !errors.Is(err, sql.ErrNoRows):
		return err
	}
	if _, err := tx.Exec(fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID,
		len(steps))); err != nil {
		return err
	}
	return tx.Commit()
}
