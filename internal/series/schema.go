package series

import (
	"context"
	"database/sql"
)

// applicationID marks the file as ours ("phot" in ASCII), so that another program's database is never written to.
const applicationID = 0x70686f74

// step takes the store from one schema version to the next: statements, then what only the program can work out.
type step struct {
	sql  string
	fill func(ctx context.Context, tx *sql.Tx) error // may be nil
}

// migrations are all steps; version n is reached by the first n of them. Steps that have been released are never edited:
// a change is a new step at the end.
var migrations = []step{{sql: schema1}, {sql: schema2}, {sql: schema3, fill: fillSums}}

// schema1 is the first schema. The document of a measurement is JSON of record.Photo without quantities, outlines
// and pictures: quantities with their uncertainty terms stand beside it in a compact form, since all of them are read
// for every report, and, for queries by hand, as rows of the table quantities.
const schema1 = `
CREATE TABLE photos (
	sha256     TEXT PRIMARY KEY CHECK (length(sha256) = 64),
	bytes      INTEGER NOT NULL,
	first_seen TEXT NOT NULL
) STRICT;
CREATE TABLE seen (
	path      TEXT PRIMARY KEY,
	size      INTEGER NOT NULL,
	mtime_ns  INTEGER NOT NULL,
	sha256    TEXT NOT NULL REFERENCES photos(sha256),
	last_seen TEXT NOT NULL
) STRICT;
CREATE INDEX seen_sha256 ON seen(sha256);
CREATE TABLE names (
	sha256 TEXT NOT NULL REFERENCES photos(sha256),
	path   TEXT NOT NULL,
	PRIMARY KEY (sha256, path)
) STRICT;
CREATE TABLE measurements (
	sha256       TEXT PRIMARY KEY REFERENCES photos(sha256),
	name         TEXT NOT NULL,
	plant        INTEGER NOT NULL,
	view         TEXT NOT NULL,
	day          TEXT NOT NULL,
	status       TEXT NOT NULL CHECK (status IN ('accepted', 'flagged', 'rejected')),
	settings_key TEXT NOT NULL,
	stale        INTEGER NOT NULL DEFAULT 0,
	measured_at  TEXT NOT NULL,
	doc          TEXT NOT NULL,
	quantities   BLOB NOT NULL
) STRICT;
CREATE INDEX measurements_order ON measurements(day, plant, view, name, sha256);
CREATE INDEX measurements_plant ON measurements(plant, view, day);
CREATE TABLE quantities (
	sha256 TEXT NOT NULL REFERENCES measurements(sha256),
	name   TEXT NOT NULL,
	unit   TEXT NOT NULL,
	value  REAL,
	u95    REAL,
	PRIMARY KEY (sha256, name)
) STRICT, WITHOUT ROWID;
CREATE TABLE drawings (
	sha256 TEXT PRIMARY KEY REFERENCES measurements(sha256),
	doc    BLOB NOT NULL
) STRICT;
CREATE TABLE pictures (
	sha256 TEXT NOT NULL REFERENCES measurements(sha256),
	kind   TEXT NOT NULL,
	bytes  BLOB NOT NULL,
	PRIMARY KEY (sha256, kind)
) STRICT;
CREATE TABLE history (
	id           INTEGER PRIMARY KEY,
	sha256       TEXT NOT NULL REFERENCES photos(sha256),
	name         TEXT NOT NULL,
	plant        INTEGER NOT NULL,
	view         TEXT NOT NULL,
	day          TEXT NOT NULL,
	status       TEXT NOT NULL,
	settings_key TEXT NOT NULL,
	measured_at  TEXT NOT NULL,
	replaced_at  TEXT NOT NULL,
	doc          TEXT NOT NULL,
	quantities   BLOB NOT NULL
) STRICT;
CREATE INDEX history_sha256 ON history(sha256);
CREATE TABLE runs (
	id         INTEGER PRIMARY KEY,
	started_at TEXT NOT NULL,
	ended_at   TEXT NOT NULL DEFAULT '',
	version    TEXT NOT NULL,
	found      INTEGER NOT NULL DEFAULT 0,
	measured   INTEGER NOT NULL DEFAULT 0,
	accepted   INTEGER NOT NULL DEFAULT 0,
	flagged    INTEGER NOT NULL DEFAULT 0,
	rejected   INTEGER NOT NULL DEFAULT 0,
	outcome    TEXT NOT NULL DEFAULT ''
) STRICT;
`

// schema2 tells quantities of parts apart in the rows for queries by hand: several parts of a plant have the same quantity.
const schema2 = quantitiesTable + `
INSERT INTO quantities_of_parts (sha256, name, part, unit, value, u95) SELECT sha256, name, '', unit, value, u95 FROM quantities;
DROP TABLE quantities;
` + quantitiesInPlace

// quantitiesTable makes an empty table for the rows of quantities, beside the one that is there; quantitiesInPlace gives it its name.
const (
	quantitiesTable = `
CREATE TABLE quantities_of_parts (
	sha256 TEXT NOT NULL REFERENCES measurements(sha256),
	name   TEXT NOT NULL,
	part   TEXT NOT NULL DEFAULT '',
	unit   TEXT NOT NULL,
	value  REAL,
	u95    REAL,
	PRIMARY KEY (sha256, name, part)
) STRICT, WITHOUT ROWID;
`
	quantitiesInPlace = `
ALTER TABLE quantities_of_parts RENAME TO quantities;
`
)

// schema3 gives each stored thing a checksum of its own (see sums.go), and remembers what must be measured again.
const schema3 = `
ALTER TABLE measurements ADD COLUMN sum BLOB NOT NULL DEFAULT x'';
ALTER TABLE history ADD COLUMN sum BLOB NOT NULL DEFAULT x'';
ALTER TABLE drawings ADD COLUMN sum BLOB NOT NULL DEFAULT x'';
ALTER TABLE pictures ADD COLUMN sum BLOB NOT NULL DEFAULT x'';
CREATE TABLE remeasure (
	sha256 TEXT PRIMARY KEY,
	why    TEXT NOT NULL
) STRICT;
`
