-- What was measured on one lid, review by review?
-- Grain: one row a value of a measure at a review.
-- Set: case (text, ): the study code of the case
-- Gives: day of the review; days since division; measure; value, in the measure's own unit; poor; assessor
with values_of_the_case as (
    select reviewed_on, days_since_division, measure, value, poor, assessor from measured where case_id = $case
)
select * from values_of_the_case order by reviewed_on, measure, assessor
