-- Grain: one row a value measured at a review, as it stands; review_id is that of the reviews extract.
with numbered as (
    select
        row_number() over (
            order by case_id, reviewed_on, assessor nulls first, mode nulls first
        ) as review_id,
        record,
        change
    from current_reviews
),
measured as (
    select review_id, field, value
    from current_observations join numbered using (record, change)
)
select * from measured order by review_id, field
