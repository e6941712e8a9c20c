-- +goose Up

-- One small row for each site, for lists across shops, which read no set-up, plan or sheet. changes counts what happened at the site;
-- check_at is when its state is to be computed again.
CREATE TABLE site_states (
    site     TEXT    PRIMARY KEY NOT NULL,
    changes  INTEGER NOT NULL,
    check_at INTEGER NOT NULL,
    rank     INTEGER NOT NULL,
    words    TEXT    NOT NULL, -- name and code in lower case, to search in
    state    TEXT    NOT NULL, -- '' before it is computed
    lists    TEXT    NOT NULL  -- what orders and recalls need
) STRICT, WITHOUT ROWID;
CREATE INDEX site_states_by_check ON site_states (check_at);
CREATE INDEX site_states_by_rank ON site_states (rank DESC, site);

INSERT INTO site_states (site, changes, check_at, rank, words, state, lists) SELECT code, 1, 0, 0, code, '', '' FROM sites;
