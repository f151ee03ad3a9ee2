-- Masked visual analysis: the unnamed graphs of a closed round, and where an analyst saw a change begin.
CREATE TABLE masked_analysis (
    id INTEGER PRIMARY KEY,
    round_id INTEGER NOT NULL UNIQUE REFERENCES round (id),
    -- The code of the analyst's account; it outlives the account.
    analyst TEXT NOT NULL,
    -- What the order of the graphs is drawn from.
    seed BLOB NOT NULL CHECK (length(seed) = 32),
    begun_ms INTEGER NOT NULL,
    finished_ms INTEGER
) STRICT;

CREATE TABLE masked_graph (
    id INTEGER PRIMARY KEY,
    analysis_id INTEGER NOT NULL REFERENCES masked_analysis (id),
    -- Its place in the order that was drawn, counted from 1.
    number INTEGER NOT NULL CHECK (number >= 1),
    child_id INTEGER NOT NULL REFERENCES child (id) ON DELETE CASCADE,
    salt BLOB NOT NULL,
    -- Nothing in the four that follow until it is marked; no point where no change was seen.
    sure TEXT CHECK (sure IN ('certain', 'probable', 'guess')),
    before_point INTEGER CHECK (before_point >= 2),
    marked_ms INTEGER,
    mark_salt BLOB,
    UNIQUE (analysis_id, number),
    UNIQUE (analysis_id, child_id),
    CHECK ((sure IS NULL) = (marked_ms IS NULL) AND (sure IS NULL) = (mark_salt IS NULL)),
    CHECK (sure IS NOT NULL OR before_point IS NULL)
) STRICT;
