-- The same study after the eleventh version: the listener checked her sound at a second device.
INSERT INTO visit VALUES ('ee', 1, 1748851201500);
INSERT INTO sound_check VALUES (2, 1, 2, 'ee', 1748851201600, '{"device":"wireless","heard":true}');
