-- Grain: one row of reconstructions as it stands, with the number by which its values and queries find it.
with standing as (
    select * exclude (change, salt) from current_reconstructions
)
select * from standing order by record
