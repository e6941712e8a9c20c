-- +goose Up

-- Attempts at passwords, by a hash of the sign-in name or device. They go a day after the last.
CREATE TABLE attempts (
    hash    text COLLATE "C" PRIMARY KEY,
    n       bigint NOT NULL,
    last_at bigint NOT NULL
);
CREATE INDEX attempts_by_age ON attempts (last_at);
