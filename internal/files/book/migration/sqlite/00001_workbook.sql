-- +goose Up

-- 0x5350494C, the letters SPIL: what tells a workbook from another program's database.
PRAGMA application_id = 1397770572;
PRAGMA user_version = 1;

-- Who did what and when. Rows are only ever added. The digest is SHA-256 over the digest of the change before and all
-- that this change says, so that no later damage, inside a text as little as in a page, goes unseen.
CREATE TABLE change (
    id     INTEGER PRIMARY KEY,
    at     TEXT NOT NULL,
    who    TEXT NOT NULL,
    what   TEXT NOT NULL,
    digest TEXT NOT NULL
) STRICT;

-- What a change made of one thing: its content as canonical JSON, or null where the change removed it. Where it stood
-- in the file that it came from is beside the content, not in it: a study that moved to another row is the same study.
CREATE TABLE version (
    id     INTEGER PRIMARY KEY,
    change INTEGER NOT NULL REFERENCES change (id),
    kind   TEXT NOT NULL,
    key    TEXT NOT NULL,
    body   TEXT,
    place  TEXT,
    UNIQUE (kind, key, change)
) STRICT;

-- The current state: of each thing its latest version, without what was removed, in the order in which things first came.
CREATE VIEW current AS
SELECT v.kind, v.key, v.body, v.place, v.change
FROM version v
JOIN (SELECT min(id) AS first, max(id) AS latest FROM version GROUP BY kind, key) w ON v.id = w.latest
WHERE v.body IS NOT NULL
ORDER BY w.first;

-- +goose StatementBegin
CREATE TRIGGER change_stays BEFORE UPDATE ON change
BEGIN SELECT raise(ABORT, 'changes are only ever added'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER change_kept BEFORE DELETE ON change
BEGIN SELECT raise(ABORT, 'changes are only ever added'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER version_stays BEFORE UPDATE ON version
BEGIN SELECT raise(ABORT, 'versions are only ever added'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER version_kept BEFORE DELETE ON version
BEGIN SELECT raise(ABORT, 'versions are only ever added'); END;
-- +goose StatementEnd
