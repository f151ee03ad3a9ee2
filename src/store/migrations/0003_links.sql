-- Links beside the personal ones, and what ends a listener's part before its time.

-- An open link: whoever begins behind it becomes a listener, until so many have.
CREATE TABLE open_link (
    id          INTEGER PRIMARY KEY,
    round_id    INTEGER NOT NULL REFERENCES round,
    number      INTEGER NOT NULL CHECK (number >= 1),
    kind        TEXT NOT NULL CHECK (kind IN ('naive', 'expert')),
    cap         INTEGER NOT NULL CHECK (cap >= 1),
    link_sha256 TEXT NOT NULL UNIQUE,
    expires_ms  INTEGER,
    revoked_ms  INTEGER,
    UNIQUE (round_id, number)
) STRICT;

-- The open link by which a listener came; none where she was invited herself.
ALTER TABLE enrolment ADD COLUMN open_link_id INTEGER REFERENCES open_link;

-- She can no longer meet a sealed rule: she hears no more, and her places go to others.
ALTER TABLE enrolment ADD COLUMN let_go_ms INTEGER;
ALTER TABLE enrolment ADD COLUMN let_go_why TEXT;

-- The log tells that somebody withdrew; who it was says the salted row alone.
ALTER TABLE listener ADD COLUMN withdrawn_salt BLOB CHECK (length(withdrawn_salt) = 16);

-- The salt of a bar that was made after the seal; the sealed plan commits to the others.
ALTER TABLE bar ADD COLUMN salt BLOB CHECK (length(salt) = 16);
