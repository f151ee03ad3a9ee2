-- Each time that a word was played to its end, whatever the browser: it bounds how often it may be played
-- again. The name is the browser's own for that play, so that a report sent twice counts once. `answers` says
-- how many answers there were before. The log tells of plays by the answer that counts them, not one by one.
CREATE TABLE play (
    presentation_id BLOB NOT NULL REFERENCES presentation ON DELETE CASCADE,
    name            BLOB NOT NULL CHECK (length(name) = 16),
    answers         INTEGER NOT NULL CHECK (answers >= 0),
    PRIMARY KEY (presentation_id, name)
) STRICT, WITHOUT ROWID;
