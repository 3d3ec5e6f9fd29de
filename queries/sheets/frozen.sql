-- Grain: one row of {sheet} as it stands, with the number by which its values and queries find it.
with current_rows as (
    select record, {columns} from current_{sheet}
)
select * from current_rows order by record
