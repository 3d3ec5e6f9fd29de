-- How did lids with a wide defect do on one measure at one review, by cover?
-- Grain: one row a cover.
-- Set: share (number, 0.5): the least defect width, as a share of the lid width (0 to 1)
-- Set: measure (text, retraction): the id of a measure
-- Set: window (text, one_year): the id of a window
-- Gives: cover; lids with such a defect; lids seen; middle value; lids with a poor result
with wide as (
    select case_id, cover from cases where defect_share >= $share
),
seen as (
    select case_id, value, poor from window_values where measure = $measure and "window" = $window
)
select
    cover, count(*) as lids, count(value) as lids_seen, median(value) as median, count_if(poor) as poor_lids
from wide left join seen using (case_id)
group by cover
order by cover
