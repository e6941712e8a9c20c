-- +goose Up

-- A temperature read at a task; null where none was.
ALTER TABLE task_marks ADD COLUMN temp_c REAL;
