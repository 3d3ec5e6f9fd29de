-- How often were the histological margins clear, by how the tumour was excised?
-- Grain: one row a method of excision and result.
-- Gives: excision method; histology margin; lids; all lids excised so with a result; their share (0 to 1)
with reported as (
    select excision_method, histology_margin, count(*) as lids
    from cases
    where excision_method is not null and histology_margin is not null
    group by excision_method, histology_margin
)
select
    excision_method, histology_margin, lids,
    sum(lids) over (partition by excision_method) as all_lids,
    lids / sum(lids) over (partition by excision_method) as share
from reported
order by excision_method, histology_margin
