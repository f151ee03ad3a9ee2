-- One study a file. Times are milliseconds since 1970 in UTC. A salted row is one that the chained
-- log speaks of: the log holds a digest of it, the salt makes that digest say nothing by itself.

-- The level is fixed with the first token: nothing sealed is ever re-levelled.
CREATE TABLE study (
    id          INTEGER PRIMARY KEY CHECK (id = 1),
    made_ms     INTEGER NOT NULL,
    level_lufs  REAL
) STRICT;

CREATE TABLE child (
    id          INTEGER PRIMARY KEY,
    code        TEXT NOT NULL UNIQUE,
    cohort      TEXT,
    peer        INTEGER NOT NULL CHECK (peer IN (0, 1)),
    stopped_ms  INTEGER
) STRICT;

CREATE TABLE consent (
    id          INTEGER PRIMARY KEY,
    child_id    INTEGER NOT NULL REFERENCES child ON DELETE CASCADE,
    version     TEXT NOT NULL,
    given_on    TEXT NOT NULL,
    scope       TEXT NOT NULL CHECK (scope IN ('staff', 'research', 'remote', 'example')),
    assent      INTEGER NOT NULL CHECK (assent IN (0, 1)),
    keep_until  TEXT
) STRICT;

CREATE TABLE session (
    id          INTEGER PRIMARY KEY,
    child_id    INTEGER NOT NULL REFERENCES child ON DELETE CASCADE,
    ordinal     INTEGER NOT NULL CHECK (ordinal >= 1),
    phase       TEXT NOT NULL,
    condition   TEXT,
    date        TEXT,
    age_months  INTEGER CHECK (age_months BETWEEN 0 AND 1200),
    UNIQUE (child_id, ordinal)
) STRICT;

CREATE TABLE token (
    id              INTEGER PRIMARY KEY,
    session_id      INTEGER REFERENCES session ON DELETE CASCADE,
    speaker         TEXT,
    word            TEXT NOT NULL,
    target          TEXT,
    position        TEXT,
    treated         INTEGER CHECK (treated IN (0, 1)),
    attempt         INTEGER NOT NULL CHECK (attempt >= 1),
    elicitation     TEXT CHECK (elicitation IN ('named', 'imitated', 'read', 'sentence')),
    use             TEXT NOT NULL CHECK (use IN ('scored', 'peer', 'check', 'practice', 'warm-up', 'example')),
    answer          TEXT CHECK (answer IN ('correct', 'distorted', 'divided')),
    clinician_score TEXT CHECK (clinician_score IN ('correct', 'distorted')),
    file            TEXT NOT NULL,
    original_sha256 TEXT NOT NULL,
    samples_sha256  TEXT NOT NULL UNIQUE,
    excluded        TEXT,
    CHECK (use NOT IN ('scored', 'peer') OR session_id IS NOT NULL),
    CHECK (session_id IS NULL OR speaker IS NULL)
) STRICT;

-- What was made of a recording: the audio that listeners hear lies in a file named by its digest.
CREATE TABLE prepared (
    token_id        INTEGER PRIMARY KEY REFERENCES token ON DELETE CASCADE,
    sha256          TEXT NOT NULL,
    seconds         REAL NOT NULL CHECK (seconds > 0),
    onset_ms        REAL NOT NULL,
    level_lufs      REAL NOT NULL,
    true_peak_dbtp  REAL NOT NULL,
    gain_db         REAL NOT NULL,
    snr_db          REAL,
    bandwidth_hz    REAL NOT NULL,
    clipped_samples INTEGER NOT NULL,
    marks           TEXT NOT NULL
) STRICT;

-- A row of a manifest without a recording: it makes no token and counts as missing.
CREATE TABLE missing (
    id          INTEGER PRIMARY KEY,
    session_id  INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
    word        TEXT NOT NULL,
    treated     INTEGER CHECK (treated IN (0, 1)),
    attempt     INTEGER NOT NULL CHECK (attempt >= 1),
    reason      TEXT NOT NULL,
    UNIQUE (session_id, word, attempt)
) STRICT;

CREATE TABLE round (
    id          INTEGER PRIMARY KEY,
    name        TEXT NOT NULL UNIQUE,
    state       TEXT NOT NULL CHECK (state IN ('draft', 'open', 'closed', 'unlocked')),
    plan        TEXT NOT NULL,
    document    TEXT NOT NULL,
    seal        TEXT NOT NULL,
    seed        BLOB NOT NULL CHECK (length(seed) = 32),
    salt        BLOB NOT NULL CHECK (length(salt) = 16),
    opened_ms   INTEGER,
    closed_ms   INTEGER,
    unlocked_ms INTEGER,
    paused      INTEGER NOT NULL DEFAULT 0 CHECK (paused IN (0, 1))
) STRICT;

-- A token in a round; the number is its name in the sealed document, dealt at random.
CREATE TABLE round_token (
    id          INTEGER PRIMARY KEY,
    round_id    INTEGER NOT NULL REFERENCES round,
    token_id    INTEGER NOT NULL REFERENCES token ON DELETE CASCADE,
    number      INTEGER NOT NULL,
    use         TEXT NOT NULL CHECK (use IN ('scored', 'peer', 'check', 'practice', 'warm-up', 'example')),
    stratum     INTEGER,
    link        INTEGER NOT NULL DEFAULT 0 CHECK (link IN (0, 1)),
    salt        BLOB NOT NULL CHECK (length(salt) = 16),
    UNIQUE (round_id, token_id),
    UNIQUE (round_id, number),
    CHECK ((use IN ('scored', 'peer')) = (stratum IS NOT NULL))
) STRICT;

