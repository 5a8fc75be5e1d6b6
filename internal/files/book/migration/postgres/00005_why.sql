-- +goose Up

-- As migration/sqlite tells.
ALTER TABLE change ADD COLUMN why TEXT COLLATE "C" NOT NULL DEFAULT '';
