-- Two draws of a small study: the first, and one that was drawn again.
INSERT INTO assignment VALUES (1, 1, 1748851199000, '{}', '[[0,1]]', '{}', 'seal of the first draw', zeroblob(32), zeroblob(16), NULL);
INSERT INTO assignment VALUES (2, 2, 1748851199500, '{}', '[[1,0]]', '{}', 'seal of the second draw', zeroblob(32), zeroblob(16), 'a family moved away');
INSERT INTO assigned_child VALUES (1, 1, 1, 'C01', 61, 'mild', zeroblob(16));
INSERT INTO assigned_child VALUES (2, 1, 2, 'C02', NULL, NULL, zeroblob(16));
INSERT INTO assigned_child VALUES (3, 2, 1, 'C01', 61, 'mild', zeroblob(16));
