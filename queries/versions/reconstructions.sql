-- Grain: one row a version of the reconstruction $case_id, oldest first.
with versions as (
    select * exclude (salt) from reconstructions where case_id = $case_id
)
select * from versions order by record, change
