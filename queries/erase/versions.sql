-- Grain: one row a version to erase for the patients $patients: all of theirs, and any other that named one of them.
with their_cases as (
    select record, case_id from latest_reconstructions where patient_id in (select unnest($patients))
),
their_reviews as (
    select record from latest_reviews semi join their_cases using (case_id)
),
their_events as (
    select record from latest_events semi join their_cases using (case_id)
),
theirs as (
    select 'patients' as sheet, record, change from patients where patient_id in (select unnest($patients))
    union select 'reconstructions', record, change from reconstructions semi join their_cases using (record)
    union select 'reconstructions', record, change from reconstructions where patient_id in (select unnest($patients))
    union select 'reviews', record, change from reviews semi join their_cases using (case_id)
    union select 'reviews', record, change from reviews semi join their_reviews using (record)
    union select 'events', record, change from events semi join their_cases using (case_id)
    union select 'events', record, change from events semi join their_events using (record)
)
select * from theirs
