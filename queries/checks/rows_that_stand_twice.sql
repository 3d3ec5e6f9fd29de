-- Grain: one row a key under which two rows stand; rows returned are faults.
with keys as (
    select 'patient ' || patient_id as place from latest_patients
    union all
    select 'reconstruction ' || case_id from latest_reconstructions where removed is not true
    union all
    select concat_ws(' ', 'review of', case_id, 'on', reviewed_on, 'by', coalesce(assessor, 'nobody named'), mode)
    from latest_reviews where removed is not true
    union all
    select concat_ws(' ', 'event of', case_id, 'on', happened_on, kind) from latest_events where removed is not true
),
faults as (
    select place, 'stands twice' as fault from keys group by place having count(*) > 1
)
select * from faults
