-- Grain: one row a query raised on a version on the sheet $sheet.
with raised as (
    select record, change, query_id, says from queries where sheet = $sheet
)
select * from raised
