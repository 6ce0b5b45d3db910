-- +goose Up

-- What is kept beside the record: secrets, sessions, traces. None of it can be
-- remade from the entries.

CREATE TABLE secret (account TEXT PRIMARY KEY, hash TEXT NOT NULL) STRICT, WITHOUT ROWID;

-- Tokens are kept hashed, so that the file does not let anyone in.
CREATE TABLE session (token BLOB PRIMARY KEY, data BLOB NOT NULL, expires_ms INTEGER NOT NULL) STRICT, WITHOUT ROWID;
CREATE INDEX session_expires ON session (expires_ms);

CREATE TABLE draft (
  account TEXT NOT NULL, id TEXT NOT NULL, path TEXT NOT NULL, form TEXT NOT NULL, at_ms INTEGER NOT NULL,
  PRIMARY KEY (account, id)
) STRICT, WITHOUT ROWID;

-- Who opened which patient.
CREATE TABLE access (
  number INTEGER PRIMARY KEY, account TEXT NOT NULL, subject INTEGER NOT NULL, what TEXT NOT NULL, at_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX access_subject ON access (subject, number);

CREATE TABLE sign_in_failure (number INTEGER PRIMARY KEY, name TEXT NOT NULL, at_ms INTEGER NOT NULL) STRICT;
CREATE INDEX sign_in_failure_name ON sign_in_failure (name, at_ms);

CREATE TABLE setting (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;
