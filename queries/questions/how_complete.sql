-- How often was each characteristic recorded, by year?
-- Grain: one row a year of operation.
-- Gives: year; lids; share of lids (0 to 1) with defect width, lid width, depth, laxity, planned cover, histology, division
with years as (
    select
        year(operated_on) as year, defect_width_mm, lid_width_mm, defect_depth, distraction_mm, cover_planned,
        histology_margin, divided_on
    from cases
)
select
    year,
    count(*) as lids,
    count(defect_width_mm) / count(*) as defect_width,
    count(lid_width_mm) / count(*) as lid_width,
    count(defect_depth) / count(*) as defect_depth,
    count(distraction_mm) / count(*) as distraction,
    count(cover_planned) / count(*) as cover_planned,
    count(histology_margin) / count(*) as histology,
    count(divided_on) / count(*) as division
from years
group by year
order by year
