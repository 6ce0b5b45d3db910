-- +goose Up

-- How often a person's secret was set: a session stands only while the secret
-- does that it began with.
ALTER TABLE secret ADD COLUMN generation INTEGER NOT NULL DEFAULT 1;
