-- A round that is being designed, loaded right after the seventh migration.
INSERT INTO round_draft (account_id, fields, changed_ms) VALUES
    (1, '{"fields":[["round","autumn"],["invited","12"]],"asked":true}', 1748851200005);
