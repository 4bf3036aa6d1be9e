//! Energy: person, activity and phase to resting energy, expenditure with its spread, and intake.
//!
//! Knows no food. Equations, body-weight model, composition and gates stand in the submodules;
//! their numbers are data beside them (`energy/*.csv`, `energy/*.toml`), each with unit and source.

use crate::diagnostic::Diagnostic;
use crate::units::Kcal;

pub mod body;
pub mod composition;
pub mod data;
pub mod expenditure;
pub mod gates;
pub mod reestimate;
pub mod resting;
pub mod rules;

mod budget;

pub use budget::{
    Baseline, Course, PhaseCourse, activity_ids, baseline, budget, budget_at, course, default_rate,
};

/// Why a figure cannot be given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum EnergyError {
    /// No equation of this id.
    #[error("`{id}` is not an equation")]
    UnknownEquation {
        /// As written.
        id: String,
        /// A known id that looks like it.
        near: Option<String>,
    },
    /// The equation gives total expenditure.
    #[error("`{id}` gives total expenditure, not resting energy")]
    NotResting {
        /// Equation id.
        id: String,
    },
    /// The equation gives resting energy.
    #[error("`{id}` gives resting energy, not total expenditure")]
    NotEer {
        /// Equation id.
        id: String,
    },
    /// Outside the ages of the equation.
    #[error("age {age} is outside the ages of `{id}` ({from}{})", to.map_or(" and over".to_string(), |t| format!(" to {t}")))]
    OutsideAge {
        /// Equation id.
        id: String,
        /// Age, years.
        age: u32,
        /// Youngest.
        from: u32,
        /// Oldest, where published.
        to: Option<u32>,
    },
    /// Outside the BMI of the equation.
    #[error("BMI {bmi:.1} is under {from}, the least of `{id}`")]
    OutsideBmi {
        /// Equation id.
        id: String,
        /// BMI, kg/m².
        bmi: f64,
        /// Least BMI.
        from: f64,
    },
    /// The equation is for the other sex only.
    #[error("`{id}` has no {sex} form")]
    NotForSex {
        /// Equation id.
        id: String,
        /// Sex asked for.
        sex: &'static str,
    },
    /// The equation needs a measured body fat.
    #[error("`{id}` needs body fat, measured or from circumferences")]
    NeedsBodyFat {
        /// Equation id.
        id: String,
    },
    /// Body fat outside 1 to 70 %.
    #[error("body fat of {percent:.1} % is outside 1 to 70 %")]
    BodyFat {
        /// %.
        percent: f64,
    },
    /// The circumferences give no body fat.
    #[error("circumferences: {0}")]
    Circumferences(String),
    /// No activity of this id.
    #[error("`{id}` is not an activity of the MET table")]
    UnknownActivity {
        /// As written.
        id: String,
        /// A known id that looks like it.
        near: Option<String>,
    },
    /// Hours that are no hours.
    #[error("{hours} hours of `{id}`: hours are numbers from 0 to 24")]
    BadHours {
        /// Activity id.
        id: String,
        /// As given.
        hours: f64,
    },
    /// Hours do not make a day.
    #[error("the hours of the day sum to {sum:.2}, not 24")]
    HoursSum {
        /// Sum of the hours.
        sum: f64,
    },
    /// A PAL nobody lives at.
    #[error("a physical activity level of {pal:.2} is outside {least} to {most}")]
    PalRange {
        /// Total over resting expenditure.
        pal: f64,
        /// Least.
        least: f64,
        /// Most.
        most: f64,
    },
    /// The body lies outside the body-weight model.
    #[error(
        "the body-weight model does not hold for {weight_kg:.1} kg with {fat_percent:.1} % fat (least {least_percent:.0} %)"
    )]
    OutsideModel {
        /// Body mass, kg.
        weight_kg: f64,
        /// Body fat, %.
        fat_percent: f64,
        /// Least body fat, %.
        least_percent: f64,
    },
    /// The body-weight model is for adults.
    #[error("the body-weight model holds for adults only")]
    Minor,
    /// No intake reaches the goal in that time.
    #[error("no intake brings the body to {goal_kg:.1} kg in {days} days")]
    GoalOutOfReach {
        /// Goal, kg.
        goal_kg: f64,
        /// Days.
        days: u32,
    },
    /// The goal lies on the other side of the weight.
    #[error("the goal of {goal_kg:.1} kg lies on the wrong side of {weight_kg:.1} kg for this kind of phase")]
    GoalDirection {
        /// Goal, kg.
        goal_kg: f64,
        /// Body mass at the start of the phase, kg.
        weight_kg: f64,
    },
    /// The deficit is more than the expenditure.
    #[error("the deficit leaves {:.0} kcal a day to eat", intake.0)]
    NothingLeft {
        /// What would be left.
        intake: Kcal,
    },
}