CREATE TABLE listener (
    id          INTEGER PRIMARY KEY,
    code        TEXT NOT NULL UNIQUE,
    kind        TEXT NOT NULL CHECK (kind IN ('naive', 'expert')),
    withdrawn_ms INTEGER
) STRICT;

-- A child whom a listener must not hear: she treats him, or said that she knows the voice.
CREATE TABLE bar (
    listener_id INTEGER NOT NULL REFERENCES listener ON DELETE CASCADE,
    child_id    INTEGER NOT NULL REFERENCES child ON DELETE CASCADE,
    why         TEXT NOT NULL CHECK (why IN ('barred', 'known-speaker')),
    since_ms    INTEGER NOT NULL,
    PRIMARY KEY (listener_id, child_id)
) STRICT, WITHOUT ROWID;

-- A listener in a round. Secrets are kept as their digests only.
CREATE TABLE enrolment (
    id              INTEGER PRIMARY KEY,
    round_id        INTEGER NOT NULL REFERENCES round,
    listener_id     INTEGER NOT NULL REFERENCES listener ON DELETE CASCADE,
    number          INTEGER NOT NULL CHECK (number >= 1),
    side            TEXT NOT NULL CHECK (side IN ('left', 'right')),
    link_sha256     TEXT NOT NULL UNIQUE,
    expires_ms      INTEGER,
    revoked_ms      INTEGER,
    opened_ms       INTEGER,
    consent_version TEXT,
    consented_ms    INTEGER,
    answers         TEXT,
    sound_check     TEXT,
    sound_check_ms  INTEGER,
    instructed_ms   INTEGER,
    closing         TEXT,
    finished_ms     INTEGER,
    receipt         TEXT,
    UNIQUE (round_id, number),
    UNIQUE (round_id, listener_id)
) STRICT;

-- One browser of a listener; several where a sitting goes on elsewhere.
CREATE TABLE visit (
    cookie_sha256 TEXT PRIMARY KEY,
    enrolment_id  INTEGER NOT NULL REFERENCES enrolment ON DELETE CASCADE,
    begun_ms      INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE sitting (
    id           INTEGER PRIMARY KEY,
    enrolment_id INTEGER NOT NULL REFERENCES enrolment ON DELETE CASCADE,
    number       INTEGER NOT NULL CHECK (number >= 1),
    stream       INTEGER NOT NULL,
    begun_ms     INTEGER NOT NULL,
    last_ms      INTEGER NOT NULL,
    ended_ms     INTEGER,
    ended_why    TEXT CHECK (ended_why IN ('done', 'stopped', 'screened', 'closed')),
    UNIQUE (enrolment_id, number)
) STRICT;

-- reserved: its place is held. judged, aside: done. returned: given back after idle time; a
-- judgement that comes all the same makes it judged. dropped: it will never be heard.
CREATE TABLE presentation (
    id             BLOB PRIMARY KEY CHECK (length(id) = 16),
    sitting_id     INTEGER NOT NULL REFERENCES sitting ON DELETE CASCADE,
    round_token_id INTEGER NOT NULL REFERENCES round_token ON DELETE CASCADE,
    place          INTEGER NOT NULL CHECK (place >= 1),
    kind           TEXT NOT NULL CHECK (kind IN ('example', 'practice', 'warm-up', 'check', 'main', 'repeat')),
    state          TEXT NOT NULL CHECK (state IN ('reserved', 'judged', 'aside', 'returned', 'dropped')),
    aside          TEXT CHECK (aside IN ('noise', 'another-word', 'no-sound', 'known-speaker')),
    voided         INTEGER NOT NULL DEFAULT 0,
    salt           BLOB NOT NULL CHECK (length(salt) = 16),
    UNIQUE (sitting_id, place)
) STRICT, WITHOUT ROWID;

CREATE INDEX presentation_of_token ON presentation (round_token_id, kind, state);

-- The last revision counts; all are kept.
CREATE TABLE judgement (
    id              INTEGER PRIMARY KEY,
    presentation_id BLOB NOT NULL REFERENCES presentation ON DELETE CASCADE,
    revision        INTEGER NOT NULL CHECK (revision >= 1),
    answer          TEXT NOT NULL CHECK (answer IN ('correct', 'distorted')),
    rt_ms           INTEGER CHECK (rt_ms >= 0),
    rt_grain_ms     INTEGER CHECK (rt_grain_ms >= 0),
    replays         INTEGER NOT NULL CHECK (replays >= 0),
    received_ms     INTEGER NOT NULL,
    salt            BLOB NOT NULL CHECK (length(salt) = 16),
    UNIQUE (presentation_id, revision)
) STRICT;

-- The chained log. Written in the same transaction as what it tells; never changed.
CREATE TABLE event (
    seq     INTEGER PRIMARY KEY CHECK (seq >= 1),
    at_ms   INTEGER NOT NULL,
    kind    TEXT NOT NULL,
    body    TEXT NOT NULL,
    digest  TEXT NOT NULL
) STRICT;

CREATE TRIGGER event_is_never_changed BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'the log is never changed'); END;

CREATE TRIGGER event_is_never_removed BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'the log is never shortened'); END;
