-- Grain: one row a window: a planned review.
-- Columns: "window" (its id; the word needs quotes in SQL); label; nominal_days, first_day, last_day after division.
with windows as (
    select "window", label, nominal_days, first_day, last_day from raw.windows
)
select * from windows order by nominal_days
