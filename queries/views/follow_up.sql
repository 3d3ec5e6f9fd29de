-- Grain: one row a case: how long it was followed.
-- Columns: case_id; patient_id; cohort; operated_on; divided_on; reviews (after division); last_review_on; months_followed
-- (division to the last review); ended_on and ended_by (death, withdrawn or moved away); last_known_on (any review or event).
with seen as (
    select case_id, count(*) as reviews, max(reviewed_on) as last_review_on
    from raw.reviews join cases using (case_id)
    where reviewed_on >= divided_on
    group by case_id
),
ends as (
    select case_id, min(happened_on) as ended_on, arg_min(kind, happened_on) as ended_by
    from raw.events
    where kind in (from raw.ends)
    group by case_id
),
happened as (
    select case_id, reviewed_on as happened_on from raw.reviews
    union all
    select case_id, happened_on from raw.events
),
latest as (
    select case_id, max(happened_on) as last_known_on from happened group by case_id
),
follow_up as (
    select
        case_id, patient_id, cohort, operated_on, divided_on,
        coalesce(reviews, 0) as reviews,
        last_review_on,
        date_diff('day', divided_on, last_review_on) / 30.4375 as months_followed,
        ended_on, ended_by,
        greatest(last_known_on, divided_on, operated_on) as last_known_on
    from cases
    left join seen using (case_id)
    left join ends using (case_id)
    left join latest using (case_id)
)
select * from follow_up order by case_id
