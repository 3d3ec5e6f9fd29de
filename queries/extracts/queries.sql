-- Grain: one row an open query: a legal but odd row that somebody should look at.
with open_queries as (
    select sheet, code, query_id, says from current_queries
)
select * from open_queries order by sheet, code, query_id, says
