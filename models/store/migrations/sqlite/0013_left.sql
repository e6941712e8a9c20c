-- +goose Up

-- What was left of a beverage when somebody looked, g; null for marks of other tasks.
ALTER TABLE task_marks ADD COLUMN left_g REAL;
