-- Grain: one row a patient, as it stands.
with patients_as_they_stand as (
    select * exclude (record, change, salt, withdrawn) from current_patients
)
select * from patients_as_they_stand order by patient_id
