-- Grain: one row a version of a row of one sheet made in the change $change, with a record from $low to $high, to be
-- added to its seals after the place $place.
insert into seals
with made as (
    select sheet, record, change, sha256(salt || chr(29) || text) as seal from ({row_texts}) where change = $change
),
placed as (
    select change, $place + row_number() over (order by record) as place, sheet, record, seal, null as erased_in from made
)
select * from placed
