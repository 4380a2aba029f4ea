BEGIN TRANSACTION;
CREATE TABLE book (
	id INTEGER NOT NULL CHECK (id = 1), 
	schema_version INTEGER NOT NULL, 
	program VARCHAR(40) NOT NULL, 
	created_at VARCHAR(40) NOT NULL, 
	PRIMARY KEY (id)
);
INSERT INTO "book" VALUES(1,7,'0.1.0','2026-11-25T00:12:59+00:00');
CREATE TABLE conditions (
	sweep_id INTEGER NOT NULL, 
	string TEXT NOT NULL, 
	place INTEGER NOT NULL, 
	fitting_id INTEGER, 
	note TEXT NOT NULL, 
	verdict VARCHAR(20) NOT NULL, 
	dead_score DOUBLE, 
	false_score DOUBLE, 
	n_plucks INTEGER NOT NULL, 
	reasons JSON NOT NULL, 
	next_step TEXT NOT NULL, 
	condition JSON NOT NULL, 
	program VARCHAR(40) NOT NULL, 
	PRIMARY KEY (sweep_id, string), 
	FOREIGN KEY(sweep_id) REFERENCES sweeps (id), 
	FOREIGN KEY(fitting_id) REFERENCES fittings (id)
);
INSERT INTO "conditions" VALUES(1,'4E',0,1,'C4','sound',12.5,12.5,2,'["As fresh."]','','{"string": "4E", "note": "C4", "verdict": "sound", "dead_score": 12.5, "false_score": 12.5, "n_plucks": 2, "reasons": ["As fresh."], "next_step": "", "figures": {"pitch_hz": {"value": 261.5, "se": 0.1, "reason": null}}, "fresh": {}}','0.1.0');
INSERT INTO "conditions" VALUES(1,'4D',1,2,'C4','sound',12.5,12.5,2,'["As fresh."]','','{"string": "4D", "note": "C4", "verdict": "sound", "dead_score": 12.5, "false_score": 12.5, "n_plucks": 2, "reasons": ["As fresh."], "next_step": "", "figures": {"pitch_hz": {"value": 261.5, "se": 0.1, "reason": null}}, "fresh": {}}','0.1.0');
INSERT INTO "conditions" VALUES(1,'4C',2,4,'C4','sound',12.5,12.5,2,'["As fresh."]','','{"string": "4C", "note": "C4", "verdict": "sound", "dead_score": 12.5, "false_score": 12.5, "n_plucks": 2, "reasons": ["As fresh."], "next_step": "", "figures": {"pitch_hz": {"value": 261.5, "se": 0.1, "reason": null}}, "fresh": {}}','0.1.0');
CREATE TABLE corrections (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	fitting_id INTEGER NOT NULL, 
	field TEXT NOT NULL, 
	"before" TEXT, 
	"after" TEXT, 
	date DATE NOT NULL, 
	why TEXT DEFAULT '' NOT NULL, 
	FOREIGN KEY(fitting_id) REFERENCES fittings (id)
);
INSERT INTO "corrections" VALUES(1,3,'supplier',NULL,'corner shop','2024-06-01','found the bill');
INSERT INTO "corrections" VALUES(2,5,'entry','2024-05-20 to today',NULL,'2024-06-01','it was 4D');
INSERT INTO "corrections" VALUES(3,1,'removed_on','2024-05-20',NULL,'2024-06-01','it was 4D');
INSERT INTO "corrections" VALUES(4,1,'why_removed','dead',NULL,'2024-06-01','it was 4D');
CREATE TABLE events (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	harp_id INTEGER NOT NULL, 
	sweep_id INTEGER, 
	date DATE NOT NULL, 
	kind TEXT NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	temperature_c DOUBLE, 
	humidity_pct DOUBLE, 
	FOREIGN KEY(harp_id) REFERENCES harps (id), 
	FOREIGN KEY(sweep_id) REFERENCES sweeps (id)
);
INSERT INTO "events" VALUES(1,1,1,'2024-05-01','climate','',20.5,45.0);
CREATE TABLE fittings (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	harp_id INTEGER NOT NULL, 
	string TEXT NOT NULL, 
	fitted_on DATE, 
	removed_on DATE, 
	material TEXT, 
	gauge_mm DOUBLE, 
	supplier TEXT, 
	batch TEXT, 
	why_removed TEXT, 
	broke_at TEXT, 
	is_stand_in BOOLEAN DEFAULT 0 NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	withdrawn_on DATE, is_supposed BOOLEAN DEFAULT 0 NOT NULL, 
	CONSTRAINT off_after_on CHECK (removed_on >= fitted_on), 
	FOREIGN KEY(harp_id) REFERENCES harps (id)
);
INSERT INTO "fittings" VALUES(1,1,'4E',NULL,NULL,'nylon',1.0,NULL,NULL,NULL,NULL,0,'',NULL,0);
INSERT INTO "fittings" VALUES(2,1,'4D',NULL,NULL,'nylon',1.05,NULL,NULL,NULL,NULL,0,'',NULL,0);
INSERT INTO "fittings" VALUES(3,1,'4C',NULL,'2024-03-01','nylon',1.27,'corner shop',NULL,'broke','knot',0,'',NULL,0);
INSERT INTO "fittings" VALUES(4,1,'4C','2024-03-01',NULL,'gut',1.3,'a shop','7',NULL,NULL,0,'',NULL,0);
INSERT INTO "fittings" VALUES(5,1,'4E','2024-05-20','2024-05-20',NULL,NULL,NULL,NULL,NULL,NULL,0,'','2024-06-01',0);
CREATE TABLE harps (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	name TEXT NOT NULL, 
	preset TEXT, 
	tuning TEXT, 
	a4_hz DOUBLE NOT NULL, 
	instrument JSON NOT NULL, 
	created_at VARCHAR(40) NOT NULL, 
	UNIQUE (name)
);
INSERT INTO "harps" VALUES(1,'Linnet','lever-34','Eb',440.0,'{"name": "small lever harp", "a4_hz": 440.0, "tuning": "Eb", "strings": [{"name": "4E", "note": "Eb4", "expected_hz": 311.127, "material": "nylon", "length_mm": 500.0, "gauge_mm": 1.0, "mechanism": true, "follows_tuning": true}, {"name": "4D", "note": "D4", "expected_hz": 293.665, "material": "nylon", "length_mm": 530.0, "gauge_mm": 1.05, "mechanism": true, "follows_tuning": true}, {"name": "4C", "note": "C4", "expected_hz": 261.626, "material": "nylon", "length_mm": 570.6, "gauge_mm": 1.27, "mechanism": false, "follows_tuning": true}], "kind": null}','2026-11-24T22:50:05+00:00');
CREATE TABLE owner_settings (
	harp_id INTEGER NOT NULL, 
	log_began DATE, 
	tolerance JSON NOT NULL, 
	habits JSON NOT NULL, 
	PRIMARY KEY (harp_id), 
	FOREIGN KEY(harp_id) REFERENCES harps (id)
);
INSERT INTO "owner_settings" VALUES(1,'2023-01-01','{"cents": 2.0, "ahead_days": 3.0}','{"shelf_life_days": {"gut": 365, "wire": 730, "nylon": 1095}, "lead_time_days": 21, "settle_days": {"wire": [1.0, 2.0], "gut": [5.0, 7.0], "nylon": [5.0, 7.0], "fluorocarbon": [5.0, 7.0], "wound nylon": [5.0, 7.0]}, "sweep_every_days": 31, "regulation_every_days": 365}');
CREATE TABLE pitch_readings (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	harp_id INTEGER NOT NULL, 
	fitting_id INTEGER, 
	sweep_id INTEGER, 
	string TEXT NOT NULL, 
	note TEXT NOT NULL, 
	at DATETIME NOT NULL, 
	found_hz DOUBLE, 
	found_hz_se DOUBLE, 
	left_hz DOUBLE, 
	left_hz_se DOUBLE, 
	found_sha256 VARCHAR(64), 
	left_sha256 VARCHAR(64), 
	CONSTRAINT one_check_at_a_time UNIQUE (harp_id, string, at), 
	FOREIGN KEY(harp_id) REFERENCES harps (id), 
	FOREIGN KEY(fitting_id) REFERENCES fittings (id), 
	FOREIGN KEY(sweep_id) REFERENCES sweeps (id)
);
INSERT INTO "pitch_readings" VALUES(1,1,4,NULL,'4C','C4','2024-03-02 12:00:00.000000',260.5,0.1,261.6,0.1,'bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb','cccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccc');
CREATE TABLE "plucks" (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	sweep_id INTEGER NOT NULL, 
	recording_id INTEGER NOT NULL, 
	fitting_id INTEGER, 
	place INTEGER NOT NULL, 
	is_fresh BOOLEAN NOT NULL, 
	string TEXT NOT NULL, 
	note TEXT NOT NULL, 
	onset_s DOUBLE NOT NULL, 
	ring_s DOUBLE, 
	snr_db DOUBLE, 
	sureness DOUBLE NOT NULL, 
	pitch_hz DOUBLE, 
	pitch_hz_se DOUBLE, 
	cents_off DOUBLE, 
	cents_off_se DOUBLE, 
	inharmonicity DOUBLE, 
	inharmonicity_se DOUBLE, 
	t60_s DOUBLE, 
	t60_s_se DOUBLE, 
	centroid_hz DOUBLE, 
	centroid_hz_se DOUBLE, 
	centroid_ratio DOUBLE, 
	centroid_ratio_se DOUBLE, 
	centroid_partials_hz DOUBLE, 
	centroid_partials_hz_se DOUBLE, 
	beat_hz DOUBLE, 
	beat_hz_se DOUBLE, 
	beat_depth_db DOUBLE, 
	beat_depth_db_se DOUBLE, 
	trueness_cents DOUBLE, 
	trueness_cents_se DOUBLE, 
	glide_cents DOUBLE, 
	glide_cents_se DOUBLE, 
	measurement JSON NOT NULL, 
	clip TEXT, 
	clip_gain DOUBLE NOT NULL, 
	FOREIGN KEY(sweep_id) REFERENCES sweeps (id), 
	FOREIGN KEY(recording_id) REFERENCES recordings (id), 
	FOREIGN KEY(fitting_id) REFERENCES fittings (id)
);
INSERT INTO "plucks" VALUES(1,1,1,1,0,1,'4E','C4',0.25,2.5,41.0,0.97,261.5,0.1,65.375,3.33333333333333328707e-02,52.3,3.33333333333333328707e-02,4.35833333333333357035e+01,3.33333333333333328707e-02,3.73571428571428540985e+01,3.33333333333333328707e-02,32.6875,3.33333333333333328707e-02,2.90555555555555571345e+01,3.33333333333333328707e-02,NULL,NULL,NULL,NULL,2.17916666666666678517e+01,3.33333333333333328707e-02,2.01153846153846167506e+01,3.33333333333333328707e-02,'{"string": "4E", "note": "C4", "onset_s": 0.25, "ring_s": 2.5, "sureness": 0.97, "snr_db": 41.0, "pitch_hz": {"value": 261.5, "se": 0.1, "reason": null}, "cents_off": {"value": 65.375, "se": 0.03333333333333333, "reason": null}, "inharmonicity": {"value": 52.3, "se": 0.03333333333333333, "reason": null}, "t60_s": {"value": 43.583333333333336, "se": 0.03333333333333333, "reason": null}, "centroid_hz": {"value": 37.357142857142854, "se": 0.03333333333333333, "reason": null}, "centroid_ratio": {"value": 32.6875, "se": 0.03333333333333333, "reason": null}, "centroid_partials_hz": {"value": 29.055555555555557, "se": 0.03333333333333333, "reason": null}, "beat_hz": {"value": null, "se": null, "reason": "no beat"}, "beat_depth_db": {"value": null, "se": null, "reason": "no beat"}, "trueness_cents": {"value": 21.791666666666668, "se": 0.03333333333333333, "reason": null}, "glide_cents": {"value": 20.115384615384617, "se": 0.03333333333333333, "reason": null}, "partials": [{"n": 1, "freq_hz": 261.5, "freq_se_hz": 0.01, "level_db": -3.0, "snr_db": 40.0, "t60_s": 1.5, "t60_se_s": null, "astray_cents": null, "beat_hz": null, "beat_depth_db": null}, {"n": 2, "freq_hz": 523.0, "freq_se_hz": 0.01, "level_db": -6.0, "snr_db": 40.0, "t60_s": 0.75, "t60_se_s": null, "astray_cents": null, "beat_hz": null, "beat_depth_db": null}, {"n": 3, "freq_hz": 784.5, "freq_se_hz": 0.01, "level_db": -9.0, "snr_db": 40.0, "t60_s": 0.5, "t60_se_s": null, "astray_cents": null, "beat_hz": null, "beat_depth_db": null}], "flags": ["rings into the next"]}',NULL,1.0);
INSERT INTO "plucks" VALUES(2,1,1,2,1,1,'4D','C4',1.25,2.5,41.0,0.97,261.5,0.1,65.375,3.33333333333333328707e-02,52.3,3.33333333333333328707e-02,4.35833333333333357035e+01,3.33333333333333328707e-02,3.73571428571428540985e+01,3.33333333333333328707e-02,32.6875,3.33333333333333328707e-02,2.90555555555555571345e+01,3.33333333333333328707e-02,NULL,NULL,NULL,NULL,2.17916666666666678517e+01,3.33333333333333328707e-02,2.01153846153846167506e+01,3.33333333333333328707e-02,'{"string": "4D", "note": "C4", "onset_s": 1.25, "ring_s": 2.5, "sureness": 0.97, "snr_db": 41.0, "pitch_hz": {"value": 261.5, "se": 0.1, "reason": null}, "cents_off": {"value": 65.375, "se": 0.03333333333333333, "reason": null}, "inharmonicity": {"value": 52.3, "se": 0.03333333333333333, "reason": null}, "t60_s": {"value": 43.583333333333336, "se": 0.03333333333333333, "reason": null}, "centroid_hz": {"value": 37.357142857142854, "se": 0.03333333333333333, "reason": null}, "centroid_ratio": {"value": 32.6875, "se": 0.03333333333333333, "reason": null}, "centroid_partials_hz": {"value": 29.055555555555557, "se": 0.03333333333333333, "reason": null}, "beat_hz": {"value": null, "se": null, "reason": "no beat"}, "beat_depth_db": {"value": null, "se": null, "reason": "no beat"}, "trueness_cents": {"value": 21.791666666666668, "se": 0.03333333333333333, "reason": null}, "glide_cents": {"value": 20.115384615384617, "se": 0.03333333333333333, "reason": null}, "partials": [{"n": 1, "freq_hz": 261.5, "freq_se_hz": 0.01, "level_db": -3.0, "snr_db": 40.0, "t60_s": 1.5, "t60_se_s": null, "astray_cents": null, "beat_hz": null, "beat_depth_db": null}, {"n": 2, "freq_hz": 523.0, "freq_se_hz": 0.01, "level_db": -6.0, "snr_db": 40.0, "t60_s": 0.75, "t60_se_s": null, "astray_cents": null, "beat_hz": null, "beat_depth_db": null}, {"n": 3, "freq_hz": 784.5, "freq_se_hz": 0.01, "level_db": -9.0, "snr_db": 40.0, "t60_s": 0.5, "t60_se_s": null, "astray_cents": null, "beat_hz": null, "beat_depth_db": null}], "flags": ["rings into the next"]}',NULL,1.0);
INSERT INTO "plucks" VALUES(3,1,1,4,2,1,'4C','C4',2.25,2.5,41.0,0.97,261.5,0.1,65.375,3.33333333333333328707e-02,52.3,3.33333333333333328707e-02,4.35833333333333357035e+01,3.33333333333333328707e-02,3.73571428571428540985e+01,3.33333333333333328707e-02,32.6875,3.33333333333333328707e-02,2.90555555555555571345e+01,3.33333333333333328707e-02,NULL,NULL,NULL,NULL,2.17916666666666678517e+01,3.33333333333333328707e-02,2.01153846153846167506e+01,3.33333333333333328707e-02,'{"string": "4C", "note": "C4", "onset_s": 2.25, "ring_s": 2.5, "sureness": 0.97, "snr_db": 41.0, "pitch_hz": {"value": 261.5, "se": 0.1, "reason": null}, "cents_off": {"value": 65.375, "se": 0.03333333333333333, "reason": null}, "inharmonicity": {"value": 52.3, "se": 0.03333333333333333, "reason": null}, "t60_s": {"value": 43.583333333333336, "se": 0.03333333333333333, "reason": null}, "centroid_hz": {"value": 37.357142857142854, "se": 0.03333333333333333, "reason": null}, "centroid_ratio": {"value": 32.6875, "se": 0.03333333333333333, "reason": null}, "centroid_partials_hz": {"value": 29.055555555555557, "se": 0.03333333333333333, "reason": null}, "beat_hz": {"value": null, "se": null, "reason": "no beat"}, "beat_depth_db": {"value": null, "se": null, "reason": "no beat"}, "trueness_cents": {"value": 21.791666666666668, "se": 0.03333333333333333, "reason": null}, "glide_cents": {"value": 20.115384615384617, "se": 0.03333333333333333, "reason": null}, "partials": [{"n": 1, "freq_hz": 261.5, "freq_se_hz": 0.01, "level_db": -3.0, "snr_db": 40.0, "t60_s": 1.5, "t60_se_s": null, "astray_cents": null, "beat_hz": null, "beat_depth_db": null}, {"n": 2, "freq_hz": 523.0, "freq_se_hz": 0.01, "level_db": -6.0, "snr_db": 40.0, "t60_s": 0.75, "t60_se_s": null, "astray_cents": null, "beat_hz": null, "beat_depth_db": null}, {"n": 3, "freq_hz": 784.5, "freq_se_hz": 0.01, "level_db": -9.0, "snr_db": 40.0, "t60_s": 0.5, "t60_se_s": null, "astray_cents": null, "beat_hz": null, "beat_depth_db": null}], "flags": ["rings into the next"]}',NULL,1.0);
CREATE TABLE recordings (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	sha256 VARCHAR(64) NOT NULL, 
	file_name TEXT NOT NULL, 
	duration_s DOUBLE NOT NULL, 
	rate_hz INTEGER NOT NULL, 
	channels INTEGER NOT NULL, 
	codec TEXT NOT NULL, 
	n_bytes BIGINT NOT NULL, 
	quality JSON NOT NULL, 
	UNIQUE (sha256)
);
INSERT INTO "recordings" VALUES(1,'aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa','a.wav',60.0,8000,1,'wav/PCM_16',960044,'{"peak_db": -3.0, "clipped_s": 0.0, "noise_floor_db": -71.5, "hum_hz": null, "hum_db": null, "low_cut_hz": 40.0, "high_cut_hz": null, "gain_riding": false, "warnings": ["Nothing below 40 Hz."]}');
CREATE TABLE settled (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	fitting_id INTEGER NOT NULL, 
	string TEXT NOT NULL, 
	settled_on DATE NOT NULL, 
	noted_on DATE NOT NULL, 
	creep_cents DOUBLE, 
	baseline_next BOOLEAN DEFAULT 0 NOT NULL, 
	UNIQUE (fitting_id), 
	FOREIGN KEY(fitting_id) REFERENCES fittings (id)
);
INSERT INTO "settled" VALUES(1,4,'4C','2024-03-08','2024-03-10',2.5,1);
CREATE TABLE spares (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	harp_id INTEGER, 
	string TEXT NOT NULL, 
	material TEXT, 
	gauge_mm DOUBLE, 
	place TEXT NOT NULL, 
	bought_on DATE, 
	supplier TEXT, 
	batch TEXT, 
	lead_time_days INTEGER, 
	price TEXT, 
	used_on DATE, 
	fitting_id INTEGER, 
	note TEXT DEFAULT '' NOT NULL, 
	FOREIGN KEY(harp_id) REFERENCES harps (id), 
	FOREIGN KEY(fitting_id) REFERENCES fittings (id)
);
INSERT INTO "spares" VALUES(1,1,'4C','gut',1.27,'bag','2024-02-01','corner shop','7a',10,'12 EUR',NULL,NULL,'');
CREATE TABLE sweep_recordings (
	sweep_id INTEGER NOT NULL, 
	place INTEGER NOT NULL, 
	recording_id INTEGER NOT NULL, 
	harp_id INTEGER NOT NULL, 
	PRIMARY KEY (sweep_id, place), 
	CONSTRAINT once_for_each_harp UNIQUE (harp_id, recording_id), 
	FOREIGN KEY(sweep_id) REFERENCES sweeps (id), 
	FOREIGN KEY(recording_id) REFERENCES recordings (id), 
	FOREIGN KEY(harp_id) REFERENCES harps (id)
);
INSERT INTO "sweep_recordings" VALUES(1,0,1,1);
CREATE TABLE sweeps (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	harp_id INTEGER NOT NULL, 
	date DATE NOT NULL, 
	is_fresh BOOLEAN NOT NULL, 
	tuning TEXT, 
	a4_hz DOUBLE NOT NULL, 
	instrument JSON NOT NULL, 
	warnings JSON NOT NULL, 
	clip_folder TEXT, 
	created_at VARCHAR(40) NOT NULL, 
	program VARCHAR(40) NOT NULL, 
	schema_version INTEGER NOT NULL, remarks JSON DEFAULT '[]' NOT NULL, 
	FOREIGN KEY(harp_id) REFERENCES harps (id)
);
INSERT INTO "sweeps" VALUES(1,1,'2024-05-01',1,'Eb',440.0,'{"name": "small lever harp", "a4_hz": 440.0, "tuning": "Eb", "strings": [{"name": "4E", "note": "Eb4", "expected_hz": 311.127, "material": "nylon", "length_mm": 500.0, "gauge_mm": 1.0, "mechanism": true, "follows_tuning": true}, {"name": "4D", "note": "D4", "expected_hz": 293.665, "material": "nylon", "length_mm": 530.0, "gauge_mm": 1.05, "mechanism": true, "follows_tuning": true}, {"name": "4C", "note": "C4", "expected_hz": 261.626, "material": "nylon", "length_mm": 570.6, "gauge_mm": 1.27, "mechanism": false, "follows_tuning": true}], "kind": null}','[]','2024-05-01-87177d3e','2026-11-24T22:50:05+00:00','0.1.0',1,'[]');
CREATE TABLE unheard (
	sweep_id INTEGER NOT NULL, 
	string TEXT NOT NULL, 
	place INTEGER NOT NULL, 
	PRIMARY KEY (sweep_id, string), 
	FOREIGN KEY(sweep_id) REFERENCES sweeps (id)
);
INSERT INTO "unheard" VALUES(1,'4B',0);
CREATE INDEX ix_fittings_harp_id ON fittings (harp_id);
CREATE UNIQUE INDEX one_string_on ON fittings (harp_id, string) WHERE removed_on IS NULL;
CREATE INDEX ix_sweeps_harp_id ON sweeps (harp_id);
CREATE INDEX ix_sweep_recordings_recording_id ON sweep_recordings (recording_id);
CREATE INDEX ix_conditions_fitting_id ON conditions (fitting_id);
CREATE INDEX ix_pitch_readings_fitting_id ON pitch_readings (fitting_id);
CREATE INDEX ix_pitch_readings_harp_id ON pitch_readings (harp_id);
CREATE INDEX ix_pitch_readings_sweep_id ON pitch_readings (sweep_id);
CREATE INDEX ix_spares_harp_id ON spares (harp_id);
CREATE INDEX ix_spares_fitting_id ON spares (fitting_id);
CREATE INDEX ix_events_harp_id ON events (harp_id);
CREATE INDEX ix_events_sweep_id ON events (sweep_id);
CREATE INDEX ix_corrections_fitting_id ON corrections (fitting_id);
CREATE INDEX ix_plucks_recording_id ON plucks (recording_id);
CREATE INDEX ix_plucks_sweep_id ON plucks (sweep_id);
CREATE INDEX ix_plucks_fitting_id ON plucks (fitting_id);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('harps',1);
INSERT INTO "sqlite_sequence" VALUES('recordings',1);
INSERT INTO "sqlite_sequence" VALUES('fittings',5);
INSERT INTO "sqlite_sequence" VALUES('sweeps',1);
INSERT INTO "sqlite_sequence" VALUES('pitch_readings',1);
INSERT INTO "sqlite_sequence" VALUES('settled',1);
INSERT INTO "sqlite_sequence" VALUES('spares',1);
INSERT INTO "sqlite_sequence" VALUES('events',1);
INSERT INTO "sqlite_sequence" VALUES('corrections',4);
INSERT INTO "sqlite_sequence" VALUES('plucks',3);
COMMIT;
