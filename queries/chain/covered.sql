-- Grain: one row a change ($only one, or all) that erased seals or redacted texts: those seals.
with erased as (
    select erased_in as change, string_agg(seal, ',' order by change, place) as rows_erased
    from seals where erased_in is not null and coalesce(erased_in = $only, true) group by erased_in
),
redacted as (
    select redacted_in as change, string_agg(seal, ',' order by changes.change) as texts_redacted
    from changes where redacted_in is not null and coalesce(redacted_in = $only, true) group by redacted_in
),
covered as (
    select change, rows_erased, texts_redacted from erased full join redacted using (change)
)
select * from covered
