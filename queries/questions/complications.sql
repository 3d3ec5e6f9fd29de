-- Which events happened, to how many lids of each cohort, and how soon?
-- Grain: one row a kind of event and cohort.
-- Gives: event; cohort; lids that had it; all lids of the cohort; their share (0 to 1); median days since operation
with sizes as (
    select cohort, count(*) as all_lids from cases where cohort <> '' group by cohort
),
happened as (
    select
        kind, cohort, count(distinct case_id) as lids,
        median(days_since_operation) as median_days
    from events
    group by kind, cohort
)
select kind, cohort, lids, all_lids, lids / all_lids as share, median_days
from happened join sizes using (cohort)
order by kind, cohort
