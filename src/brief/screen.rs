//! The referral questions a brief answers with true or false (science: who must be referred).

/// Question ids with the question in words, in the order of the starter brief. The first fourteen
/// stop a plan that changes weight, the rest ask for a clinician's word;
/// which does what is the energy stage's table.
///
/// Source: the project's own list after the contraindications that weight-management guidance
/// commonly names (common practice; no single source).
pub const SCREEN_QUESTIONS: &[(&str, &str)] = &[
    (
        "pregnant_or_breastfeeding",
        "pregnant, planning a pregnancy, breastfeeding or less than 6 months after a birth",
    ),
    ("eating_disorder", "an eating disorder now or in the past"),
    (
        "unexplained_weight_loss",
        "more than 5 % of weight lost in 6 months without meaning to",
    ),
    (
        "diabetes_type_1_or_insulin",
        "type 1 diabetes, or diabetes treated with insulin, a sulfonylurea or an SGLT2 inhibitor",
    ),
    ("kidney_disease", "kidney disease, dialysis or a single kidney"),
    ("liver_failure", "liver failure"),
    (
        "heart_disease",
        "heart failure, or a recent heart attack, stroke, angina or arrhythmia",
    ),
    ("active_cancer", "cancer under treatment or observation"),
    ("bariatric_surgery", "stomach or bowel surgery for weight loss"),
    ("organ_transplant", "an organ transplant"),
    ("porphyria", "porphyria"),
    (
        "inborn_error_of_metabolism",
        "phenylketonuria or another inborn error of metabolism",
    ),
    ("severe_psychiatric_illness", "a severe psychiatric illness"),
    ("recent_major_surgery", "major surgery in recent months"),
    ("diabetes_type_2", "type 2 diabetes on other drugs, or on none"),
    (
        "hypertension_or_lipid_drugs",
        "drugs for blood pressure or blood fats",
    ),
    ("anticoagulant", "an anticoagulant such as warfarin"),
    ("lithium", "lithium"),
    ("corticosteroids", "corticosteroids"),
    ("gout", "gout"),
    ("gallstones", "gallstones"),
    ("kidney_stones", "kidney stones"),
    ("coeliac_or_ibd", "coeliac disease or inflammatory bowel disease"),
    ("osteoporosis", "osteoporosis"),
    ("thyroid_disease", "a thyroid disease"),
    ("glp1_agonist", "a GLP-1 agonist"),
    ("menstrual_loss", "no menstruation for 3 months or more"),
    ("suspected_steroid_use", "anabolic steroids"),
];
