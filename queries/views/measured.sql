-- Grain: one row a value of a measure at a review on or after the day of division.
-- Columns: case_id; patient_id; cohort; measure; value (computed from both lids where both were measured, else as entered;
-- yes is 1 and no is 0, a grade is its level); poor (by the protocol's rule, blank where there is none or before the window
-- from which it holds); reviewed_on;
-- days_since_division; days_since_operation; assessor; masked; mode.
with sides as (
    select
        review_id,
        measure,
        max(value) filter (field = operated) - max(value) filter (field = fellow) as computed,
        max(value) filter (field = entered) as entered
    from raw.observations
    join raw.measures on field in (operated, fellow, entered)
    group by review_id, measure
),
valued as (
    select review_id, measure, round(coalesce(computed, entered), 3) as value
    from sides
    where coalesce(computed, entered) is not null
),
measured as (
    select
        case_id, patient_id, cohort, measure, value,
        case when date_diff('day', divided_on, reviewed_on) >= coalesce(first_day, 0)
            then coalesce(value >= poor_at_least, value <= poor_at_most) end as poor,
        reviewed_on,
        date_diff('day', divided_on, reviewed_on) as days_since_division,
        date_diff('day', operated_on, reviewed_on) as days_since_operation,
        assessor, masked, mode
    from valued
    join raw.reviews using (review_id)
    join cases using (case_id)
    join raw.measures using (measure)
    left join windows on windows."window" = poor_from
    where reviewed_on >= divided_on
)
select * from measured order by case_id, measure, reviewed_on
