-- Grain: one row a patient as last recorded, withdrawn ones too.
with last_recorded as (
    select * exclude (salt) from latest_patients
)
select * from last_recorded
