//! The referral questions a brief answers with true or false (science: who must be referred).

/// Question ids with the question in words, in the order of the starter brief: the same ids as the
/// energy stage's table, which says what follows from a yes (a test keeps the two in step). The last
/// two are agreements: answered with true they turn a stop into a warning.
///
/// Source: the project's own list after the contraindications that weight-management guidance
/// commonly names (common practice; no single source).
pub const SCREEN_QUESTIONS: &[(&str, &str)] = &[
    ("pregnancy", "Are you pregnant?"),
    (
        "planning_pregnancy",
        "Are you planning a pregnancy in the next months?",
    ),
    ("postpartum", "Have you given birth in the last six months?"),
    ("breastfeeding", "Are you breastfeeding?"),
    (
        "eating_disorder",
        "Have you ever had an eating disorder, or answered yes to two or more SCOFF questions?",
    ),
    (
        "unexplained_loss",
        "Have you lost more than 5 % of your weight in six months without meaning to?",
    ),
    ("type_1_diabetes", "Do you have type 1 diabetes?"),
    (
        "diabetes_insulin",
        "Do you take insulin, a sulfonylurea or an SGLT2 inhibitor?",
    ),
    (
        "kidney_disease",
        "Do you have kidney disease (eGFR under 60, protein in the urine), or are you on dialysis?",
    ),
    ("single_kidney", "Do you have only one kidney?"),
    ("liver_failure", "Do you have liver failure?"),
    (
        "heart_disease",
        "Do you have heart failure, or had a heart attack, stroke, unstable angina or arrhythmia recently?",
    ),
    ("cancer", "Are you being treated for cancer?"),
    ("bariatric_surgery", "Have you had bariatric surgery?"),
    ("transplant", "Have you had an organ transplant?"),
    ("porphyria", "Do you have porphyria?"),
    (
        "inborn_error",
        "Do you have phenylketonuria or another inborn error of metabolism?",
    ),
    (
        "severe_psychiatric_illness",
        "Do you have a severe psychiatric illness?",
    ),
    ("recent_surgery", "Have you had major surgery recently?"),
    (
        "type_2_diabetes",
        "Do you have type 2 diabetes (with none of the drugs named above)?",
    ),
    (
        "hypertension_drugs",
        "Do you take drugs for blood pressure or blood lipids?",
    ),
    ("anticoagulant", "Do you take an anticoagulant?"),
    ("lithium", "Do you take lithium?"),
    ("corticosteroids", "Do you take corticosteroids?"),
    ("gout", "Do you have gout?"),
    ("gallstones", "Do you have gallstones?"),
    ("kidney_stones", "Have you had kidney stones?"),
    (
        "coeliac_ibd",
        "Do you have coeliac or inflammatory bowel disease?",
    ),
    ("osteoporosis", "Do you have osteoporosis?"),
    ("thyroid_disease", "Do you have thyroid disease?"),
    ("glp1_agonist", "Do you take a GLP-1 agonist?"),
    (
        "menstrual_loss",
        "Have your periods been absent for three months or more?",
    ),
    ("steroid_use", "Do you use anabolic steroids?"),
    (
        "surplus_agreed",
        "Do you want a surplus although your BMI or waist is over the line, knowing the risk?",
    ),
    (
        "clinician_follows_gain",
        "Does a clinician follow your weight gain from underweight?",
    ),
];
