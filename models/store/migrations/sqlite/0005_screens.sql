-- +goose Up

ALTER TABLE tokens ADD COLUMN kind TEXT NOT NULL DEFAULT 'key'; -- key, screen or person: whose right it is

-- A new screen that shows its code. Rows are removed when the screen has come for its right, or when their time is over.
CREATE TABLE pairings (
    id         TEXT    PRIMARY KEY NOT NULL,
    code_hash  TEXT    NOT NULL UNIQUE,
    claim_hash TEXT    NOT NULL,
    expires_at INTEGER NOT NULL,
    screen     TEXT                     -- once a manager has typed the code
) STRICT;

CREATE TABLE screens (
    id        TEXT    PRIMARY KEY NOT NULL REFERENCES tokens (id),
    site      TEXT    NOT NULL REFERENCES sites (code),
    name      TEXT    NOT NULL,
    stations  TEXT    NOT NULL, -- JSON
    paired_at INTEGER NOT NULL,
    paired_by TEXT    NOT NULL,
    seen_at   INTEGER
) STRICT;

CREATE TABLE calendar_keys (
    site    TEXT    PRIMARY KEY NOT NULL REFERENCES sites (code),
    hash    TEXT    NOT NULL,
    made_at INTEGER NOT NULL,
    made_by TEXT    NOT NULL,
    used_at INTEGER
) STRICT;
