-- +goose Up

-- The calendar asks which tasks of a date a newer sheet dropped.
CREATE INDEX tasks_by_date ON tasks (site, date);
