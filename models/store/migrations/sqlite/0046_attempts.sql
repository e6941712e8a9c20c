-- +goose Up

-- Attempts at passwords, by a hash of the sign-in name or device. They go a day after the last.
CREATE TABLE attempts (
    hash    TEXT    PRIMARY KEY NOT NULL,
    n       INTEGER NOT NULL,
    last_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX attempts_by_age ON attempts (last_at);
