-- Does the colour of a graft match less well from some donor sites than from others?
-- Grain: one row a donor site and grade.
-- Set: measure (text, colour_mismatch): the id of a graded measure
-- Set: window (text, one_year): the id of a window
-- Gives: graft donor; grade; lids
with grafts as (
    select case_id, graft_donor from cases where graft_donor is not null
)
select graft_donor, value as grade, count(*) as lids
from grafts join window_values using (case_id)
where measure = $measure and "window" = $window
group by graft_donor, grade
order by graft_donor, grade
