-- Grain: one row an event as it stands.
-- Columns: every field of the sheet events; patient_id; cohort; days_since_operation; days_since_division (below 0 before it).
with events as (
    select
        happened.*,
        patient_id,
        cohort,
        date_diff('day', operated_on, happened_on) as days_since_operation,
        date_diff('day', divided_on, happened_on) as days_since_division
    from raw.events as happened
    join cases using (case_id)
)
select * from events order by case_id, happened_on, kind
