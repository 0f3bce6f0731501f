BEGIN TRANSACTION;
CREATE TABLE flight (
        flight_id TEXT PRIMARY KEY,
        import_id INTEGER NOT NULL REFERENCES import ON DELETE CASCADE,
        part INTEGER NOT NULL,
        source TEXT NOT NULL,
        aircraft TEXT NOT NULL,
        utc_start TEXT,
        duration_s REAL NOT NULL,
        rows INTEGER NOT NULL,
        telemetry_sha256 TEXT NOT NULL,
        channels TEXT NOT NULL,
        notices TEXT NOT NULL
    , local_start TEXT NOT NULL DEFAULT '') WITHOUT ROWID;
INSERT INTO "flight" VALUES('heron-2031-04-05-a',1,1,'heron.csv','Heron','2031-04-05T23:50:00.000000+00:00',49.9,500,'93e4eeeb057beeea60909b9dd1aa14c100aac49e384dafa3594410212cb2a18b','["pack.rx1.voltage_v", "control.gear", "extra.word"]','["one notice"]','');
CREATE TABLE import (import_id INTEGER PRIMARY KEY, imported_at TEXT NOT NULL, answers TEXT NOT NULL DEFAULT '');
INSERT INTO "import" VALUES(1,'2026-11-25T09:04:22+00:00','');
CREATE TABLE note (
        flight_id TEXT PRIMARY KEY REFERENCES flight ON DELETE CASCADE,
        body TEXT NOT NULL
    ) WITHOUT ROWID;
INSERT INTO "note" VALUES('heron-2031-04-05-a','{"packs":{},"layout":"","fuel":{},"readings":{},"air_temperature_c":null,"pilot_latitude_deg":null,"pilot_longitude_deg":null,"pilot_altitude_m":null,"remarks":"windy"}');
CREATE TABLE range_check (
        range_check_id INTEGER PRIMARY KEY,
        aircraft TEXT NOT NULL,
        day TEXT NOT NULL,
        receiver TEXT NOT NULL,
        antenna INTEGER NOT NULL,
        distance_m REAL NOT NULL,
        reduction_db REAL NOT NULL,
        orientation TEXT NOT NULL,
        remarks TEXT NOT NULL,
        UNIQUE (aircraft, day, receiver, antenna, distance_m, reduction_db, orientation, remarks)
    );
INSERT INTO "range_check" VALUES(1,'Heron','2031-04-01','rx1',1,60.0,30.0,'nose to pilot','');
CREATE TABLE record (
        kind TEXT NOT NULL, name TEXT NOT NULL, body TEXT NOT NULL, PRIMARY KEY (kind, name)
    ) WITHOUT ROWID;
INSERT INTO "record" VALUES('snag','1','{"title": "loose canopy"}');
CREATE TABLE removed (flight_id TEXT PRIMARY KEY, removed_at TEXT NOT NULL, body TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE schema_version (version INTEGER NOT NULL);
INSERT INTO "schema_version" VALUES(5);
CREATE TABLE setting (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE source (
        sha256 TEXT PRIMARY KEY,
        import_id INTEGER NOT NULL REFERENCES import ON DELETE CASCADE,
        name TEXT NOT NULL,
        bytes INTEGER NOT NULL
    ) WITHOUT ROWID;
INSERT INTO "source" VALUES('ab12',1,'heron.csv',10);
COMMIT;
