-- Grain: one column more: whether the day of a review is known, or only its month.
alter table reviews add column date_precision varchar;

-- The text that is sealed for each version: only what was recorded, so that a column added later changes no seal.
create or replace view row_texts as
with measured as (
    select record, change, string_agg(field || '=' || printf('%.17g', value), chr(31) order by field) as text
    from observations group by record, change
),
patient_texts as (
    select 'patients' as sheet, record, change, salt, concat_ws(chr(31),
        case when withdrawn then 'withdrawn' end, 'patient_id=' || patient_id,
        'birth_year=' || printf('%.17g', birth_year), 'sex=' || sex, 'smoker=' || smoker, 'diabetes=' || diabetes,
        'immunosuppressed=' || immunosuppressed, 'anticoagulated=' || anticoagulated,
        'prior_lid_radiotherapy=' || prior_lid_radiotherapy) as text
    from patients
),
reconstruction_texts as (
    select 'reconstructions' as sheet, record, change, salt, concat_ws(chr(31),
        'case_id=' || case_id, 'patient_id=' || patient_id, 'side=' || side, 'surgeon=' || surgeon, 'site=' || site,
        'operated_on=' || operated_on, 'diagnosis=' || diagnosis, 'bcc_subtype=' || bcc_subtype,
        'recurrent_tumour=' || recurrent_tumour, 'defect_width_mm=' || printf('%.17g', defect_width_mm),
        'lid_width_mm=' || printf('%.17g', lid_width_mm), 'defect_height_mm=' || printf('%.17g', defect_height_mm),
        'defect_depth=' || defect_depth, 'canthus_involved=' || canthus_involved,
        'distraction_mm=' || printf('%.17g', distraction_mm), 'snap_back=' || printf('%.17g', snap_back),
        'fellow_logmar=' || printf('%.17g', fellow_logmar), 'excision_method=' || excision_method,
        'clinical_margin_mm=' || printf('%.17g', clinical_margin_mm), 'margin_control=' || margin_control,
        'histology_lateral_mm=' || printf('%.17g', histology_lateral_mm),
        'histology_deep_mm=' || printf('%.17g', histology_deep_mm), 'histology_margin=' || histology_margin,
        'histology_reason=' || histology_reason, 're_excised=' || re_excised, 'residual_tumour=' || residual_tumour,
        'flap_width_mm=' || printf('%.17g', flap_width_mm), 'tarsus_left_mm=' || printf('%.17g', tarsus_left_mm),
        'cover_planned=' || cover_planned, 'cover=' || cover, 'graft_donor=' || graft_donor,
        'margin_shortfall_mm=' || printf('%.17g', margin_shortfall_mm), 'division_planned_on=' || division_planned_on,
        'divided_on=' || divided_on, 'division_early_reason=' || division_early_reason) as text
    from reconstructions
),
review_texts as (
    select 'reviews' as sheet, record, change, salt, concat_ws(chr(31),
        'case_id=' || case_id, 'reviewed_on=' || reviewed_on, 'assessor=' || assessor, 'masked=' || masked,
        'mode=' || mode, 'date_precision=' || date_precision, chr(30), text) as text
    from reviews left join measured using (record, change)
),
event_texts as (
    select 'events' as sheet, record, change, salt, concat_ws(chr(31),
        'case_id=' || case_id, 'happened_on=' || happened_on, 'kind=' || kind,
        'percent_lost=' || printf('%.17g', percent_lost), 'revision_kind=' || revision_kind) as text
    from events
),
every_text as (
    from patient_texts union all from reconstruction_texts union all from review_texts union all from event_texts
)
select * from every_text;
