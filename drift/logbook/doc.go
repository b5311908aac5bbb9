// Package logbook keeps what happened to each flight in one SQLite file: the
// exact inputs that made its maps, what was seen, the ground walked, the finds,
// and what was learned from them.
//
// Nothing logged is lost. Rows are added, never changed or removed (triggers
// in the file refuse it, to any program); a correction is a new revision of an
// entry, a withdrawal is one too. Every write is one transaction, flushed to
// the disk before the call returns.
//
// Open makes the file when it is missing; OpenRead never makes or changes
// anything, and reads a missing file as an empty logbook.
//
// The package does not know what an entry's body means: that belongs to those
// who write and read it. It draws nothing, fetches nothing and has no clock:
// times come from the caller.
package logbook
