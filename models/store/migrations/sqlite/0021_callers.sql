-- +goose Up

-- The requests of a sandbox token are answered but not stored.
ALTER TABLE tokens ADD COLUMN sandbox INTEGER NOT NULL DEFAULT 0;
-- The client's address at sign-in: '' of older sessions.
ALTER TABLE sessions ADD COLUMN address TEXT NOT NULL DEFAULT '';
-- Once per key, source and day an entry says who sends counts and weather.
CREATE INDEX audit_by_caller ON audit (by_token, action, at);
