-- +goose Up

-- See the file of this number for SQLite.
ALTER TABLE sites ADD COLUMN name text COLLATE "C" NOT NULL DEFAULT '';
ALTER TABLE sites ADD COLUMN search text COLLATE "C" NOT NULL DEFAULT '';
ALTER TABLE sites ADD COLUMN named_version bigint NOT NULL DEFAULT 0;
CREATE INDEX sites_by_name ON sites (search, code);
CREATE INDEX sites_unnamed ON sites (id) WHERE named_version <> version;

ALTER TABLE sites ADD COLUMN changes bigint NOT NULL DEFAULT 0;
ALTER TABLE sites ADD COLUMN watched_changes bigint NOT NULL DEFAULT -1;
ALTER TABLE sites ADD COLUMN watch_again_at bigint NOT NULL DEFAULT 0;
