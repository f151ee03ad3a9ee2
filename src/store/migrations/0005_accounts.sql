-- People at the desk. The log knows an account by its code; the name stands here alone. The salt hides
-- what the log commits to: it is a fresh one at each change of the row.
CREATE TABLE account (
    id       INTEGER PRIMARY KEY,
    code     TEXT NOT NULL UNIQUE,
    name     TEXT NOT NULL COLLATE NOCASE UNIQUE,
    role     TEXT NOT NULL CHECK (role IN ('researcher', 'preparer', 'clinician')),
    password TEXT,
    made_ms  INTEGER NOT NULL,
    salt     BLOB NOT NULL CHECK (length(salt) = 16)
) STRICT;

-- The children of whom a clinician may read.
CREATE TABLE account_child (
    account_id INTEGER NOT NULL REFERENCES account ON DELETE CASCADE,
    child_id   INTEGER NOT NULL REFERENCES child ON DELETE CASCADE,
    salt       BLOB NOT NULL CHECK (length(salt) = 16),
    PRIMARY KEY (account_id, child_id)
) STRICT, WITHOUT ROWID;

-- One-time addresses, as digests: of a new password for an account, or (without one) of the first account.
CREATE TABLE account_link (
    secret_sha256 TEXT PRIMARY KEY,
    account_id    INTEGER REFERENCES account ON DELETE CASCADE,
    expires_ms    INTEGER
) STRICT, WITHOUT ROWID;

-- Browsers that are signed in; the secret in their cookie is kept as its digest only.
CREATE TABLE account_session (
    secret_sha256 TEXT PRIMARY KEY,
    account_id    INTEGER NOT NULL REFERENCES account ON DELETE CASCADE,
    begun_ms      INTEGER NOT NULL,
    last_ms       INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- Tries to sign in of the last minutes: they hold off whoever guesses, and are removed soon.
CREATE TABLE sign_in_try (
    id          INTEGER PRIMARY KEY,
    at_ms       INTEGER NOT NULL,
    name_sha256 TEXT NOT NULL,
    came_from   TEXT NOT NULL,
    told        INTEGER NOT NULL CHECK (told IN (0, 1))
) STRICT;
