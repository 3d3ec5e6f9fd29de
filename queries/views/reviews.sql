-- Grain: one row a review as it stands.
-- Columns: review_id (counts within one asking only); case_id; cohort; every field of the sheet reviews, measured ones too
-- (yes is 1 and no is 0, a grade is its level); days_since_division and days_since_operation (blank without a division).
with observed as (
    select review_id, {observed} from raw.observations group by review_id
),
reviews as (
    select
        seen.*,
        observed.* exclude (review_id),
        cohort,
        date_diff('day', divided_on, reviewed_on) as days_since_division,
        date_diff('day', operated_on, reviewed_on) as days_since_operation
    from raw.reviews as seen
    join cases using (case_id)
    left join observed using (review_id)
)
select * from reviews order by review_id
