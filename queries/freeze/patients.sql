-- Grain: one row of patients as it stands, with the number by which its values and queries find it.
with standing as (
    select * exclude (change, salt, withdrawn) from current_patients
)
select * from standing order by record
