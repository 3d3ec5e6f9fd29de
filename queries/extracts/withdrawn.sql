-- Grain: one row a cover: how many lids of patients who have withdrawn it had.
with theirs as (
    select cover from latest_reconstructions
    semi join (select patient_id from latest_patients where withdrawn) using (patient_id) where removed is not true
),
counted as (
    select cover, count(*) as lids from theirs group by cover
)
select * from counted order by cover
