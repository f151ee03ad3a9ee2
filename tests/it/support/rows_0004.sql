-- The same study after the fourth version: the listener answered questions and took a rest.
UPDATE enrolment SET assent = 'adult', answers = '{"age":"30-44"}', answered_ms = 1748851200550, answers_salt = zeroblob(16);
UPDATE presentation SET block = 2;
INSERT INTO gate VALUES (1, 1, 1, 'block', 1748851200650);
INSERT INTO gate VALUES (2, 1, 2, 'rest', 1748851200950);
