-- Which patients have two rebuilt lids in the register?
-- Grain: one row a patient with more than one case.
-- Gives: patient; lids; the cases; the covers; the sides
with several as (
    select
        patient_id,
        count(*) as lids,
        string_agg(case_id, ', ' order by operated_on, case_id) as cases,
        string_agg(cover, ', ' order by operated_on, case_id) as covers,
        string_agg(side, ', ' order by operated_on, case_id) as sides
    from cases
    group by patient_id
    having count(*) > 1
)
select * from several order by patient_id
