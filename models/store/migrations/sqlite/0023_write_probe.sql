-- +goose Up

-- Written to find out whether anything can be saved.
CREATE TABLE write_probe (
    id INTEGER PRIMARY KEY CHECK (id = 1),
    at INTEGER NOT NULL
) STRICT;
INSERT INTO write_probe (id, at) VALUES (1, 0);
