-- Rows as a study with two people at its desk holds them, loaded right after the fifth migration.
INSERT INTO account (id, code, name, role, password, made_ms, salt) VALUES
    (1, 'A-aaaaaaaa', 'Ada', 'researcher', '$argon2id$v=19$m=19456,t=2,p=1$c2FsdHNhbHQ$aGFzaA', 1748851200000, zeroblob(16)),
    (2, 'A-bbbbbbbb', 'Clara', 'clinician', NULL, 1748851200001, zeroblob(16));
INSERT INTO account_child (account_id, child_id, salt) VALUES (2, 1, zeroblob(16));
INSERT INTO account_link (secret_sha256, account_id, expires_ms) VALUES
    ('0000000000000000000000000000000000000000000000000000000000000001', 2, 1748937600001);
INSERT INTO account_session (secret_sha256, account_id, begun_ms, last_ms) VALUES
    ('0000000000000000000000000000000000000000000000000000000000000002', 1, 1748851200002, 1748851200003);
INSERT INTO sign_in_try (at_ms, name_sha256, came_from, told) VALUES
    (1748851200004, '0000000000000000000000000000000000000000000000000000000000000003', '192.0.2.7', 0);
