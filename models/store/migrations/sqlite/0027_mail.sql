-- +goose Up

CREATE TABLE mail_addresses (
    person       TEXT    PRIMARY KEY NOT NULL REFERENCES people (id),
    address      TEXT    NOT NULL,
    confirmed_at INTEGER,
    code_hash    TEXT,
    code_until   INTEGER
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX mail_addresses_by_code ON mail_addresses (code_hash) WHERE code_hash IS NOT NULL;

CREATE TABLE mail_subscriptions (
    person  TEXT    NOT NULL REFERENCES mail_addresses (person) ON DELETE CASCADE,
    site    TEXT    NOT NULL,
    kind    TEXT    NOT NULL,
    token   TEXT    NOT NULL, -- in clear: every message has it, and all it can do is stop messages
    stopped INTEGER NOT NULL,
    PRIMARY KEY (person, site, kind)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX mail_subscriptions_by_token ON mail_subscriptions (token);
CREATE INDEX mail_subscriptions_by_site ON mail_subscriptions (site, kind);

CREATE TABLE mails (
    id         TEXT    PRIMARY KEY NOT NULL,
    person     TEXT    NOT NULL,
    address    TEXT    NOT NULL,
    kind       TEXT    NOT NULL,
    site       TEXT    NOT NULL, -- empty: of a confirmation
    about      TEXT    NOT NULL,
    state      TEXT    NOT NULL,
    attempts   INTEGER NOT NULL,
    created_at INTEGER NOT NULL,
    until      INTEGER NOT NULL,
    tried_at   INTEGER,
    next_at    INTEGER,
    answer     TEXT    NOT NULL
) STRICT;
CREATE INDEX mails_by_person ON mails (person, created_at, id);
CREATE INDEX mails_by_address ON mails (address, created_at);

-- Which warnings a person has been sent, and as how urgent.
CREATE TABLE mailed_warnings (
    person  TEXT    NOT NULL,
    warning TEXT    NOT NULL,
    grade   TEXT    NOT NULL,
    at      INTEGER NOT NULL,
    PRIMARY KEY (person, warning, grade)
) STRICT, WITHOUT ROWID;
