-- Grain: one row of {sheet} that bears one of the codes in `asked_codes`, or of which the last sheet said one.
with said_so as (
    select record from overruled
    where sheet = '{sheet}' and field in ('patient_id', 'case_id') and said in (select code from asked_codes)
),
theirs as (
    from {view}
    where {codes} or record in (select record from said_so)
)
select * from theirs
