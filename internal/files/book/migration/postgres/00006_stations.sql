-- +goose Up

-- As migration/sqlite tells. The station that a person is of; '' is none.
ALTER TABLE person ADD COLUMN station TEXT COLLATE "C" NOT NULL DEFAULT '';
