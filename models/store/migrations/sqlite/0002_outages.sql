-- +goose Up

CREATE TABLE outages (
    site    TEXT    NOT NULL REFERENCES sites (code),
    from_at INTEGER NOT NULL,
    kind    TEXT    NOT NULL,
    code    TEXT    NOT NULL,
    to_at   INTEGER NOT NULL,
    PRIMARY KEY (site, from_at, kind, code)
) STRICT, WITHOUT ROWID;

CREATE TABLE attention (
    site    TEXT    NOT NULL REFERENCES sites (code),
    from_at INTEGER NOT NULL,
    to_at   INTEGER NOT NULL,
    starts  INTEGER NOT NULL,
    PRIMARY KEY (site, from_at)
) STRICT, WITHOUT ROWID;
