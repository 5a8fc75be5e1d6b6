-- +goose Up

PRAGMA user_version = 5;

-- Why a change was made, apart from what it did; "" where nothing was said, as of all changes before. It stands in the
-- digest of the change where it is given.
ALTER TABLE change ADD COLUMN why TEXT NOT NULL DEFAULT '';
