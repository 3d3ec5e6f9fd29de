-- Grain: one row a value measured at a review, as it stands; review_id is that of the reviews extract.
with measured as (
    select record as review_id, field, value from current_observations
)
select * from measured
