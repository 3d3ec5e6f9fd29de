-- Grain: one row an event whose case is not in the register; rows returned are faults.
with faults as (
    select 'event of ' || case_id || ' on ' || happened_on as place, 'its case is not in the register' as fault
    from latest_events anti join latest_reconstructions using (case_id)
)
select * from faults
