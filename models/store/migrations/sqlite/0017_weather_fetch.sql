-- +goose Up

-- How hot a manager expects a date to become, from set_at until cleared_at; it comes before forecasts.
CREATE TABLE weather_highs (
    site       TEXT    NOT NULL REFERENCES sites (code),
    date       TEXT    NOT NULL,
    set_at     INTEGER NOT NULL,
    high_c     REAL    NOT NULL,
    cleared_at INTEGER,
    PRIMARY KEY (site, date, set_at)
) STRICT, WITHOUT ROWID;

-- State of fetching each site's forecast; source is what it was fetched from and for which place.
CREATE TABLE weather_fetches (
    site          TEXT    PRIMARY KEY NOT NULL REFERENCES sites (code),
    source        TEXT    NOT NULL,
    tried_at      INTEGER,
    succeeded_at  INTEGER,
    next_at       INTEGER,
    failures      INTEGER NOT NULL,
    problem       TEXT    NOT NULL,
    status        INTEGER NOT NULL,
    etag          TEXT    NOT NULL,
    last_modified TEXT    NOT NULL,
    forecast      TEXT    NOT NULL  -- the address that the service named for the place
) STRICT;
