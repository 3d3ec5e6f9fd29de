-- Grain: one row a change ($only one, or all) that sealed rows: how many, the last place, and the letters of their text.
with sizes as (
    select change, count(*) as seals, max(place) as last, sum(length(sheet || record || seal)) + count(*) - 1 as letters
    from seals where coalesce(change = $only, true) group by change
)
select * from sizes order by change
