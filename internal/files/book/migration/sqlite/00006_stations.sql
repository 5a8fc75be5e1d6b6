-- +goose Up

PRAGMA user_version = 6;

-- Whose a study or a trial is, and who else may see it, is a kind of its own: nothing else changes.
