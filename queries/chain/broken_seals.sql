-- Grain: one row a version of the sheet $sheet, with a record from $low to $high, whose seal is missing, wrong, or left
-- over; rows returned are faults.
with found as (
    select sheet, record, change, sha256(salt || chr(29) || text) as computed from ({row_texts})
),
kept as (
    from seals where sheet = $sheet and record between $low and $high
),
broken as (
    select change, sheet, record
    from kept full join found using (sheet, record, change)
    where seal is distinct from computed and not (computed is null and erased_in is not null)
       or computed is not null and erased_in is not null
)
select * from broken order by change, sheet, record
