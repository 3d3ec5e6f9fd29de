-- Grain: one row a version whose seal is missing, wrong, or left over; rows returned are faults.
with found as (
    select sheet, record, change, sha256(salt || chr(29) || text) as computed from ({row_texts})
),
broken as (
    select change, sheet, record
    from seals full join found using (sheet, record, change)
    where seal is distinct from computed and not (computed is null and erased_in is not null)
       or computed is not null and erased_in is not null
)
select * from broken order by change, sheet, record
