-- +goose Up

-- Brews of a coffee that were weighed, with their strength before ice.
CREATE TABLE measured_brews (
    site         TEXT    NOT NULL REFERENCES sites (code),
    coffee       TEXT    NOT NULL,
    at           INTEGER NOT NULL,
    dose_g       REAL    NOT NULL,
    brew_water_g REAL    NOT NULL,
    beverage_g   REAL    NOT NULL,
    tds_pct      REAL    NOT NULL,
    by_name      TEXT    NOT NULL,
    PRIMARY KEY (site, coffee, at)
) STRICT, WITHOUT ROWID;
