-- Grain: one row a review as last recorded, with its measured values as one map.
with measured as (
    select record, change, map_from_entries(list((field, value))) as observed
    from observations semi join latest_reviews using (record, change)
    group by record, change
),
last_recorded as (
    select * exclude (salt) from latest_reviews left join measured using (record, change)
)
select * from last_recorded
