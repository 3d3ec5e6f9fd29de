-- Grain: one row an amended value of a version on the sheet $sheet: what the last file had said.
with amended as (
    select record, change, field, said from overruled where sheet = $sheet
)
select * from amended
