-- Grain: one row an amended value of the sheet $sheet, as last recorded: what the last file said.
with last_recorded as (
    select record, max(change) as change from seals where sheet = $sheet group by record
),
amended as (
    select record, field, said from overruled semi join last_recorded using (record, change) where sheet = $sheet
)
select * from amended
