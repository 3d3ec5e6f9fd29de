-- Grain: one row a version whose change is not told, or that was never sealed; rows returned are faults.
with versions as (
    select sheet, record, change from row_texts
),
faults as (
    select sheet || ' version ' || record || '/' || change as place, 'has no seal' as fault
    from versions anti join seals using (sheet, record, change)
    union all
    select 'change ' || change, 'has seals but is not told'
    from (select change from seals group by change) anti join changes using (change)
)
select * from faults
