-- Grain: one row a case, measure and window in which the measure was seen: the value that counts there. It is the nearest to
-- the nominal day; on a tie the later one, and of two on one day the masked one. Days are counted from division.
-- Columns: those of measured, without mode; "window"; judged (the rule for a poor result holds in this window).
with near as (
    select
        measured.* exclude (mode),
        windows."window",
        nominal_days
    from measured
    join windows on days_since_division between first_day and last_day
    where days_since_division > 0
),
counting as (
    from near
    qualify row_number() over (
        partition by case_id, measure, "window"
        order by abs(days_since_division - nominal_days), reviewed_on desc, masked = 'yes' desc nulls last,
            assessor nulls last
    ) = 1
),
judged as (
    select
        counting.* exclude (nominal_days),
        poor is not null and counting.nominal_days >= coalesce(from_window.nominal_days, 0) as judged
    from counting
    join measures using (measure)
    left join windows as from_window on from_window."window" = poor_from
)
select * from judged order by case_id, measure, reviewed_on
