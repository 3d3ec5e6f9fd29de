-- Grain: one row a version of the patient of the case $case_id, oldest first.
with whose as (
    select distinct patient_id from reconstructions where case_id = $case_id
),
versions as (
    select * exclude (salt) from patients semi join whose using (patient_id)
)
select * from versions order by record, change
