-- Grain: one row a reconstruction as last recorded, those of withdrawn patients too.
with last_recorded as (
    select * exclude (salt) from latest_reconstructions
)
select * from last_recorded
