-- +goose Up

-- A mark that replaces the one that counted, time and amounts included: somebody corrects what was marked wrongly.
ALTER TABLE task_marks ADD COLUMN corrects INTEGER NOT NULL DEFAULT 0;
