-- +goose Up

-- As migration/sqlite tells.
ALTER TABLE change ADD COLUMN origin TEXT COLLATE "C" NOT NULL DEFAULT '';

-- By which a program of a person's asks in their name, until it is withdrawn. Its digest alone is kept.
CREATE TABLE token (
    digest BYTEA PRIMARY KEY,
    id     BIGINT GENERATED ALWAYS AS IDENTITY UNIQUE,
    person BIGINT NOT NULL REFERENCES person (id),
    label  TEXT COLLATE "C" NOT NULL,
    made   TIMESTAMPTZ NOT NULL,
    used   TIMESTAMPTZ
);

-- By which an institution names a person: invited by the address of their mail, known by the subject from then on.
ALTER TABLE person ADD COLUMN mail TEXT COLLATE "C" NOT NULL DEFAULT '';
ALTER TABLE person ADD COLUMN issuer TEXT COLLATE "C";
ALTER TABLE person ADD COLUMN subject TEXT COLLATE "C";
CREATE UNIQUE INDEX person_subject ON person (issuer, subject);
CREATE UNIQUE INDEX person_mail ON person (mail) WHERE mail <> '';
