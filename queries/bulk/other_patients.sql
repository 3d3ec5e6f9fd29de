-- Grain: one row a patient of the rows given whom the register holds or has held.
create temp table other_patients as
with given as (
    select patient_id from given_patients union select patient_id from given_reconstructions
),
known as (
    select patient_id from given semi join patients using (patient_id)
)
select * from known;
