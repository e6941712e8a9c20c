-- +goose Up

-- When counts last arrived, by the service's clock: the end of the latest window is only what a till says.
ALTER TABLE sites RENAME COLUMN last_count_at TO last_received_at;
UPDATE sites SET last_received_at = (SELECT MAX(received_at) FROM sales_counts WHERE site_id = sites.id);
