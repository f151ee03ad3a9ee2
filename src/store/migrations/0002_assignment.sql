-- What was drawn before treatment. The plan names children by their numbers alone; who stands behind a
-- number lies in rows of its own, each with the salt of its commitment, so that a child can go.
CREATE TABLE assignment (
    id        INTEGER PRIMARY KEY,
    number    INTEGER NOT NULL UNIQUE CHECK (number >= 1),
    drawn_ms  INTEGER NOT NULL,
    plan      TEXT NOT NULL,
    drawn     TEXT NOT NULL,
    document  TEXT NOT NULL,
    seal      TEXT NOT NULL,
    seed      BLOB NOT NULL CHECK (length(seed) = 32),
    salt      BLOB NOT NULL CHECK (length(salt) = 16),
    why       TEXT,
    CHECK ((number = 1) = (why IS NULL))
) STRICT;

CREATE TABLE assigned_child (
    id            INTEGER PRIMARY KEY,
    assignment_id INTEGER NOT NULL REFERENCES assignment,
    number        INTEGER NOT NULL CHECK (number >= 1),
    code          TEXT NOT NULL,
    age_months    INTEGER CHECK (age_months BETWEEN 0 AND 1200),
    severity      TEXT,
    salt          BLOB NOT NULL CHECK (length(salt) = 16),
    UNIQUE (assignment_id, number),
    UNIQUE (assignment_id, code)
) STRICT;
