-- Grain: one row a case: a reconstruction as it stands, beside what is known of its patient.
-- Columns: every field of the sheets reconstructions and patients, and: cohort (grafted, advanced, or blank for another
-- cover); age_years (year of operation minus year of birth); defect_share (defect width as a share of lid width, 0 to 1);
-- days_to_division.
with covers as (
    select cover, cohort from raw.covers
),
cases as (
    select
        lids.*,
        people.* exclude (patient_id),
        coalesce(cohort, '') as cohort,
        year(operated_on) - birth_year as age_years,
        defect_width_mm / lid_width_mm as defect_share,
        date_diff('day', operated_on, divided_on) as days_to_division
    from raw.reconstructions as lids
    left join raw.patients as people using (patient_id)
    left join covers using (cover)
)
select * from cases order by case_id
