-- +goose Up

-- What migration/sqlite tells of these tables holds here too. Rows are numbered by the one that writes. Names may be of
-- any length (an event's has all its units in it), which an ordered index does not take: so the indexes are of hashes.

CREATE TABLE change (
    id     BIGINT PRIMARY KEY,
    at     TEXT COLLATE "C" NOT NULL,
    who    TEXT COLLATE "C" NOT NULL,
    what   TEXT COLLATE "C" NOT NULL,
    digest TEXT COLLATE "C" NOT NULL
);

CREATE TABLE version (
    id     BIGINT PRIMARY KEY,
    change BIGINT NOT NULL REFERENCES change (id),
    kind   TEXT COLLATE "C" NOT NULL,
    key    TEXT COLLATE "C" NOT NULL,
    body   TEXT COLLATE "C",
    place  TEXT COLLATE "C"
);
CREATE INDEX version_change ON version (change);
CREATE INDEX version_thing ON version USING hash (key);

CREATE TABLE reading (
    id     BIGINT PRIMARY KEY,
    change BIGINT NOT NULL REFERENCES change (id),
    trial  TEXT COLLATE "C" NOT NULL,
    unit   TEXT COLLATE "C" NOT NULL,
    at     TEXT COLLATE "C" NOT NULL,
    body   TEXT COLLATE "C",
    place  TEXT COLLATE "C"
);
CREATE INDEX reading_change ON reading (change);
CREATE INDEX reading_thing ON reading USING hash ((trial || ' ' || unit || ' ' || at));

CREATE VIEW current AS
SELECT v.kind, v.key, v.body, v.place, v.change
FROM version v
JOIN (SELECT min(id) AS first, max(id) AS latest FROM version GROUP BY kind, key) w ON v.id = w.latest
WHERE v.body IS NOT NULL
ORDER BY w.first;

CREATE VIEW current_reading AS
SELECT r.trial, r.unit, r.at, r.body, r.place, r.change
FROM reading r
JOIN (SELECT max(id) AS latest FROM reading GROUP BY trial, unit, at) w ON r.id = w.latest
WHERE r.body IS NOT NULL
ORDER BY r.trial, r.at, r.unit;

-- +goose StatementBegin
CREATE FUNCTION only_added() RETURNS trigger LANGUAGE plpgsql AS
$$BEGIN RAISE EXCEPTION 'rows of % are only ever added', TG_TABLE_NAME; END$$;
-- +goose StatementEnd

CREATE TRIGGER change_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON change EXECUTE FUNCTION only_added();
CREATE TRIGGER version_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON version EXECUTE FUNCTION only_added();
CREATE TRIGGER reading_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON reading EXECUTE FUNCTION only_added();

-- Who may do what in it, where it is served to several. Of tokens the digest alone is kept. All sessions of a person end
-- as the epoch goes up.
CREATE TABLE person (
    id     BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    name   TEXT COLLATE "C" NOT NULL,
    folded TEXT COLLATE "C" NOT NULL UNIQUE,
    may    TEXT COLLATE "C" NOT NULL,
    hash   TEXT COLLATE "C",
    epoch  BIGINT NOT NULL DEFAULT 0
);

CREATE TABLE invitation (
    token  BYTEA PRIMARY KEY,
    person BIGINT NOT NULL UNIQUE REFERENCES person (id),
    until  TIMESTAMPTZ NOT NULL
);

CREATE TABLE attempt (
    key   TEXT COLLATE "C" PRIMARY KEY,
    wrong BIGINT NOT NULL,
    at    TIMESTAMPTZ NOT NULL
);

CREATE TABLE session (
    token  TEXT COLLATE "C" PRIMARY KEY,
    data   BYTEA NOT NULL,
    expiry TIMESTAMPTZ NOT NULL
);
