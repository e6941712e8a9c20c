-- +goose Up

CREATE TABLE forecast_states (
    site    TEXT    NOT NULL PRIMARY KEY REFERENCES sites (code),
    made_at INTEGER NOT NULL,
    through TEXT    NOT NULL,
    learnt  BLOB    NOT NULL,
    past    BLOB    NOT NULL
) STRICT;
