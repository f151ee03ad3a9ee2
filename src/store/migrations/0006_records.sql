-- What staff note of children and words, and what is needed to take a child out of a study.

-- A name for the eyes of the desk alone: it is in no log, export or report. A child who is out of
-- use stays in the file and in no result; the log holds a salted digest of that.
ALTER TABLE child ADD COLUMN label TEXT;
ALTER TABLE child ADD COLUMN stopped_salt BLOB
    CHECK ((stopped_salt IS NULL) = (stopped_ms IS NULL)
           AND (stopped_salt IS NULL OR length(stopped_salt) = 16));

-- The last record of a child is the one that holds.
ALTER TABLE consent RENAME TO consent_before;
CREATE TABLE consent (
    id          INTEGER PRIMARY KEY,
    child_id    INTEGER NOT NULL REFERENCES child ON DELETE CASCADE,
    version     TEXT NOT NULL,
    given_on    TEXT NOT NULL,
    scopes      TEXT NOT NULL,
    assent      TEXT NOT NULL CHECK (assent IN ('given', 'refused', 'not-asked')),
    keep_until  TEXT,
    salt        BLOB NOT NULL CHECK (length(salt) = 16)
) STRICT;
INSERT INTO consent (id, child_id, version, given_on, scopes, assent, keep_until, salt)
SELECT id, child_id, version, given_on, scope,
       CASE assent WHEN 1 THEN 'given' ELSE 'not-asked' END, keep_until, randomblob(16)
FROM consent_before;
DROP TABLE consent_before;

-- The salt of what the log says of a listener's closing answers: their text stands in her row alone,
-- so that it goes with her. Rows of earlier programs have none, and the log holds their text.
ALTER TABLE enrolment ADD COLUMN closing_salt BLOB CHECK (length(closing_salt) = 16);

-- When a word was excluded, and the salt of the digest that the log holds of it.
ALTER TABLE token ADD COLUMN excluded_ms INTEGER
    CHECK ((excluded_ms IS NULL) = (excluded IS NULL));
ALTER TABLE token ADD COLUMN excluded_salt BLOB
    CHECK ((excluded_salt IS NULL) = (excluded IS NULL)
           AND (excluded_salt IS NULL OR length(excluded_salt) = 16));

-- What further people say of a word whose answer is to be known; the manifest's own answer stands
-- in the token.
CREATE TABLE known_answer (
    id          INTEGER PRIMARY KEY,
    token_id    INTEGER NOT NULL REFERENCES token ON DELETE CASCADE,
    judge       TEXT NOT NULL,
    answer      TEXT NOT NULL CHECK (answer IN ('correct', 'distorted', 'divided')),
    given_ms    INTEGER NOT NULL,
    salt        BLOB NOT NULL CHECK (length(salt) = 16),
    UNIQUE (token_id, judge)
) STRICT;

-- Why the answer of a word counts though one person alone gave it.
CREATE TABLE single_judge (
    token_id    INTEGER PRIMARY KEY REFERENCES token ON DELETE CASCADE,
    reason      TEXT NOT NULL,
    noted_ms    INTEGER NOT NULL,
    salt        BLOB NOT NULL CHECK (length(salt) = 16)
) STRICT;

-- Exports, reports and backups that left the store, and where they were put.
CREATE TABLE copy (
    id          INTEGER PRIMARY KEY,
    kind        TEXT NOT NULL CHECK (kind IN ('export', 'report', 'backup')),
    place       TEXT NOT NULL,
    made_ms     INTEGER NOT NULL
) STRICT;

-- What the log tells of and was erased on purpose: digests and random names, which say nothing by
-- themselves. The log holds a digest of all of it.
CREATE TABLE gone (
    item        TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;

-- Files of an erasure that is under way: the next start goes on where it stopped.
CREATE TABLE unfinished_erasure (
    path        TEXT PRIMARY KEY
) STRICT, WITHOUT ROWID;

-- The words that are to be heard and counted: not excluded, and of no child who is out of use.
CREATE VIEW in_use AS
SELECT token.id AS token_id
FROM token
LEFT JOIN session ON session.id = token.session_id
WHERE token.excluded IS NULL
  AND NOT EXISTS (SELECT 1 FROM child
                  WHERE child.stopped_ms IS NOT NULL
                    AND (child.id = session.child_id
                         OR (token.session_id IS NULL AND child.code = token.speaker)));
