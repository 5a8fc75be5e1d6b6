-- +goose Up

PRAGMA user_version = 2;

-- What was read at the units of trials, apart from everything else since there is so much more of it. A correction is a
-- further row of the same trial, unit and time; a null body takes the reading away.
CREATE TABLE reading (
    id     INTEGER PRIMARY KEY,
    change INTEGER NOT NULL REFERENCES change (id),
    trial  TEXT NOT NULL,
    unit   TEXT NOT NULL,
    at     TEXT NOT NULL,
    body   TEXT,
    place  TEXT,
    UNIQUE (trial, unit, at, change)
) STRICT;

-- The readings as they stand.
CREATE VIEW current_reading AS
SELECT r.trial, r.unit, r.at, r.body, r.place, r.change
FROM reading r
JOIN (SELECT max(id) AS latest FROM reading GROUP BY trial, unit, at) w ON r.id = w.latest
WHERE r.body IS NOT NULL
ORDER BY r.trial, r.at, r.unit;

-- +goose StatementBegin
CREATE TRIGGER reading_stays BEFORE UPDATE ON reading
BEGIN SELECT raise(ABORT, 'readings are only ever added'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER reading_kept BEFORE DELETE ON reading
BEGIN SELECT raise(ABORT, 'readings are only ever added'); END;
-- +goose StatementEnd
