-- Which lids were divided early, and why?
-- Grain: one row a case with a recorded reason.
-- Gives: case; cover; reason; planned and actual day of division; days to division
with early as (
    select case_id, cover, division_early_reason, division_planned_on, divided_on, days_to_division
    from cases
    where division_early_reason is not null
)
select * from early order by divided_on, case_id
