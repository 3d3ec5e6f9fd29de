-- Which tumours came back, and after how long?
-- Grain: one row a case with a recurrence.
-- Gives: case; diagnosis; subtype; histology margin; excision method; months since operation
with first_recurrence as (
    select case_id, min(days_since_operation) as days from events where kind = 'recurrence' group by case_id
)
select case_id, diagnosis, bcc_subtype, histology_margin, excision_method, days / 30.4375 as months_since_operation
from first_recurrence join cases using (case_id)
order by days, case_id
