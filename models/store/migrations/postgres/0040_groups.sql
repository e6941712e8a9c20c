-- +goose Up

CREATE TABLE site_groups (
    code text COLLATE "C" PRIMARY KEY,
    name text COLLATE "C" NOT NULL
);

CREATE TABLE site_group_members (
    code text COLLATE "C" NOT NULL REFERENCES site_groups (code) ON DELETE CASCADE DEFERRABLE,
    site text COLLATE "C" NOT NULL,
    PRIMARY KEY (code, site)
);
CREATE INDEX site_group_members_by_site ON site_group_members (site);

-- Codes of groups, separated by spaces; the site of a token with groups but without a site is '/', which no site can be called.
ALTER TABLE tokens ADD COLUMN site_groups text COLLATE "C" NOT NULL DEFAULT '';
