-- Grain: one row a query, or an amended value, whose row is not there; rows returned are faults.
with notes as (
    select 'query' as what, sheet, record, change from queries
    union all
    select 'amended value', sheet, record, change from overruled
),
faults as (
    select what || ' on ' || sheet || ' version ' || record || '/' || change as place, 'its row is not there' as fault
    from notes anti join row_texts using (sheet, record, change)
)
select * from faults
