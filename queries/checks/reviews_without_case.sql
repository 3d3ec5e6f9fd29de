-- Grain: one row a review whose case is not in the register; rows returned are faults.
with faults as (
    select 'review of ' || case_id || ' on ' || reviewed_on as place, 'its case is not in the register' as fault
    from latest_reviews anti join latest_reconstructions using (case_id)
)
select * from faults
