-- Which divided lids have not been seen for a while, though nothing ended their follow-up?
-- Grain: one row a case.
-- Set: as_of (date, today): the day the answer speaks for
-- Set: months (number, 12): not seen for so many months
-- Gives: case; cover; day of division; last day anything was known; whole months since
with silent as (
    select
        case_id, divided_on, last_known_on,
        datesub('month', last_known_on, $as_of::date) as months_silent
    from follow_up
    where ended_on is null and divided_on <= $as_of::date
)
select case_id, cover, silent.divided_on, last_known_on, months_silent
from silent join cases using (case_id)
where months_silent >= $months
order by months_silent desc, case_id
