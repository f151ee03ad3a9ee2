-- The sound is checked at each device: a row a check, counted for its listener. `visit` is the digest of the
-- cookie of the browser that was checked. A check of before counts for the first browser of its listener.
CREATE TABLE sound_check (
    id           INTEGER PRIMARY KEY,
    enrolment_id INTEGER NOT NULL REFERENCES enrolment ON DELETE CASCADE,
    number       INTEGER NOT NULL CHECK (number >= 1),
    visit        TEXT,
    checked_ms   INTEGER NOT NULL,
    said         TEXT NOT NULL,
    UNIQUE (enrolment_id, number)
) STRICT;

INSERT INTO sound_check (enrolment_id, number, visit, checked_ms, said)
SELECT enrolment.id, 1,
       (SELECT cookie_sha256 FROM visit WHERE visit.enrolment_id = enrolment.id
        ORDER BY begun_ms, cookie_sha256 LIMIT 1),
       sound_check_ms, sound_check
FROM enrolment WHERE sound_check_ms IS NOT NULL AND sound_check IS NOT NULL;

ALTER TABLE enrolment DROP COLUMN sound_check_ms;
ALTER TABLE enrolment DROP COLUMN sound_check;
