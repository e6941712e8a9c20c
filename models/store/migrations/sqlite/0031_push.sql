-- +goose Up

-- The key pair by which push services know this service (RFC 8292). There is one row.
CREATE TABLE push_key (
    id         TEXT    PRIMARY KEY NOT NULL,
    public     TEXT    NOT NULL,
    secret     TEXT    NOT NULL, -- the private key, encrypted
    created_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE push_devices (
    id         TEXT    PRIMARY KEY NOT NULL,
    person     TEXT    NOT NULL REFERENCES people (id) ON DELETE CASCADE,
    site       TEXT    NOT NULL,
    browser    TEXT    NOT NULL,
    endpoint   TEXT    NOT NULL,
    p256dh     TEXT    NOT NULL,
    auth       TEXT    NOT NULL,
    origin     TEXT    NOT NULL,
    created_at INTEGER NOT NULL,
    sent_at    INTEGER
) STRICT;
CREATE UNIQUE INDEX push_devices_by_endpoint ON push_devices (endpoint, site);
CREATE INDEX push_devices_by_person ON push_devices (person, created_at, id);
CREATE INDEX push_devices_by_site ON push_devices (site, id);

-- What a person gets from a site; without a row, everything.
CREATE TABLE push_choices (
    person TEXT NOT NULL REFERENCES people (id) ON DELETE CASCADE,
    site   TEXT NOT NULL,
    kinds  TEXT NOT NULL,
    PRIMARY KEY (person, site)
) STRICT, WITHOUT ROWID;

CREATE TABLE pushes (
    id         TEXT    PRIMARY KEY NOT NULL,
    device     TEXT    NOT NULL REFERENCES push_devices (id) ON DELETE CASCADE,
    person     TEXT    NOT NULL,
    site       TEXT    NOT NULL,
    kind       TEXT    NOT NULL,
    about      TEXT    NOT NULL,
    state      TEXT    NOT NULL,
    attempts   INTEGER NOT NULL,
    created_at INTEGER NOT NULL,
    until      INTEGER NOT NULL,
    tried_at   INTEGER,
    next_at    INTEGER,
    status     INTEGER NOT NULL,
    answer     TEXT    NOT NULL
) STRICT;
CREATE INDEX pushes_by_device ON pushes (device, created_at);
CREATE INDEX pushes_by_person ON pushes (person, created_at, id);

-- Which warnings a device has been sent, and as how urgent.
CREATE TABLE pushed_warnings (
    device  TEXT    NOT NULL REFERENCES push_devices (id) ON DELETE CASCADE,
    warning TEXT    NOT NULL,
    grade   TEXT    NOT NULL,
    at      INTEGER NOT NULL,
    PRIMARY KEY (device, warning, grade)
) STRICT, WITHOUT ROWID;
