-- Grain: one row of events as it stands, with the number by which its values and queries find it.
with standing as (
    select * exclude (change, salt) from current_events
)
select * from standing order by record
