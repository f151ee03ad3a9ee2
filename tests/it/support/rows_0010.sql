-- A child's page behind a link, and one that was taken back, loaded right after the tenth migration.
INSERT INTO shared_page (id, child_id, secret_sha256, made_ms, expires_ms, revoked_ms, salt) VALUES
    (1, 1, '0000000000000000000000000000000000000000000000000000000000000004', 1748851200006, 1750060800006, NULL, zeroblob(16)),
    (2, 1, '0000000000000000000000000000000000000000000000000000000000000005', 1748851200007, 1750060800007, 1748851200008, zeroblob(16));
