-- Grain: one row a row of the sheet {sheet} as it stands, with its first code, and its place among all by that code.
with theirs as (
    select {code} as code, record, change from current_{sheet}
),
sizes as (
    select code, count(*) as size from theirs group by code
),
placed as (
    select code, ((sum(size) over (order by code) - size) // $span)::integer as part from sizes
),
standing as (
    select part, record, change from theirs join placed using (code)
)
select * from standing order by part
