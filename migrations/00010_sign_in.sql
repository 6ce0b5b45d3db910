-- +goose Up

-- How often a person's secret was set: a session stands only while the secret
-- does that it began with.
ALTER TABLE secret ADD COLUMN generation INTEGER NOT NULL DEFAULT 1;

-- Where a failed sign-in came from: a device that knows the person, or an address.
ALTER TABLE sign_in_failure ADD COLUMN place TEXT NOT NULL DEFAULT '';
DROP INDEX sign_in_failure_name;
CREATE INDEX sign_in_failure_name ON sign_in_failure (name, place, at_ms);
CREATE INDEX sign_in_failure_place ON sign_in_failure (place, at_ms);
CREATE INDEX sign_in_failure_at ON sign_in_failure (at_ms);

-- Devices on which a person has signed in before, by the hash of their token.
CREATE TABLE known_device (
  device TEXT NOT NULL, account TEXT NOT NULL, PRIMARY KEY (device, account)
) STRICT, WITHOUT ROWID;

-- Which of the patient's lines was opened; 0: the patient's own page.
ALTER TABLE access ADD COLUMN line INTEGER NOT NULL DEFAULT 0;

-- The second step: the key of a person's time-based codes (RFC 6238), whether
-- the person has shown one, and the time step of the last code that was used.
CREATE TABLE second_step (
  account TEXT PRIMARY KEY, code_key BLOB NOT NULL, confirmed INTEGER NOT NULL, used INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- Codes for who has lost the device, each good once.
CREATE TABLE recovery_code (account TEXT NOT NULL, hash TEXT NOT NULL, PRIMARY KEY (account, hash)) STRICT, WITHOUT ROWID;

-- Devices that an administrator made tablets of a ward. There a person who has
-- signed in on it before may do so by a short number.
CREATE TABLE tablet (device TEXT PRIMARY KEY, name TEXT NOT NULL, author TEXT NOT NULL, at_ms INTEGER NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE pin (account TEXT PRIMARY KEY, hash TEXT NOT NULL) STRICT, WITHOUT ROWID;
