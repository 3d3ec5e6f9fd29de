-- Grain: one row a version of a review of the case $case_id, with its measured values as one map, oldest first.
with reviewed as (
    select * exclude (salt) from reviews where case_id = $case_id
),
measured as (
    select record, change, map_from_entries(list((field, value))) as observed
    from observations semi join reviewed using (record, change)
    group by record, change
),
versions as (
    select * from reviewed left join measured using (record, change)
)
select * from versions order by record, change
