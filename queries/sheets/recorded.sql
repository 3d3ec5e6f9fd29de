-- Grain: one row a version of a row of {sheet}, with its measured values as one map, oldest first.
with measured as (
    select record, change, map_from_entries(list((field, value))) as observed
    from observations where '{sheet}' = 'reviews' group by record, change
),
versions as (
    select * exclude (salt) from {versions} left join measured using (record, change)
)
select * from versions order by record, change
