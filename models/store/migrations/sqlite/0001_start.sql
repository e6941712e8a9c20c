-- +goose Up

-- Instants are integer milliseconds since 1970-01-01T00:00:00Z: they compare, index and subtract as numbers.
-- Dates are local service days, text of ISO 8601. Documents that are read whole are kept as JSON text.

CREATE TABLE sites (
    id            INTEGER PRIMARY KEY,
    code          TEXT    NOT NULL UNIQUE,
    version       INTEGER NOT NULL,           -- of the set-up
    last_event    INTEGER NOT NULL DEFAULT 0, -- the last live event's id: ids are never used twice
    max_window_ms INTEGER NOT NULL DEFAULT 0, -- the longest sales window: bounds the search for windows that overlap a span
    last_count_at INTEGER                     -- the end of the latest sales window
) STRICT;

CREATE TABLE setups (
    site       TEXT    NOT NULL REFERENCES sites (code),
    version    INTEGER NOT NULL,
    etag       TEXT    NOT NULL,
    setup      TEXT    NOT NULL,
    stored_at  INTEGER NOT NULL,
    PRIMARY KEY (site, version)
) STRICT;

-- A POS item, known once it was counted or mapped. drink is NULL while nobody has mapped it.
CREATE TABLE sales_items (
    id      INTEGER PRIMARY KEY,
    site_id INTEGER NOT NULL REFERENCES sites (id),
    source  TEXT    NOT NULL,
    item    TEXT    NOT NULL,
    drink   TEXT,
    factor  REAL    NOT NULL DEFAULT 1,
    UNIQUE (site_id, source, item)
) STRICT;

-- Clustered by site and time: a post of the last minutes touches the few pages at the end of its site.
CREATE TABLE sales_counts (
    site_id      INTEGER NOT NULL,
    window_start INTEGER NOT NULL,
    item_id      INTEGER NOT NULL,
    window_end   INTEGER NOT NULL,
    count        REAL    NOT NULL,
    received_at  INTEGER NOT NULL,
    PRIMARY KEY (site_id, window_start, item_id, window_end)
) STRICT, WITHOUT ROWID;

CREATE TABLE idempotency_keys (
    site      TEXT    NOT NULL REFERENCES sites (code),
    key       TEXT    NOT NULL,
    body_hash TEXT    NOT NULL,
    answer    TEXT    NOT NULL,
    stored_at INTEGER NOT NULL,
    PRIMARY KEY (site, key)
) STRICT, WITHOUT ROWID;
CREATE INDEX idempotency_keys_by_age ON idempotency_keys (stored_at);

CREATE TABLE expected_demand (
    site      TEXT    NOT NULL REFERENCES sites (code),
    date      TEXT    NOT NULL,
    day_part  TEXT    NOT NULL,
    drink     TEXT    NOT NULL,
    expected  REAL    NOT NULL,
    p10       REAL,
    p90       REAL,
    note      TEXT    NOT NULL,
    stored_at INTEGER NOT NULL,
    PRIMARY KEY (site, date, day_part, drink)
) STRICT, WITHOUT ROWID;

CREATE TABLE weather_observed (
    site         TEXT    NOT NULL REFERENCES sites (code),
    at           INTEGER NOT NULL,
    issued_at    INTEGER NOT NULL,
    temp_c       REAL    NOT NULL,
    humidity_pct REAL,
    rain_mm      REAL,
    PRIMARY KEY (site, at)
) STRICT, WITHOUT ROWID;

-- Every issue of a forecast is kept: how good it was is judged on what was known then.
CREATE TABLE weather_forecast (
    site         TEXT    NOT NULL REFERENCES sites (code),
    at           INTEGER NOT NULL,
    issued_at    INTEGER NOT NULL,
    temp_c       REAL    NOT NULL,
    humidity_pct REAL,
    rain_mm      REAL,
    PRIMARY KEY (site, at, issued_at)
) STRICT, WITHOUT ROWID;

CREATE TABLE events (
    site    TEXT    NOT NULL REFERENCES sites (code),
    from_at INTEGER NOT NULL,
    to_at   INTEGER NOT NULL,
    name    TEXT    NOT NULL,
    closed  INTEGER NOT NULL,
    factor  REAL    NOT NULL,
    PRIMARY KEY (site, from_at, to_at, name)
) STRICT, WITHOUT ROWID;

CREATE TABLE off_sale (
    site    TEXT    NOT NULL REFERENCES sites (code),
    from_at INTEGER NOT NULL,
    drink   TEXT    NOT NULL,
    to_at   INTEGER, -- NULL: until further notice
    PRIMARY KEY (site, from_at, drink)
) STRICT, WITHOUT ROWID;

