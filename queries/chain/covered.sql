-- Grain: one row a change ($only one, or all): the seals of its rows, and the seals that it erased and redacted.
with sealed as (
    select change, string_agg(sheet || record || seal, ',' order by place) as rows_sealed
    from seals where coalesce(change = $only, true) group by change
),
erased as (
    select erased_in as change, string_agg(seal, ',' order by change, place) as rows_erased
    from seals where erased_in is not null and coalesce(erased_in = $only, true) group by erased_in
),
redacted as (
    select redacted_in as change, string_agg(seal, ',' order by changes.change) as texts_redacted
    from changes where redacted_in is not null and coalesce(redacted_in = $only, true) group by redacted_in
),
covered as (
    select change, rows_sealed, rows_erased, texts_redacted
    from sealed full join erased using (change) full join redacted using (change)
)
select * from covered
