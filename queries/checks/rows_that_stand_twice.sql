-- Grain: one row a key under which two rows stand; rows returned are faults. Two rows with the same key have the same hash:
-- only the rows that share one, in any version, are looked at, as the keys of millions of rows take much memory.
with patients_alike as (
    select hash(patient_id) as mark from patients group by mark having min(record) <> max(record)
),
reconstructions_alike as (
    select hash(case_id) as mark from reconstructions group by mark having min(record) <> max(record)
),
reviews_alike as (
    select hash((case_id, reviewed_on, assessor, mode)) as mark from reviews group by mark having min(record) <> max(record)
),
events_alike as (
    select hash((case_id, happened_on, kind)) as mark from events group by mark having min(record) <> max(record)
),
patients_versions as (
    from patients semi join (select record from patients where hash(patient_id) in (from patients_alike)) using (record)
),
reconstructions_versions as (
    from reconstructions semi join (select record from reconstructions where hash(case_id) in (from reconstructions_alike)) using (record)
),
reviews_versions as (
    from reviews semi join (select record from reviews where hash((case_id, reviewed_on, assessor, mode)) in (from reviews_alike)) using (record)
),
events_versions as (
    from events semi join (select record from events where hash((case_id, happened_on, kind)) in (from events_alike)) using (record)
),
places as (
    select 'patient ' || patient_id as place
    from patients_versions semi join (select record, max(change) as change from patients_versions group by record) using (record, change)
    union all
    select 'reconstruction ' || case_id
    from reconstructions_versions semi join (select record, max(change) as change from reconstructions_versions group by record) using (record, change)
    where removed is not true
    union all
    select concat_ws(' ', 'review of', case_id, 'on', reviewed_on, 'by', coalesce(assessor, 'nobody named'), mode)
    from reviews_versions semi join (select record, max(change) as change from reviews_versions group by record) using (record, change)
    where removed is not true
    union all
    select concat_ws(' ', 'event of', case_id, 'on', happened_on, kind)
    from events_versions semi join (select record, max(change) as change from events_versions group by record) using (record, change)
    where removed is not true
),
faults as (
    select place, 'stands twice' as fault from places group by place having count(*) > 1
)
select * from faults
