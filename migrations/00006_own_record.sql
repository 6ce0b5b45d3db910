-- +goose Up

-- How hard the vein was, as a set of ticks; who stood by; and the entry by
-- which the attempt now stands, with its author: the occasion, or the latest
-- correction of it. No entry of before has ticks or a supervisor.
ALTER TABLE attempt ADD COLUMN difficulty INTEGER NOT NULL DEFAULT 0;
ALTER TABLE attempt ADD COLUMN supervised INTEGER NOT NULL DEFAULT 0;
ALTER TABLE attempt ADD COLUMN supervisor TEXT NOT NULL DEFAULT '';
ALTER TABLE attempt ADD COLUMN version TEXT NOT NULL DEFAULT '';

UPDATE attempt SET (version, author) = (
  SELECT e.id, json_extract(CAST(e.canonical AS TEXT), '$.author') FROM entry e
  WHERE e.seq = coalesce((SELECT max(v.seq) FROM entry v WHERE v.root = attempt.root AND v.root <> v.seq), attempt.root));

-- What each person said last to attempts that somebody else wrote down as theirs.
CREATE TABLE agreement (
  account TEXT    NOT NULL,
  version TEXT    NOT NULL,
  agreed  INTEGER NOT NULL,
  PRIMARY KEY (version, account)
) STRICT, WITHOUT ROWID;

-- Copies of people's own records, each for one reader. copy is the entry that holds it.
CREATE TABLE record_share (
  id         TEXT PRIMARY KEY,
  copy       TEXT    NOT NULL,
  account    TEXT    NOT NULL,
  reader     TEXT    NOT NULL,
  happened   INTEGER NOT NULL,
  taken_back INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX record_share_account ON record_share (account);
CREATE INDEX record_share_reader ON record_share (reader);

-- Who opened whose record: the account it is of; '' where a patient was opened.
ALTER TABLE access ADD COLUMN record TEXT NOT NULL DEFAULT '';
CREATE INDEX access_record ON access (record, number) WHERE record <> '';