CREATE TABLE stock_counts (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    site       TEXT    NOT NULL REFERENCES sites (code),
    counted_at INTEGER NOT NULL,
    stored_at  INTEGER NOT NULL,
    body       TEXT    NOT NULL
) STRICT;
CREATE INDEX stock_counts_by_time ON stock_counts (site, counted_at, id);

CREATE TABLE stock_changes (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    site      TEXT    NOT NULL REFERENCES sites (code),
    at        INTEGER NOT NULL,
    stored_at INTEGER NOT NULL,
    body      TEXT    NOT NULL
) STRICT;
CREATE INDEX stock_changes_by_time ON stock_changes (site, at, id);

CREATE TABLE plans (
    site        TEXT    NOT NULL REFERENCES sites (code),
    revision    INTEGER NOT NULL,
    digest      TEXT    NOT NULL,
    computed_at INTEGER NOT NULL,
    stored_at   INTEGER NOT NULL,
    from_date   TEXT    NOT NULL,
    days        INTEGER NOT NULL,
    text        TEXT    NOT NULL,
    PRIMARY KEY (site, revision)
) STRICT, WITHOUT ROWID;

-- Apart from the heads, so that a list of plans does not read the documents.
CREATE TABLE plan_documents (
    site     TEXT    NOT NULL,
    revision INTEGER NOT NULL,
    plan     TEXT    NOT NULL,
    request  TEXT    NOT NULL,
    PRIMARY KEY (site, revision),
    FOREIGN KEY (site, revision) REFERENCES plans (site, revision)
) STRICT;

-- The sheet of a date with the highest id is the one that stands.
CREATE TABLE sheets (
    id           INTEGER PRIMARY KEY AUTOINCREMENT,
    site         TEXT    NOT NULL REFERENCES sites (code),
    date         TEXT    NOT NULL,
    revision     INTEGER NOT NULL,
    published_at INTEGER NOT NULL,
    sheet        TEXT    NOT NULL
) STRICT;
CREATE INDEX sheets_by_date ON sheets (site, date, id);

-- Each task as the newest sheet that ever held it says it.
CREATE TABLE tasks (
    id       TEXT    PRIMARY KEY NOT NULL,
    site     TEXT    NOT NULL REFERENCES sites (code),
    date     TEXT    NOT NULL,
    sheet_id INTEGER NOT NULL REFERENCES sheets (id),
    task     TEXT    NOT NULL
) STRICT;

-- Appended to, never changed: a task's state follows from its marks.
CREATE TABLE task_marks (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    task       TEXT    NOT NULL REFERENCES tasks (id),
    site       TEXT    NOT NULL,
    date       TEXT    NOT NULL,
    key        TEXT    NOT NULL,
    state      TEXT    NOT NULL,
    at         INTEGER NOT NULL,
    beverage_g REAL,
    tds_pct    REAL,
    ice_g      REAL,
    reason     TEXT    NOT NULL,
    stored_at  INTEGER NOT NULL,
    UNIQUE (task, key)
) STRICT;
CREATE INDEX task_marks_by_date ON task_marks (site, date, id);

CREATE TABLE warnings (
    id        TEXT    PRIMARY KEY NOT NULL,
    site      TEXT    NOT NULL REFERENCES sites (code),
    key       TEXT    NOT NULL,
    kind      TEXT    NOT NULL,
    opened_at INTEGER NOT NULL,
    seen_at   INTEGER NOT NULL,
    closed_at INTEGER,
    acked_at  INTEGER,
    acked_by  TEXT    NOT NULL DEFAULT '',
    revision  INTEGER NOT NULL,
    warning   TEXT    NOT NULL
) STRICT;
CREATE UNIQUE INDEX warnings_open ON warnings (site, key) WHERE closed_at IS NULL;

CREATE TABLE live_events (
    site TEXT    NOT NULL REFERENCES sites (code),
    id   INTEGER NOT NULL,
    kind TEXT    NOT NULL,
    at   INTEGER NOT NULL,
    data TEXT    NOT NULL,
    PRIMARY KEY (site, id)
) STRICT, WITHOUT ROWID;

CREATE TABLE tokens (
    id         TEXT    PRIMARY KEY NOT NULL,
    hash       TEXT    NOT NULL UNIQUE, -- SHA-256 of the secret, which is not kept
    name       TEXT    NOT NULL,
    scopes     TEXT    NOT NULL,
    site       TEXT    NOT NULL,        -- empty: the organisation's
    created_at INTEGER NOT NULL,
    revoked_at INTEGER,
    used_at    INTEGER
) STRICT;

CREATE TABLE sessions (
    hash       TEXT    PRIMARY KEY NOT NULL, -- SHA-256 of the session's token
    data       BLOB    NOT NULL,
    expires_at INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX sessions_by_expiry ON sessions (expires_at);
