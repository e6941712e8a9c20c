-- +goose Up

-- The step of a job that has several, and why it failed: '' for none.
ALTER TABLE progress ADD COLUMN step TEXT NOT NULL DEFAULT '';
ALTER TABLE progress ADD COLUMN problem TEXT NOT NULL DEFAULT '';
