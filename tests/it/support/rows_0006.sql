-- What staff noted in the lived-in study: a label, a second opinion, an excluded word, a copy.
UPDATE child SET label = 'the tall one' WHERE id = 1;
INSERT INTO consent VALUES (2, 1, '3', '2025-02-01', 'research remote', 'given', '2031-01-01', zeroblob(16));
INSERT INTO token VALUES (3, 1, NULL, 'bu[s]', NULL, 'final', 0, 1, 'named', 'scored', NULL, NULL, 'c.wav', 'cc', 'c1', 'noise', 1748851400000, zeroblob(16));
INSERT INTO prepared VALUES (3, 'pc', 1.0, 400.0, -27.0, -9.0, 3.0, 12.0, 16000.0, 0, 'noisy');
INSERT INTO known_answer VALUES (1, 2, 'second', 'correct', 1748851500000, zeroblob(16));
INSERT INTO single_judge VALUES (2, 'nobody else could be asked', 1748851500001, zeroblob(16));
INSERT INTO copy VALUES (1, 'backup', '/media/safe/backup', 1748851600000);
INSERT INTO gone VALUES ('listener L-zzzzzzzz');
