-- Grain: one row an open query.
with standing as (
    select sheet, record, query_id, says from current_queries
)
select * from standing order by sheet, record, query_id, says
