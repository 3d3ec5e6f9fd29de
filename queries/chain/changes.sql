-- Grain: one row a change, oldest first.
with changes_in_order as (
    select change, kind, made_at, who, reason, file, file_digest, salt, seal, chain, redacted_in from changes order by change
)
select * from changes_in_order order by change
