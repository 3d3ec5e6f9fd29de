-- Grain: one row a case of a patient who has withdrawn; a patient without cases has one row without a case.
with withdrawn_patients as (
    select patient_id from latest_patients where withdrawn
),
theirs as (
    select patient_id, case_id from withdrawn_patients left join latest_reconstructions using (patient_id)
)
select * from theirs
