-- +goose Up

PRAGMA user_version = 7;

-- Where a change was first made that a sync has brought: JSON of whence it came, its number, time and digest there. ""
-- is of one made here. It stands in the digest of the change where it is given.
ALTER TABLE change ADD COLUMN origin TEXT NOT NULL DEFAULT '';
