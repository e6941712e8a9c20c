-- +goose Up

CREATE INDEX warnings_by_time ON warnings (site, opened_at);

-- The newest reliving of a site's days.
CREATE TABLE replays (
    site   TEXT NOT NULL PRIMARY KEY REFERENCES sites (code),
    replay TEXT NOT NULL
) STRICT;
