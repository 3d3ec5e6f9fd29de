-- Grain: one row: how many rows of the sheet $sheet stand, and how many letters their texts have, one after the other.
with texts as (
    select length(sheet || chr(29) || text) as letters from ({row_texts})
),
measured as (
    select length({measured}) + 1 as letters from observations {which}
    where $sheet = 'reviews'
),
sizes as (
    select
        (select count(*) from texts) as lines,
        (select coalesce(sum(letters), 0) from texts) + (select coalesce(sum(letters), 0) from measured) as letters
)
select * from sizes
