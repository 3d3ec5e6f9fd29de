-- Grain: one row a change from $first to $final: its seals with a place from $low to $high.
with sealed as (
    select change, string_agg(sheet || record || seal, ',' order by place) as rows_sealed
    from seals where change between $first and $final and place between $low and $high group by change
)
select * from sealed order by change
