-- Grain: one row a query, or an amended value, whose row is not there; rows returned are faults.
with versions as (
    select 'patients' as sheet, record, change from patients
    union all select 'reconstructions', record, change from reconstructions
    union all select 'reviews', record, change from reviews
    union all select 'events', record, change from events
),
notes as (
    select 'query' as what, sheet, record, change from queries
    union all
    select 'amended value', sheet, record, change from overruled
),
faults as (
    select what || ' on ' || sheet || ' version ' || record || '/' || change as place, 'its row is not there' as fault
    from notes anti join versions using (sheet, record, change)
)
select * from faults
