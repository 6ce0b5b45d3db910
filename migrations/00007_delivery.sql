-- +goose Up

-- A form that a device kept while there was no network, and that could not be
-- taken when it came, waits with the other drafts. captured_ms and sent_ms are by
-- the device's clock, which stood ahead_ms ahead of the server's; at_ms is when
-- it came, by the server's.
ALTER TABLE draft ADD COLUMN device TEXT NOT NULL DEFAULT '';
ALTER TABLE draft ADD COLUMN captured_ms INTEGER NOT NULL DEFAULT 0;
ALTER TABLE draft ADD COLUMN sent_ms INTEGER NOT NULL DEFAULT 0;
ALTER TABLE draft ADD COLUMN ahead_ms INTEGER NOT NULL DEFAULT 0;
ALTER TABLE draft ADD COLUMN reason TEXT NOT NULL DEFAULT '';

-- What devices have handed over, so that each thing is taken once however
-- often it comes, with when it was typed and sent by the device's clock.
CREATE TABLE delivered (
  id TEXT PRIMARY KEY, account TEXT NOT NULL, device TEXT NOT NULL, at_ms INTEGER NOT NULL,
  captured_ms INTEGER NOT NULL, sent_ms INTEGER NOT NULL, waiting INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
