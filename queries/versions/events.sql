-- Grain: one row a version of an event of the case $case_id, oldest first.
with versions as (
    select * exclude (salt) from events where case_id = $case_id
)
select * from versions order by record, change
