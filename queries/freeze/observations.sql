-- Grain: one row a value measured at a review as it stands.
with current_values as (
    select record, field, value from current_observations
)
select * from current_values order by record, field
