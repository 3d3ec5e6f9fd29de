-- How did one measure run over the reviews, by cohort?
-- Grain: one row a window and cohort.
-- Set: measure (text, retraction): the id of a measure
-- Gives: window; cohort; lids seen; the middle value and the quartiles, in the measure's own unit
with seen as (
    select "window", cohort, value from window_values where measure = $measure and cohort <> ''
),
course as (
    select
        "window", cohort, count(*) as lids, median(value) as median,
        quantile_cont(value, 0.25) as q1, quantile_cont(value, 0.75) as q3
    from seen
    group by "window", cohort
)
select course.* from course join windows using ("window") order by nominal_days, cohort
