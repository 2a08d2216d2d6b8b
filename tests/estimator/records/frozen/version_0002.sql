-- Records as the second version of the tables held them: those of the first, with what visits and clients are found by.
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0002');
CREATE TABLE answer (
	visit_id VARCHAR(32) NOT NULL, 
	place INTEGER NOT NULL, 
	code VARCHAR(80) NOT NULL, 
	who TEXT NOT NULL, 
	"when" DATE NOT NULL, 
	what TEXT NOT NULL, 
	strength_volume DOUBLE, 
	"where" TEXT NOT NULL, 
	zone TEXT NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_answer PRIMARY KEY (id), 
	CONSTRAINT fk_answer_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "answer" VALUES('e565e33ed5804ccb916894f44e94f909',0,'ask-a-doctor','the client''s doctor','2026-10-05','fine while calm',NULL,'','','52bc5256c58e4edfae9cf33977c1e7e8');
CREATE TABLE change (
	sequence INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	at_utc DATETIME NOT NULL, 
	who TEXT NOT NULL, 
	what VARCHAR(80) NOT NULL, 
	undoes INTEGER, 
	undone BOOLEAN NOT NULL, 
	CONSTRAINT fk_change_undoes_change FOREIGN KEY(undoes) REFERENCES change (sequence)
);
INSERT INTO "change" VALUES(1,'2026-11-25 13:10:57.758374','','visit kept',NULL,0);
INSERT INTO "change" VALUES(2,'2026-11-25 13:10:57.806563','','visit kept',NULL,0);
INSERT INTO "change" VALUES(3,'2026-11-25 13:10:57.817137','','client',NULL,0);
CREATE TABLE client (
	code TEXT NOT NULL, 
	code_folded VARCHAR COLLATE "BINARY" NOT NULL, 
	name TEXT NOT NULL, 
	contact TEXT NOT NULL, 
	demo BOOLEAN NOT NULL, 
	version INTEGER NOT NULL, 
	removed BOOLEAN NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_client PRIMARY KEY (id), 
	CONSTRAINT uq_client_code_folded UNIQUE (code_folded)
);
INSERT INTO "client" VALUES('M. D.','m. d.','Marigold Dunmore','by post',0,2,0,'d424b57ef82442e8a61680c77df33e7f');
INSERT INTO "client" VALUES('Zoë K','zoe k','','',0,1,0,'a38580ce179d482485b8a5ca15861865');
CREATE TABLE client_word (
	word VARCHAR COLLATE "BINARY" NOT NULL, 
	client_id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_client_word PRIMARY KEY (word, client_id), 
	CONSTRAINT fk_client_word_client_id_client FOREIGN KEY(client_id) REFERENCES client (id)
)
 WITHOUT ROWID

;
INSERT INTO "client_word" VALUES('k','a38580ce179d482485b8a5ca15861865');
INSERT INTO "client_word" VALUES('zoe','a38580ce179d482485b8a5ca15861865');
INSERT INTO "client_word" VALUES('d','d424b57ef82442e8a61680c77df33e7f');
INSERT INTO "client_word" VALUES('d.','d424b57ef82442e8a61680c77df33e7f');
INSERT INTO "client_word" VALUES('dunmore','d424b57ef82442e8a61680c77df33e7f');
INSERT INTO "client_word" VALUES('m','d424b57ef82442e8a61680c77df33e7f');
INSERT INTO "client_word" VALUES('m.','d424b57ef82442e8a61680c77df33e7f');
INSERT INTO "client_word" VALUES('marigold','d424b57ef82442e8a61680c77df33e7f');
CREATE TABLE clock_event (
	visit_id VARCHAR(32) NOT NULL, 
	place INTEGER NOT NULL, 
	kind VARCHAR(20) NOT NULL, 
	zone TEXT NOT NULL, 
	at_utc DATETIME NOT NULL, 
	content JSON NOT NULL, 
	version INTEGER NOT NULL, 
	removed BOOLEAN NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_clock_event PRIMARY KEY (id), 
	CONSTRAINT fk_clock_event_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "clock_event" VALUES('e565e33ed5804ccb916894f44e94f909',0,'start','crown','2026-10-05 09:30:00.000000','{"most_minutes": 20.0}',1,0,'4ca49763603e47abbe7b1ccabe7f0873');
INSERT INTO "clock_event" VALUES('0cfb3e9a1dd7458eb864e102f039ce32',0,'start','crown','2026-10-05 09:30:00.000000','{"most_minutes": 20.0}',1,0,'b28ddc4e942d4d3081f2b7fcc29a02c7');
CREATE TABLE consent (
	client_id VARCHAR(32) NOT NULL, 
	scope VARCHAR(40) NOT NULL, 
	text TEXT NOT NULL, 
	given_on DATE NOT NULL, 
	how TEXT NOT NULL, 
	withdrawn_on DATE, 
	withdrawn_how TEXT NOT NULL, 
	version INTEGER NOT NULL, 
	removed BOOLEAN NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_consent PRIMARY KEY (id), 
	CONSTRAINT fk_consent_client_id_client FOREIGN KEY(client_id) REFERENCES client (id)
);
INSERT INTO "consent" VALUES('d424b57ef82442e8a61680c77df33e7f','record','I agree that the salon keeps a record of my visits: what was measured, planned and done, and photographs of my hair. I can see it, have a copy, or have it erased at any time.','2026-10-05','signed',NULL,'',1,0,'45e989536adf472ea75f1f7dccef59aa');
INSERT INTO "consent" VALUES('d424b57ef82442e8a61680c77df33e7f','health answers','I agree that the salon keeps my answers on allergies, skin, medicines and health, to judge what may be done to my hair. I can take this back at any time.','2026-10-05','signed',NULL,'',1,0,'578a83d8a5e04861910f473a0ab21d43');
INSERT INTO "consent" VALUES('a38580ce179d482485b8a5ca15861865','record','I agree that the salon keeps a record of my visits: what was measured, planned and done, and photographs of my hair. I can see it, have a copy, or have it erased at any time.','2026-10-05','signed',NULL,'',1,0,'8c7c7f3ca5dc4489b5056e4d178104f4');
CREATE TABLE consultation (
	client_id VARCHAR(32) NOT NULL, 
	day DATE NOT NULL, 
	facts JSON NOT NULL, 
	version INTEGER NOT NULL, 
	removed BOOLEAN NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_consultation PRIMARY KEY (id), 
	CONSTRAINT fk_consultation_client_id_client FOREIGN KEY(client_id) REFERENCES client (id)
);
INSERT INTO "consultation" VALUES('d424b57ef82442e8a61680c77df33e7f','2026-10-05','{"age_years": 34.0, "scalp_state": "sound", "earlier_colour": ["dark"]}',1,0,'46f964c66d154cac95f6ff3ea493afda');
CREATE TABLE document (
	visit_id VARCHAR(32) NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	ending VARCHAR(8) NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_document PRIMARY KEY (id), 
	CONSTRAINT fk_document_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "document" VALUES('e565e33ed5804ccb916894f44e94f909','5caaf7821d8a4c47640b3dec0a0b83e968f41d6e57d822b787d242cd2cdfe6d7','pdf','02f6ddeaf7894ed08a1549d62cd788ea');
INSERT INTO "document" VALUES('e565e33ed5804ccb916894f44e94f909','1fe57ab7daec7f26fb5db3e04b1860057e5198634687630b9b9f9a81a9c790fd','html','1759fa5ef3ef4929b83f02a70e1d103f');
CREATE TABLE erasure (
	at_utc DATETIME NOT NULL, 
	client_id VARCHAR(32) NOT NULL, 
	rows INTEGER NOT NULL, 
	files INTEGER NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_erasure PRIMARY KEY (id)
);
CREATE TABLE finding (
	visit_id VARCHAR(32) NOT NULL, 
	place INTEGER NOT NULL, 
	about VARCHAR(20) NOT NULL, 
	code VARCHAR(80) NOT NULL, 
	weight VARCHAR(20) NOT NULL, 
	"where" TEXT NOT NULL, 
	message TEXT NOT NULL, 
	remedy TEXT NOT NULL, 
	source TEXT NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_finding PRIMARY KEY (id), 
	CONSTRAINT fk_finding_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "finding" VALUES('e565e33ed5804ccb916894f44e94f909',0,'photo','glare','care','card','The card shines.','Tilt it.','our assumption','abd6e44355814855bf04b0ae60af008a');
INSERT INTO "finding" VALUES('e565e33ed5804ccb916894f44e94f909',1,'care','ask-a-doctor','test first','','Ask.','Ask a doctor.','common practice','d26970ab9009407ca2aab63e33cad4dd');
INSERT INTO "finding" VALUES('0cfb3e9a1dd7458eb864e102f039ce32',0,'photo','glare','care','card','The card shines.','Tilt it.','our assumption','449c7892df05427996040577de772be8');
CREATE TABLE mixed (
	visit_id VARCHAR(32) NOT NULL, 
	bowl_number INTEGER NOT NULL, 
	zones JSON NOT NULL, 
	shade_grams JSON NOT NULL, 
	developer_grams DOUBLE NOT NULL, 
	developer_volume DOUBLE NOT NULL, 
	minutes DOUBLE, 
	note TEXT NOT NULL, 
	version INTEGER NOT NULL, 
	removed BOOLEAN NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_mixed PRIMARY KEY (id), 
	CONSTRAINT fk_mixed_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "mixed" VALUES('e565e33ed5804ccb916894f44e94f909',1,'["crown"]','[["violet", 20.5], ["clear", 10.0]]',61.0,6.0,12.0,'a little more',1,0,'d0352546e5df485ba036627cda58c536');
INSERT INTO "mixed" VALUES('0cfb3e9a1dd7458eb864e102f039ce32',1,'["crown"]','[["violet", 20.5], ["clear", 10.0]]',61.0,6.0,12.0,'a little more',1,0,'aa7d7664a84243b4b07693b71565d1c8');
CREATE TABLE note (
	client_id VARCHAR(32) NOT NULL, 
	visit_id VARCHAR(32), 
	day DATE NOT NULL, 
	text TEXT NOT NULL, 
	version INTEGER NOT NULL, 
	removed BOOLEAN NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_note PRIMARY KEY (id), 
	CONSTRAINT fk_note_client_id_client FOREIGN KEY(client_id) REFERENCES client (id), 
	CONSTRAINT fk_note_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "note" VALUES('d424b57ef82442e8a61680c77df33e7f','e565e33ed5804ccb916894f44e94f909','2026-10-05','Likes it cool.',1,0,'9a42dde2eeff4a68846ee3062b8921c4');
INSERT INTO "note" VALUES('a38580ce179d482485b8a5ca15861865','0cfb3e9a1dd7458eb864e102f039ce32','2026-10-07','Likes it cool.',1,0,'c743aefc84274d4c8b3676eb7e8ce621');
CREATE TABLE outcome (
	visit_id VARCHAR(32) NOT NULL, 
	zone TEXT NOT NULL, 
	told TEXT NOT NULL, 
	content JSON NOT NULL, 
	version INTEGER NOT NULL, 
	removed BOOLEAN NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_outcome PRIMARY KEY (id), 
	CONSTRAINT fk_outcome_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "outcome" VALUES('e565e33ed5804ccb916894f44e94f909','crown','as wished','{"delta_e_2000": 1.4}',1,0,'d33730e5f07c4be896b58d3f58d96d59');
INSERT INTO "outcome" VALUES('0cfb3e9a1dd7458eb864e102f039ce32','crown','as wished','{"delta_e_2000": 1.4}',1,0,'c29c19a8bae14df292c583c9d9149ecf');
CREATE TABLE photo (
	visit_id VARCHAR(32) NOT NULL, 
	place INTEGER NOT NULL, 
	side VARCHAR(20) NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	original_sha256 VARCHAR(64) NOT NULL, 
	thumbnail_sha256 VARCHAR(64) NOT NULL, 
	ending VARCHAR(8) NOT NULL, 
	width_px INTEGER NOT NULL, 
	height_px INTEGER NOT NULL, 
	verdict VARCHAR(20) NOT NULL, 
	verified BOOLEAN NOT NULL, 
	method TEXT NOT NULL, 
	held_out_de2000 DOUBLE, 
	pipeline_version INTEGER NOT NULL, 
	steps JSON NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_photo PRIMARY KEY (id), 
	CONSTRAINT fk_photo_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "photo" VALUES('e565e33ed5804ccb916894f44e94f909',0,'before','3c5906b0aac0b549ebda69edb1c167a19c38ab2890ac1cb35ac3aa172985e5e7','97e9c7df5a338462d6049edf6bda18311594286067600f45038f5e552ec5cdbc','3587115010a06f427b6080a25e62a60e3a79e8a7996e49f410d8d6ea812e48e6','jpg',640,480,'usable',1,'root-polynomial',1.5,1,'[{"name": "open", "version": 1, "settings": {}, "effect": {}}]','062d4a036e9e479ba4a55a4766cd873d');
INSERT INTO "photo" VALUES('e565e33ed5804ccb916894f44e94f909',1,'after','73bfac546ab51709aa195cf10e22e236303afaadca6a283e155b5813631c7754','f1dc5b470915c32ed6ad6d2057f2f2fe0f9487448b2a6a33282c9abbf9785c7a','03c5ef23ae8c33614ee56abce02adaa1cc9325aadf6000b218abfc3aa5c67e6b','jpg',640,480,'usable',1,'root-polynomial',1.5,1,'[{"name": "open", "version": 1, "settings": {}, "effect": {}}]','25451b68b9bf422ea3e3fdfe3bb577a7');
INSERT INTO "photo" VALUES('0cfb3e9a1dd7458eb864e102f039ce32',0,'before','67def5d7aeeb06c89732c2a3ec8430dd0d63483d57dcd426e33020c72115654d','1eab805424d715419994591790b60df8b8b748dbf11aca5d58b669289bf7ad36','5d1c02944817ea4ece8c9d1e83bed6e97e4ed8998b2cf95194790fc31ad1cb07','jpg',640,480,'usable',1,'root-polynomial',1.5,1,'[{"name": "open", "version": 1, "settings": {}, "effect": {}}]','cafc35917f4744849b993b2943d6a880');
INSERT INTO "photo" VALUES('0cfb3e9a1dd7458eb864e102f039ce32',1,'after','fe8ca85bde765941075f2bb5d85b93d19d921998ff726ecd47eebc1914632a95','4395a661b3d88b6dd5715090bf8c3ef8c5bf634ff8ca19dceb311cf23973dbbf','11bd0c4f4fec6042ec66ffa03a84e5501893b0ecbafed61fcd2b02f58ee2a39d','jpg',640,480,'usable',1,'root-polynomial',1.5,1,'[{"name": "open", "version": 1, "settings": {}, "effect": {}}]','a25a939386f34d069bc4bf5e9e6b81f9');
CREATE TABLE "plan" (
	visit_id VARCHAR(32) NOT NULL, 
	shelf TEXT NOT NULL, 
	content JSON NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_plan PRIMARY KEY (id), 
	CONSTRAINT fk_plan_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "plan" VALUES('e565e33ed5804ccb916894f44e94f909','demo shelf','{"bowls": [{"number": 1, "parts": [["violet", 2], ["clear", 1]]}]}','07e0058f7e304cad9fe673ed76f2516a');
INSERT INTO "plan" VALUES('0cfb3e9a1dd7458eb864e102f039ce32','demo shelf','{"bowls": [{"number": 1, "parts": [["violet", 2], ["clear", 1]]}]}','3c846f5a26274473b46a90012db3aad4');
CREATE TABLE quote (
	client_id VARCHAR(32) NOT NULL, 
	visit_id VARCHAR(32), 
	seen_on DATE NOT NULL, 
	visits_low INTEGER NOT NULL, 
	visits_high INTEGER NOT NULL, 
	hours_low DOUBLE NOT NULL, 
	hours_high DOUBLE NOT NULL, 
	price_low DOUBLE NOT NULL, 
	price_high DOUBLE NOT NULL, 
	currency VARCHAR(8) NOT NULL, 
	text TEXT NOT NULL, 
	version INTEGER NOT NULL, 
	removed BOOLEAN NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_quote PRIMARY KEY (id), 
	CONSTRAINT fk_quote_client_id_client FOREIGN KEY(client_id) REFERENCES client (id), 
	CONSTRAINT fk_quote_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "quote" VALUES('d424b57ef82442e8a61680c77df33e7f','e565e33ed5804ccb916894f44e94f909','2026-10-05',1,2,2.0,3.5,90.0,140.0,'EUR','as shown',1,0,'6378f7303e4a438b9f1554adc168a637');
INSERT INTO "quote" VALUES('a38580ce179d482485b8a5ca15861865','0cfb3e9a1dd7458eb864e102f039ce32','2026-10-05',1,2,2.0,3.5,90.0,140.0,'EUR','as shown',1,0,'29581c5ecdfd463094734e5c99acb55d');
CREATE TABLE reading (
	visit_id VARCHAR(32) NOT NULL, 
	zone_id VARCHAR(32) NOT NULL, 
	side VARCHAR(20) NOT NULL, 
	photos JSON NOT NULL, 
	lab_l DOUBLE NOT NULL, 
	lab_a DOUBLE NOT NULL, 
	lab_b DOUBLE NOT NULL, 
	covariance JSON NOT NULL, 
	shared_covariance JSON NOT NULL, 
	spread_lab JSON NOT NULL, 
	profile JSON NOT NULL, 
	level DOUBLE NOT NULL, 
	level_low DOUBLE NOT NULL, 
	level_high DOUBLE NOT NULL, 
	level_beyond VARCHAR(40) NOT NULL, 
	scale TEXT NOT NULL, 
	warmth JSON NOT NULL, 
	stage VARCHAR(40) NOT NULL, 
	pixels INTEGER NOT NULL, 
	verified BOOLEAN NOT NULL, 
	proposed BOOLEAN NOT NULL, 
	verdict VARCHAR(20) NOT NULL, 
	basis JSON NOT NULL, 
	pipeline_version INTEGER NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_reading PRIMARY KEY (id), 
	CONSTRAINT fk_reading_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id), 
	CONSTRAINT fk_reading_zone_id_zone FOREIGN KEY(zone_id) REFERENCES zone (id)
);
INSERT INTO "reading" VALUES('e565e33ed5804ccb916894f44e94f909','684291f656c042f89946bcd54ff92979','before','["aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"]',52.1,6.0,21.3,'[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','[1.0, 0.5, 0.5]','[{"share": 0.1, "lab_d65": [50.0, 6.0, 20.0], "lightness_sd": 1.0}]',7.2,6.8,7.6000000000000005329e+00,'','default scale','{"warmth_chroma": 12.0, "warmth_hue_deg": 70.0, "stage": "gold", "other_stages": []}','gold',4000,1,0,'usable','["One photograph with a card."]',1,'eeec66da80b84627963c34b8e0bc6783');
INSERT INTO "reading" VALUES('e565e33ed5804ccb916894f44e94f909','73642c74168149cc98e51c3a57491d8f','before','["aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"]',52.1,6.0,21.3,'[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','[1.0, 0.5, 0.5]','[{"share": 0.1, "lab_d65": [50.0, 6.0, 20.0], "lightness_sd": 1.0}]',5.6,5.19999999999999928945e+00,6.0,'','default scale','{"warmth_chroma": 12.0, "warmth_hue_deg": 70.0, "stage": "orange", "other_stages": []}','orange',4000,1,0,'usable','["One photograph with a card."]',1,'7e2785966eff43298bcd725b01e51764');
INSERT INTO "reading" VALUES('e565e33ed5804ccb916894f44e94f909','684291f656c042f89946bcd54ff92979','after','["aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"]',52.1,6.0,21.3,'[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','[1.0, 0.5, 0.5]','[{"share": 0.1, "lab_d65": [50.0, 6.0, 20.0], "lightness_sd": 1.0}]',8.6,8.2,9.0,'','default scale','{"warmth_chroma": 12.0, "warmth_hue_deg": 70.0, "stage": "yellow", "other_stages": []}','yellow',4000,1,0,'usable','["One photograph with a card."]',1,'bdfa6f33b56649edaa77e310568b1615');
INSERT INTO "reading" VALUES('0cfb3e9a1dd7458eb864e102f039ce32','7c8e6a9e40104ed5aa62a74c4fc1a224','before','["aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"]',52.1,6.0,21.3,'[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','[1.0, 0.5, 0.5]','[{"share": 0.1, "lab_d65": [50.0, 6.0, 20.0], "lightness_sd": 1.0}]',7.2,6.8,7.6000000000000005329e+00,'','default scale','{"warmth_chroma": 12.0, "warmth_hue_deg": 70.0, "stage": "gold", "other_stages": []}','gold',4000,1,0,'usable','["One photograph with a card."]',1,'540d401b404c4c4daad85fad32963951');
INSERT INTO "reading" VALUES('0cfb3e9a1dd7458eb864e102f039ce32','0fa4851e2eb94d44a5d8ca7c52042c87','before','["aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"]',52.1,6.0,21.3,'[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','[1.0, 0.5, 0.5]','[{"share": 0.1, "lab_d65": [50.0, 6.0, 20.0], "lightness_sd": 1.0}]',5.6,5.19999999999999928945e+00,6.0,'','default scale','{"warmth_chroma": 12.0, "warmth_hue_deg": 70.0, "stage": "orange", "other_stages": []}','orange',4000,1,0,'usable','["One photograph with a card."]',1,'054d03b625034e33b61c905d23a14a27');
INSERT INTO "reading" VALUES('0cfb3e9a1dd7458eb864e102f039ce32','7c8e6a9e40104ed5aa62a74c4fc1a224','after','["aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"]',52.1,6.0,21.3,'[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','[1.0, 0.5, 0.5]','[{"share": 0.1, "lab_d65": [50.0, 6.0, 20.0], "lightness_sd": 1.0}]',8.6,8.2,9.0,'','default scale','{"warmth_chroma": 12.0, "warmth_hue_deg": 70.0, "stage": "yellow", "other_stages": []}','yellow',4000,1,0,'usable','["One photograph with a card."]',1,'b239b1a9ea5e489c8ca53ee650ec9c8f');
CREATE TABLE version (
	id INTEGER NOT NULL, 
	change_sequence INTEGER NOT NULL, 
	"table" VARCHAR(40) NOT NULL, 
	row_id VARCHAR(32) NOT NULL, 
	row_version INTEGER NOT NULL, 
	"before" JSON, 
	CONSTRAINT pk_version PRIMARY KEY (id), 
	CONSTRAINT fk_version_change_sequence_change FOREIGN KEY(change_sequence) REFERENCES change (sequence), 
	CONSTRAINT uq_version_row_id_row_version UNIQUE (row_id, row_version)
);
INSERT INTO "version" VALUES(1,1,'client','d424b57ef82442e8a61680c77df33e7f',0,NULL);
INSERT INTO "version" VALUES(2,1,'consent','45e989536adf472ea75f1f7dccef59aa',0,NULL);
INSERT INTO "version" VALUES(3,1,'consent','578a83d8a5e04861910f473a0ab21d43',0,NULL);
INSERT INTO "version" VALUES(4,1,'consultation','46f964c66d154cac95f6ff3ea493afda',0,NULL);
INSERT INTO "version" VALUES(5,1,'visit','e565e33ed5804ccb916894f44e94f909',0,NULL);
INSERT INTO "version" VALUES(6,1,'mixed','d0352546e5df485ba036627cda58c536',0,NULL);
INSERT INTO "version" VALUES(7,1,'clock_event','4ca49763603e47abbe7b1ccabe7f0873',0,NULL);
INSERT INTO "version" VALUES(8,1,'outcome','d33730e5f07c4be896b58d3f58d96d59',0,NULL);
INSERT INTO "version" VALUES(9,1,'note','9a42dde2eeff4a68846ee3062b8921c4',0,NULL);
INSERT INTO "version" VALUES(10,1,'quote','6378f7303e4a438b9f1554adc168a637',0,NULL);
INSERT INTO "version" VALUES(11,2,'client','a38580ce179d482485b8a5ca15861865',0,NULL);
INSERT INTO "version" VALUES(12,2,'consent','8c7c7f3ca5dc4489b5056e4d178104f4',0,NULL);
INSERT INTO "version" VALUES(13,2,'visit','0cfb3e9a1dd7458eb864e102f039ce32',0,NULL);
INSERT INTO "version" VALUES(14,2,'mixed','aa7d7664a84243b4b07693b71565d1c8',0,NULL);
INSERT INTO "version" VALUES(15,2,'clock_event','b28ddc4e942d4d3081f2b7fcc29a02c7',0,NULL);
INSERT INTO "version" VALUES(16,2,'outcome','c29c19a8bae14df292c583c9d9149ecf',0,NULL);
INSERT INTO "version" VALUES(17,2,'note','c743aefc84274d4c8b3676eb7e8ce621',0,NULL);
INSERT INTO "version" VALUES(18,2,'quote','29581c5ecdfd463094734e5c99acb55d',0,NULL);
INSERT INTO "version" VALUES(19,3,'client','d424b57ef82442e8a61680c77df33e7f',1,'{"contact": "marigold@example.org"}');
CREATE TABLE visit (
	client_id VARCHAR(32) NOT NULL, 
	consultation_id VARCHAR(32), 
	"key" VARCHAR(64) NOT NULL, 
	day DATE NOT NULL, 
	salon TEXT NOT NULL, 
	demo BOOLEAN NOT NULL, 
	care_verdict VARCHAR(20) NOT NULL, 
	health_kept BOOLEAN NOT NULL, 
	program_version VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	removed BOOLEAN NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_visit PRIMARY KEY (id), 
	CONSTRAINT fk_visit_client_id_client FOREIGN KEY(client_id) REFERENCES client (id), 
	CONSTRAINT fk_visit_consultation_id_consultation FOREIGN KEY(consultation_id) REFERENCES consultation (id), 
	CONSTRAINT uq_visit_key UNIQUE ("key")
);
INSERT INTO "visit" VALUES('d424b57ef82442e8a61680c77df33e7f','46f964c66d154cac95f6ff3ea493afda','f722b3f5e1acd85017b70990ba1f8fd1fccabf94de931f50fb5ecfecf58d6e23','2026-10-05','Saltmarsh Lane',0,'caution',1,'0.1.0',1,0,'e565e33ed5804ccb916894f44e94f909');
INSERT INTO "visit" VALUES('a38580ce179d482485b8a5ca15861865',NULL,'c90fe3ea7b2563f9960d68a8bd1148830e572677a02461013bfa3e91e26879bd','2026-10-07','Saltmarsh Lane',0,'',0,'0.1.0',1,0,'0cfb3e9a1dd7458eb864e102f039ce32');
CREATE TABLE visit_tag (
	tag VARCHAR COLLATE "BINARY" NOT NULL, 
	day DATE NOT NULL, 
	visit_id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_visit_tag PRIMARY KEY (tag, day, visit_id), 
	CONSTRAINT fk_visit_tag_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
)
 WITHOUT ROWID

;
INSERT INTO "visit_tag" VALUES('finding:glare','2026-10-07','0cfb3e9a1dd7458eb864e102f039ce32');
INSERT INTO "visit_tag" VALUES('level:6','2026-10-07','0cfb3e9a1dd7458eb864e102f039ce32');
INSERT INTO "visit_tag" VALUES('level:6 stage:orange','2026-10-07','0cfb3e9a1dd7458eb864e102f039ce32');
INSERT INTO "visit_tag" VALUES('level:7','2026-10-07','0cfb3e9a1dd7458eb864e102f039ce32');
INSERT INTO "visit_tag" VALUES('level:7 stage:gold','2026-10-07','0cfb3e9a1dd7458eb864e102f039ce32');
INSERT INTO "visit_tag" VALUES('level:9','2026-10-07','0cfb3e9a1dd7458eb864e102f039ce32');
INSERT INTO "visit_tag" VALUES('level:9 stage:yellow','2026-10-07','0cfb3e9a1dd7458eb864e102f039ce32');
INSERT INTO "visit_tag" VALUES('stage:gold','2026-10-07','0cfb3e9a1dd7458eb864e102f039ce32');
INSERT INTO "visit_tag" VALUES('stage:orange','2026-10-07','0cfb3e9a1dd7458eb864e102f039ce32');
INSERT INTO "visit_tag" VALUES('stage:yellow','2026-10-07','0cfb3e9a1dd7458eb864e102f039ce32');
INSERT INTO "visit_tag" VALUES('tone:beige','2026-10-07','0cfb3e9a1dd7458eb864e102f039ce32');
INSERT INTO "visit_tag" VALUES('finding:ask-a-doctor','2026-10-05','e565e33ed5804ccb916894f44e94f909');
INSERT INTO "visit_tag" VALUES('finding:glare','2026-10-05','e565e33ed5804ccb916894f44e94f909');
INSERT INTO "visit_tag" VALUES('level:6','2026-10-05','e565e33ed5804ccb916894f44e94f909');
INSERT INTO "visit_tag" VALUES('level:6 stage:orange','2026-10-05','e565e33ed5804ccb916894f44e94f909');
INSERT INTO "visit_tag" VALUES('level:7','2026-10-05','e565e33ed5804ccb916894f44e94f909');
INSERT INTO "visit_tag" VALUES('level:7 stage:gold','2026-10-05','e565e33ed5804ccb916894f44e94f909');
INSERT INTO "visit_tag" VALUES('level:9','2026-10-05','e565e33ed5804ccb916894f44e94f909');
INSERT INTO "visit_tag" VALUES('level:9 stage:yellow','2026-10-05','e565e33ed5804ccb916894f44e94f909');
INSERT INTO "visit_tag" VALUES('stage:gold','2026-10-05','e565e33ed5804ccb916894f44e94f909');
INSERT INTO "visit_tag" VALUES('stage:orange','2026-10-05','e565e33ed5804ccb916894f44e94f909');
INSERT INTO "visit_tag" VALUES('stage:yellow','2026-10-05','e565e33ed5804ccb916894f44e94f909');
INSERT INTO "visit_tag" VALUES('tone:beige','2026-10-05','e565e33ed5804ccb916894f44e94f909');
CREATE TABLE zone (
	visit_id VARCHAR(32) NOT NULL, 
	place INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	setting VARCHAR(20) NOT NULL, 
	strand_pattern VARCHAR(20) NOT NULL, 
	hair JSON NOT NULL, 
	target JSON NOT NULL, 
	id VARCHAR(32) NOT NULL, 
	CONSTRAINT pk_zone PRIMARY KEY (id), 
	CONSTRAINT fk_zone_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "zone" VALUES('e565e33ed5804ccb916894f44e94f909',0,'crown','head','coily','{"length_cm": 28.0}','{"level": 9.0, "tone": "beige"}','684291f656c042f89946bcd54ff92979');
INSERT INTO "zone" VALUES('e565e33ed5804ccb916894f44e94f909',1,'nape','head','','{}','{}','73642c74168149cc98e51c3a57491d8f');
INSERT INTO "zone" VALUES('0cfb3e9a1dd7458eb864e102f039ce32',0,'crown','head','coily','{"length_cm": 28.0}','{"level": 9.0, "tone": "beige"}','7c8e6a9e40104ed5aa62a74c4fc1a224');
INSERT INTO "zone" VALUES('0cfb3e9a1dd7458eb864e102f039ce32',1,'nape','head','','{}','{}','0fa4851e2eb94d44a5d8ca7c52042c87');
CREATE INDEX ix_consent_client_id ON consent (client_id);
CREATE INDEX ix_consultation_client_id ON consultation (client_id);
CREATE INDEX ix_version_change_sequence ON version (change_sequence);
CREATE INDEX ix_version_row_id ON version (row_id);
CREATE INDEX ix_visit_client_id ON visit (client_id);
CREATE INDEX ix_visit_consultation_id ON visit (consultation_id);
CREATE INDEX ix_visit_day_id ON visit (day, id);
CREATE INDEX ix_answer_visit_id ON answer (visit_id);
CREATE INDEX ix_clock_event_visit_id ON clock_event (visit_id);
CREATE INDEX ix_document_sha256 ON document (sha256);
CREATE INDEX ix_document_visit_id ON document (visit_id);
CREATE INDEX ix_finding_visit_id ON finding (visit_id);
CREATE INDEX ix_mixed_visit_id ON mixed (visit_id);
CREATE INDEX ix_note_client_id ON note (client_id);
CREATE INDEX ix_note_visit_id ON note (visit_id);
CREATE INDEX ix_outcome_visit_id ON outcome (visit_id);
CREATE INDEX ix_photo_original_sha256 ON photo (original_sha256);
CREATE INDEX ix_photo_sha256 ON photo (sha256);
CREATE INDEX ix_photo_thumbnail_sha256 ON photo (thumbnail_sha256);
CREATE INDEX ix_photo_visit_id ON photo (visit_id);
CREATE INDEX ix_plan_visit_id ON "plan" (visit_id);
CREATE INDEX ix_quote_client_id ON quote (client_id);
CREATE INDEX ix_quote_visit_id ON quote (visit_id);
CREATE INDEX ix_zone_visit_id ON zone (visit_id);
CREATE INDEX ix_reading_visit_id ON reading (visit_id);
CREATE INDEX ix_reading_zone_id ON reading (zone_id);
CREATE INDEX ix_client_word_client_id ON client_word (client_id);
CREATE INDEX ix_visit_tag_visit_id ON visit_tag (visit_id);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('change',3);
COMMIT;
