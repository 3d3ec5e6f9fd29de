-- Grain: one row an event whose case is not in the register; rows returned are faults. Only the rows of which any version names
-- an unknown case are looked at.
with strays as (
    from events semi join (select record from events anti join latest_reconstructions using (case_id)) using (record)
),
newest as (
    from strays qualify row_number() over (partition by record order by change desc) = 1
),
faults as (
    select 'event of ' || case_id || ' on ' || happened_on as place, 'its case is not in the register' as fault
    from newest anti join latest_reconstructions using (case_id)
)
select * from faults
