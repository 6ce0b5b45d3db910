-- +goose Up

-- What became of lines is asked over many of them at once: where each was
-- placed, how cleanly, and what the lead found of an infection stand with it.
ALTER TABLE line ADD COLUMN placed_ward INTEGER NOT NULL DEFAULT 0;
ALTER TABLE line ADD COLUMN asepsis INTEGER NOT NULL DEFAULT 0;
ALTER TABLE line ADD COLUMN infection INTEGER NOT NULL DEFAULT 0;

-- 11 is the kind of an infection outcome; its word goes into the two bits of c
-- that were free.
UPDATE mark SET c = c | ((
  SELECT CASE coalesce(json_extract(CAST(e.canonical AS TEXT), '$.body.replacement.body.outcome'), json_extract(CAST(e.canonical AS TEXT), '$.body.outcome'))
    WHEN 'confirmed' THEN 1 WHEN 'not-confirmed' THEN 2 WHEN 'bloodstream' THEN 3 ELSE 0 END
  FROM entry e WHERE e.seq = mark.known) << 62)
WHERE kind = 11;

UPDATE line SET infection = coalesce((
  SELECT m.c >> 62 & 3 FROM mark m
  WHERE m.subject = line.subject AND m.line = line.line AND m.kind = 11 AND m.gone = 0
  ORDER BY m.happened DESC, m.seq DESC LIMIT 1), 0)
WHERE outcome = 1;

-- 2 is the kind of an occasion, 1 and 7 those of an admission and a transfer.
UPDATE line SET
  asepsis = coalesce((SELECT m.a >> 9 & 7 FROM mark m
    WHERE m.subject = line.subject AND m.line = line.line AND m.kind = 2 AND m.gone = 0 ORDER BY m.seq LIMIT 1), 0),
  placed_ward = coalesce((SELECT m.ward FROM mark m
    WHERE m.subject = line.subject AND m.line = 0 AND m.kind IN (1, 7) AND m.gone = 0 AND m.happened <= line.placed
    ORDER BY m.happened DESC, m.seq DESC LIMIT 1), 0);

-- 1 is the outcome of an occasion that ended in a line.
CREATE INDEX line_placed ON line (placed) WHERE outcome = 1;
