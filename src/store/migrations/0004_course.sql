-- What a listener is asked and shown on her way through a sitting.

ALTER TABLE enrolment ADD COLUMN assent TEXT CHECK (assent IN ('adult', 'minor'));
ALTER TABLE enrolment ADD COLUMN answered_ms INTEGER;
ALTER TABLE enrolment ADD COLUMN answers_salt BLOB CHECK (length(answers_salt) = 16);

-- The part of the sitting: one sound to judge after another, where a round has several.
ALTER TABLE presentation ADD COLUMN block INTEGER NOT NULL DEFAULT 1 CHECK (block >= 1);

-- What a listener came to between two words, and when she went on: a rest, the next sound to judge,
-- the practice once more (again), or once more after a long absence (away).
CREATE TABLE gate (
    id         INTEGER PRIMARY KEY,
    sitting_id INTEGER NOT NULL REFERENCES sitting ON DELETE CASCADE,
    place      INTEGER NOT NULL CHECK (place >= 1),
    kind       TEXT NOT NULL CHECK (kind IN ('rest', 'block', 'again', 'away')),
    passed_ms  INTEGER NOT NULL,
    UNIQUE (sitting_id, place, kind)
) STRICT;
