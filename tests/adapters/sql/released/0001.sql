BEGIN TRANSACTION;
CREATE TABLE adoption (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	what TEXT NOT NULL, 
	name TEXT NOT NULL, 
	release TEXT NOT NULL, 
	text TEXT NOT NULL, 
	digest TEXT NOT NULL, 
	adopted_by TEXT NOT NULL, 
	in_force BOOLEAN NOT NULL, 
	CONSTRAINT pk_adoption PRIMARY KEY (id, version), 
	CONSTRAINT ck_adoption_version CHECK (version >= 1), 
	CONSTRAINT fk_adoption_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_adoption_id FOREIGN KEY(id) REFERENCES entry (id)
);
INSERT INTO "adoption" VALUES('invented0000adoption',1,1,'invented','invented','invented','invented','invented','invented',1);
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE analyser (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	serial TEXT NOT NULL, 
	method TEXT NOT NULL, 
	profile TEXT NOT NULL, 
	in_use BOOLEAN NOT NULL, 
	CONSTRAINT pk_analyser PRIMARY KEY (id, version), 
	CONSTRAINT ck_analyser_version CHECK (version >= 1), 
	CONSTRAINT fk_analyser_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_analyser_id FOREIGN KEY(id) REFERENCES entry (id)
);
INSERT INTO "analyser" VALUES('invented0000analyser',1,1,'invented','invented','invented','invented',1);
CREATE TABLE analyser_check (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	analyser_id VARCHAR(40) NOT NULL, 
	what TEXT NOT NULL, 
	at VARCHAR(27) NOT NULL, 
	passed BOOLEAN NOT NULL, 
	gas TEXT NOT NULL, 
	words TEXT NOT NULL, 
	CONSTRAINT pk_analyser_check PRIMARY KEY (id, version), 
	CONSTRAINT ck_analyser_check_version CHECK (version >= 1), 
	CONSTRAINT fk_analyser_check_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_analyser_check_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_analyser_check_analyser_id FOREIGN KEY(analyser_id) REFERENCES entry (id)
);
INSERT INTO "analyser_check" VALUES('inventedanalyser_che',1,1,'invented00000patient','invented','2026-11-27T08:30:00.000000Z',1,'invented','invented');
CREATE TABLE arrival (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	checked TEXT NOT NULL, 
	consent TEXT NOT NULL, 
	carer TEXT, 
	salt VARCHAR(32), 
	apart_digest VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_arrival PRIMARY KEY (id, version), 
	CONSTRAINT ck_arrival_version CHECK (version >= 1), 
	CONSTRAINT fk_arrival_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_arrival_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_arrival_test_id FOREIGN KEY(test_id) REFERENCES entry (id)
);
INSERT INTO "arrival" VALUES('invented00000arrival',1,1,'invented00000patient','["name","date of birth"]','invented','invented','00112233445566778899aabbccddeeff','8673da7f4a86d339d11a8a07de2cb5d8adea3e5df0ebec00efa35f39052d4985');
CREATE TABLE baseline_decision (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	choice TEXT NOT NULL, 
	rule TEXT NOT NULL, 
	uses TEXT NOT NULL, 
	over_limit TEXT NOT NULL, 
	why TEXT, 
	"by" VARCHAR(40) NOT NULL, 
	salt VARCHAR(32), 
	apart_digest VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_baseline_decision PRIMARY KEY (id, version), 
	CONSTRAINT ck_baseline_decision_version CHECK (version >= 1), 
	CONSTRAINT fk_baseline_decision_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_baseline_decision_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_baseline_decision_test_id FOREIGN KEY(test_id) REFERENCES entry (id), 
	CONSTRAINT fk_baseline_decision_by FOREIGN KEY("by") REFERENCES entry (id)
);
INSERT INTO "baseline_decision" VALUES('inventedbaseline_dec',1,1,'invented00000patient','invented','invented','[]','[]','invented','invented00000patient','00112233445566778899aabbccddeeff','26ced2edfde8fbb674e0446087aae40bc8869018bba5d3277bae3bd0b1578c78');
CREATE TABLE booking (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	patient_id VARCHAR(40) NOT NULL, 
	slot VARCHAR(27) NOT NULL, 
	chair TEXT NOT NULL, 
	analyser_id VARCHAR(40), 
	sheet_release TEXT NOT NULL, 
	needs TEXT NOT NULL, 
	CONSTRAINT pk_booking PRIMARY KEY (id, version), 
	CONSTRAINT ck_booking_version CHECK (version >= 1), 
	CONSTRAINT fk_booking_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_booking_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_booking_test_id FOREIGN KEY(test_id) REFERENCES entry (id), 
	CONSTRAINT fk_booking_patient_id FOREIGN KEY(patient_id) REFERENCES entry (id), 
	CONSTRAINT fk_booking_analyser_id FOREIGN KEY(analyser_id) REFERENCES entry (id)
);
INSERT INTO "booking" VALUES('invented00000booking',1,1,'invented00000patient','invented00000patient','2026-11-27T08:30:00.000000Z','invented','invented00000patient','invented','[]');
CREATE TABLE clearance (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	bar TEXT NOT NULL, 
	substrate TEXT NOT NULL, 
	answer TEXT NOT NULL, 
	go_ahead BOOLEAN NOT NULL, 
	by_name TEXT NOT NULL, 
	by_kind TEXT NOT NULL, 
	reason TEXT, 
	salt VARCHAR(32), 
	apart_digest VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_clearance PRIMARY KEY (id, version), 
	CONSTRAINT ck_clearance_version CHECK (version >= 1), 
	CONSTRAINT fk_clearance_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_clearance_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_clearance_test_id FOREIGN KEY(test_id) REFERENCES entry (id)
);
INSERT INTO "clearance" VALUES('invented000clearance',1,1,'invented00000patient','invented','invented','invented',1,'invented','invented','invented','00112233445566778899aabbccddeeff','4c338169647f30ef1392f1e096860e042804251612f21fe153d597480742414b');
CREATE TABLE clock_step (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	at VARCHAR(27) NOT NULL, 
	step_s FLOAT NOT NULL, 
	kind TEXT NOT NULL, 
	decision TEXT NOT NULL, 
	CONSTRAINT pk_clock_step PRIMARY KEY (id, version), 
	CONSTRAINT ck_clock_step_version CHECK (version >= 1), 
	CONSTRAINT fk_clock_step_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_clock_step_id FOREIGN KEY(id) REFERENCES entry (id)
);
INSERT INTO "clock_step" VALUES('invented00clock_step',1,1,'2026-11-27T08:30:00.000000Z',12.5,'invented','invented');
CREATE TABLE competence_proof (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	user_id VARCHAR(40) NOT NULL, 
	task TEXT NOT NULL, 
	from_day VARCHAR(10) NOT NULL, 
	until_day VARCHAR(10) NOT NULL, 
	words TEXT NOT NULL, 
	CONSTRAINT pk_competence_proof PRIMARY KEY (id, version), 
	CONSTRAINT ck_competence_proof_version CHECK (version >= 1), 
	CONSTRAINT fk_competence_proof_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_competence_proof_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_competence_proof_user_id FOREIGN KEY(user_id) REFERENCES entry (id)
);
INSERT INTO "competence_proof" VALUES('inventedcompetence_p',1,1,'invented00000patient','invented','2026-11-27','2026-11-27','invented');
CREATE TABLE dose (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	rule TEXT NOT NULL, 
	substrate TEXT NOT NULL, 
	mix TEXT NOT NULL, 
	dose_g FLOAT NOT NULL, 
	g_per_kg FLOAT, 
	cap_g FLOAT, 
	cap_used BOOLEAN NOT NULL, 
	prepared_g FLOAT NOT NULL, 
	volume_ml FLOAT NOT NULL, 
	lot TEXT NOT NULL, 
	expiry VARCHAR(10) NOT NULL, 
	arithmetic TEXT NOT NULL, 
	prepared_by VARCHAR(40) NOT NULL, 
	needs_second_check BOOLEAN NOT NULL, 
	checked_by VARCHAR(40), 
	drunk TEXT NOT NULL, 
	CONSTRAINT pk_dose PRIMARY KEY (id, version), 
	CONSTRAINT ck_dose_version CHECK (version >= 1), 
	CONSTRAINT fk_dose_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_dose_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_dose_test_id FOREIGN KEY(test_id) REFERENCES entry (id), 
	CONSTRAINT fk_dose_prepared_by FOREIGN KEY(prepared_by) REFERENCES entry (id), 
	CONSTRAINT fk_dose_checked_by FOREIGN KEY(checked_by) REFERENCES entry (id)
);
INSERT INTO "dose" VALUES('invented00000000dose',1,1,'invented00000patient','invented','invented','invented',12.5,12.5,12.5,1,12.5,12.5,'invented','2026-11-27','invented','invented00000patient',1,'invented00000patient','invented');
CREATE TABLE entry (
	id VARCHAR(40) NOT NULL, 
	kind VARCHAR(30) NOT NULL, 
	seq INTEGER NOT NULL, 
	CONSTRAINT pk_entry PRIMARY KEY (id), 
	CONSTRAINT fk_entry_seq FOREIGN KEY(seq) REFERENCES history (seq)
);
INSERT INTO "entry" VALUES('invented00000patient','patient',1);
INSERT INTO "entry" VALUES('invented00000000user','user',1);
INSERT INTO "entry" VALUES('inventedcompetence_p','competence_proof',1);
INSERT INTO "entry" VALUES('invented00000setting','setting',1);
INSERT INTO "entry" VALUES('invented0000adoption','adoption',1);
INSERT INTO "entry" VALUES('invented0000analyser','analyser',1);
INSERT INTO "entry" VALUES('inventedanalyser_che','analyser_check',1);
INSERT INTO "entry" VALUES('invented0000identity','identity',1);
INSERT INTO "entry" VALUES('invented0000referral','referral',1);
INSERT INTO "entry" VALUES('invented00000000test','test',1);
INSERT INTO "entry" VALUES('invented00000booking','booking',1);
INSERT INTO "entry" VALUES('invented00000arrival','arrival',1);
INSERT INTO "entry" VALUES('invented0preparation','preparation',1);
INSERT INTO "entry" VALUES('invented000screening','screening',1);
INSERT INTO "entry" VALUES('invented000clearance','clearance',1);
INSERT INTO "entry" VALUES('invented00000000dose','dose',1);
INSERT INTO "entry" VALUES('invented00sample_try','sample_try',1);
INSERT INTO "entry" VALUES('invented0000symptoms','symptoms',1);
INSERT INTO "entry" VALUES('invented00test_event','test_event',1);
INSERT INTO "entry" VALUES('inventedbaseline_dec','baseline_decision',1);
INSERT INTO "entry" VALUES('invented0000snapshot','snapshot',1);
INSERT INTO "entry" VALUES('invented000000report','report',1);
INSERT INTO "entry" VALUES('invented000signature','signature',1);
INSERT INTO "entry" VALUES('invented0second_read','second_read',1);
INSERT INTO "entry" VALUES('invented00clock_step','clock_step',1);
INSERT INTO "entry" VALUES('invented00000erasure','erasure',3);
CREATE TABLE erasure (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	patient_id VARCHAR(40) NOT NULL, 
	ground TEXT NOT NULL, 
	ordered_by TEXT NOT NULL, 
	rows INTEGER NOT NULL, 
	CONSTRAINT pk_erasure PRIMARY KEY (id, version), 
	CONSTRAINT ck_erasure_version CHECK (version >= 1), 
	CONSTRAINT fk_erasure_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_erasure_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_erasure_patient_id FOREIGN KEY(patient_id) REFERENCES entry (id)
);
INSERT INTO "erasure" VALUES('invented00000erasure',1,3,'invented00000patient','invented','invented',3);
CREATE TABLE history (
	seq INTEGER NOT NULL, 
	at VARCHAR(27) NOT NULL, 
	"by" VARCHAR(40) NOT NULL, 
	act VARCHAR(40) NOT NULL, 
	token VARCHAR(80), 
	body TEXT NOT NULL, 
	hash VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_history PRIMARY KEY (seq)
);
INSERT INTO "history" VALUES(1,'2026-11-27T08:00:00.000000Z','','invented act','first','{"act":"invented act","at":"2026-11-27T08:00:00.000000Z","by":"","changes":[["patient","invented00000patient",1,"d962a70cf495faa513cf00b522f3c4c305c04fe8f49d96f32f5cf55f188abb63"],["user","invented00000000user",1,"6d382a198839e4da9227c9e7d0dc842b746e401c01c6b0b4aa39df04207970ae"],["competence_proof","inventedcompetence_p",1,"5d6b9b58e5932f603fa9c6373d9b8ac2c25a6e9f191878005f152bca0e537550"],["setting","invented00000setting",1,"ee630feb210287e89a01fe20363fea669108c01eee956385f0373350d81d6510"],["adoption","invented0000adoption",1,"4eba40fa6a62b9e21b53fa6257391101271bbefa07e13a437a46b02c1ac2dbda"],["analyser","invented0000analyser",1,"ef874943f6b3bdd533a681316d1d302ec16a11d21c63c55e0166d59c20ca9ccb"],["analyser_check","inventedanalyser_che",1,"f4020ae317a5227a9d01d10292520968cf16831066bc62fed7c9c6022a65c58f"],["identity","invented0000identity",1,"cefe5d2f7b5d39c38077706bdf769e8dbb22b42a2d5188fdd1c0789839855b1e"],["referral","invented0000referral",1,"55bdaf334c136c246c94bc07b917ce3e01743ce6721683eaf7eff2809f28c0dd"],["test","invented00000000test",1,"977d24fae259d45ca343695078cb2898564841ef79dee8dbf0f9ce0403fd4953"],["booking","invented00000booking",1,"0683193fa7270a2c1765445a6f2035b0f0e5c39d1f0d3becad78020fdeb32795"],["arrival","invented00000arrival",1,"926158caf0074dc1df31ecf6f227458ccadd18b6c4efe49c40bcd552a15db493"],["preparation","invented0preparation",1,"bfcde5c88d87a419a55aa0aafdd17833bcf6ee65a6072fa7642cb8ea18c74315"],["screening","invented000screening",1,"53fb729d7d1842380babb15348744b31b2fe5989de3ebd5b7a06f9da21b64cc0"],["clearance","invented000clearance",1,"08cd2eef647067fd58703a8b9cdc8b87a7172d84f5218eb1bb52774cf30b64f7"],["dose","invented00000000dose",1,"553ac239a36e1f05b40ba5b8ee1ffde8d3c08c4523c609491a34fda6623e1df5"],["sample_try","invented00sample_try",1,"727454e4aacff64249efffad72420c4a3b0fcd2cb1f71c3476fa69bc10eaeeeb"],["symptoms","invented0000symptoms",1,"1a68cc8c53d0a4cf1c676614fc412261768bd01d38bfdb9bbe64f82fb58fddcc"],["test_event","invented00test_event",1,"abcf7c8743e2eba5e4323dd372fd2571b55ef7e46daf245136ca45dae225032e"],["baseline_decision","inventedbaseline_dec",1,"588cad3b0c5ba4d30125c5340679c54122d9f824d5f30ead95ce8af1d4655b49"],["snapshot","invented0000snapshot",1,"dee4ab6cddb77ce23b8389dcf16ee86021e0962bb2a6094b638c61893810b741"],["report","invented000000report",1,"e2881c252ceb61498f2c3b0d3bbbc6b0fd6a906c200575b86dab7f019d06a83a"],["signature","invented000signature",1,"04d6175426edb0f9a001adf2b1ee87f167dd29f4bf2a2ee4818ee6b76c86bf87"],["second_read","invented0second_read",1,"421aaa6d8e1753c9550e1be9025cc5a616b9fe9e1008cdc3d7f9eee79e216f4b"],["clock_step","invented00clock_step",1,"edaf2b518d97d2c7fafd262e2dc0c291eb85447cf9a1e70ad4cba2cb1629c1d1"]],"seq":1,"token":"first","warned":[],"why":"4c1000de16f4d0eba5b6bc6ab0f1fc5c2572b8973761f0bcb069ca35861e373a","zone":"Europe/London"}','d3fd283643bdacf22c992f7359d4d38371897e6b29de318e229e5ae4e7ac6d22');
INSERT INTO "history" VALUES(2,'2026-11-27T08:00:00.000000Z','','invented act','second','{"act":"invented act","at":"2026-11-27T08:00:00.000000Z","by":"","changes":[["patient","invented00000patient",2,"b8a84f59d94b426bcb5746dd6cc71bda62f55ded2f5ee294d556b98bc8826675"]],"seq":2,"token":"second","warned":[],"why":"432b4977d6747139329f0cce7740674c76ee2db2b2f82bdd5219d27e7adf2249","zone":"Europe/London"}','d72c5d345d01d63336b608adcd2bac9a35842a76f84b02780a0b27fd6418aa2d');
INSERT INTO "history" VALUES(3,'2026-11-27T08:00:00.000000Z','','invented act','third','{"act":"invented act","at":"2026-11-27T08:00:00.000000Z","by":"","changes":[["erasure","invented00000erasure",1,"e5252a007c3466d0d764fd53db9e6a1edf2149440f3019f6433d6f4f5d431195"]],"seq":3,"token":"third","warned":[],"why":"6fd43e01ea84c9ab3b8c09b3f48e615ce336f663800f17f0ccf8321ebc75842a","zone":"Europe/London"}','716700fb4eeac0a4f75ab2b3a180ce7bafd266fc31d62064540144f6a9b68fa4');
CREATE TABLE history_why (
	seq INTEGER NOT NULL, 
	words TEXT, 
	salt VARCHAR(32), 
	CONSTRAINT pk_history_why PRIMARY KEY (seq), 
	CONSTRAINT fk_history_why_seq FOREIGN KEY(seq) REFERENCES history (seq)
);
INSERT INTO "history_why" VALUES(1,'invented reason 1','00112233445566778899aabbccddeeff');
INSERT INTO "history_why" VALUES(2,'invented reason 2','00112233445566778899aabbccddeeff');
INSERT INTO "history_why" VALUES(3,'invented reason 3','00112233445566778899aabbccddeeff');
CREATE TABLE identity (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	patient_id VARCHAR(40) NOT NULL, 
	family_name TEXT, 
	given_name TEXT, 
	born VARCHAR(10), 
	record_no TEXT, 
	national_no TEXT, 
	contact TEXT, 
	search TEXT, 
	salt VARCHAR(32), 
	apart_digest VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_identity PRIMARY KEY (id, version), 
	CONSTRAINT ck_identity_version CHECK (version >= 1), 
	CONSTRAINT fk_identity_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_identity_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_identity_patient_id FOREIGN KEY(patient_id) REFERENCES entry (id)
);
INSERT INTO "identity" VALUES('invented0000identity',1,1,'invented00000patient',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'17af1e8f64e99056ad9c2f90f6fdc352b9195aa9f5b7e81ea258bb59ed83172f');
CREATE TABLE patient (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	sex TEXT NOT NULL, 
	language TEXT NOT NULL, 
	invented BOOLEAN NOT NULL, 
	CONSTRAINT pk_patient PRIMARY KEY (id, version), 
	CONSTRAINT ck_patient_version CHECK (version >= 1), 
	CONSTRAINT fk_patient_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_patient_id FOREIGN KEY(id) REFERENCES entry (id)
);
INSERT INTO "patient" VALUES('invented00000patient',1,1,'invented','invented',1);
INSERT INTO "patient" VALUES('invented00000patient',2,2,'invented','cy',1);
CREATE TABLE preparation (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	guidance TEXT NOT NULL, 
	answers TEXT NOT NULL, 
	decisions TEXT NOT NULL, 
	reasons TEXT, 
	salt VARCHAR(32), 
	apart_digest VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_preparation PRIMARY KEY (id, version), 
	CONSTRAINT ck_preparation_version CHECK (version >= 1), 
	CONSTRAINT fk_preparation_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_preparation_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_preparation_test_id FOREIGN KEY(test_id) REFERENCES entry (id)
);
INSERT INTO "preparation" VALUES('invented0preparation',1,1,'invented00000patient','invented','{"fasted":"yes"}','{}','{}','00112233445566778899aabbccddeeff','e0a706daf7858a232e0d634265dd8cfc0644284ae5cbaf45a8413e08953bab9d');
CREATE TABLE record_meta (
	name VARCHAR(40) NOT NULL, 
	value TEXT NOT NULL, 
	CONSTRAINT pk_record_meta PRIMARY KEY (name)
);
INSERT INTO "record_meta" VALUES('id','invented');
INSERT INTO "record_meta" VALUES('service','Harbour Clinic');
INSERT INTO "record_meta" VALUES('invented','true');
CREATE TABLE referral (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	patient_id VARCHAR(40) NOT NULL, 
	requested_on VARCHAR(10) NOT NULL, 
	referrer TEXT, 
	copy_to TEXT, 
	indication TEXT, 
	alarm_features TEXT NOT NULL, 
	alarm_answered BOOLEAN NOT NULL, 
	medicines TEXT, 
	surgery TEXT NOT NULL, 
	surgery_words TEXT, 
	earlier_tests TEXT, 
	salt VARCHAR(32), 
	apart_digest VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_referral PRIMARY KEY (id, version), 
	CONSTRAINT ck_referral_version CHECK (version >= 1), 
	CONSTRAINT fk_referral_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_referral_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_referral_patient_id FOREIGN KEY(patient_id) REFERENCES entry (id)
);
INSERT INTO "referral" VALUES('invented0000referral',1,1,'invented00000patient','2026-11-27','invented','invented','invented','["weight loss"]',1,'invented','invented','invented','invented','00112233445566778899aabbccddeeff','40ef9d60f0c7afee6a45759b58d2e0b5eabd74131dde609144ec89c49ff36b80');
CREATE TABLE report (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	number INTEGER NOT NULL, 
	status TEXT NOT NULL, 
	snapshot_id VARCHAR(40) NOT NULL, 
	author VARCHAR(40) NOT NULL, 
	digest TEXT NOT NULL, 
	head_seq INTEGER NOT NULL, 
	head_hash TEXT NOT NULL, 
	comment TEXT, 
	reason TEXT, 
	pages BLOB, 
	salt VARCHAR(32), 
	apart_digest VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_report PRIMARY KEY (id, version), 
	CONSTRAINT ck_report_version CHECK (version >= 1), 
	CONSTRAINT fk_report_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_report_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_report_test_id FOREIGN KEY(test_id) REFERENCES entry (id), 
	CONSTRAINT fk_report_snapshot_id FOREIGN KEY(snapshot_id) REFERENCES entry (id), 
	CONSTRAINT fk_report_author FOREIGN KEY(author) REFERENCES entry (id)
);
INSERT INTO "report" VALUES('invented000000report',1,1,'invented00000patient',3,'invented','invented00000patient','invented00000patient','invented',3,'invented','invented','invented',X'789CCBCC2B4BCD2B494D01000F51035E','00112233445566778899aabbccddeeff','0251615b7034bb76a797f8bbc1ad82de3b1dbaa809694733df4ead853380edd8');
CREATE TABLE sample_try (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	planned_minute FLOAT, 
	label TEXT NOT NULL, 
	at VARCHAR(27) NOT NULL, 
	status TEXT NOT NULL, 
	way TEXT NOT NULL, 
	h2_ppm FLOAT, 
	ch4_ppm FLOAT, 
	o2_pct FLOAT, 
	co2_pct FLOAT, 
	h2_normalised_ppm FLOAT, 
	ch4_normalised_ppm FLOAT, 
	h2_u_ppm FLOAT, 
	ch4_u_ppm FLOAT, 
	alveolar_fraction FLOAT, 
	quality TEXT NOT NULL, 
	reasons TEXT NOT NULL, 
	trace_digest TEXT, 
	trace_summary TEXT NOT NULL, 
	analyser_id VARCHAR(40), 
	calibration_id VARCHAR(40), 
	operator VARCHAR(40) NOT NULL, 
	checked TEXT NOT NULL, 
	note TEXT, 
	moved_from VARCHAR(40), 
	moved_to VARCHAR(40), 
	salt VARCHAR(32), 
	apart_digest VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_sample_try PRIMARY KEY (id, version), 
	CONSTRAINT ck_sample_try_version CHECK (version >= 1), 
	CONSTRAINT fk_sample_try_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_sample_try_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_sample_try_test_id FOREIGN KEY(test_id) REFERENCES entry (id), 
	CONSTRAINT fk_sample_try_analyser_id FOREIGN KEY(analyser_id) REFERENCES entry (id), 
	CONSTRAINT fk_sample_try_calibration_id FOREIGN KEY(calibration_id) REFERENCES entry (id), 
	CONSTRAINT fk_sample_try_operator FOREIGN KEY(operator) REFERENCES entry (id), 
	CONSTRAINT fk_sample_try_moved_from FOREIGN KEY(moved_from) REFERENCES entry (id), 
	CONSTRAINT fk_sample_try_moved_to FOREIGN KEY(moved_to) REFERENCES entry (id)
);
INSERT INTO "sample_try" VALUES('invented00sample_try',1,1,'invented00000patient',12.5,'invented','2026-11-27T08:30:00.000000Z','invented','invented',12.5,12.5,12.5,12.5,12.5,12.5,12.5,12.5,12.5,'invented','[]','invented','{"ended_s":12.5}','invented00000patient','invented00000patient','invented00000patient','[]','invented','invented00000patient','invented00000patient','00112233445566778899aabbccddeeff','955a9b2e090f22a388e57d8aac909275bee5809d7f0c8605b10d81d4be9ff6fe');
CREATE TABLE screening (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	answers TEXT NOT NULL, 
	CONSTRAINT pk_screening PRIMARY KEY (id, version), 
	CONSTRAINT ck_screening_version CHECK (version >= 1), 
	CONSTRAINT fk_screening_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_screening_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_screening_test_id FOREIGN KEY(test_id) REFERENCES entry (id)
);
INSERT INTO "screening" VALUES('invented000screening',1,1,'invented00000patient','{"fructose_intolerance":"no"}');
CREATE TABLE second_read (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	user_id VARCHAR(40) NOT NULL, 
	findings TEXT NOT NULL, 
	CONSTRAINT pk_second_read PRIMARY KEY (id, version), 
	CONSTRAINT ck_second_read_version CHECK (version >= 1), 
	CONSTRAINT fk_second_read_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_second_read_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_second_read_test_id FOREIGN KEY(test_id) REFERENCES entry (id), 
	CONSTRAINT fk_second_read_user_id FOREIGN KEY(user_id) REFERENCES entry (id)
);
INSERT INTO "second_read" VALUES('invented0second_read',1,1,'invented00000patient','invented00000patient','{"malabsorption":"positive"}');
CREATE TABLE setting (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	value TEXT NOT NULL, 
	CONSTRAINT pk_setting PRIMARY KEY (id, version), 
	CONSTRAINT ck_setting_version CHECK (version >= 1), 
	CONSTRAINT fk_setting_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_setting_id FOREIGN KEY(id) REFERENCES entry (id)
);
INSERT INTO "setting" VALUES('invented00000setting',1,1,'invented','{"value":5}');
CREATE TABLE signature (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	report_id VARCHAR(40) NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	user_id VARCHAR(40) NOT NULL, 
	name TEXT NOT NULL, 
	role TEXT NOT NULL, 
	digest TEXT NOT NULL, 
	CONSTRAINT pk_signature PRIMARY KEY (id, version), 
	CONSTRAINT ck_signature_version CHECK (version >= 1), 
	CONSTRAINT fk_signature_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_signature_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_signature_report_id FOREIGN KEY(report_id) REFERENCES entry (id), 
	CONSTRAINT fk_signature_test_id FOREIGN KEY(test_id) REFERENCES entry (id), 
	CONSTRAINT fk_signature_user_id FOREIGN KEY(user_id) REFERENCES entry (id)
);
INSERT INTO "signature" VALUES('invented000signature',1,1,'invented00000patient','invented00000patient','invented00000patient','invented','invented','invented');
CREATE TABLE snapshot (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	interpretation TEXT NOT NULL, 
	engine TEXT NOT NULL, 
	criterion_id VARCHAR(40) NOT NULL, 
	findings TEXT NOT NULL, 
	document BLOB, 
	salt VARCHAR(32), 
	apart_digest VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_snapshot PRIMARY KEY (id, version), 
	CONSTRAINT ck_snapshot_version CHECK (version >= 1), 
	CONSTRAINT fk_snapshot_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_snapshot_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_snapshot_test_id FOREIGN KEY(test_id) REFERENCES entry (id), 
	CONSTRAINT fk_snapshot_criterion_id FOREIGN KEY(criterion_id) REFERENCES entry (id)
);
INSERT INTO "snapshot" VALUES('invented0000snapshot',1,1,'invented00000patient','invented','invented','invented00000patient','[["north-american-2017","malabsorption","positive"]]',X'789CCBCC2B4BCD2B494D01000F51035E','00112233445566778899aabbccddeeff','b1a10618dea796a5313e3a5e970bf6b743524cddda2cb6202078d777441d798d');
CREATE TABLE symptoms (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	planned_minute FLOAT, 
	at VARCHAR(27) NOT NULL, 
	scale TEXT NOT NULL, 
	scores TEXT NOT NULL, 
	note TEXT, 
	salt VARCHAR(32), 
	apart_digest VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_symptoms PRIMARY KEY (id, version), 
	CONSTRAINT ck_symptoms_version CHECK (version >= 1), 
	CONSTRAINT fk_symptoms_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_symptoms_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_symptoms_test_id FOREIGN KEY(test_id) REFERENCES entry (id)
);
INSERT INTO "symptoms" VALUES('invented0000symptoms',1,1,'invented00000patient',12.5,'2026-11-27T08:30:00.000000Z','invented','{"pain":2}','invented','00112233445566778899aabbccddeeff','955a9b2e090f22a388e57d8aac909275bee5809d7f0c8605b10d81d4be9ff6fe');
CREATE TABLE test (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	patient_id VARCHAR(40) NOT NULL, 
	referral_id VARCHAR(40) NOT NULL, 
	substrate TEXT NOT NULL, 
	mix TEXT NOT NULL, 
	protocol_id VARCHAR(40) NOT NULL, 
	criterion_id VARCHAR(40) NOT NULL, 
	state TEXT NOT NULL, 
	state_why TEXT, 
	t0 VARCHAR(27), 
	t0_defined_as TEXT NOT NULL, 
	age_years FLOAT, 
	weight_kg FLOAT, 
	site TEXT NOT NULL, 
	invented BOOLEAN NOT NULL, 
	salt VARCHAR(32), 
	apart_digest VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_test PRIMARY KEY (id, version), 
	CONSTRAINT ck_test_version CHECK (version >= 1), 
	CONSTRAINT fk_test_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_test_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_test_patient_id FOREIGN KEY(patient_id) REFERENCES entry (id), 
	CONSTRAINT fk_test_referral_id FOREIGN KEY(referral_id) REFERENCES entry (id), 
	CONSTRAINT fk_test_protocol_id FOREIGN KEY(protocol_id) REFERENCES entry (id), 
	CONSTRAINT fk_test_criterion_id FOREIGN KEY(criterion_id) REFERENCES entry (id)
);
INSERT INTO "test" VALUES('invented00000000test',1,1,3,'invented00000patient','invented00000patient','invented','invented','invented00000patient','invented00000patient','invented','invented','2026-11-27T08:30:00.000000Z','invented',12.5,12.5,'invented',1,'00112233445566778899aabbccddeeff','d78d67c850330b97e4ecc4f6e3f0df5a869c36a177a10e8011451e032e07ccd5');
CREATE TABLE test_event (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	test_id VARCHAR(40) NOT NULL, 
	at VARCHAR(27) NOT NULL, 
	what TEXT NOT NULL, 
	lost_fraction FLOAT, 
	note TEXT, 
	salt VARCHAR(32), 
	apart_digest VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_test_event PRIMARY KEY (id, version), 
	CONSTRAINT ck_test_event_version CHECK (version >= 1), 
	CONSTRAINT fk_test_event_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_test_event_id FOREIGN KEY(id) REFERENCES entry (id), 
	CONSTRAINT fk_test_event_test_id FOREIGN KEY(test_id) REFERENCES entry (id)
);
INSERT INTO "test_event" VALUES('invented00test_event',1,1,'invented00000patient','2026-11-27T08:30:00.000000Z','invented',12.5,'invented','00112233445566778899aabbccddeeff','955a9b2e090f22a388e57d8aac909275bee5809d7f0c8605b10d81d4be9ff6fe');
CREATE TABLE user (
	id VARCHAR(40) NOT NULL, 
	version INTEGER NOT NULL, 
	seq INTEGER NOT NULL, 
	login TEXT NOT NULL, 
	name TEXT NOT NULL, 
	roles TEXT NOT NULL, 
	active BOOLEAN NOT NULL, 
	CONSTRAINT pk_user PRIMARY KEY (id, version), 
	CONSTRAINT ck_user_version CHECK (version >= 1), 
	CONSTRAINT fk_user_seq FOREIGN KEY(seq) REFERENCES history (seq), 
	CONSTRAINT fk_user_id FOREIGN KEY(id) REFERENCES entry (id)
);
INSERT INTO "user" VALUES('invented00000000user',1,1,'invented','invented','["bench"]',1);
CREATE UNIQUE INDEX ix_history_token ON history (token);
CREATE INDEX ix_user_seq ON user (seq);
CREATE INDEX ix_user_login ON user (login);
CREATE INDEX ix_competence_proof_seq ON competence_proof (seq);
CREATE INDEX ix_competence_proof_user_id ON competence_proof (user_id);
CREATE INDEX ix_setting_seq ON setting (seq);
CREATE INDEX ix_setting_name ON setting (name);
CREATE INDEX ix_adoption_seq ON adoption (seq);
CREATE INDEX ix_analyser_seq ON analyser (seq);
CREATE INDEX ix_analyser_check_seq ON analyser_check (seq);
CREATE INDEX ix_analyser_check_analyser_id ON analyser_check (analyser_id);
CREATE INDEX ix_patient_seq ON patient (seq);
CREATE INDEX ix_identity_seq ON identity (seq);
CREATE INDEX ix_identity_patient_id ON identity (patient_id);
CREATE INDEX ix_identity_family_name ON identity (family_name);
CREATE INDEX ix_identity_record_no ON identity (record_no);
CREATE INDEX ix_referral_seq ON referral (seq);
CREATE INDEX ix_referral_patient_id ON referral (patient_id);
CREATE INDEX ix_test_seq ON test (seq);
CREATE INDEX ix_test_number ON test (number);
CREATE INDEX ix_test_patient_id ON test (patient_id);
CREATE INDEX ix_test_referral_id ON test (referral_id);
CREATE INDEX ix_test_state ON test (state);
CREATE INDEX ix_booking_seq ON booking (seq);
CREATE INDEX ix_booking_test_id ON booking (test_id);
CREATE INDEX ix_booking_patient_id ON booking (patient_id);
CREATE INDEX ix_booking_slot ON booking (slot);
CREATE INDEX ix_booking_analyser_id ON booking (analyser_id);
CREATE INDEX ix_arrival_seq ON arrival (seq);
CREATE INDEX ix_arrival_test_id ON arrival (test_id);
CREATE INDEX ix_preparation_seq ON preparation (seq);
CREATE INDEX ix_preparation_test_id ON preparation (test_id);
CREATE INDEX ix_screening_seq ON screening (seq);
CREATE INDEX ix_screening_test_id ON screening (test_id);
CREATE INDEX ix_clearance_seq ON clearance (seq);
CREATE INDEX ix_clearance_test_id ON clearance (test_id);
CREATE INDEX ix_dose_seq ON dose (seq);
CREATE INDEX ix_dose_test_id ON dose (test_id);
CREATE INDEX ix_dose_prepared_by ON dose (prepared_by);
CREATE INDEX ix_dose_checked_by ON dose (checked_by);
CREATE INDEX ix_sample_try_seq ON sample_try (seq);
CREATE INDEX ix_sample_try_test_id ON sample_try (test_id);
CREATE INDEX ix_sample_try_trace_digest ON sample_try (trace_digest);
CREATE INDEX ix_sample_try_analyser_id ON sample_try (analyser_id);
CREATE INDEX ix_sample_try_operator ON sample_try (operator);
CREATE INDEX ix_symptoms_seq ON symptoms (seq);
CREATE INDEX ix_symptoms_test_id ON symptoms (test_id);
CREATE INDEX ix_test_event_seq ON test_event (seq);
CREATE INDEX ix_test_event_test_id ON test_event (test_id);
CREATE INDEX ix_baseline_decision_seq ON baseline_decision (seq);
CREATE INDEX ix_baseline_decision_test_id ON baseline_decision (test_id);
CREATE INDEX ix_baseline_decision_by ON baseline_decision ("by");
CREATE INDEX ix_snapshot_seq ON snapshot (seq);
CREATE INDEX ix_snapshot_test_id ON snapshot (test_id);
CREATE INDEX ix_report_seq ON report (seq);
CREATE INDEX ix_report_test_id ON report (test_id);
CREATE INDEX ix_report_author ON report (author);
CREATE INDEX ix_signature_seq ON signature (seq);
CREATE INDEX ix_signature_report_id ON signature (report_id);
CREATE INDEX ix_signature_test_id ON signature (test_id);
CREATE INDEX ix_signature_user_id ON signature (user_id);
CREATE INDEX ix_second_read_seq ON second_read (seq);
CREATE INDEX ix_second_read_test_id ON second_read (test_id);
CREATE INDEX ix_second_read_user_id ON second_read (user_id);
CREATE INDEX ix_clock_step_seq ON clock_step (seq);
CREATE INDEX ix_erasure_seq ON erasure (seq);
CREATE INDEX ix_erasure_patient_id ON erasure (patient_id);
CREATE TRIGGER "guard_history_update" BEFORE UPDATE ON "history"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_history_delete" BEFORE DELETE ON "history"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_entry_update" BEFORE UPDATE ON "entry"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_entry_delete" BEFORE DELETE ON "entry"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_record_meta_update" BEFORE UPDATE ON "record_meta"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_record_meta_delete" BEFORE DELETE ON "record_meta"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_history_why_update" BEFORE UPDATE ON "history_why" WHEN (NOT (NEW."seq" IS OLD."seq" AND NEW.rowid IS OLD.rowid AND NEW."words" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_history_why_delete" BEFORE DELETE ON "history_why"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_history_insert" BEFORE INSERT ON "history" WHEN (EXISTS (SELECT 1 FROM "history" WHERE "seq" = NEW."seq") OR EXISTS (SELECT 1 FROM "history" WHERE "token" = NEW."token") OR EXISTS (SELECT 1 FROM "history" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_history_why_insert" BEFORE INSERT ON "history_why" WHEN (EXISTS (SELECT 1 FROM "history_why" WHERE "seq" = NEW."seq") OR EXISTS (SELECT 1 FROM "history_why" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_entry_insert" BEFORE INSERT ON "entry" WHEN (EXISTS (SELECT 1 FROM "entry" WHERE "id" = NEW."id") OR EXISTS (SELECT 1 FROM "entry" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_record_meta_insert" BEFORE INSERT ON "record_meta" WHEN (EXISTS (SELECT 1 FROM "record_meta" WHERE "name" = NEW."name") OR EXISTS (SELECT 1 FROM "record_meta" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_user_insert" BEFORE INSERT ON "user" WHEN (EXISTS (SELECT 1 FROM "user" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "user" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_user_update" BEFORE UPDATE ON "user"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_user_delete" BEFORE DELETE ON "user"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_competence_proof_insert" BEFORE INSERT ON "competence_proof" WHEN (EXISTS (SELECT 1 FROM "competence_proof" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "competence_proof" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_competence_proof_update" BEFORE UPDATE ON "competence_proof"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_competence_proof_delete" BEFORE DELETE ON "competence_proof"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_setting_insert" BEFORE INSERT ON "setting" WHEN (EXISTS (SELECT 1 FROM "setting" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "setting" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_setting_update" BEFORE UPDATE ON "setting"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_setting_delete" BEFORE DELETE ON "setting"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_adoption_insert" BEFORE INSERT ON "adoption" WHEN (EXISTS (SELECT 1 FROM "adoption" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "adoption" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_adoption_update" BEFORE UPDATE ON "adoption"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_adoption_delete" BEFORE DELETE ON "adoption"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_analyser_insert" BEFORE INSERT ON "analyser" WHEN (EXISTS (SELECT 1 FROM "analyser" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "analyser" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_analyser_update" BEFORE UPDATE ON "analyser"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_analyser_delete" BEFORE DELETE ON "analyser"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_analyser_check_insert" BEFORE INSERT ON "analyser_check" WHEN (EXISTS (SELECT 1 FROM "analyser_check" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "analyser_check" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_analyser_check_update" BEFORE UPDATE ON "analyser_check"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_analyser_check_delete" BEFORE DELETE ON "analyser_check"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_patient_insert" BEFORE INSERT ON "patient" WHEN (EXISTS (SELECT 1 FROM "patient" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "patient" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_patient_update" BEFORE UPDATE ON "patient"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_patient_delete" BEFORE DELETE ON "patient"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_identity_insert" BEFORE INSERT ON "identity" WHEN (EXISTS (SELECT 1 FROM "identity" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "identity" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_identity_delete" BEFORE DELETE ON "identity"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_referral_insert" BEFORE INSERT ON "referral" WHEN (EXISTS (SELECT 1 FROM "referral" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "referral" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_referral_update" BEFORE UPDATE ON "referral" WHEN (NOT (NEW."id" IS OLD."id" AND NEW."version" IS OLD."version" AND NEW."seq" IS OLD."seq" AND NEW."patient_id" IS OLD."patient_id" AND NEW."requested_on" IS OLD."requested_on" AND NEW."alarm_features" IS OLD."alarm_features" AND NEW."alarm_answered" IS OLD."alarm_answered" AND NEW."surgery" IS OLD."surgery" AND NEW."apart_digest" IS OLD."apart_digest" AND NEW.rowid IS OLD.rowid AND NEW."referrer" IS NULL AND NEW."copy_to" IS NULL AND NEW."indication" IS NULL AND NEW."medicines" IS NULL AND NEW."surgery_words" IS NULL AND NEW."earlier_tests" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_referral_delete" BEFORE DELETE ON "referral"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_test_insert" BEFORE INSERT ON "test" WHEN (EXISTS (SELECT 1 FROM "test" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "test" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_test_update" BEFORE UPDATE ON "test" WHEN (NOT (NEW."id" IS OLD."id" AND NEW."version" IS OLD."version" AND NEW."seq" IS OLD."seq" AND NEW."number" IS OLD."number" AND NEW."patient_id" IS OLD."patient_id" AND NEW."referral_id" IS OLD."referral_id" AND NEW."substrate" IS OLD."substrate" AND NEW."mix" IS OLD."mix" AND NEW."protocol_id" IS OLD."protocol_id" AND NEW."criterion_id" IS OLD."criterion_id" AND NEW."state" IS OLD."state" AND NEW."t0" IS OLD."t0" AND NEW."t0_defined_as" IS OLD."t0_defined_as" AND NEW."age_years" IS OLD."age_years" AND NEW."weight_kg" IS OLD."weight_kg" AND NEW."site" IS OLD."site" AND NEW."invented" IS OLD."invented" AND NEW."apart_digest" IS OLD."apart_digest" AND NEW.rowid IS OLD.rowid AND NEW."state_why" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_test_delete" BEFORE DELETE ON "test"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_booking_insert" BEFORE INSERT ON "booking" WHEN (EXISTS (SELECT 1 FROM "booking" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "booking" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_booking_update" BEFORE UPDATE ON "booking"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_booking_delete" BEFORE DELETE ON "booking"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_arrival_insert" BEFORE INSERT ON "arrival" WHEN (EXISTS (SELECT 1 FROM "arrival" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "arrival" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_arrival_update" BEFORE UPDATE ON "arrival" WHEN (NOT (NEW."id" IS OLD."id" AND NEW."version" IS OLD."version" AND NEW."seq" IS OLD."seq" AND NEW."test_id" IS OLD."test_id" AND NEW."checked" IS OLD."checked" AND NEW."consent" IS OLD."consent" AND NEW."apart_digest" IS OLD."apart_digest" AND NEW.rowid IS OLD.rowid AND NEW."carer" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_arrival_delete" BEFORE DELETE ON "arrival"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_preparation_insert" BEFORE INSERT ON "preparation" WHEN (EXISTS (SELECT 1 FROM "preparation" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "preparation" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_preparation_update" BEFORE UPDATE ON "preparation" WHEN (NOT (NEW."id" IS OLD."id" AND NEW."version" IS OLD."version" AND NEW."seq" IS OLD."seq" AND NEW."test_id" IS OLD."test_id" AND NEW."guidance" IS OLD."guidance" AND NEW."answers" IS OLD."answers" AND NEW."decisions" IS OLD."decisions" AND NEW."apart_digest" IS OLD."apart_digest" AND NEW.rowid IS OLD.rowid AND NEW."reasons" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_preparation_delete" BEFORE DELETE ON "preparation"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_screening_insert" BEFORE INSERT ON "screening" WHEN (EXISTS (SELECT 1 FROM "screening" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "screening" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_screening_update" BEFORE UPDATE ON "screening"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_screening_delete" BEFORE DELETE ON "screening"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_clearance_insert" BEFORE INSERT ON "clearance" WHEN (EXISTS (SELECT 1 FROM "clearance" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "clearance" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_clearance_update" BEFORE UPDATE ON "clearance" WHEN (NOT (NEW."id" IS OLD."id" AND NEW."version" IS OLD."version" AND NEW."seq" IS OLD."seq" AND NEW."test_id" IS OLD."test_id" AND NEW."bar" IS OLD."bar" AND NEW."substrate" IS OLD."substrate" AND NEW."answer" IS OLD."answer" AND NEW."go_ahead" IS OLD."go_ahead" AND NEW."by_name" IS OLD."by_name" AND NEW."by_kind" IS OLD."by_kind" AND NEW."apart_digest" IS OLD."apart_digest" AND NEW.rowid IS OLD.rowid AND NEW."reason" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_clearance_delete" BEFORE DELETE ON "clearance"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_dose_insert" BEFORE INSERT ON "dose" WHEN (EXISTS (SELECT 1 FROM "dose" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "dose" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_dose_update" BEFORE UPDATE ON "dose"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_dose_delete" BEFORE DELETE ON "dose"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_sample_try_insert" BEFORE INSERT ON "sample_try" WHEN (EXISTS (SELECT 1 FROM "sample_try" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "sample_try" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_sample_try_update" BEFORE UPDATE ON "sample_try" WHEN (NOT (NEW."id" IS OLD."id" AND NEW."version" IS OLD."version" AND NEW."seq" IS OLD."seq" AND NEW."test_id" IS OLD."test_id" AND NEW."planned_minute" IS OLD."planned_minute" AND NEW."label" IS OLD."label" AND NEW."at" IS OLD."at" AND NEW."status" IS OLD."status" AND NEW."way" IS OLD."way" AND NEW."h2_ppm" IS OLD."h2_ppm" AND NEW."ch4_ppm" IS OLD."ch4_ppm" AND NEW."o2_pct" IS OLD."o2_pct" AND NEW."co2_pct" IS OLD."co2_pct" AND NEW."h2_normalised_ppm" IS OLD."h2_normalised_ppm" AND NEW."ch4_normalised_ppm" IS OLD."ch4_normalised_ppm" AND NEW."h2_u_ppm" IS OLD."h2_u_ppm" AND NEW."ch4_u_ppm" IS OLD."ch4_u_ppm" AND NEW."alveolar_fraction" IS OLD."alveolar_fraction" AND NEW."quality" IS OLD."quality" AND NEW."reasons" IS OLD."reasons" AND NEW."trace_digest" IS OLD."trace_digest" AND NEW."trace_summary" IS OLD."trace_summary" AND NEW."analyser_id" IS OLD."analyser_id" AND NEW."calibration_id" IS OLD."calibration_id" AND NEW."operator" IS OLD."operator" AND NEW."checked" IS OLD."checked" AND NEW."moved_from" IS OLD."moved_from" AND NEW."moved_to" IS OLD."moved_to" AND NEW."apart_digest" IS OLD."apart_digest" AND NEW.rowid IS OLD.rowid AND NEW."note" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_sample_try_delete" BEFORE DELETE ON "sample_try"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_symptoms_insert" BEFORE INSERT ON "symptoms" WHEN (EXISTS (SELECT 1 FROM "symptoms" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "symptoms" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_symptoms_update" BEFORE UPDATE ON "symptoms" WHEN (NOT (NEW."id" IS OLD."id" AND NEW."version" IS OLD."version" AND NEW."seq" IS OLD."seq" AND NEW."test_id" IS OLD."test_id" AND NEW."planned_minute" IS OLD."planned_minute" AND NEW."at" IS OLD."at" AND NEW."scale" IS OLD."scale" AND NEW."scores" IS OLD."scores" AND NEW."apart_digest" IS OLD."apart_digest" AND NEW.rowid IS OLD.rowid AND NEW."note" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_symptoms_delete" BEFORE DELETE ON "symptoms"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_test_event_insert" BEFORE INSERT ON "test_event" WHEN (EXISTS (SELECT 1 FROM "test_event" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "test_event" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_test_event_update" BEFORE UPDATE ON "test_event" WHEN (NOT (NEW."id" IS OLD."id" AND NEW."version" IS OLD."version" AND NEW."seq" IS OLD."seq" AND NEW."test_id" IS OLD."test_id" AND NEW."at" IS OLD."at" AND NEW."what" IS OLD."what" AND NEW."lost_fraction" IS OLD."lost_fraction" AND NEW."apart_digest" IS OLD."apart_digest" AND NEW.rowid IS OLD.rowid AND NEW."note" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_test_event_delete" BEFORE DELETE ON "test_event"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_baseline_decision_insert" BEFORE INSERT ON "baseline_decision" WHEN (EXISTS (SELECT 1 FROM "baseline_decision" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "baseline_decision" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_baseline_decision_update" BEFORE UPDATE ON "baseline_decision" WHEN (NOT (NEW."id" IS OLD."id" AND NEW."version" IS OLD."version" AND NEW."seq" IS OLD."seq" AND NEW."test_id" IS OLD."test_id" AND NEW."choice" IS OLD."choice" AND NEW."rule" IS OLD."rule" AND NEW."uses" IS OLD."uses" AND NEW."over_limit" IS OLD."over_limit" AND NEW."by" IS OLD."by" AND NEW."apart_digest" IS OLD."apart_digest" AND NEW.rowid IS OLD.rowid AND NEW."why" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_baseline_decision_delete" BEFORE DELETE ON "baseline_decision"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_snapshot_insert" BEFORE INSERT ON "snapshot" WHEN (EXISTS (SELECT 1 FROM "snapshot" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "snapshot" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_snapshot_update" BEFORE UPDATE ON "snapshot" WHEN (NOT (NEW."id" IS OLD."id" AND NEW."version" IS OLD."version" AND NEW."seq" IS OLD."seq" AND NEW."test_id" IS OLD."test_id" AND NEW."interpretation" IS OLD."interpretation" AND NEW."engine" IS OLD."engine" AND NEW."criterion_id" IS OLD."criterion_id" AND NEW."findings" IS OLD."findings" AND NEW."apart_digest" IS OLD."apart_digest" AND NEW.rowid IS OLD.rowid AND NEW."document" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_snapshot_delete" BEFORE DELETE ON "snapshot"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_report_insert" BEFORE INSERT ON "report" WHEN (EXISTS (SELECT 1 FROM "report" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "report" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_report_update" BEFORE UPDATE ON "report" WHEN (NOT (NEW."id" IS OLD."id" AND NEW."version" IS OLD."version" AND NEW."seq" IS OLD."seq" AND NEW."test_id" IS OLD."test_id" AND NEW."number" IS OLD."number" AND NEW."status" IS OLD."status" AND NEW."snapshot_id" IS OLD."snapshot_id" AND NEW."author" IS OLD."author" AND NEW."digest" IS OLD."digest" AND NEW."head_seq" IS OLD."head_seq" AND NEW."head_hash" IS OLD."head_hash" AND NEW."apart_digest" IS OLD."apart_digest" AND NEW.rowid IS OLD.rowid AND NEW."comment" IS NULL AND NEW."reason" IS NULL AND NEW."pages" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_report_delete" BEFORE DELETE ON "report"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_signature_insert" BEFORE INSERT ON "signature" WHEN (EXISTS (SELECT 1 FROM "signature" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "signature" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_signature_update" BEFORE UPDATE ON "signature"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_signature_delete" BEFORE DELETE ON "signature"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_second_read_insert" BEFORE INSERT ON "second_read" WHEN (EXISTS (SELECT 1 FROM "second_read" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "second_read" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_second_read_update" BEFORE UPDATE ON "second_read"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_second_read_delete" BEFORE DELETE ON "second_read"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_clock_step_insert" BEFORE INSERT ON "clock_step" WHEN (EXISTS (SELECT 1 FROM "clock_step" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "clock_step" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_clock_step_update" BEFORE UPDATE ON "clock_step"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_clock_step_delete" BEFORE DELETE ON "clock_step"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_erasure_insert" BEFORE INSERT ON "erasure" WHEN (EXISTS (SELECT 1 FROM "erasure" WHERE "id" = NEW."id" AND "version" = NEW."version") OR EXISTS (SELECT 1 FROM "erasure" WHERE rowid = NEW.rowid)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_erasure_update" BEFORE UPDATE ON "erasure"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_erasure_delete" BEFORE DELETE ON "erasure"  BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
CREATE TRIGGER "guard_identity_update" BEFORE UPDATE ON "identity" WHEN (NOT (NEW."id" IS OLD."id" AND NEW."version" IS OLD."version" AND NEW."seq" IS OLD."seq" AND NEW."patient_id" IS OLD."patient_id" AND NEW."apart_digest" IS OLD."apart_digest" AND NEW.rowid IS OLD.rowid AND NEW."family_name" IS NULL AND NEW."given_name" IS NULL AND NEW."born" IS NULL AND NEW."record_no" IS NULL AND NEW."national_no" IS NULL AND NEW."contact" IS NULL AND NEW."search" IS NULL AND NEW."salt" IS NULL)) BEGIN SELECT RAISE(ABORT, 'the record keeps every row as it was written'); END;
COMMIT;
