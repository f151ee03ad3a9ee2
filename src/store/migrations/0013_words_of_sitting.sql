-- How many words a sitting shows never falls, whatever becomes of a place: it would tell which word was to come again.
ALTER TABLE sitting ADD COLUMN words INTEGER NOT NULL DEFAULT 0;

UPDATE sitting SET words = (SELECT count(*) FROM presentation WHERE sitting_id = sitting.id
                            AND kind <> 'example' AND state <> 'dropped');

CREATE TRIGGER words_added AFTER INSERT ON presentation BEGIN
    UPDATE sitting SET words = max(words, (SELECT count(*) FROM presentation WHERE sitting_id = NEW.sitting_id
                                           AND kind <> 'example' AND state <> 'dropped'))
    WHERE id = NEW.sitting_id;
END;
