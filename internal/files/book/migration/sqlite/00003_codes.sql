-- +goose Up

PRAGMA user_version = 3;

-- The units of a trial may carry codes of their own, which its body holds: nothing else changes.
