-- Grain: one row a version made in the change $change, to be added to its seals.
insert into seals
with made as (
    select sheet, record, change, sha256(salt || chr(29) || text) as seal from ({row_texts}) where change = $change
),
placed as (
    select change, row_number() over (order by sheet, record) as place, sheet, record, seal, null as erased_in from made
)
select * from placed
