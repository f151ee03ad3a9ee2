-- A masked analysis under way, loaded right after the ninth migration: one graph is marked.
INSERT INTO masked_analysis VALUES (1, 1, 'A-abcdefgh', zeroblob(32), 1748851700000, NULL);
INSERT INTO masked_graph VALUES (1, 1, 1, 1, zeroblob(16), 'probable', 4, 1748851700001, zeroblob(16));
