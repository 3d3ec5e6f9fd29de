-- Grain: one row an event, as it stands.
with events_as_they_stand as (
    select * exclude (record, change, salt) from current_events
)
select * from events_as_they_stand order by case_id, happened_on, kind
