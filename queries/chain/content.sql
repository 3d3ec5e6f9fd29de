-- Grain: one row: the texts of the rows of one sheet that stand in `part`, in the order of the texts.
with texts as (
    select sheet || chr(29) || text as line from ({row_texts})
),
content as (
    select string_agg(line, chr(10) order by line) as content from texts
)
select * from content