impl EnergyError {
    /// Stable code, kebab-case.
    pub fn code(&self) -> &'static str {
        match self {
            Self::UnknownEquation { .. } => "equation-unknown",
            Self::NotResting { .. } | Self::NotEer { .. } => "equation-kind",
            Self::OutsideAge { .. } | Self::OutsideBmi { .. } | Self::NotForSex { .. } => "equation-range",
            Self::NeedsBodyFat { .. } => "equation-needs-body-fat",
            Self::BodyFat { .. } | Self::Circumferences(_) => "person-body-fat",
            Self::UnknownActivity { .. } => "activity-unknown",
            Self::BadHours { .. } | Self::HoursSum { .. } => "activity-hours",
            Self::PalRange { .. } => "activity-pal",
            Self::OutsideModel { .. } | Self::Minor => "body-outside-model",
            Self::GoalOutOfReach { .. } | Self::GoalDirection { .. } => "phase-goal",
            Self::NothingLeft { .. } => "phase-size",
        }
    }

    fn help(&self) -> Option<String> {
        match self {
            Self::UnknownEquation { near, .. } => Some(match near {
                Some(near) => format!("did you mean `{near}`?"),
                None => {
                    let ids = data::equations().iter().filter(|e| e.id != "schofield_minor");
                    let ids: Vec<_> = ids.map(|e| e.id.as_str()).collect();
                    format!("known equations: {}", ids.join(", "))
                }
            }),
            Self::UnknownActivity { near: Some(near), .. } => Some(format!("did you mean `{near}`?")),
            Self::UnknownActivity { near: None, .. } => {
                let ids: Vec<_> = data::activities().iter().map(|a| a.id.as_str()).collect();
                Some(format!("known activities: {}", ids.join(", ")))
            }
            Self::OutsideAge { .. } | Self::OutsideBmi { .. } | Self::NotForSex { .. } => {
                Some("leave the equation out to take the default for this person".into())
            }
            Self::HoursSum { sum } => Some(format!(
                "{:+.2} hours are needed; sleep and sitting count too",
                24.0 - sum
            )),
            Self::PalRange { .. } => {
                Some("1.4 is a sitting day, 1.75 an active one, 2.2 hard work all day".into())
            }
            Self::GoalOutOfReach { .. } => Some("more weeks, or a nearer goal".into()),
            _ => None,
        }
    }
}

impl From<EnergyError> for Diagnostic {
    fn from(e: EnergyError) -> Diagnostic {
        let d = Diagnostic::error(e.code(), e.to_string());
        match e.help() {
            Some(help) => d.help(help),
            None => d,
        }
    }
}

/// A figure with its plausible range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Low end (one standard deviation below, unless said otherwise).
    pub low: Kcal,
    /// Central figure.
    pub middle: Kcal,
    /// High end.
    pub high: Kcal,
}

/// A step of a derivation that a coach can defend: what, how much, by which formula and source.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What was computed, such as "resting energy".
    pub what: String,
    /// The figure with its unit, formatted.
    pub value: String,
    /// Formula or rule in words.
    pub how: String,
    /// Citation.
    pub source: String,
}

/// What a gate does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GateAction {
    /// No plan of this kind is made.
    Stop,
    /// The plan carries the warning.
    Warn,
}

/// A safety rule that fired.
#[derive(Clone, Debug, PartialEq)]
pub struct Gate {
    /// Stable code, kebab-case.
    pub code: &'static str,
    /// Stop or warn.
    pub action: GateAction,
    /// Why, in a sentence with the figures.
    pub why: String,
    /// What would be acceptable instead.
    pub instead: String,
    /// Citation.
    pub source: String,
}

/// Energy for one phase of a brief.
#[derive(Clone, Debug, PartialEq)]
pub struct EnergyBudget {
    /// Resting energy expenditure a day.
    pub resting: Spread,
    /// Total energy expenditure a day.
    pub expenditure: Spread,
    /// Energy to eat a day.
    pub intake: Kcal,
    /// Expected change of body mass, kg a week, mean over the phase; `None` when not modelled.
    pub rate_kg_per_week: Option<f64>,
    /// Fat-free mass used, kg, with its error; `None` when unknown.
    pub fat_free_mass_kg: Option<(f64, f64)>,
    /// How it was derived, in order.
    pub derivation: Vec<Step>,
    /// Gates that fired, stops first.
    pub gates: Vec<Gate>,
}
