-- +goose Up

-- The record: what people said, in the order it was accepted, for ever.
-- canonical is the exact text of the entry; all the tables of 00002 can be
-- remade from it. root is the entry's own seq, or that of the entry it
-- corrects or withdraws.
CREATE TABLE entry (
  seq         INTEGER PRIMARY KEY,
  id          TEXT    NOT NULL UNIQUE,
  kind        INTEGER NOT NULL,
  subject     INTEGER NOT NULL,
  root        INTEGER NOT NULL,
  recorded_ms INTEGER NOT NULL,
  received_ms INTEGER NOT NULL,
  format      INTEGER NOT NULL,
  canonical   BLOB    NOT NULL
) STRICT;

-- Only what corrects or withdraws stands in it.
CREATE INDEX entry_version ON entry (root, seq) WHERE root <> seq;

-- +goose StatementBegin
CREATE TRIGGER entry_without_gap BEFORE INSERT ON entry
WHEN NEW.seq <> (SELECT coalesce(max(seq), 0) + 1 FROM entry)
BEGIN
  SELECT RAISE(ABORT, 'entries are numbered without a gap');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER entry_never_updated BEFORE UPDATE ON entry
BEGIN
  SELECT RAISE(ABORT, 'entries are never changed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER entry_never_deleted BEFORE DELETE ON entry
BEGIN
  SELECT RAISE(ABORT, 'entries are never deleted');
END;
-- +goose StatementEnd

-- What can identify a person, and all free text. An entry holds only the hash
-- of salt and value; deleting a row erases the text and leaves the entry whole.
CREATE TABLE text (
  entry INTEGER NOT NULL,
  hash  TEXT    NOT NULL,
  salt  TEXT    NOT NULL,
  value TEXT    NOT NULL,
  PRIMARY KEY (entry, hash)
) STRICT, WITHOUT ROWID;

-- +goose StatementBegin
CREATE TRIGGER text_never_updated BEFORE UPDATE ON text
BEGIN
  SELECT RAISE(ABORT, 'texts are erased, never changed');
END;
-- +goose StatementEnd

-- Numbers by which this database knows patients, lines and wards. A number is
-- never given twice.
CREATE TABLE subject_key (key INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE line_key (key INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE) STRICT;
CREATE TABLE ward_key (key INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE) STRICT;
