-- Grain: one row a case of the rows given that the register holds or has held, or whose patient it does.
create temp table other_cases as
with known as (
    select case_id from given_reconstructions
    where patient_id in (select patient_id from other_patients) or case_id in (select case_id from reconstructions)
)
select * from known;
