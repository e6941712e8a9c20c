-- +goose Up

CREATE TABLE people (
    id           TEXT    PRIMARY KEY NOT NULL REFERENCES tokens (id),
    sign_in      TEXT    NOT NULL,
    password     TEXT    NOT NULL, -- Argon2id; empty: none chosen yet
    link_hash    TEXT,
    link_until   INTEGER,
    created_by   TEXT    NOT NULL,
    signed_in_at INTEGER,
    removed_at   INTEGER
) STRICT;
CREATE UNIQUE INDEX people_sign_in ON people (sign_in) WHERE removed_at IS NULL;
CREATE UNIQUE INDEX people_link ON people (link_hash) WHERE link_hash IS NOT NULL;

-- Sessions from before are of nobody by name: they end, and their browsers sign in again.
DROP TABLE sessions;
CREATE TABLE sessions (
    hash       TEXT    PRIMARY KEY NOT NULL, -- SHA-256 of the session's token
    data       BLOB    NOT NULL,
    expires_at INTEGER NOT NULL,
    id         TEXT,
    token      TEXT,
    created_at INTEGER,
    seen_at    INTEGER,
    browser    TEXT
) STRICT, WITHOUT ROWID;
CREATE INDEX sessions_by_expiry ON sessions (expires_at);
CREATE INDEX sessions_by_token ON sessions (token);

CREATE TABLE audit (
    id       INTEGER PRIMARY KEY AUTOINCREMENT,
    at       INTEGER NOT NULL,
    by_name  TEXT    NOT NULL,
    by_token TEXT    NOT NULL,
    site     TEXT    NOT NULL,
    action   TEXT    NOT NULL,
    subject  TEXT    NOT NULL
) STRICT;
CREATE INDEX audit_by_site ON audit (site, id);

CREATE TABLE webhooks (
    id         TEXT    PRIMARY KEY NOT NULL,
    url        TEXT    NOT NULL,
    events     TEXT    NOT NULL,
    site       TEXT    NOT NULL, -- empty: all sites
    secret     TEXT    NOT NULL, -- in clear: it signs what is sent
    created_at INTEGER NOT NULL,
    created_by TEXT    NOT NULL
) STRICT;

CREATE TABLE deliveries (
    id         TEXT    PRIMARY KEY NOT NULL,
    webhook    TEXT    NOT NULL REFERENCES webhooks (id) ON DELETE CASCADE,
    event      TEXT    NOT NULL,
    state      TEXT    NOT NULL,
    attempts   INTEGER NOT NULL,
    series     INTEGER NOT NULL, -- how often it was begun: once, and at each replay
    created_at INTEGER NOT NULL,
    tried_at   INTEGER,
    next_at    INTEGER,
    status     INTEGER NOT NULL,
    answer     TEXT    NOT NULL,
    body       TEXT    NOT NULL
) STRICT;
CREATE INDEX deliveries_by_webhook ON deliveries (webhook, created_at, id);
