-- +goose Up

PRAGMA user_version = 4;

-- Past seasons are a kind of their own, and prices may say how far seasons stray: nothing else changes.
