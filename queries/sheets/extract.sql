-- Grain: one row of the sheet {sheet} as it stands, in the order of its key.
with current_rows as (
    select {columns} from current_{sheet}
)
select * from current_rows order by {key}
