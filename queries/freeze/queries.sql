-- Grain: one row an open query.
with open_queries as (
    select sheet, record, query_id, says from current_queries
)
select * from open_queries order by sheet, record, query_id, says
