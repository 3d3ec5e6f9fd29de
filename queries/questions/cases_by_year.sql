-- How many lids were rebuilt in each year, with which cover?
-- Grain: one row a year and cover.
-- Gives: year of operation; cover; lids; patients
with lids as (
    select year(operated_on) as year, cover, case_id, patient_id from cases
)
select year, cover, count(*) as lids, count(distinct patient_id) as patients
from lids
group by year, cover
order by year, cover
