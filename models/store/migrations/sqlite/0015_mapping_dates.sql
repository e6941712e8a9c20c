-- +goose Up

-- An item's mappings, each from an instant on: the start of the service day date. date '' and starts_at 0: from the first count.
-- drink NULL: ignored. An item without a mapping is unmapped.
CREATE TABLE item_mappings (
    item_id   INTEGER NOT NULL REFERENCES sales_items (id),
    starts_at INTEGER NOT NULL,
    date      TEXT    NOT NULL,
    drink     TEXT,
    factor    REAL    NOT NULL,
    PRIMARY KEY (item_id, date)
) STRICT, WITHOUT ROWID;
INSERT INTO item_mappings (item_id, starts_at, date, drink, factor) SELECT id, 0, '', drink, factor FROM sales_items WHERE drink IS NOT NULL;
ALTER TABLE sales_items DROP COLUMN drink;
ALTER TABLE sales_items DROP COLUMN factor;
