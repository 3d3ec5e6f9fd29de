-- Grain: one row a review, as it stands; review_id is the number by which its values find it.
with current_rows as (
    select record as review_id, {columns} from current_reviews
)
select * from current_rows
