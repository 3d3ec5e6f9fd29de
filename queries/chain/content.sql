-- Grain: one row: the texts of all rows as they stand, in the order of the texts.
with standing as (
    select 'patients' as sheet, record, change from current_patients
    union all select 'reconstructions', record, change from current_reconstructions
    union all select 'reviews', record, change from current_reviews
    union all select 'events', record, change from current_events
),
texts as (
    select sheet || chr(29) || text as line from ({row_texts}) join standing using (sheet, record, change)
),
content as (
    select string_agg(line, chr(10) order by line) as content from texts
)
select * from content
