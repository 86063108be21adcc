CREATE TABLE book_schema (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT book_schema_pkc PRIMARY KEY (version_num)
)
--
CREATE TABLE yard (
	id INTEGER NOT NULL, 
	name VARCHAR(120) NOT NULL, 
	address VARCHAR(300) NOT NULL, 
	phone VARCHAR(40) NOT NULL, 
	country VARCHAR(2) NOT NULL, 
	subdivision VARCHAR(8) NOT NULL, 
	climate_place VARCHAR(80) NOT NULL, 
	timezone VARCHAR(60) NOT NULL, 
	currency VARCHAR(3) NOT NULL, 
	locale VARCHAR(12) NOT NULL, 
	units VARCHAR(8) NOT NULL, 
	target_mc_wet DOUBLE NOT NULL, 
	tax_rate DOUBLE NOT NULL, 
	seed INTEGER NOT NULL, 
	is_demo BOOLEAN NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT pk_yard PRIMARY KEY (id), 
	CONSTRAINT ck_yard_units_known CHECK (units IN ('imperial', 'metric')), 
	CONSTRAINT ck_yard_target_is_share CHECK (target_mc_wet > 0 AND target_mc_wet < 1), 
	CONSTRAINT ck_yard_tax_rate_is_share CHECK (tax_rate >= 0 AND tax_rate < 1)
)
--
CREATE TABLE lot (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	country VARCHAR(2) NOT NULL, 
	subdivision VARCHAR(8) NOT NULL, 
	county VARCHAR(80) NOT NULL, 
	certificate VARCHAR(80) NOT NULL, 
	CONSTRAINT pk_lot PRIMARY KEY (id), 
	CONSTRAINT fk_lot_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_lot_yard_id ON lot (yard_id)
--
CREATE TABLE person (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	name VARCHAR(120) NOT NULL, 
	role VARCHAR(12) NOT NULL, 
	CONSTRAINT pk_person PRIMARY KEY (id), 
	CONSTRAINT ck_person_role_known CHECK (role IN ('owner', 'helper', 'driver', 'bookkeeper')), 
	CONSTRAINT fk_person_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_person_yard_id ON person (yard_id)
--
CREATE TABLE serial (
	yard_id INTEGER NOT NULL, 
	kind VARCHAR(20) NOT NULL, 
	next INTEGER NOT NULL, 
	CONSTRAINT pk_serial PRIMARY KEY (yard_id, kind), 
	CONSTRAINT ck_serial_next_from_one CHECK (next >= 1), 
	CONSTRAINT fk_serial_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE TABLE spot (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	kind VARCHAR(12) NOT NULL, 
	CONSTRAINT pk_spot PRIMARY KEY (id), 
	CONSTRAINT ck_spot_kind_known CHECK (kind IN ('load', 'stack', 'household', 'gate', 'own_use', 'loss', 'outside')), 
	CONSTRAINT fk_spot_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_spot_yard_id ON spot (yard_id)
--
CREATE TABLE ware (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	name VARCHAR(80) NOT NULL, 
	species_ids JSON NOT NULL, 
	form VARCHAR(12) NOT NULL, 
	piece_length_m DOUBLE NOT NULL, 
	length_tolerance_m DOUBLE NOT NULL, 
	max_mc_wet DOUBLE, 
	price_minor BIGINT NOT NULL, 
	price_unit VARCHAR(12) NOT NULL, 
	active BOOLEAN NOT NULL, 
	CONSTRAINT pk_ware PRIMARY KEY (id), 
	CONSTRAINT ck_ware_form_known CHECK (form IN ('split', 'round', 'kindling')), 
	CONSTRAINT ck_ware_price_unit_known CHECK (price_unit IN ('cord', 'stacked_m3', 'loose_m3')), 
	CONSTRAINT ck_ware_tolerance_not_negative CHECK (length_tolerance_m >= 0), 
	CONSTRAINT ck_ware_max_mc_is_share CHECK (max_mc_wet > 0 AND max_mc_wet < 1), 
	CONSTRAINT ck_ware_piece_length_positive CHECK (piece_length_m > 0), 
	CONSTRAINT ck_ware_price_not_negative CHECK (price_minor >= 0), 
	CONSTRAINT fk_ware_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT uq_ware_yard_id UNIQUE (yard_id, name)
)
--
CREATE INDEX ix_ware_yard_id ON ware (yard_id)
--
CREATE TABLE deed (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	client_key VARCHAR(64) NOT NULL, 
	kind VARCHAR(40) NOT NULL, 
	body_hash VARCHAR(64) NOT NULL, 
	answer JSON NOT NULL, 
	person_id INTEGER, 
	happened_at DATETIME NOT NULL, 
	recorded_at DATETIME NOT NULL, told_at DATETIME, 
	CONSTRAINT pk_deed PRIMARY KEY (id), 
	CONSTRAINT fk_deed_person_id_person FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_deed_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT uq_deed_yard_id UNIQUE (yard_id, client_key)
)
--
CREATE INDEX ix_deed_yard_id ON deed (yard_id)
--
CREATE TABLE household (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	spot_id INTEGER NOT NULL, 
	name VARCHAR(120) NOT NULL, 
	address VARCHAR(300) NOT NULL, 
	phone VARCHAR(40) NOT NULL, 
	note VARCHAR(500) NOT NULL, 
	CONSTRAINT pk_household PRIMARY KEY (id), 
	CONSTRAINT fk_household_spot_id_spot FOREIGN KEY(spot_id) REFERENCES spot (id), 
	CONSTRAINT fk_household_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT uq_household_spot_id UNIQUE (spot_id)
)
--
CREATE INDEX ix_household_yard_id ON household (yard_id)
--
CREATE TABLE entry (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	deed_id INTEGER, 
	kind VARCHAR(24) NOT NULL, 
	reason VARCHAR(200) NOT NULL, 
	happened_at DATETIME NOT NULL, 
	recorded_at DATETIME NOT NULL, 
	reverses_id INTEGER, 
	CONSTRAINT pk_entry PRIMARY KEY (id), 
	CONSTRAINT ck_entry_number_from_one CHECK (number >= 1), 
	CONSTRAINT ck_entry_reverses_another CHECK (reverses_id <> id), 
	CONSTRAINT fk_entry_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_entry_reverses_id_entry FOREIGN KEY(reverses_id) REFERENCES entry (id), 
	CONSTRAINT fk_entry_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT uq_entry_reverses_id UNIQUE (reverses_id), 
	CONSTRAINT uq_entry_yard_id UNIQUE (yard_id, number)
)
--
CREATE INDEX ix_entry_yard_id ON entry (yard_id)
--
CREATE TABLE orders (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	household_id INTEGER NOT NULL, 
	ware_id INTEGER NOT NULL, 
	typed VARCHAR(60) NOT NULL, 
	outside_m3 DOUBLE NOT NULL, 
	asked_on DATE NOT NULL, 
	wanted_by DATE NOT NULL, 
	state VARCHAR(12) NOT NULL, 
	total_minor BIGINT NOT NULL, 
	note VARCHAR(500) NOT NULL, 
	CONSTRAINT pk_orders PRIMARY KEY (id), 
	CONSTRAINT ck_orders_state_known CHECK (state IN ('asked', 'promised', 'delivered', 'cancelled')), 
	CONSTRAINT ck_orders_number_from_one CHECK (number >= 1), 
	CONSTRAINT ck_orders_outside_positive CHECK (outside_m3 > 0), 
	CONSTRAINT ck_orders_total_not_negative CHECK (total_minor >= 0), 
	CONSTRAINT fk_orders_household_id_household FOREIGN KEY(household_id) REFERENCES household (id), 
	CONSTRAINT fk_orders_ware_id_ware FOREIGN KEY(ware_id) REFERENCES ware (id), 
	CONSTRAINT fk_orders_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT uq_orders_yard_id UNIQUE (yard_id, number)
)
--
CREATE INDEX ix_orders_household_id ON orders (household_id)
--
CREATE INDEX ix_orders_yard_id ON orders (yard_id)
--
CREATE TABLE stack_forecast (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	stack_id INTEGER NOT NULL, 
	fingerprint VARCHAR(64) NOT NULL, 
	state VARCHAR(8) NOT NULL, 
	error VARCHAR(500) NOT NULL, 
	model VARCHAR(40) NOT NULL, 
	made_at DATETIME, 
	summary JSON NOT NULL, 
	members_mc BLOB, 
	CONSTRAINT pk_stack_forecast PRIMARY KEY (id), 
	CONSTRAINT ck_stack_forecast_state_known CHECK (state IN ('waiting', 'running', 'done', 'failed')), 
	CONSTRAINT fk_stack_forecast_stack_id_stack FOREIGN KEY(stack_id) REFERENCES stack (id), 
	CONSTRAINT fk_stack_forecast_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT uq_stack_forecast_stack_id UNIQUE (stack_id)
)
--
CREATE INDEX ix_stack_forecast_yard_id ON stack_forecast (yard_id)
--
CREATE TABLE posting (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	entry_id INTEGER NOT NULL, 
	spot_id INTEGER NOT NULL, 
	species_id VARCHAR(60) NOT NULL, 
	form VARCHAR(10) NOT NULL, 
	lot_id INTEGER NOT NULL, 
	mass_g BIGINT NOT NULL, 
	quantity DOUBLE, 
	unit VARCHAR(20) NOT NULL, 
	method VARCHAR(40) NOT NULL, 
	sd_share DOUBLE, 
	basic_density_kg_m3 DOUBLE, 
	CONSTRAINT pk_posting PRIMARY KEY (id), 
	CONSTRAINT ck_posting_form_known CHECK (form IN ('log', 'round', 'split', 'kindling', 'bark', 'kerf', 'waste')), 
	CONSTRAINT ck_posting_density_positive CHECK (basic_density_kg_m3 > 0), 
	CONSTRAINT ck_posting_mass_not_zero CHECK (mass_g <> 0), 
	CONSTRAINT ck_posting_sd_not_negative CHECK (sd_share >= 0), 
	CONSTRAINT fk_posting_entry_id_entry FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_posting_lot_id_lot FOREIGN KEY(lot_id) REFERENCES lot (id), 
	CONSTRAINT fk_posting_spot_id_spot FOREIGN KEY(spot_id) REFERENCES spot (id), 
	CONSTRAINT fk_posting_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_posting_entry_id ON posting (entry_id)
--
CREATE INDEX ix_posting_stock ON posting (spot_id, species_id, form, lot_id, mass_g)
--
CREATE INDEX ix_posting_yard_id ON posting (yard_id)
--
CREATE TABLE promise (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	order_id INTEGER NOT NULL, 
	stack_id INTEGER NOT NULL, 
	outside_m3 DOUBLE NOT NULL, 
	odds DOUBLE, 
	made_at DATETIME NOT NULL, 
	state VARCHAR(10) NOT NULL, 
	CONSTRAINT pk_promise PRIMARY KEY (id), 
	CONSTRAINT ck_promise_state_known CHECK (state IN ('open', 'kept', 'released')), 
	CONSTRAINT ck_promise_odds_are_share CHECK (odds >= 0 AND odds <= 1), 
	CONSTRAINT ck_promise_outside_positive CHECK (outside_m3 > 0), 
	CONSTRAINT fk_promise_order_id_orders FOREIGN KEY(order_id) REFERENCES orders (id), 
	CONSTRAINT fk_promise_stack_id_stack FOREIGN KEY(stack_id) REFERENCES stack (id), 
	CONSTRAINT fk_promise_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_promise_order_id ON promise (order_id)
--
CREATE INDEX ix_promise_stack_id ON promise (stack_id)
--
CREATE INDEX ix_promise_yard_id ON promise (yard_id)
--
CREATE TABLE ticket (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	order_id INTEGER, 
	household_id INTEGER, 
	entry_id INTEGER NOT NULL, 
	issued_at DATETIME NOT NULL, 
	delivered_on DATE NOT NULL, 
	outside_m3 DOUBLE NOT NULL, 
	price_minor BIGINT NOT NULL, 
	tax_minor BIGINT NOT NULL, 
	total_minor BIGINT NOT NULL, 
	currency VARCHAR(3) NOT NULL, 
	facts JSON NOT NULL, 
	CONSTRAINT pk_ticket PRIMARY KEY (id), 
	CONSTRAINT ck_ticket_number_from_one CHECK (number >= 1), 
	CONSTRAINT ck_ticket_outside_positive CHECK (outside_m3 > 0), 
	CONSTRAINT ck_ticket_price_not_negative CHECK (price_minor >= 0), 
	CONSTRAINT ck_ticket_tax_not_negative CHECK (tax_minor >= 0), 
	CONSTRAINT ck_ticket_total_is_price_and_tax CHECK (total_minor = price_minor + tax_minor), 
	CONSTRAINT fk_ticket_entry_id_entry FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_ticket_household_id_household FOREIGN KEY(household_id) REFERENCES household (id), 
	CONSTRAINT fk_ticket_order_id_orders FOREIGN KEY(order_id) REFERENCES orders (id), 
	CONSTRAINT fk_ticket_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT uq_ticket_entry_id UNIQUE (entry_id), 
	CONSTRAINT uq_ticket_yard_id UNIQUE (yard_id, number)
)
--
CREATE INDEX ix_ticket_household_id ON ticket (household_id)
--
CREATE INDEX ix_ticket_order_id ON ticket (order_id)
--
CREATE INDEX ix_ticket_yard_id ON ticket (yard_id)
--
CREATE TABLE payment (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	ticket_id INTEGER NOT NULL, 
	amount_minor BIGINT NOT NULL, 
	method VARCHAR(20) NOT NULL, 
	paid_on DATE NOT NULL, 
	CONSTRAINT pk_payment PRIMARY KEY (id), 
	CONSTRAINT ck_payment_amount_positive CHECK (amount_minor > 0), 
	CONSTRAINT fk_payment_ticket_id_ticket FOREIGN KEY(ticket_id) REFERENCES ticket (id), 
	CONSTRAINT fk_payment_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_payment_ticket_id ON payment (ticket_id)
--
CREATE INDEX ix_payment_yard_id ON payment (yard_id)
--
CREATE UNIQUE INDEX ix_person_name ON person (yard_id, name)
--
CREATE TABLE "stack_measure" (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	stack_id INTEGER NOT NULL, 
	deed_id INTEGER, 
	happened_at DATETIME NOT NULL, 
	piled VARCHAR(8) NOT NULL, 
	length_m DOUBLE NOT NULL, 
	heights_m JSON NOT NULL, 
	rows INTEGER NOT NULL, 
	outside_m3 DOUBLE NOT NULL, 
	mass_g BIGINT NOT NULL, 
	stock_taking BOOLEAN NOT NULL, 
	CONSTRAINT pk_stack_measure PRIMARY KEY (id), 
	CONSTRAINT fk_stack_measure_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT ck_stack_measure_outside_positive CHECK (outside_m3 > 0), 
	CONSTRAINT ck_stack_measure_rows_from_one CHECK (rows >= 1), 
	CONSTRAINT ck_stack_measure_length_positive CHECK (length_m > 0), 
	CONSTRAINT ck_stack_measure_piled_known CHECK (piled IN ('ranked', 'loose')), 
	CONSTRAINT fk_stack_measure_stack_id_stack FOREIGN KEY(stack_id) REFERENCES stack (id), 
	CONSTRAINT fk_stack_measure_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_stack_measure_yard_id ON stack_measure (yard_id)
--
CREATE INDEX ix_stack_measure_stack_id ON stack_measure (stack_id)
--
CREATE TABLE weather_file (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	name VARCHAR(200) NOT NULL, 
	format VARCHAR(20) NOT NULL, 
	kind VARCHAR(10) NOT NULL, 
	station VARCHAR(200) NOT NULL, 
	first_day DATE NOT NULL, 
	last_day DATE NOT NULL, 
	complete DOUBLE NOT NULL, 
	meaning JSON NOT NULL, 
	notes JSON NOT NULL, 
	offsets JSON NOT NULL, 
	use_offsets BOOLEAN NOT NULL, 
	added_at DATETIME NOT NULL, 
	taken_back_at DATETIME, 
	CONSTRAINT pk_weather_file PRIMARY KEY (id), 
	CONSTRAINT ck_weather_file_kind_known CHECK (kind IN ('observed', 'typical')), 
	CONSTRAINT ck_weather_file_first_before_last CHECK (first_day <= last_day), 
	CONSTRAINT ck_weather_file_share_is_share CHECK (complete >= 0 AND complete <= 1), 
	CONSTRAINT fk_weather_file_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_weather_file_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_weather_file_deed_id ON weather_file (deed_id)
--
CREATE INDEX ix_weather_file_sha256 ON weather_file (sha256)
--
CREATE INDEX ix_weather_file_yard_id ON weather_file (yard_id)
--
CREATE TABLE weather_hours (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	weather_file_id INTEGER, 
	source VARCHAR(40) NOT NULL, 
	format VARCHAR(20) NOT NULL, 
	kind VARCHAR(10) NOT NULL, 
	station VARCHAR(200) NOT NULL, 
	latitude_deg DOUBLE, 
	longitude_deg DOUBLE, 
	elevation_m DOUBLE, 
	first_day DATE NOT NULL, 
	last_day DATE NOT NULL, 
	digest VARCHAR(64) NOT NULL, 
	notes JSON NOT NULL, 
	packed BLOB NOT NULL, 
	updated_at DATETIME NOT NULL, 
	CONSTRAINT pk_weather_hours PRIMARY KEY (id), 
	CONSTRAINT ck_weather_hours_kind_known CHECK (kind IN ('observed', 'typical')), 
	CONSTRAINT fk_weather_hours_weather_file_id_weather_file FOREIGN KEY(weather_file_id) REFERENCES weather_file (id), 
	CONSTRAINT fk_weather_hours_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT uq_weather_hours_yard_id UNIQUE (yard_id, source)
)
--
CREATE INDEX ix_weather_hours_weather_file_id ON weather_hours (weather_file_id)
--
CREATE INDEX ix_weather_hours_yard_id ON weather_hours (yard_id)
--
CREATE TABLE weather_service (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	service VARCHAR(20) NOT NULL, 
	is_on BOOLEAN NOT NULL, 
	address VARCHAR(200) NOT NULL, 
	history_address VARCHAR(200) NOT NULL, 
	access_key VARCHAR(200) NOT NULL, 
	station VARCHAR(20) NOT NULL, 
	asked_at DATETIME, 
	answered_at DATETIME, 
	history_at DATETIME, 
	again_at DATETIME, 
	error_code VARCHAR(40) NOT NULL, 
	error JSON NOT NULL, 
	CONSTRAINT pk_weather_service PRIMARY KEY (id), 
	CONSTRAINT ck_weather_service_service_known CHECK (service IN ('open_meteo', 'eccc')), 
	CONSTRAINT fk_weather_service_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT uq_weather_service_yard_id UNIQUE (yard_id, service)
)
--
CREATE INDEX ix_weather_service_yard_id ON weather_service (yard_id)
--
CREATE TABLE weather_issue (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	service VARCHAR(20) NOT NULL, 
	issued_at DATETIME NOT NULL, 
	format VARCHAR(20) NOT NULL, 
	station VARCHAR(200) NOT NULL, 
	latitude_deg DOUBLE, 
	longitude_deg DOUBLE, 
	elevation_m DOUBLE, 
	first_day DATE NOT NULL, 
	last_day DATE NOT NULL, 
	digest VARCHAR(64) NOT NULL, 
	packed BLOB NOT NULL, 
	CONSTRAINT pk_weather_issue PRIMARY KEY (id), 
	CONSTRAINT ck_weather_issue_service_known CHECK (service IN ('open_meteo', 'eccc')), 
	CONSTRAINT fk_weather_issue_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT uq_weather_issue_yard_id UNIQUE (yard_id, service, issued_at)
)
--
CREATE INDEX ix_weather_issue_yard_id ON weather_issue (yard_id)
--
CREATE TABLE "reading" (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	stack_id INTEGER NOT NULL, 
	deed_id INTEGER, 
	happened_on DATE NOT NULL, 
	kind VARCHAR(8) NOT NULL, 
	species_id VARCHAR(60), 
	value DOUBLE NOT NULL, 
	temp_c DOUBLE, 
	typed JSON NOT NULL, 
	note VARCHAR(300) NOT NULL, 
	face VARCHAR(8) NOT NULL, 
	pieces INTEGER, 
	scatter DOUBLE, 
	since DATE, 
	step_share DOUBLE, 
	own BOOLEAN NOT NULL, 
	wet BOOLEAN NOT NULL, 
	trust VARCHAR(8) NOT NULL, 
	judged_deed_id INTEGER, 
	CONSTRAINT pk_reading PRIMARY KEY (id), 
	CONSTRAINT ck_reading_value_not_negative CHECK (value >= 0), 
	CONSTRAINT fk_reading_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_reading_stack_id_stack FOREIGN KEY(stack_id) REFERENCES stack (id), 
	CONSTRAINT ck_reading_kind_known CHECK (kind IN ('meter', 'oven', 'weighed')), 
	CONSTRAINT fk_reading_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT ck_reading_face_known CHECK (face IN ('split', 'surface')), 
	CONSTRAINT ck_reading_trust_known CHECK (trust IN ('', 'right', 'aside')), 
	CONSTRAINT ck_reading_pieces_not_negative CHECK (pieces >= 0), 
	CONSTRAINT ck_reading_scatter_not_negative CHECK (scatter >= 0), 
	CONSTRAINT ck_reading_step_not_negative CHECK (step_share >= 0), 
	CONSTRAINT fk_reading_judged_deed_id_deed FOREIGN KEY(judged_deed_id) REFERENCES deed (id)
)
--
CREATE INDEX ix_reading_stack_id ON reading (stack_id)
--
CREATE INDEX ix_reading_yard_id ON reading (yard_id)
--
CREATE TABLE witness (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	stack_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	label VARCHAR(12) NOT NULL, 
	species_id VARCHAR(60), 
	start_kg DOUBLE NOT NULL, 
	marked_on DATE NOT NULL, 
	step_kg DOUBLE, 
	implied BOOLEAN NOT NULL, 
	CONSTRAINT pk_witness PRIMARY KEY (id), 
	CONSTRAINT ck_witness_start_positive CHECK (start_kg > 0), 
	CONSTRAINT ck_witness_step_not_negative CHECK (step_kg >= 0), 
	CONSTRAINT fk_witness_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_witness_stack_id_stack FOREIGN KEY(stack_id) REFERENCES stack (id), 
	CONSTRAINT fk_witness_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT uq_witness_stack_id UNIQUE (stack_id, label, marked_on, implied)
)
--
CREATE INDEX ix_witness_yard_id ON witness (yard_id)
--
CREATE INDEX ix_witness_stack_id ON witness (stack_id)
--
CREATE TABLE witness_weight (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	reading_id INTEGER NOT NULL, 
	label VARCHAR(12) NOT NULL, 
	mass_kg DOUBLE, 
	CONSTRAINT pk_witness_weight PRIMARY KEY (id), 
	CONSTRAINT ck_witness_weight_mass_positive CHECK (mass_kg > 0), 
	CONSTRAINT fk_witness_weight_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_witness_weight_reading_id_reading FOREIGN KEY(reading_id) REFERENCES reading (id), 
	CONSTRAINT uq_witness_weight_reading_id UNIQUE (reading_id, label)
)
--
CREATE INDEX ix_witness_weight_yard_id ON witness_weight (yard_id)
--
CREATE INDEX ix_witness_weight_reading_id ON witness_weight (reading_id)
--
CREATE TABLE stack_lesson (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	stack_id INTEGER NOT NULL, 
	species_id VARCHAR(60) NOT NULL, 
	thickness_class VARCHAR(8) NOT NULL, 
	row_label VARCHAR(40) NOT NULL, 
	pace DOUBLE NOT NULL, 
	exposure DOUBLE NOT NULL, 
	pace_precision DOUBLE NOT NULL, 
	cross_precision DOUBLE NOT NULL, 
	exposure_precision DOUBLE NOT NULL, 
	fingerprint VARCHAR(64) NOT NULL, 
	learnt_at DATETIME NOT NULL, 
	forgotten_deed_id INTEGER, 
	CONSTRAINT pk_stack_lesson PRIMARY KEY (id), 
	CONSTRAINT fk_stack_lesson_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_stack_lesson_stack_id_stack FOREIGN KEY(stack_id) REFERENCES stack (id), 
	CONSTRAINT fk_stack_lesson_forgotten_deed_id_deed FOREIGN KEY(forgotten_deed_id) REFERENCES deed (id), 
	CONSTRAINT uq_stack_lesson_stack_id UNIQUE (stack_id, species_id)
)
--
CREATE INDEX ix_stack_lesson_yard_id ON stack_lesson (yard_id)
--
CREATE INDEX ix_stack_lesson_stack_id ON stack_lesson (stack_id)
--
CREATE TABLE "stack" (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	spot_id INTEGER NOT NULL, 
	name VARCHAR(40) NOT NULL, 
	kind VARCHAR(8) NOT NULL, 
	form VARCHAR(12) NOT NULL, 
	piece_length_m DOUBLE NOT NULL, 
	thickness_m DOUBLE NOT NULL, 
	bark BOOLEAN NOT NULL, 
	cover VARCHAR(8) NOT NULL, 
	exposure VARCHAR(12) NOT NULL, 
	stacked_on DATE NOT NULL, 
	start_mc_wet DOUBLE, 
	target_mc_wet DOUBLE NOT NULL, 
	row_label VARCHAR(40) NOT NULL, 
	x_m DOUBLE, 
	y_m DOUBLE, 
	emptied_on DATE, 
	note VARCHAR(500) NOT NULL, 
	ground VARCHAR(8) NOT NULL, 
	CONSTRAINT pk_stack PRIMARY KEY (id), 
	CONSTRAINT ck_stack_kind_known CHECK (kind IN ('stack', 'heap', 'bin')), 
	CONSTRAINT uq_stack_spot_id UNIQUE (spot_id), 
	CONSTRAINT ck_stack_start_is_share CHECK (start_mc_wet > 0 AND start_mc_wet < 1), 
	CONSTRAINT ck_stack_cover_known CHECK (cover IN ('none', 'top', 'shed')), 
	CONSTRAINT ck_stack_exposure_known CHECK (exposure IN ('sheltered', 'normal', 'windy')), 
	CONSTRAINT ck_stack_form_known CHECK (form IN ('split', 'round', 'kindling')), 
	CONSTRAINT ck_stack_target_is_share CHECK (target_mc_wet > 0 AND target_mc_wet < 1), 
	CONSTRAINT ck_stack_piece_length_positive CHECK (piece_length_m > 0), 
	CONSTRAINT ck_stack_thickness_positive CHECK (thickness_m > 0), 
	CONSTRAINT ck_stack_ground_known CHECK (ground IN ('raised', 'soil')), 
	CONSTRAINT fk_stack_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_stack_spot_id_spot FOREIGN KEY(spot_id) REFERENCES spot (id), 
	CONSTRAINT uq_stack_yard_id UNIQUE (yard_id, name)
)
--
CREATE INDEX ix_stack_yard_id ON stack (yard_id)
--
CREATE TABLE naming (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	load_id INTEGER, 
	logs JSON NOT NULL, 
	situations JSON NOT NULL, 
	answers JSON NOT NULL, 
	not_seen JSON NOT NULL, 
	region VARCHAR(4) NOT NULL, 
	street BOOLEAN NOT NULL, 
	counts JSON NOT NULL, 
	exponent DOUBLE NOT NULL, 
	tables VARCHAR(12) NOT NULL, 
	level VARCHAR(10) NOT NULL, 
	said VARCHAR(60) NOT NULL, 
	odds DOUBLE NOT NULL, 
	leader VARCHAR(8) NOT NULL, 
	leader_odds DOUBLE NOT NULL, 
	booked_was VARCHAR(60), 
	booked_as VARCHAR(60), 
	volume_m3 DOUBLE, 
	note VARCHAR(300) NOT NULL, 
	CONSTRAINT pk_naming PRIMARY KEY (id), 
	CONSTRAINT ck_naming_level_known CHECK (level IN ('species', 'group', 'undecided')), 
	CONSTRAINT ck_naming_odds_are_share CHECK (odds >= 0 AND odds <= 1 AND leader_odds >= 0 AND leader_odds <= 1), 
	CONSTRAINT ck_naming_exponent_positive CHECK (exponent > 0), 
	CONSTRAINT ck_naming_volume_not_negative CHECK (volume_m3 >= 0), 
	CONSTRAINT ck_naming_booked_in_a_load CHECK (booked_as IS NULL OR load_id IS NOT NULL), 
	CONSTRAINT fk_naming_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_naming_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_naming_load_id_load FOREIGN KEY(load_id) REFERENCES load (id)
)
--
CREATE INDEX ix_naming_yard_id ON naming (yard_id)
--
CREATE INDEX ix_naming_deed_id ON naming (deed_id)
--
CREATE INDEX ix_naming_load_id ON naming (load_id)
--
CREATE TABLE naming_truth (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	naming_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	key_id VARCHAR(8), 
	how VARCHAR(8) NOT NULL, 
	by_whom VARCHAR(120) NOT NULL, 
	note VARCHAR(300) NOT NULL, 
	CONSTRAINT pk_naming_truth PRIMARY KEY (id), 
	CONSTRAINT ck_naming_truth_how_known CHECK (how IN ('leaf', 'wood', 'expert', 'known')), 
	CONSTRAINT fk_naming_truth_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_naming_truth_naming_id_naming FOREIGN KEY(naming_id) REFERENCES naming (id), 
	CONSTRAINT fk_naming_truth_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id)
)
--
CREATE INDEX ix_naming_truth_yard_id ON naming_truth (yard_id)
--
CREATE INDEX ix_naming_truth_naming_id ON naming_truth (naming_id)
--
CREATE TABLE "photo" (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	media_type VARCHAR(20) NOT NULL, 
	size_bytes INTEGER NOT NULL, 
	width_px INTEGER NOT NULL, 
	height_px INTEGER NOT NULL, 
	taken_at DATETIME, 
	subject_kind VARCHAR(8) NOT NULL, 
	subject_id INTEGER NOT NULL, 
	note VARCHAR(300) NOT NULL, 
	latitude_deg DOUBLE, 
	longitude_deg DOUBLE, 
	CONSTRAINT pk_photo PRIMARY KEY (id), 
	CONSTRAINT fk_photo_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_photo_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT ck_photo_size_positive CHECK (size_bytes > 0 AND width_px > 0 AND height_px > 0), 
	CONSTRAINT ck_photo_longitude_on_earth CHECK (longitude_deg >= -180 AND longitude_deg <= 180), 
	CONSTRAINT ck_photo_media_type_known CHECK (media_type IN ('image/jpeg', 'image/png', 'image/webp')), 
	CONSTRAINT ck_photo_latitude_on_earth CHECK (latitude_deg >= -90 AND latitude_deg <= 90), 
	CONSTRAINT ck_photo_subject_kind_known CHECK (subject_kind IN ('load', 'stack', 'reading', 'ticket', 'yard', 'naming'))
)
--
CREATE INDEX ix_photo_deed_id ON photo (deed_id)
--
CREATE INDEX ix_photo_subject ON photo (yard_id, subject_kind, subject_id)
--
CREATE INDEX ix_photo_sha256 ON photo (sha256)
--
CREATE INDEX ix_photo_yard_id ON photo (yard_id)
--
CREATE TABLE password (
	person_id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	argon2 VARCHAR(200) NOT NULL, 
	set_at DATETIME NOT NULL, 
	CONSTRAINT pk_password PRIMARY KEY (person_id), 
	CONSTRAINT fk_password_person_id_person FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT fk_password_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_password_yard_id ON password (yard_id)
--
CREATE TABLE sign_in (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	person_id INTEGER NOT NULL, 
	token_sha256 VARCHAR(64) NOT NULL, 
	device VARCHAR(120) NOT NULL, 
	begun_at DATETIME NOT NULL, 
	seen_at DATETIME NOT NULL, 
	expires_at DATETIME NOT NULL, 
	ended_at DATETIME, 
	CONSTRAINT pk_sign_in PRIMARY KEY (id), 
	CONSTRAINT fk_sign_in_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_sign_in_person_id_person FOREIGN KEY(person_id) REFERENCES person (id), 
	CONSTRAINT uq_sign_in_token_sha256 UNIQUE (token_sha256)
)
--
CREATE INDEX ix_sign_in_yard_id ON sign_in (yard_id)
--
CREATE INDEX ix_sign_in_person_id ON sign_in (person_id)
--
CREATE TABLE sign_in_try (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	kind VARCHAR(8) NOT NULL, 
	"of" VARCHAR(64) NOT NULL, 
	at DATETIME NOT NULL, 
	CONSTRAINT pk_sign_in_try PRIMARY KEY (id), 
	CONSTRAINT ck_sign_in_try_kind_known CHECK (kind IN ('pair', 'name', 'address')), 
	CONSTRAINT fk_sign_in_try_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_sign_in_try_of ON sign_in_try (yard_id, kind, "of", at)
--
CREATE TABLE household_link (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	household_id INTEGER NOT NULL, 
	token_sha256 VARCHAR(64) NOT NULL, 
	made_at DATETIME NOT NULL, 
	seen_at DATETIME, 
	ended_at DATETIME, 
	CONSTRAINT pk_household_link PRIMARY KEY (id), 
	CONSTRAINT fk_household_link_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_household_link_household_id_household FOREIGN KEY(household_id) REFERENCES household (id), 
	CONSTRAINT uq_household_link_token_sha256 UNIQUE (token_sha256)
)
--
CREATE INDEX ix_household_link_yard_id ON household_link (yard_id)
--
CREATE INDEX ix_household_link_household_id ON household_link (household_id)
--
CREATE TABLE "log_piece" (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	load_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	species_id VARCHAR(60) NOT NULL, 
	length_m DOUBLE NOT NULL, 
	small_d_m DOUBLE, 
	large_d_m DOUBLE, 
	mid_d_m DOUBLE, 
	bark_thickness_m DOUBLE NOT NULL, 
	formula VARCHAR(12) NOT NULL, 
	volume_m3 DOUBLE NOT NULL, 
	gross_m3 DOUBLE NOT NULL, 
	sweep_m DOUBLE NOT NULL, 
	defects JSON NOT NULL, 
	bark_by_species BOOLEAN NOT NULL, 
	CONSTRAINT pk_log_piece PRIMARY KEY (id), 
	CONSTRAINT ck_log_piece_bark_not_negative CHECK (bark_thickness_m >= 0), 
	CONSTRAINT ck_log_piece_number_from_one CHECK (number >= 1), 
	CONSTRAINT uq_log_piece_load_id UNIQUE (load_id, number), 
	CONSTRAINT fk_log_piece_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_log_piece_load_id_load FOREIGN KEY(load_id) REFERENCES load (id), 
	CONSTRAINT ck_log_piece_length_positive CHECK (length_m > 0), 
	CONSTRAINT ck_log_piece_volume_within_gross CHECK (volume_m3 >= 0 AND gross_m3 > 0 AND volume_m3 <= gross_m3), 
	CONSTRAINT ck_log_piece_sweep_not_negative CHECK (sweep_m >= 0)
)
--
CREATE INDEX ix_log_piece_load_id ON log_piece (load_id)
--
CREATE INDEX ix_log_piece_yard_id ON log_piece (yard_id)
--
CREATE TABLE load_measure (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	load_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	set_aside_deed_id INTEGER, 
	kind VARCHAR(8) NOT NULL, 
	low_m3 DOUBLE NOT NULL, 
	mid_m3 DOUBLE NOT NULL, 
	high_m3 DOUBLE NOT NULL, 
	told JSON NOT NULL, 
	note VARCHAR(300) NOT NULL, 
	CONSTRAINT pk_load_measure PRIMARY KEY (id), 
	CONSTRAINT ck_load_measure_kind_known CHECK (kind IN ('truck', 'weight', 'logs')), 
	CONSTRAINT ck_load_measure_spread_rises CHECK (low_m3 > 0 AND low_m3 <= mid_m3 AND mid_m3 <= high_m3), 
	CONSTRAINT fk_load_measure_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_load_measure_load_id_load FOREIGN KEY(load_id) REFERENCES load (id), 
	CONSTRAINT fk_load_measure_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_load_measure_set_aside_deed_id_deed FOREIGN KEY(set_aside_deed_id) REFERENCES deed (id)
)
--
CREATE TABLE load_following (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	load_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	low_m3 DOUBLE NOT NULL, 
	mid_m3 DOUBLE NOT NULL, 
	high_m3 DOUBLE NOT NULL, 
	reason VARCHAR(200) NOT NULL, 
	CONSTRAINT pk_load_following PRIMARY KEY (id), 
	CONSTRAINT ck_load_following_spread_rises CHECK (low_m3 > 0 AND low_m3 <= mid_m3 AND mid_m3 <= high_m3), 
	CONSTRAINT fk_load_following_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_load_following_load_id_load FOREIGN KEY(load_id) REFERENCES load (id), 
	CONSTRAINT fk_load_following_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id)
)
--
CREATE TABLE photo_gauging (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	measure_id INTEGER NOT NULL, 
	photo_id INTEGER, 
	board_width_m DOUBLE NOT NULL, 
	board_height_m DOUBLE NOT NULL, 
	corners_px JSON NOT NULL, 
	outline_px JSON NOT NULL, 
	area_m2 DOUBLE NOT NULL, 
	low_m2 DOUBLE NOT NULL, 
	high_m2 DOUBLE NOT NULL, 
	CONSTRAINT pk_photo_gauging PRIMARY KEY (id), 
	CONSTRAINT ck_photo_gauging_board_positive CHECK (board_width_m > 0 AND board_height_m > 0), 
	CONSTRAINT ck_photo_gauging_area_positive CHECK (low_m2 > 0 AND low_m2 <= area_m2 AND area_m2 <= high_m2), 
	CONSTRAINT fk_photo_gauging_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_photo_gauging_measure_id_stack_measure FOREIGN KEY(measure_id) REFERENCES stack_measure (id), 
	CONSTRAINT fk_photo_gauging_photo_id_photo FOREIGN KEY(photo_id) REFERENCES photo (id) ON DELETE SET NULL, 
	CONSTRAINT uq_photo_gauging_measure_id UNIQUE (measure_id)
)
--
CREATE INDEX ix_load_measure_yard_id ON load_measure (yard_id)
--
CREATE INDEX ix_load_measure_load_id ON load_measure (load_id)
--
CREATE INDEX ix_load_following_yard_id ON load_following (yard_id)
--
CREATE INDEX ix_load_following_load_id ON load_following (load_id)
--
CREATE INDEX ix_photo_gauging_yard_id ON photo_gauging (yard_id)
--
CREATE INDEX ix_photo_gauging_photo_id ON photo_gauging (photo_id)
--
CREATE TABLE "load" (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	spot_id INTEGER NOT NULL, 
	lot_id INTEGER NOT NULL, 
	source VARCHAR(120) NOT NULL, 
	arrived_on DATE NOT NULL, 
	detail VARCHAR(8) NOT NULL, 
	typed VARCHAR(200) NOT NULL, 
	mass_sd_share DOUBLE NOT NULL, 
	paid_minor BIGINT, 
	note VARCHAR(500) NOT NULL, 
	CONSTRAINT pk_load PRIMARY KEY (id), 
	CONSTRAINT fk_load_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT ck_load_mass_sd_not_negative CHECK (mass_sd_share >= 0), 
	CONSTRAINT uq_load_spot_id UNIQUE (spot_id), 
	CONSTRAINT fk_load_spot_id_spot FOREIGN KEY(spot_id) REFERENCES spot (id), 
	CONSTRAINT fk_load_lot_id_lot FOREIGN KEY(lot_id) REFERENCES lot (id), 
	CONSTRAINT ck_load_detail_known CHECK (detail IN ('rough', 'logs', 'opening')), 
	CONSTRAINT ck_load_number_from_one CHECK (number >= 1), 
	CONSTRAINT uq_load_yard_id UNIQUE (yard_id, number)
)
--
CREATE INDEX ix_load_yard_id ON load (yard_id)
--
CREATE TABLE offer (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	source VARCHAR(120) NOT NULL, 
	offered_on DATE NOT NULL, 
	kind VARCHAR(8) NOT NULL, 
	typed VARCHAR(200) NOT NULL, 
	quantity DOUBLE, 
	quantity_kind VARCHAR(12), 
	shares JSON NOT NULL, 
	logs JSON NOT NULL, 
	trees JSON NOT NULL, 
	harvest JSON NOT NULL, 
	origin VARCHAR(8) NOT NULL, 
	rot_share DOUBLE NOT NULL, 
	asked_minor BIGINT, 
	haul_minor BIGINT NOT NULL, 
	note VARCHAR(500) NOT NULL, 
	state VARCHAR(8) NOT NULL, 
	settled_deed_id INTEGER, 
	reason VARCHAR(300) NOT NULL, 
	load_id INTEGER, 
	CONSTRAINT pk_offer PRIMARY KEY (id), 
	CONSTRAINT ck_offer_kind_known CHECK (kind IN ('rough', 'logs', 'trees')), 
	CONSTRAINT ck_offer_state_known CHECK (state IN ('open', 'taken', 'refused')), 
	CONSTRAINT ck_offer_origin_known CHECK (origin IN ('forest', 'yard')), 
	CONSTRAINT ck_offer_quantity_kind_known CHECK (quantity_kind IN ('stacked_m3', 'loose_m3', 'solid_m3', 'green_kg')), 
	CONSTRAINT ck_offer_quantity_with_kind CHECK ((quantity IS NULL) = (quantity_kind IS NULL)), 
	CONSTRAINT ck_offer_rough_has_quantity CHECK ((kind = 'rough') = (quantity IS NOT NULL)), 
	CONSTRAINT ck_offer_quantity_above_zero CHECK (quantity > 0), 
	CONSTRAINT ck_offer_taken_has_load CHECK ((state = 'taken') = (load_id IS NOT NULL)), 
	CONSTRAINT ck_offer_rot_is_share CHECK (rot_share >= 0 AND rot_share < 1), 
	CONSTRAINT ck_offer_haul_not_negative CHECK (haul_minor >= 0), 
	CONSTRAINT fk_offer_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_offer_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_offer_settled_deed_id_deed FOREIGN KEY(settled_deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_offer_load_id_load FOREIGN KEY(load_id) REFERENCES load (id), 
	CONSTRAINT uq_offer_yard_id UNIQUE (yard_id, number), 
	CONSTRAINT uq_offer_load_id UNIQUE (load_id)
)
--
CREATE INDEX ix_offer_yard_id ON offer (yard_id)
--
CREATE TABLE cut_sheet_log (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	sheet_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	log_number INTEGER, 
	label VARCHAR(40) NOT NULL, 
	species_id VARCHAR(60) NOT NULL, 
	length_m DOUBLE NOT NULL, 
	large_d_m DOUBLE NOT NULL, 
	small_d_m DOUBLE NOT NULL, 
	mid_only BOOLEAN NOT NULL, 
	defects JSON NOT NULL, 
	cuts JSON NOT NULL, 
	CONSTRAINT pk_cut_sheet_log PRIMARY KEY (id), 
	CONSTRAINT ck_cut_sheet_log_ends_in_order CHECK (small_d_m > 0 AND large_d_m >= small_d_m), 
	CONSTRAINT ck_cut_sheet_log_length_positive CHECK (length_m > 0), 
	CONSTRAINT ck_cut_sheet_log_number_from_one CHECK (number >= 1), 
	CONSTRAINT fk_cut_sheet_log_sheet_id_cut_sheet FOREIGN KEY(sheet_id) REFERENCES cut_sheet (id), 
	CONSTRAINT fk_cut_sheet_log_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT uq_cut_sheet_log_sheet_id UNIQUE (sheet_id, number)
)
--
CREATE INDEX ix_cut_sheet_log_sheet_id ON cut_sheet_log (sheet_id)
--
CREATE INDEX ix_cut_sheet_log_yard_id ON cut_sheet_log (yard_id)
--
CREATE TABLE cut_tick (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	log_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	kind VARCHAR(4) NOT NULL, 
	from_m DOUBLE, 
	to_m DOUBLE, 
	CONSTRAINT pk_cut_tick PRIMARY KEY (id), 
	CONSTRAINT ck_cut_tick_piece_from_to CHECK ((from_m IS NULL) = (to_m IS NULL)), 
	CONSTRAINT ck_cut_tick_kind_known CHECK (kind IN ('cut', 'undo')), 
	CONSTRAINT fk_cut_tick_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_cut_tick_log_id_cut_sheet_log FOREIGN KEY(log_id) REFERENCES cut_sheet_log (id), 
	CONSTRAINT fk_cut_tick_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_cut_tick_log_id ON cut_tick (log_id)
--
CREATE INDEX ix_cut_tick_yard_id ON cut_tick (yard_id)
--
CREATE TABLE cut_finding (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	log_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	kind VARCHAR(8) NOT NULL, 
	from_m DOUBLE NOT NULL, 
	to_m DOUBLE NOT NULL, 
	cut_to_m DOUBLE NOT NULL, 
	note VARCHAR(300) NOT NULL, 
	cuts_before JSON NOT NULL, 
	CONSTRAINT pk_cut_finding PRIMARY KEY (id), 
	CONSTRAINT ck_cut_finding_kind_known CHECK (kind IN ('rot', 'metal', 'fork', 'crack', 'crook', 'other')), 
	CONSTRAINT ck_cut_finding_place_in_order CHECK (from_m >= 0 AND to_m > from_m), 
	CONSTRAINT ck_cut_finding_cut_not_negative CHECK (cut_to_m >= 0), 
	CONSTRAINT fk_cut_finding_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_cut_finding_log_id_cut_sheet_log FOREIGN KEY(log_id) REFERENCES cut_sheet_log (id), 
	CONSTRAINT fk_cut_finding_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_cut_finding_log_id ON cut_finding (log_id)
--
CREATE INDEX ix_cut_finding_yard_id ON cut_finding (yard_id)
--
CREATE TABLE splitting_sheet (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	load_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	species_id VARCHAR(60) NOT NULL, 
	piece_length_m DOUBLE NOT NULL, 
	stacked_on DATE NOT NULL, 
	wanted_by DATE NOT NULL, 
	odds DOUBLE NOT NULL, 
	target_mc_wet DOUBLE NOT NULL, 
	cover VARCHAR(8) NOT NULL, 
	exposure VARCHAR(12) NOT NULL, 
	firebox_m DOUBLE, 
	hand_m DOUBLE, 
	knotty BOOLEAN NOT NULL, 
	method VARCHAR(24) NOT NULL, 
	measured BOOLEAN NOT NULL, 
	state VARCHAR(8) NOT NULL, 
	limit_m DOUBLE, 
	limit_odds DOUBLE, 
	model VARCHAR(60) NOT NULL, 
	rounds JSON NOT NULL, 
	patterns JSON NOT NULL, 
	note VARCHAR(300) NOT NULL, 
	CONSTRAINT pk_splitting_sheet PRIMARY KEY (id), 
	CONSTRAINT ck_splitting_sheet_number_from_one CHECK (number >= 1), 
	CONSTRAINT ck_splitting_sheet_length_positive CHECK (piece_length_m > 0), 
	CONSTRAINT ck_splitting_sheet_odds_are_share CHECK (odds > 0 AND odds < 1), 
	CONSTRAINT ck_splitting_sheet_target_is_share CHECK (target_mc_wet > 0 AND target_mc_wet < 1), 
	CONSTRAINT ck_splitting_sheet_limit_or_waiting CHECK ((state = 'waiting') = (limit_m IS NULL)), 
	CONSTRAINT ck_splitting_sheet_firebox_positive CHECK (firebox_m > 0), 
	CONSTRAINT ck_splitting_sheet_hand_positive CHECK (hand_m > 0), 
	CONSTRAINT ck_splitting_sheet_state_known CHECK (state IN ('waiting', 'found', 'always', 'never')), 
	CONSTRAINT ck_splitting_sheet_limit_positive CHECK (limit_m > 0), 
	CONSTRAINT fk_splitting_sheet_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_splitting_sheet_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_splitting_sheet_load_id_load FOREIGN KEY(load_id) REFERENCES load (id), 
	CONSTRAINT uq_splitting_sheet_yard_id UNIQUE (yard_id, number)
)
--
CREATE INDEX ix_splitting_sheet_load_id ON splitting_sheet (load_id)
--
CREATE INDEX ix_splitting_sheet_yard_id ON splitting_sheet (yard_id)
--
CREATE INDEX ix_load_arrived ON load (yard_id, arrived_on, id)
--
CREATE INDEX ix_stack_standing ON stack (yard_id, emptied_on, name)
--
CREATE INDEX ix_stack_forecast_state ON stack_forecast (yard_id, state)
--
CREATE INDEX ix_household_name ON household (yard_id, name, id)
--
CREATE INDEX ix_orders_wanted ON orders (yard_id, state, wanted_by, number)
--
CREATE INDEX ix_promise_state ON promise (yard_id, state, stack_id, outside_m3)
--
CREATE INDEX ix_ticket_order ON ticket (yard_id, order_id, number)
--
CREATE INDEX ix_ticket_household ON ticket (yard_id, household_id, number)
--
CREATE INDEX ix_deed_person ON deed (yard_id, person_id, id)
--
CREATE TABLE "cut_sheet" (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	load_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	wares JSON NOT NULL, 
	kerf_m DOUBLE NOT NULL, 
	trim_m DOUBLE NOT NULL, 
	method VARCHAR(16) NOT NULL, 
	bound DOUBLE, 
	note VARCHAR(300) NOT NULL, 
	small_cores BOOLEAN NOT NULL, 
	CONSTRAINT pk_cut_sheet PRIMARY KEY (id), 
	CONSTRAINT uq_cut_sheet_yard_id UNIQUE (yard_id, number), 
	CONSTRAINT fk_cut_sheet_load_id_load FOREIGN KEY(load_id) REFERENCES load (id), 
	CONSTRAINT ck_cut_sheet_number_from_one CHECK (number >= 1), 
	CONSTRAINT ck_cut_sheet_bound_not_negative CHECK (bound >= 0), 
	CONSTRAINT fk_cut_sheet_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_cut_sheet_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT ck_cut_sheet_method_known CHECK (method IN ('', 'single', 'every_sequence', 'columns', 'prices')), 
	CONSTRAINT ck_cut_sheet_kerf_not_negative CHECK (kerf_m >= 0), 
	CONSTRAINT ck_cut_sheet_trim_not_negative CHECK (trim_m >= 0)
)
--
CREATE INDEX ix_cut_sheet_load_id ON cut_sheet (load_id)
--
CREATE INDEX ix_cut_sheet_yard_id ON cut_sheet (yard_id)
--
CREATE TABLE "yard_costs" (
	yard_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	wage_minor_h BIGINT, 
	machine_minor_h BIGINT, 
	fuel_minor_l DOUBLE, 
	vehicle_minor_km DOUBLE, 
	space_minor_cord_month DOUBLE, 
	metal_minor BIGINT, 
	interest_year DOUBLE NOT NULL, 
	method VARCHAR(40) NOT NULL, 
	delivery_km DOUBLE, 
	trip_cords DOUBLE, 
	delivered_share DOUBLE NOT NULL, 
	kerf_m DOUBLE NOT NULL, 
	hours JSON NOT NULL, 
	margin_kind VARCHAR(8) NOT NULL, 
	margin DOUBLE NOT NULL, 
	CONSTRAINT pk_yard_costs PRIMARY KEY (yard_id), 
	CONSTRAINT fk_yard_costs_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT ck_yard_costs_interest_is_share CHECK (interest_year >= 0 AND interest_year <= 1), 
	CONSTRAINT ck_yard_costs_margin_not_negative CHECK (margin >= 0), 
	CONSTRAINT fk_yard_costs_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT ck_yard_costs_delivered_is_share CHECK (delivered_share >= 0 AND delivered_share <= 1), 
	CONSTRAINT ck_yard_costs_margin_kind_known CHECK (margin_kind IN ('share', 'cord', 'load', 'hour'))
)
--
CREATE TABLE row_link (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	previous VARCHAR(64) NOT NULL, 
	hash VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_row_link PRIMARY KEY (id), 
	CONSTRAINT ck_row_link_number_from_one CHECK (number >= 1), 
	CONSTRAINT ck_row_link_hash_whole CHECK (length(hash) = 64), 
	CONSTRAINT fk_row_link_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT uq_row_link_yard_id UNIQUE (yard_id, number), 
	CONSTRAINT uq_row_link_previous UNIQUE (yard_id, previous)
)
--
CREATE INDEX ix_row_link_yard_id ON row_link (yard_id)
--
CREATE TABLE row_seal (
	table_name VARCHAR(24) NOT NULL, 
	row_id INTEGER NOT NULL, 
	link_id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	hash VARCHAR(64) NOT NULL, 
	salt VARCHAR(32) NOT NULL, 
	words_hash VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_row_seal PRIMARY KEY (table_name, row_id, link_id), 
	CONSTRAINT ck_row_seal_hash_whole CHECK (length(hash) = 64), 
	CONSTRAINT ck_row_seal_salt_with_words CHECK (words_hash <> '' OR salt = ''), 
	CONSTRAINT fk_row_seal_link_id_row_link FOREIGN KEY(link_id) REFERENCES row_link (id), 
	CONSTRAINT fk_row_seal_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id)
)
--
CREATE INDEX ix_row_seal_link ON row_seal (link_id)
--
CREATE TABLE "entry_link" (
	entry_id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	previous VARCHAR(64) NOT NULL, 
	hash VARCHAR(64) NOT NULL, 
	reason_salt VARCHAR(32) NOT NULL, 
	reason_hash VARCHAR(64) NOT NULL, 
	CONSTRAINT pk_entry_link PRIMARY KEY (entry_id), 
	CONSTRAINT fk_entry_link_entry_id_entry FOREIGN KEY(entry_id) REFERENCES entry (id), 
	CONSTRAINT fk_entry_link_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT ck_entry_link_hash_whole CHECK (length(hash) = 64), 
	CONSTRAINT ck_entry_link_number_from_one CHECK (number >= 1), 
	CONSTRAINT uq_entry_link_previous UNIQUE (yard_id, previous), 
	CONSTRAINT uq_entry_link_yard_id UNIQUE (yard_id, number), 
	CONSTRAINT ck_entry_link_reason_with_salt CHECK (reason_hash <> '' OR reason_salt = '')
)
--
CREATE INDEX ix_entry_link_yard_id ON entry_link (yard_id)
--
CREATE TRIGGER entry_no_update BEFORE UPDATE OF id, yard_id, number, deed_id, kind, happened_at, recorded_at, reverses_id ON entry BEGIN SELECT RAISE(ABORT, 'the journal is append-only: post a reversal instead'); END
--
CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry BEGIN SELECT RAISE(ABORT, 'the journal is append-only: post a reversal instead'); END
--
CREATE TRIGGER posting_no_update BEFORE UPDATE ON posting BEGIN SELECT RAISE(ABORT, 'the journal is append-only: post a reversal instead'); END
--
CREATE TRIGGER posting_no_delete BEFORE DELETE ON posting BEGIN SELECT RAISE(ABORT, 'the journal is append-only: post a reversal instead'); END
--
CREATE TRIGGER entry_link_no_update BEFORE UPDATE OF entry_id, yard_id, number, previous, hash, reason_hash ON entry_link BEGIN SELECT RAISE(ABORT, 'the journal is append-only: post a reversal instead'); END
--
CREATE TRIGGER entry_link_no_delete BEFORE DELETE ON entry_link BEGIN SELECT RAISE(ABORT, 'the journal is append-only: post a reversal instead'); END
--
CREATE TRIGGER row_link_no_update BEFORE UPDATE ON row_link BEGIN SELECT RAISE(ABORT, 'the journal is append-only: post a reversal instead'); END
--
CREATE TRIGGER row_link_no_delete BEFORE DELETE ON row_link BEGIN SELECT RAISE(ABORT, 'the journal is append-only: post a reversal instead'); END
--
CREATE TRIGGER row_seal_no_update BEFORE UPDATE OF table_name, row_id, link_id, yard_id, hash, words_hash ON row_seal BEGIN SELECT RAISE(ABORT, 'the journal is append-only: post a reversal instead'); END
--
CREATE TRIGGER row_seal_no_delete BEFORE DELETE ON row_seal BEGIN SELECT RAISE(ABORT, 'the journal is append-only: post a reversal instead'); END
--
CREATE TRIGGER deed_no_update BEFORE UPDATE OF id, yard_id, client_key, kind, body_hash, answer, person_id, happened_at, recorded_at ON deed BEGIN SELECT RAISE(ABORT, 'a sealed row is append-only: enter what changed as a deed of its own') WHERE EXISTS (SELECT 1 FROM row_seal WHERE table_name = 'deed' AND row_id = OLD.id AND (words_hash = '' OR salt <> '')); END
--
CREATE TRIGGER deed_no_delete BEFORE DELETE ON deed BEGIN SELECT RAISE(ABORT, 'a sealed row is append-only: enter what changed as a deed of its own'); END
--
CREATE TRIGGER payment_no_update BEFORE UPDATE OF id, yard_id, ticket_id, amount_minor, method, paid_on ON payment BEGIN SELECT RAISE(ABORT, 'a sealed row is append-only: enter what changed as a deed of its own') WHERE EXISTS (SELECT 1 FROM row_seal WHERE table_name = 'payment' AND row_id = OLD.id AND (words_hash = '' OR salt <> '')); END
--
CREATE TRIGGER payment_no_delete BEFORE DELETE ON payment BEGIN SELECT RAISE(ABORT, 'a sealed row is append-only: enter what changed as a deed of its own'); END
--
CREATE TRIGGER ticket_no_update BEFORE UPDATE OF id, yard_id, number, order_id, household_id, entry_id, issued_at, delivered_on, outside_m3, price_minor, tax_minor, total_minor, currency, facts ON ticket BEGIN SELECT RAISE(ABORT, 'a sealed row is append-only: enter what changed as a deed of its own') WHERE EXISTS (SELECT 1 FROM row_seal WHERE table_name = 'ticket' AND row_id = OLD.id AND (words_hash = '' OR salt <> '')); END
--
CREATE TRIGGER ticket_no_delete BEFORE DELETE ON ticket BEGIN SELECT RAISE(ABORT, 'a sealed row is append-only: enter what changed as a deed of its own'); END
--
CREATE TRIGGER entry_link_salt_goes BEFORE UPDATE OF reason_salt ON entry_link BEGIN SELECT RAISE(ABORT, 'a salt is append-only: it can only be thrown away') WHERE NEW.reason_salt <> ''; END
--
CREATE TRIGGER row_seal_salt_goes BEFORE UPDATE OF salt ON row_seal BEGIN SELECT RAISE(ABORT, 'a salt is append-only: it can only be thrown away') WHERE NEW.salt <> ''; END
--
CREATE TRIGGER entry_reason_goes BEFORE UPDATE OF reason ON entry BEGIN SELECT RAISE(ABORT, 'the reason is append-only: it can only be taken out, after its salt') WHERE NEW.reason <> '' OR EXISTS (SELECT 1 FROM entry_link WHERE entry_id = OLD.id AND reason_salt <> ''); END
--
CREATE TRIGGER entry_link_fits BEFORE INSERT ON entry_link BEGIN SELECT RAISE(ABORT, 'an entry must balance for every species and lot') WHERE EXISTS (SELECT 1 FROM posting WHERE entry_id = NEW.entry_id GROUP BY species_id, lot_id HAVING sum(mass_g) <> 0); SELECT RAISE(ABORT, 'a seal belongs to its entry and hangs on the one before') WHERE NOT EXISTS (SELECT 1 FROM entry WHERE id = NEW.entry_id AND yard_id = NEW.yard_id AND number = NEW.number) OR EXISTS (SELECT 1 FROM entry_link WHERE yard_id = NEW.yard_id AND number > NEW.number) OR NEW.previous <> COALESCE((SELECT hash FROM entry_link WHERE yard_id = NEW.yard_id AND number < NEW.number ORDER BY number DESC LIMIT 1), ''); END
--
CREATE TRIGGER posting_not_after_seal BEFORE INSERT ON posting BEGIN SELECT RAISE(ABORT, 'the entry is sealed: no posting comes to it any more') WHERE EXISTS (SELECT 1 FROM entry_link WHERE entry_id = NEW.entry_id); END
--
CREATE TABLE "clash" (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	subject_kind VARCHAR(8) NOT NULL, 
	subject_id INTEGER NOT NULL, 
	code VARCHAR(40) NOT NULL, 
	msgid VARCHAR(600) NOT NULL, 
	sentence_values JSON NOT NULL, 
	raised_at DATETIME NOT NULL, 
	settled_at DATETIME, 
	settled_deed_id INTEGER, 
	note VARCHAR(300) NOT NULL, 
	CONSTRAINT pk_clash PRIMARY KEY (id), 
	CONSTRAINT fk_clash_settled_deed_id_deed FOREIGN KEY(settled_deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_clash_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT ck_clash_settled_by_a_deed CHECK ((settled_at IS NULL) = (settled_deed_id IS NULL)), 
	CONSTRAINT fk_clash_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT ck_clash_subject_kind_known CHECK (subject_kind IN ('stack', 'reading', 'load'))
)
--
CREATE INDEX ix_clash_open ON clash (yard_id, settled_at, raised_at)
--
CREATE INDEX ix_clash_subject ON clash (yard_id, subject_kind, subject_id)
--
CREATE INDEX ix_clash_deed_id ON clash (deed_id)
--
CREATE INDEX ix_clash_yard_id ON clash (yard_id)
--
CREATE TABLE "work_session" (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	sheet_id INTEGER, 
	species_id VARCHAR(60), 
	method VARCHAR(24) NOT NULL, 
	worked_on DATE NOT NULL, 
	cords DOUBLE, 
	solid_m3 DOUBLE, 
	piece_length_m DOUBLE NOT NULL, 
	hours DOUBLE NOT NULL, 
	pieces INTEGER, 
	typed VARCHAR(40) NOT NULL, 
	note VARCHAR(300) NOT NULL, 
	step VARCHAR(12) NOT NULL, 
	thickness_m DOUBLE, 
	CONSTRAINT pk_work_session PRIMARY KEY (id), 
	CONSTRAINT fk_work_session_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT ck_work_session_pieces_from_one CHECK (pieces >= 1), 
	CONSTRAINT fk_work_session_sheet_id_splitting_sheet FOREIGN KEY(sheet_id) REFERENCES splitting_sheet (id), 
	CONSTRAINT ck_work_session_hours_positive CHECK (hours > 0), 
	CONSTRAINT ck_work_session_cords_positive CHECK (cords > 0), 
	CONSTRAINT ck_work_session_step_known CHECK (step IN ('sawing', 'splitting', 'stacking', 'loading', 'delivering')), 
	CONSTRAINT ck_work_session_one_amount CHECK ((cords IS NULL) <> (solid_m3 IS NULL)), 
	CONSTRAINT fk_work_session_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT ck_work_session_length_positive CHECK (piece_length_m > 0), 
	CONSTRAINT ck_work_session_solid_positive CHECK (solid_m3 > 0), 
	CONSTRAINT ck_work_session_method_of_splitting CHECK ((step = 'splitting') = (method <> '')), 
	CONSTRAINT ck_work_session_thickness_positive CHECK (thickness_m > 0)
)
--
CREATE INDEX ix_work_session_sheet_id ON work_session (sheet_id)
--
CREATE INDEX ix_work_session_yard_id ON work_session (yard_id)
--
CREATE TABLE "undoing" (
	id INTEGER NOT NULL, 
	yard_id INTEGER NOT NULL, 
	deed_id INTEGER NOT NULL, 
	undone_at DATETIME NOT NULL, 
	reason VARCHAR(200) NOT NULL, 
	ticket_id INTEGER, 
	payment_id INTEGER, 
	load_id INTEGER, 
	stack_id INTEGER, 
	measure_id INTEGER, 
	CONSTRAINT pk_undoing PRIMARY KEY (id), 
	CONSTRAINT uq_undoing_load_id UNIQUE (load_id), 
	CONSTRAINT fk_undoing_payment_id_payment FOREIGN KEY(payment_id) REFERENCES payment (id), 
	CONSTRAINT ck_undoing_reason_given CHECK (reason <> ''), 
	CONSTRAINT fk_undoing_stack_id_stack FOREIGN KEY(stack_id) REFERENCES stack (id), 
	CONSTRAINT fk_undoing_ticket_id_ticket FOREIGN KEY(ticket_id) REFERENCES ticket (id), 
	CONSTRAINT fk_undoing_load_id_load FOREIGN KEY(load_id) REFERENCES load (id), 
	CONSTRAINT uq_undoing_ticket_id UNIQUE (ticket_id), 
	CONSTRAINT uq_undoing_payment_id UNIQUE (payment_id), 
	CONSTRAINT uq_undoing_stack_id UNIQUE (stack_id), 
	CONSTRAINT fk_undoing_yard_id_yard FOREIGN KEY(yard_id) REFERENCES yard (id), 
	CONSTRAINT fk_undoing_deed_id_deed FOREIGN KEY(deed_id) REFERENCES deed (id), 
	CONSTRAINT fk_undoing_measure_id_stack_measure FOREIGN KEY(measure_id) REFERENCES stack_measure (id), 
	CONSTRAINT uq_undoing_measure_id UNIQUE (measure_id), 
	CONSTRAINT ck_undoing_of_one CHECK (CASE WHEN ticket_id IS NULL THEN 0 ELSE 1 END + CASE WHEN payment_id IS NULL THEN 0 ELSE 1 END + CASE WHEN load_id IS NULL THEN 0 ELSE 1 END + CASE WHEN stack_id IS NULL THEN 0 ELSE 1 END + CASE WHEN measure_id IS NULL THEN 0 ELSE 1 END = 1)
)
--
CREATE INDEX ix_undoing_deed_id ON undoing (deed_id)
--
CREATE INDEX ix_undoing_yard_id ON undoing (yard_id)
--
CREATE TRIGGER undoing_no_update BEFORE UPDATE OF id, yard_id, deed_id, undone_at, reason, ticket_id, payment_id, load_id, stack_id, measure_id ON undoing BEGIN SELECT RAISE(ABORT, 'a sealed row is append-only: enter what changed as a deed of its own') WHERE EXISTS (SELECT 1 FROM row_seal WHERE table_name = 'undoing' AND row_id = OLD.id AND (words_hash = '' OR salt <> '')); END
--
CREATE TRIGGER undoing_no_delete BEFORE DELETE ON undoing BEGIN SELECT RAISE(ABORT, 'a sealed row is append-only: enter what changed as a deed of its own'); END
--
CREATE INDEX ix_entry_happened ON entry (yard_id, happened_at)
--
INSERT INTO book_schema (version_num) VALUES ('0019')
