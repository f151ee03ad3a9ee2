-- Numbers of listeners and streams of sittings are dealt once in a round: whoever is erased takes hers along, and nobody gets
-- them again.
ALTER TABLE round ADD COLUMN last_number INTEGER NOT NULL DEFAULT 0;
ALTER TABLE round ADD COLUMN last_stream INTEGER NOT NULL DEFAULT 0;

UPDATE round SET
    last_number = coalesce((SELECT max(number) FROM enrolment WHERE round_id = round.id), 0),
    last_stream = coalesce((SELECT max(stream) FROM sitting
                            JOIN enrolment ON enrolment.id = sitting.enrolment_id
                            WHERE enrolment.round_id = round.id), 0);

CREATE TRIGGER number_dealt AFTER INSERT ON enrolment BEGIN
    UPDATE round SET last_number = max(last_number, NEW.number) WHERE id = NEW.round_id;
END;

CREATE TRIGGER stream_dealt AFTER INSERT ON sitting BEGIN
    UPDATE round SET last_stream = max(last_stream, NEW.stream)
    WHERE id = (SELECT round_id FROM enrolment WHERE id = NEW.enrolment_id);
END;
