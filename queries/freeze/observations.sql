-- Grain: one row a value measured at a review as it stands.
with standing as (
    select record, field, value from current_observations
)
select * from standing order by record, field
