-- Grain: one column more: whether the day of a review is known, or only its month.
alter table reviews add column date_precision varchar;
