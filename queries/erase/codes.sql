-- Grain: one row a study code of one of the patients $patients: the patient's own, and those of the cases.
with codes as (
    select patient_id as code, 'patient' as what from patients where patient_id in (select unnest($patients))
    union select case_id, 'case' from latest_reconstructions where patient_id in (select unnest($patients))
)
select * from codes order by what, code
