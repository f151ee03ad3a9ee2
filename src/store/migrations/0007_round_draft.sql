-- The round that a person at the desk designs and has not sealed: what stands in her form. Nothing of it counts.
CREATE TABLE round_draft (
    account_id INTEGER PRIMARY KEY REFERENCES account ON DELETE CASCADE,
    fields     TEXT NOT NULL CHECK (json_valid(fields)),
    changed_ms INTEGER NOT NULL
) STRICT;
