-- Grain: a removed row keeps its versions; one row a protocol that took the place of the one before it.
alter table reconstructions add column removed boolean default false;
alter table reviews add column removed boolean default false;
alter table events add column removed boolean default false;

create or replace view current_reconstructions as
    from latest_reconstructions semi join current_patients using (patient_id) where removed is not true;
create or replace view current_reviews as
    from latest_reviews semi join current_reconstructions using (case_id) where removed is not true;
create or replace view current_events as
    from latest_events semi join current_reconstructions using (case_id) where removed is not true;

-- The protocol from this change on; the change's file_digest is that of the protocol's text.
create table protocols (
    change integer primary key,
    protocol varchar not null,
    fingerprint varchar not null,
    software varchar not null
);

-- The sealed texts are made from the columns of the tables since this version of the program.
drop view if exists row_texts;
