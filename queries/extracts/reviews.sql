-- Grain: one row a review, as it stands; numbered by what it says, not by when it was loaded.
with numbered as (
    select
        row_number() over (
            order by case_id, reviewed_on, assessor nulls first, mode nulls first
        ) as review_id,
        * exclude (record, change, salt)
    from current_reviews
)
select * from numbered order by review_id
