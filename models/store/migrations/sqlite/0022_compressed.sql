-- +goose Up

-- Documents compressed with zstd. The text beside is then ''; rows of earlier versions still have it, until they are tidied.
ALTER TABLE plan_documents ADD COLUMN plan_zstd BLOB;
ALTER TABLE plan_documents ADD COLUMN request_zstd BLOB;
ALTER TABLE sheets ADD COLUMN sheet_zstd BLOB;

-- Deleting a sheet looks for tasks that refer to it.
CREATE INDEX tasks_by_sheet ON tasks (sheet_id);
