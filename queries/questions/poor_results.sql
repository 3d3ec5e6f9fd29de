-- How many lids had a poor result on each measure at one review, by cohort?
-- Grain: one row a measure and cohort.
-- Set: window (text, one_year): the id of a window
-- Gives: measure; cohort; lids seen; lids with a poor result by the protocol's rule; their share (0 to 1)
with judged as (
    select measure, cohort, poor
    from window_values
    where "window" = $window and judged and cohort <> ''
)
select measure, cohort, count(*) as lids, count_if(poor) as poor_lids, avg(poor::integer) as share
from judged
group by measure, cohort
order by measure, cohort
