-- Grain: one row a reconstruction whose patient is not in the register; rows returned are faults.
with faults as (
    select 'reconstruction ' || case_id as place, 'its patient is not in the register' as fault
    from latest_reconstructions anti join latest_patients using (patient_id)
)
select * from faults
