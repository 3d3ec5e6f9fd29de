-- Grain: one row an event as last recorded.
with last_recorded as (
    select * exclude (salt) from latest_events
)
select * from last_recorded
