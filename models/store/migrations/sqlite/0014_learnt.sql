-- +goose Up

-- Changes of the set-up that followed from what marks and counts say, with the values before. Undone ones stay.
CREATE TABLE learnt_changes (
    id        TEXT    PRIMARY KEY NOT NULL,
    site      TEXT    NOT NULL REFERENCES sites (code),
    subject   TEXT    NOT NULL, -- what was learnt: kind, subject, brewer
    change    TEXT    NOT NULL, -- JSON
    at        INTEGER NOT NULL,
    by_name   TEXT    NOT NULL,
    undone_at INTEGER,
    undone_by TEXT    NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX learnt_changes_by_site ON learnt_changes (site, id);
