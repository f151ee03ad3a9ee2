-- The same study a little later: an open link by which one came, one who was let go, one who withdrew, one who is barred.
INSERT INTO open_link VALUES (1, 1, 1, 'naive', 20, 'ee', 1751443200000, NULL);
INSERT INTO listener VALUES (2, 'L-bcdefghj', 'naive', NULL, NULL);
INSERT INTO listener VALUES (3, 'L-cdefghjk', 'expert', 1748851900000, zeroblob(16));
INSERT INTO bar VALUES (3, 1, 'barred', 1748851400000, zeroblob(16));
INSERT INTO enrolment (id, round_id, listener_id, number, side, link_sha256, open_link_id, let_go_ms, let_go_why) VALUES (2, 1, 2, 2, 'right', 'ff', 1, 1748851800000, '2 of 6 check words right; the rule asks for at least 10 check words right');
INSERT INTO enrolment (id, round_id, listener_id, number, side, link_sha256, expires_ms, revoked_ms) VALUES (3, 1, 3, 3, 'left', 'gg', 1751443200000, 1748851950000);
