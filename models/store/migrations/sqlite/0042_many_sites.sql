-- +goose Up

-- What lists of sites need, so that they decode no set-up. It is from the set-up with named_version; where another version holds, from before
-- this migration or by an older program beside this one, it is brought up to date when the store opens.
ALTER TABLE sites ADD COLUMN name TEXT NOT NULL DEFAULT '';
ALTER TABLE sites ADD COLUMN search TEXT NOT NULL DEFAULT ''; -- the name and the code in lower case without accents
ALTER TABLE sites ADD COLUMN named_version INTEGER NOT NULL DEFAULT 0;
CREATE INDEX sites_by_name ON sites (search, code);
CREATE INDEX sites_unnamed ON sites (id) WHERE named_version <> version;

-- changes is raised by each change of what plans and warnings follow from. A check for shortages has nothing to do while it is what the last
-- whole check saw, and until time alone may change what that found.
ALTER TABLE sites ADD COLUMN changes INTEGER NOT NULL DEFAULT 0;
ALTER TABLE sites ADD COLUMN watched_changes INTEGER NOT NULL DEFAULT -1; -- as seen by the last whole check
ALTER TABLE sites ADD COLUMN watch_again_at INTEGER NOT NULL DEFAULT 0;
