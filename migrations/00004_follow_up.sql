-- +goose Up

-- Follow-ups are few and are asked for by time, across all patients: 13 is
-- the kind of a follow-up.
CREATE INDEX mark_follow_up ON mark (happened) WHERE kind = 13 AND gone = 0;
