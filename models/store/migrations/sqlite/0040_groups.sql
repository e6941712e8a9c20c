-- +goose Up

CREATE TABLE site_groups (
    code TEXT PRIMARY KEY NOT NULL,
    name TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE site_group_members (
    code TEXT NOT NULL REFERENCES site_groups (code) ON DELETE CASCADE,
    site TEXT NOT NULL,
    PRIMARY KEY (code, site)
) STRICT, WITHOUT ROWID;
CREATE INDEX site_group_members_by_site ON site_group_members (site);

-- Codes of groups, separated by spaces. The site of a token with groups but without a site is stored as '/', which no site can be called,
-- so that an earlier version of the program, which knows no groups, does not take it for one of the whole organisation.
ALTER TABLE tokens ADD COLUMN site_groups TEXT NOT NULL DEFAULT '';
