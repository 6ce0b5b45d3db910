-- +goose Up

-- One-time links by which people choose their passphrase: one an account.
-- Tokens are kept hashed, so that the file does not let anyone in.
CREATE TABLE invitation (account TEXT PRIMARY KEY, token BLOB NOT NULL, until_ms INTEGER NOT NULL) STRICT, WITHOUT ROWID;

-- Who was told, at their first sign-in, what to know in which role.
CREATE TABLE greeted (account TEXT NOT NULL, role TEXT NOT NULL, PRIMARY KEY (account, role)) STRICT, WITHOUT ROWID;
