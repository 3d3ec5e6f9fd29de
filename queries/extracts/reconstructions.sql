-- Grain: one row a reconstruction, as it stands.
with reconstructions_as_they_stand as (
    select * exclude (record, change, salt) from current_reconstructions
)
select * from reconstructions_as_they_stand order by case_id
