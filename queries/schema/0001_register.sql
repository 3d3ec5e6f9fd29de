-- Grain: one table a kind of row; every version of every row is kept, and the newest one is the row as it stands.

-- One row a register: what it is, and the whole protocol that it was made with.
create table register (
    identity varchar not null,
    protocol varchar not null,
    fingerprint varchar not null,
    software varchar not null
);

-- One row a migration that was applied.
create table schema_versions (
    number integer primary key,
    name varchar not null,
    software varchar not null
);

-- One row a change: who, when, from which file, why. The chain covers this row, its rows, and the chain before it.
create table changes (
    change integer primary key,
    kind varchar not null,
    made_at timestamp not null,
    who varchar not null,
    reason varchar not null,
    file varchar not null,
    file_digest varchar not null,
    salt varchar not null,
    seal varchar not null,
    chain varchar not null,
    redacted_in integer
);

-- One row a version of a row: its salted digest, which stays when the version is erased and then tells nothing.
create table seals (
    change integer not null,
    place integer not null,
    sheet varchar not null,
    record integer not null,
    seal varchar not null,
    erased_in integer,
    primary key (change, place)
);

-- One row a version of a patient.
create table patients (
    record integer not null,
    change integer not null,
    salt varchar not null,
    withdrawn boolean not null,
    patient_id varchar not null,
    birth_year double,
    sex varchar,
    smoker varchar,
    diabetes varchar,
    immunosuppressed varchar,
    anticoagulated varchar,
    prior_lid_radiotherapy varchar,
    primary key (record, change)
);

-- One row a version of a reconstruction.
create table reconstructions (
    record integer not null,
    change integer not null,
    salt varchar not null,
    case_id varchar not null,
    patient_id varchar not null,
    side varchar,
    surgeon varchar,
    site varchar,
    operated_on date,
    diagnosis varchar,
    bcc_subtype varchar,
    recurrent_tumour varchar,
    defect_width_mm double,
    lid_width_mm double,
    defect_height_mm double,
    defect_depth varchar,
    canthus_involved varchar,
    distraction_mm double,
    snap_back double,
    fellow_logmar double,
    excision_method varchar,
    clinical_margin_mm double,
    margin_control varchar,
    histology_lateral_mm double,
    histology_deep_mm double,
    histology_margin varchar,
    histology_reason varchar,
    re_excised varchar,
    residual_tumour varchar,
    flap_width_mm double,
    tarsus_left_mm double,
    cover_planned varchar,
    cover varchar,
    graft_donor varchar,
    margin_shortfall_mm double,
    division_planned_on date,
    divided_on date,
    division_early_reason varchar,
    primary key (record, change)
);

-- One row a version of a review; what was measured at it is in observations.
create table reviews (
    record integer not null,
    change integer not null,
    salt varchar not null,
    case_id varchar not null,
    reviewed_on date not null,
    assessor varchar,
    masked varchar,
    mode varchar,
    primary key (record, change)
);

-- One row a value measured at a version of a review. yes is 1 and no is 0, a grade is its level.
create table observations (
    record integer not null,
    change integer not null,
    field varchar not null,
    value double not null,
    primary key (record, change, field)
);

-- One row a version of an event.
create table events (
    record integer not null,
    change integer not null,
    salt varchar not null,
    case_id varchar not null,
    happened_on date not null,
    kind varchar not null,
    percent_lost double,
    revision_kind varchar,
    primary key (record, change)
);

-- One row a query raised on a version of a row: legal but odd. A newer version without it has settled it.
create table queries (
    sheet varchar not null,
    record integer not null,
    change integer not null,
    query_id varchar not null,
    says varchar not null
);

-- One row a value of a version that was amended here: what the file had said, so that the same file again does not
-- undo the amendment.
create table overruled (
    sheet varchar not null,
    record integer not null,
    change integer not null,
    field varchar not null,
    said varchar
);

-- The newest version of each row, of withdrawn patients too.
create view latest_patients as
    from patients qualify row_number() over (partition by record order by change desc) = 1;
create view latest_reconstructions as
    from reconstructions qualify row_number() over (partition by record order by change desc) = 1;
create view latest_reviews as
    from reviews qualify row_number() over (partition by record order by change desc) = 1;
create view latest_events as
    from events qualify row_number() over (partition by record order by change desc) = 1;

-- The rows as they stand: the newest versions, without withdrawn patients and all that is theirs.
create view current_patients as
    from latest_patients where not withdrawn;
create view current_reconstructions as
    from latest_reconstructions semi join current_patients using (patient_id);
create view current_reviews as
    from latest_reviews semi join current_reconstructions using (case_id);
create view current_observations as
    from observations semi join current_reviews using (record, change);
create view current_events as
    from latest_events semi join current_reconstructions using (case_id);
create view current_queries as
    with current_versions as (
        select 'patients' as sheet, record, change, patient_id as code from current_patients
        union all select 'reconstructions', record, change, case_id from current_reconstructions
        union all select 'reviews', record, change, case_id from current_reviews
        union all select 'events', record, change, case_id from current_events
    )
    from queries join current_versions using (sheet, record, change);
