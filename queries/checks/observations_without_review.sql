-- Grain: one row a version of a review that has values but is not there; rows returned are faults.
with faults as (
    select distinct 'review version ' || record || '/' || change as place, 'values without their review' as fault
    from observations anti join reviews using (record, change)
)
select * from faults
