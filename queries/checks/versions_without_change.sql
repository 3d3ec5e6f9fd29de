-- Grain: one row a version that was never sealed, or a change that is not told; rows returned are faults.
with versions as (
    select 'patients' as sheet, record, change from patients
    union all select 'reconstructions', record, change from reconstructions
    union all select 'reviews', record, change from reviews
    union all select 'events', record, change from events
),
faults as (
    select sheet || ' version ' || record || '/' || change as place, 'has no seal' as fault
    from versions anti join seals using (sheet, record, change)
    union all
    select distinct 'change ' || change, 'has seals but is not told'
    from seals anti join changes using (change)
)
select * from faults
