-- +goose Up

-- A proposal that the manager put aside; null where nobody did.
ALTER TABLE plans ADD COLUMN set_aside_at INTEGER;
