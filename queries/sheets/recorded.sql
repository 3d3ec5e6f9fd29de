-- Grain: one row a version of a row of {sheet}, with its measured values as one map, oldest first.
with chosen as (
    select * exclude (salt) from {versions}
),
measured as (
    select record, change, map_from_entries(list((field, value))) as observed
    from observations semi join chosen using (record, change) where '{sheet}' = 'reviews' group by record, change
),
versions as (
    select * from chosen left join measured using (record, change)
)
select * from versions order by record, change
