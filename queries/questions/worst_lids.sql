-- Which lids did worst on one measure, at their last review?
-- Grain: one row a case.
-- Set: measure (text, retraction): the id of a measure
-- Set: lids (number, 10): how many lids to show
-- Gives: case; cover; defect share of the lid (0 to 1); days since division; value, in the measure's own unit
with latest as (
    from measured where measure = $measure
    qualify row_number() over (partition by case_id order by reviewed_on desc, masked = 'yes' desc nulls last) = 1
),
ranked as (
    select
        case_id, cover, defect_share, days_since_division, value,
        row_number() over (order by if(poor_at_most is null, -value, value), case_id) as place
    from latest
    join cases using (case_id)
    join measures using (measure)
)
select * exclude (place) from ranked where place <= $lids order by place
