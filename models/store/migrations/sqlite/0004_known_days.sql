-- +goose Up

-- '' is an event, 'holiday' a public holiday.
ALTER TABLE events ADD COLUMN kind TEXT NOT NULL DEFAULT '';

-- The days, from 1970-01-01 in UTC, whose counts changed long after them: the forecast has learnt from what they said before.
CREATE TABLE late_days (
    site_id    INTEGER NOT NULL,
    day        INTEGER NOT NULL,
    changed_at INTEGER NOT NULL,
    PRIMARY KEY (site_id, day)
) STRICT, WITHOUT ROWID;
