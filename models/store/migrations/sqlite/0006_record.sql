-- +goose Up

-- Each word of the manager with the time of its storing: it is judged by what was said before the day. expected NULL: taken back.
CREATE TABLE words_said (
    site      TEXT    NOT NULL REFERENCES sites (code),
    date      TEXT    NOT NULL,
    day_part  TEXT    NOT NULL,
    drink     TEXT    NOT NULL,
    stored_at INTEGER NOT NULL,
    expected  REAL,
    p10       REAL,
    p90       REAL,
    PRIMARY KEY (site, date, day_part, drink, stored_at)
) STRICT, WITHOUT ROWID;
INSERT INTO words_said (site, date, day_part, drink, stored_at, expected, p10, p90)
    SELECT site, date, day_part, drink, stored_at, expected, p10, p90 FROM expected_demand;

-- What the forecast said of each day before it began.
CREATE TABLE forecasts_said (
    site     TEXT    NOT NULL REFERENCES sites (code),
    date     TEXT    NOT NULL,
    said_at  INTEGER NOT NULL,
    observed INTEGER NOT NULL, -- from the weather as it came
    said     TEXT    NOT NULL,
    PRIMARY KEY (site, date)
) STRICT, WITHOUT ROWID;

CREATE TABLE track_records (
    site   TEXT NOT NULL PRIMARY KEY REFERENCES sites (code),
    record TEXT NOT NULL
) STRICT;

-- How far jobs have come that take a while; gone when they end.
CREATE TABLE progress (
    site       TEXT    NOT NULL REFERENCES sites (code),
    kind       TEXT    NOT NULL,
    key        TEXT    NOT NULL,
    share      REAL    NOT NULL,
    say        TEXT    NOT NULL,
    started_at INTEGER NOT NULL,
    at         INTEGER NOT NULL,
    stop       INTEGER NOT NULL, -- somebody asked for it to stop
    PRIMARY KEY (site, kind)
) STRICT, WITHOUT ROWID;
