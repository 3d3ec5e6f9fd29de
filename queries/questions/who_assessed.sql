-- Who assessed how many reviews after division, and how often without knowing the cover?
-- Grain: one row an assessor.
-- Gives: assessor; reviews; masked reviews; their share (0 to 1); lids
with after_division as (
    select assessor, masked, case_id from reviews where days_since_division >= 0
)
select
    coalesce(assessor, 'not recorded') as assessor,
    count(*) as reviews,
    count_if(masked = 'yes') as masked_reviews,
    count_if(masked = 'yes') / count(*) as masked_share,
    count(distinct case_id) as lids
from after_division
group by assessor
order by reviews desc, assessor
