-- +goose Up

-- Everything here follows from the entries and can be remade from them.

-- What the audit reads: every version of everything it reads, as integers,
-- one patient's side by side. gone is the seq of what replaced or withdrew the
-- version, 0 while it stands. a, b and c are the packed codes.
CREATE TABLE mark (
  subject   INTEGER NOT NULL,
  line      INTEGER NOT NULL,
  happened  INTEGER NOT NULL,
  seq       INTEGER NOT NULL,
  known     INTEGER NOT NULL,
  part      INTEGER NOT NULL,
  gone      INTEGER NOT NULL,
  kind      INTEGER NOT NULL,
  precision INTEGER NOT NULL,
  ward      INTEGER NOT NULL,
  until     INTEGER NOT NULL,
  a         INTEGER NOT NULL,
  b         INTEGER NOT NULL,
  c         INTEGER NOT NULL,
  PRIMARY KEY (subject, line, happened, seq, known, part)
) STRICT, WITHOUT ROWID;

-- Which entries belong to a patient's history. away: the entry was moved on to
-- another patient by a correction.
CREATE TABLE history (
  subject INTEGER NOT NULL,
  seq     INTEGER NOT NULL,
  away    INTEGER NOT NULL,
  PRIMARY KEY (subject, seq)
) STRICT, WITHOUT ROWID;

-- The patient a line is of, by the occasion (root) it came of, and the
-- patients it was of before that was corrected.
CREATE TABLE home (line INTEGER PRIMARY KEY, subject INTEGER NOT NULL, root INTEGER NOT NULL) STRICT;
CREATE TABLE former_home (
  line INTEGER NOT NULL, subject INTEGER NOT NULL, PRIMARY KEY (line, subject)
) STRICT, WITHOUT ROWID;

-- Lines, and occasions that ended without one, as they stand now. out is NULL
-- while the line is in. first is the earliest placement any version claimed.
CREATE TABLE line (
  subject     INTEGER NOT NULL,
  line        INTEGER NOT NULL,
  outcome     INTEGER NOT NULL,
  site        INTEGER NOT NULL,
  side        INTEGER NOT NULL,
  gauge       INTEGER NOT NULL,
  placed      INTEGER NOT NULL,
  precision   INTEGER NOT NULL,
  ward        INTEGER NOT NULL,
  out         INTEGER,
  reason      INTEGER NOT NULL,
  first       INTEGER NOT NULL,
  PRIMARY KEY (subject, line)
) STRICT, WITHOUT ROWID;
CREATE INDEX line_open ON line (first, subject) WHERE out IS NULL;

-- For each line that has ended, and each occasion without one, a row a day and
-- ward in which any version ever claimed it, until it could no longer matter.
-- Day -1: claimed for so long that it is always looked at.
CREATE TABLE span (
  day     INTEGER NOT NULL,
  ward    INTEGER NOT NULL,
  line    INTEGER NOT NULL,
  subject INTEGER NOT NULL,
  PRIMARY KEY (day, ward, line, subject)
) STRICT, WITHOUT ROWID;

-- Reference and bed of each admission and transfer as it stands. Erasable.
CREATE TABLE stay_text (root INTEGER PRIMARY KEY, reference TEXT NOT NULL, bed TEXT NOT NULL) STRICT;

-- Where each patient is now. Reference and bed are erasable.
CREATE TABLE patient (
  subject   INTEGER PRIMARY KEY,
  reference TEXT    NOT NULL,
  ward      INTEGER NOT NULL,
  last_ward INTEGER NOT NULL,
  bed       TEXT    NOT NULL,
  admitted  INTEGER NOT NULL,
  open      INTEGER NOT NULL,
  erased    INTEGER NOT NULL
) STRICT;
CREATE INDEX patient_in_ward ON patient (ward) WHERE ward <> 0;
CREATE INDEX patient_left_with_line ON patient (last_ward) WHERE ward = 0 AND open > 0;
CREATE INDEX patient_reference ON patient (reference) WHERE reference <> '';

-- Attempts by operator: an account, or a name as written (lower case, erasable).
-- Number 0 is an occasion that stopped before skin.
CREATE TABLE attempt (
  root      INTEGER NOT NULL,
  no        INTEGER NOT NULL,
  total     INTEGER NOT NULL,
  line      INTEGER NOT NULL,
  account   TEXT    NOT NULL,
  written   TEXT    NOT NULL,
  author    TEXT    NOT NULL,
  happened  INTEGER NOT NULL,
  precision INTEGER NOT NULL,
  outcome   INTEGER NOT NULL,
  site      INTEGER NOT NULL,
  side      INTEGER NOT NULL,
  gauge     INTEGER NOT NULL,
  failed    INTEGER NOT NULL,
  fault     INTEGER NOT NULL,
  ward      INTEGER NOT NULL,
  PRIMARY KEY (root, no)
) STRICT, WITHOUT ROWID;
CREATE INDEX attempt_account ON attempt (account) WHERE account <> '';
CREATE INDEX attempt_written ON attempt (written) WHERE written <> '';

-- The house's own entries, every version. about is the ward, account or ''.
CREATE TABLE house (
  known INTEGER PRIMARY KEY,
  root  INTEGER NOT NULL,
  gone  INTEGER NOT NULL,
  kind  INTEGER NOT NULL,
  about TEXT    NOT NULL,
  ward  INTEGER NOT NULL
) STRICT;
CREATE INDEX house_root ON house (root);
CREATE INDEX house_about ON house (kind, about);

-- Accounts as they stand.
CREATE TABLE account (
  id       TEXT PRIMARY KEY,
  sign_in  TEXT    NOT NULL,
  name     TEXT    NOT NULL,
  initials TEXT    NOT NULL,
  role     TEXT    NOT NULL,
  closed   INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX account_sign_in ON account (sign_in);

-- Names as written (lower case) that a person accepted as their own.
CREATE TABLE accepted_name (
  account TEXT NOT NULL, written TEXT NOT NULL, PRIMARY KEY (account, written)
) STRICT, WITHOUT ROWID;

-- Where the recorded times start anew, because entries of another record came
-- in: within an era they never fall.
CREATE TABLE era (first_seq INTEGER PRIMARY KEY) STRICT;
