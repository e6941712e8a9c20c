-- +goose Up

-- The oldest schema version whose programs can use this database. A migration that takes away what they use raises it to its own version, in
-- the same file.
CREATE TABLE least_schema (
    id      INTEGER PRIMARY KEY CHECK (id = 1),
    version INTEGER NOT NULL
) STRICT;
INSERT INTO least_schema (id, version) VALUES (1, 43);
