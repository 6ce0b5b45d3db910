-- +goose Up

-- What devices have handed over of what was typed without network, so that each
-- thing is taken once however often it comes. captured_ms and sent_ms are by
-- the device's clock, which stood ahead_ms ahead of the server's; at_ms is when
-- it came, by the server's. What waits is a draft of the same id, for the
-- reason given, or, without one, for the device's clock alone.
CREATE TABLE delivered (
  id TEXT PRIMARY KEY, account TEXT NOT NULL, device TEXT NOT NULL, captured_ms INTEGER NOT NULL, sent_ms INTEGER NOT NULL,
  ahead_ms INTEGER NOT NULL, at_ms INTEGER NOT NULL, waiting INTEGER NOT NULL, reason TEXT NOT NULL
) STRICT, WITHOUT ROWID;
