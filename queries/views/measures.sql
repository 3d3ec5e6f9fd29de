-- Grain: one row a measure of the protocol.
-- Columns: measure (its id); label; unit (blank for grades); main (a main measure); poor_at_least and poor_at_most (the
-- bound of a poor result, blank for none); poor_from (the first window in which the rule holds, blank for every one).
with measures as (
    select measure, label, unit, main, poor_at_least, poor_at_most, poor_from from raw.measures
)
select * from measures order by measure
