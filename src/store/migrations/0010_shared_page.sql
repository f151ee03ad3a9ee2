-- Pages of a child that are shown without signing in, behind a link that runs out. The secret in the link is kept as
-- its digest only; the salt hides whose page it is from the log.
CREATE TABLE shared_page (
    id            INTEGER PRIMARY KEY,
    child_id      INTEGER NOT NULL REFERENCES child ON DELETE CASCADE,
    secret_sha256 TEXT NOT NULL UNIQUE,
    made_ms       INTEGER NOT NULL,
    expires_ms    INTEGER NOT NULL,
    revoked_ms    INTEGER,
    salt          BLOB NOT NULL CHECK (length(salt) = 16)
) STRICT;
