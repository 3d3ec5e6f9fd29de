-- How long was the pedicle left before it was divided, by cover?
-- Grain: one row a cover.
-- Gives: cover; lids divided; days to division: the middle, the quartiles, the shortest and the longest
with divided as (
    select cover, days_to_division from cases where days_to_division is not null
)
select
    cover,
    count(*) as lids,
    median(days_to_division) as median_days,
    quantile_cont(days_to_division, 0.25) as q1_days,
    quantile_cont(days_to_division, 0.75) as q3_days,
    min(days_to_division) as shortest_days,
    max(days_to_division) as longest_days
from divided
group by cover
order by cover
