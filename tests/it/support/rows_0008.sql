-- The same study after the eighth version: a word was played, played again, and once more after its answer.
INSERT INTO play SELECT id, zeroblob(16), 0 FROM presentation WHERE state = 'judged' LIMIT 1;
INSERT INTO play SELECT id, randomblob(16), 1 FROM presentation WHERE state = 'judged' LIMIT 1;
