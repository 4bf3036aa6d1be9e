//! The appraisal: is a claimed change of body weight believable, what would it need, and what would be
//! believable instead.
//!
//! Takes a claim, gives verdicts with every step and its source. Rests on the body-weight model and on
//! what trials measured; says what figures allow, never what a person did.

use crate::brief::claim::{Claim, Stage};
use crate::brief::{Activity, PhaseKind, Screen};
use crate::diagnostic::Diagnostic;
use crate::energy::body::{Body0, LeanShift, Model, PhaseInput, STEP_DAYS, State, lean_shift_bounds};
use crate::energy::composition::{Estimate, estimates, fat_free_mass_index};
use crate::energy::data::{Figure, policy};
use crate::energy::gates::{self, Facts, loss_rate_cap};
use crate::energy::rules::{lean_share_of_change, old_rule_kg, stored_kcal_per_kg};
use crate::energy::{self, Baseline, Gate, Step};
use crate::person::{Person, Training};
use crate::units::{Centimetres, Kcal, Kilograms};

/// What the figures say of a stage.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// The weight fits the energy.
    Plausible,
    /// It fits, and most of the gain would be fat.
    MostlyFat,
    /// Only with an expenditure far under the equation's, or by storing more of a surplus than most.
    UnusuallyLow,
    /// Only with an expenditure far over the equation's, or by storing less of a surplus than most.
    UnusuallyHigh,
    /// No expenditure in reach makes it fit.
    NotPossible,
    /// Too short to tell tissue from water.
    Water,
    /// The body fats stated do not go with what studies show.
    CompositionNotSupported,
    /// Neither weight nor energy to hold against each other.
    NothingToJudge,
}

impl Verdict {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Verdict::Plausible => "plausible on the scale",
            Verdict::MostlyFat => "plausible but mostly fat",
            Verdict::UnusuallyLow => "needs unusually low expenditure or high efficiency",
            Verdict::UnusuallyHigh => "needs unusually high expenditure or low efficiency",
            Verdict::NotPossible => "not energetically possible as stated",
            Verdict::Water => "too short to tell from water",
            Verdict::CompositionNotSupported => "composition not supported",
            Verdict::NothingToJudge => "no weight is claimed: the model's own figures only",
        }
    }
    /// Stable word for programs.
    pub fn code(self) -> &'static str {
        match self {
            Verdict::Plausible => "plausible",
            Verdict::MostlyFat => "mostly-fat",
            Verdict::UnusuallyLow => "unusually-low-expenditure",
            Verdict::UnusuallyHigh => "unusually-high-expenditure",
            Verdict::NotPossible => "not-possible",
            Verdict::Water => "water",
            Verdict::CompositionNotSupported => "composition-not-supported",
            Verdict::NothingToJudge => "nothing-to-judge",
        }
    }
}

/// A stage for one expenditure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    /// What holds the body of the very start, kcal a day.
    pub expenditure: f64,
    /// What the model gives for the stated intake: change of body mass, fat, water, kg.
    pub predicted: Option<(f64, f64, f64)>,
    /// Energy over expenditure for each kg claimed, kcal.
    pub kcal_per_kg: Option<f64>,
    /// Intake that the model needs for the claimed weight, kcal a day; `None` when none does it.
    pub needed: Option<f64>,
}

/// What would be believable in the same time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Instead {
    /// Body mass at the end, slower then faster, kg.
    pub weight: (f64, f64),
    /// Intake for both at the middle expenditure, kcal a day; `None` where the floors of intake forbid.
    pub intake: (Option<f64>, Option<f64>),
    /// Change of fat-free mass for the faster by the published model, kg.
    pub lean: f64,
    /// The same with resistance training, strong bound of the proposal; `None` without training.
    pub lean_trained: Option<f64>,
}

/// A judged stage.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// Weeks.
    pub weeks: u32,
    /// Body mass at its start, kg; stated, or the model's where the stage before states none.
    pub start_kg: f64,
    /// Claimed change, kg.
    pub claimed_kg: Option<f64>,
    /// Stated intake, kcal a day.
    pub intake: Option<f64>,
    /// For a low, a middle and a high expenditure.
    pub columns: [Column; 3],
    /// All verdicts, that on the scale first.
    pub verdicts: Vec<Verdict>,
    /// How it was judged, in order.
    pub steps: Vec<Step>,
    /// What would be believable; `None` without a claimed weight.
    pub instead: Option<Instead>,
    /// Safety rules that the stated, or else the needed, intake would break.
    pub gates: Vec<Gate>,
}

/// The whole appraisal.
#[derive(Clone, Debug, PartialEq)]
pub struct Appraisal {
    /// Title of the claim.
    pub title: String,
    /// Resting energy, kcal a day.
    pub resting: f64,
    /// Low, middle and high expenditure at the start, kcal a day.
    pub expenditure: [f64; 3],
    /// How those were found.
    pub basis: Vec<Step>,
    /// Body fat used and what other published ways give.
    pub estimates: Vec<Estimate>,
    /// The stages in order.
    pub stages: Vec<Judged>,
}

fn step(what: &str, value: String, how: impl Into<String>, source: &str) -> Step {
    Step {
        what: what.to_string(),
        value,
        how: how.into(),
        source: source.to_string(),
    }
}

const MODEL_SOURCE: &str = "Hall et al., Lancet 378:826-837, 2011, and web appendix";

/// PAL taken when the claim does not say how active somebody was: low, middle, high. The classes of
/// FAO/WHO/UNU 2004, table 5.3, from the edge of sedentary to vigorous.
const UNKNOWN_PAL: [f64; 3] = [1.4, 1.7, 2.0];

/// The body of one expenditure on its way through the stages.
struct Path {
    expenditure: f64,
    model: Model,
    state: State,
}

/// Judges a claim, or says what in it cannot be.
pub fn appraise(claim: &Claim) -> Result<Appraisal, Vec<Diagnostic>> {
    let p = policy();
    let pal = Activity::Pal(UNKNOWN_PAL[1]);
    let base = energy::baseline(&claim.person, claim.activity.as_ref().unwrap_or(&pal))?;
    if f64::from(claim.person.age) < p.adult.value {
        return Err(vec![
            Diagnostic::error("claim-minor", "the body-weight model holds for adults only")
                .help("growth has its own needs; ask a paediatrician or dietitian"),
        ]);
    }
    let middle_pal = base.expenditure.0 / base.resting.0;
    let (low, high, how) = match &claim.activity {
        Some(Activity::Measured(_)) => (
            base.expenditure.0 * (1.0 - 2.0 * base.spread),
            base.expenditure.0 * (1.0 + 2.0 * base.spread),
            "measured expenditure and twice its error to both sides".to_string(),
        ),
        Some(_) => (
            base.resting.0 * (1.0 - p.resting_spread.value) * (middle_pal - p.pal_spread.value),
            base.resting.0 * (1.0 + p.resting_spread.value) * (middle_pal + p.pal_spread.value),
            format!(
                "resting energy ± {:.0} % times PAL {middle_pal:.2} ± {:.1}",
                100.0 * p.resting_spread.value,
                p.pal_spread.value
            ),
        ),
        None => (
            base.resting.0 * (1.0 - p.resting_spread.value) * UNKNOWN_PAL[0],
            base.resting.0 * (1.0 + p.resting_spread.value) * UNKNOWN_PAL[2],
            format!(
                "activity is not stated: PAL {} to {}, resting energy ± {:.0} %",
                UNKNOWN_PAL[0],
                UNKNOWN_PAL[2],
                100.0 * p.resting_spread.value
            ),
        ),
    };
    let expenditure = [low, base.expenditure.0, high];
    let mut basis = base.steps.clone();
    basis.push(step(
        "expenditure, low to high",
        format!("{low:.0}, {:.0}, {high:.0} kcal/d", base.expenditure.0),
        how,
        &p.resting_spread.source,
    ));
    let mut paths = Vec::new();
    for spent in expenditure {
        let body = Body0::new(&claim.person, base.composition.fat, base.resting, Kcal(spent));
        let model = Model::new(&body).map_err(|e| vec![Diagnostic::from(e)])?;
        paths.push(Path {
            expenditure: spent,
            model,
            state: model.start(),
        });
    }
    let mut stages = Vec::new();
    let mut person = claim.person.clone();
    let mut fat_percent = claim
        .person
        .body_fat
        .is_some()
        .then_some(base.composition.fat_percent);
    for stage in &claim.stages {
        let judged = judge(claim, stage, &person, fat_percent, &base, &mut paths);
        person.weight = stage.end_weight.unwrap_or(Kilograms(paths[1].state.weight_kg()));
        fat_percent = stage.end_body_fat.map(|s| 100.0 * s);
        stages.push(judged);
    }
    Ok(Appraisal {
        title: claim.title.clone(),
        resting: base.resting.0,
        expenditure,
        basis,
        estimates: estimates(&claim.person),
        stages,
    })
}

fn judge(
    claim: &Claim,
    stage: &Stage,
    before: &Person,
    fat_before: Option<f64>,
    base: &Baseline,
    paths: &mut [Path],
) -> Judged {
    let p = policy();
    let days = 7 * stage.weeks;
    let start_kg = before.weight.0;
    let claimed_kg = stage.end_weight.map(|w| w.0 - start_kg);
    let starts: Vec<State> = paths.iter().map(|path| path.state).collect();
    let columns: Vec<Column> = paths
        .iter_mut()
        .map(|path| column(path, stage, days, start_kg, claimed_kg))
        .collect();
    let columns = [columns[0], columns[1], columns[2]];
    let state = starts[1];
    let middle = columns[1];
    let mut steps = Vec::new();
    let gaining = match (claimed_kg, middle.predicted) {
        (Some(kg), _) => kg > 0.0,
        (None, Some((kg, ..))) => kg > 0.0,
        _ => true,
    };
    if let (Some(intake), Some((kg, fat, water))) = (stage.intake, middle.predicted) {
        let all: Vec<f64> = columns.iter().filter_map(|c| c.predicted).map(|c| c.0).collect();
        let list = |v: &[f64]| {
            v.iter()
                .map(|x| format!("{x:+.1}"))
                .collect::<Vec<_>>()
                .join(", ")
        };
        steps.push(step(
            "what the stated intake does",
            format!("{} kg at low, middle, high expenditure", list(&all)),
            format!(
                "{:.0} kcal a day for {} weeks; in the middle {fat:+.1} kg fat, {:+.1} kg lean tissue, \
                 {water:+.1} kg glycogen and fluid",
                intake.0,
                stage.weeks,
                kg - fat - water
            ),
            MODEL_SOURCE,
        ));
        if kg > 0.0 {
            steps.push(step(
                "how differently people store",
                format!(
                    "{:+.1} to {:+.1} kg",
                    kg * p.storage_low.value,
                    kg * p.storage_high.value
                ),
                "the middle times the least and the most of 24 men fed the same surplus",
                &p.storage_low.source,
            ));
        }
        steps.push(step(
            "the old rule",
            format!(
                "{:+.1} kg",
                old_rule_kg(Kcal(intake.0 - middle.expenditure), f64::from(days))
            ),
            "7700 kcal a kilogram, only to compare",
            "Wishnofsky, Am J Clin Nutr 6:542-546, 1958; Thomas et al., Int J Obes 37:1611-1613, 2013",
        ));
    }
    let mut verdicts = Vec::new();
    let mut instead = None;
    match claimed_kg {
        None => verdicts.push(Verdict::NothingToJudge),
        Some(kg) => {
            energy_steps(stage, kg, &columns, &state, &mut steps);
            let scale = on_the_scale(stage, kg, &columns, &state, &mut steps);
            verdicts.push(scale);
            rate_step(stage, kg, start_kg, &state, before, &mut steps);
            composition_steps(
                claim,
                stage,
                kg,
                start_kg,
                fat_before,
                base,
                &paths[1],
                &state,
                &middle,
                &mut verdicts,
                &mut steps,
            );
            first_weeks(stage, &paths[1], &state, &middle, &mut steps);
            instead = Some(believable(
                stage, start_kg, gaining, &state, &paths[1], before, claim, base,
            ));
        }
    }
    let intake = stage.intake.map(|k| k.0).or(middle.needed);
    let gates = intake.map_or_else(Vec::new, |intake| {
        let person = Person {
            weight: Kilograms(start_kg),
            ..before.clone()
        };
        let holding = paths[1].model.holding_intake(&state, 0.0);
        let end = claimed_kg
            .or(middle.predicted.map(|c| c.0))
            .map(|kg| start_kg + kg);
        gates::gates(&Facts {
            person: &person,
            screen: &Screen::default(),
            kind: if gaining { PhaseKind::Gain } else { PhaseKind::Lose },
            weeks: stage.weeks,
            weight_kg: start_kg,
            end_weight_kg: end,
            rate: end.map(|end| libm::pow(end / start_kg, 1.0 / f64::from(stage.weeks)) - 1.0),
            fat_kg: state.fat_kg,
            fat_free_kg: state.fat_free_kg(),
            resting: base.resting,
            expenditure: holding,
            intake: Kcal(intake),
            exercise: base.resting * base.exercise_share,
            exercise_how: base.exercise_how,
            fat_ran_out: None,
            no_room: false,
        })
    });
    Judged {
        weeks: stage.weeks,
        start_kg,
        claimed_kg,
        intake: stage.intake.map(|k| k.0),
        columns,
        verdicts,
        steps,
        instead,
        gates,
    }
}

/// Runs a stage for one expenditure and moves the path on: by the stated intake, or else by the one
/// that the claimed weight needs.
fn column(path: &mut Path, stage: &Stage, days: u32, start_kg: f64, claimed_kg: Option<f64>) -> Column {
    let (model, from) = (path.model, path.state);
    let run = |intake: Kcal| model.run(from, 0, &[PhaseInput::new(days, intake)], STEP_DAYS);
    let holding = model.holding_intake(&from, 0.0);
    let needed = claimed_kg
        .and_then(|kg| {
            let goal = Kilograms(from.weight_kg() + kg);
            model.intake_for(from, &PhaseInput::new(days, holding), goal).ok()
        })
        .map(|k| k.0);
    let predicted = stage.intake.map(|intake| {
        let run = run(intake);
        let end = run.end().map_or(from, |d| d.state);
        let kg = end.weight_kg() - from.weight_kg();
        let fat = end.fat_kg - from.fat_kg;
        (kg, fat, kg - fat - (end.lean_kg - from.lean_kg))
    });
    let kcal_per_kg = match (stage.intake, claimed_kg) {
        (Some(intake), Some(kg)) if kg != 0.0 && start_kg > 0.0 => {
            Some((intake.0 - holding.0) * f64::from(days) / kg)
        }
        _ => None,
    };
    if let Some(intake) = stage.intake.or(needed.map(Kcal))
        && let Some(end) = run(intake).end()
    {
        path.state = end.state;
    }
    Column {
        expenditure: path.expenditure,
        predicted,
        kcal_per_kg,
        needed,
    }
}

fn list(values: impl Iterator<Item = Option<f64>>) -> String {
    let words: Vec<String> = values
        .map(|v| v.map_or("none".to_string(), |v| format!("{v:.0}")))
        .collect();
    words.join(", ")
}

fn energy_steps(stage: &Stage, kg: f64, columns: &[Column; 3], state: &State, steps: &mut Vec<Step>) {
    let p = policy();
    if kg != 0.0 && columns.iter().any(|c| c.kcal_per_kg.is_some()) {
        let per_kg = list(columns.iter().map(|c| c.kcal_per_kg));
        if kg > 0.0 {
            steps.push(step(
                "energy for each kilogram claimed",
                format!("{per_kg} kcal/kg at low, middle, high expenditure"),
                format!(
                    "trials of overfeeding: {:.0} to {:.0}, most between {:.0} and {:.0}; under {:.0} no \
                     tissue is that cheap; a little more tissue at this body fat holds {:.0}",
                    p.cost_low.value,
                    p.cost_high.value,
                    p.cost_usual_low.value,
                    p.cost_usual_high.value,
                    p.cost_least.value,
                    stored_kcal_per_kg(state.fat_kg)
                ),
                &format!("{}; {}", p.cost_low.source, p.cost_usual_low.source),
            ));
        } else {
            steps.push(step(
                "deficit for each kilogram claimed",
                format!("{per_kg} kcal/kg at low, middle, high expenditure"),
                format!(
                    "tissue lost at this body fat holds about {:.0}; less than that is water, or a deficit \
                     larger than stated",
                    stored_kcal_per_kg(state.fat_kg)
                ),
                "Hall, Int J Obes 32:573-576, 2008",
            ));
        }
    }
    steps.push(step(
        "intake the claim would need",
        format!(
            "{} kcal/d at low, middle, high expenditure",
            list(columns.iter().map(|c| c.needed))
        ),
        format!("the model turned round: {kg:+.1} kg in {} weeks", stage.weeks),
        MODEL_SOURCE,
    ));
}

/// The verdict of energy and weight alone.
fn on_the_scale(
    stage: &Stage,
    kg: f64,
    columns: &[Column; 3],
    state: &State,
    steps: &mut Vec<Step>,
) -> Verdict {
    let p = policy();
    if f64::from(7 * stage.weeks) <= p.water_days.value && kg.abs() <= p.water_most.value {
        return Verdict::Water;
    }
    let [low, middle, high] = columns;
    if kg > 0.0 {
        if let (Some(at_low), Some(at_middle), Some(at_high)) =
            (low.kcal_per_kg, middle.kcal_per_kg, high.kcal_per_kg)
        {
            let trials = p.cost_low.value..=p.cost_high.value;
            return if trials.contains(&at_middle) {
                Verdict::Plausible
            } else if at_low < p.cost_least.value {
                Verdict::NotPossible
            } else if at_middle < p.cost_low.value {
                Verdict::UnusuallyLow
            } else if at_high <= p.cost_high.value || at_middle > p.cost_high.value {
                Verdict::UnusuallyHigh
            } else {
                Verdict::Plausible
            };
        }
        let Some(needed) = middle.needed else {
            return if low.needed.is_some() {
                Verdict::UnusuallyLow
            } else {
                Verdict::NotPossible
            };
        };
        let surplus = needed - middle.expenditure;
        steps.push(step(
            "the surplus that needs",
            format!("{surplus:+.0} kcal/d in the middle"),
            format!("the long trials fed up to {:.0} a day", p.surplus_tried.value),
            &p.surplus_tried.source,
        ));
        return if surplus <= p.surplus_tried.value {
            Verdict::Plausible
        } else {
            Verdict::UnusuallyLow
        };
    }
    let deficit = middle.needed.map(|n| middle.expenditure - n);
    let supply = p.fat_supply.value * state.fat_kg;
    if let Some(deficit) = deficit {
        let more = if deficit > supply {
            "more than that: the rest must be lean tissue or water"
        } else {
            "within it"
        };
        steps.push(step(
            "what fat can supply",
            format!("{supply:.0} kcal/d"),
            format!(
                "{:.0} kcal a day for each of {:.1} kg of fat; the claim needs a deficit of {deficit:.0}, {more}",
                p.fat_supply.value, state.fat_kg
            ),
            &p.fat_supply.source,
        ));
    }
    match (low.predicted, high.predicted) {
        (Some((least, ..)), Some((most, ..))) => {
            if kg < most {
                // Lost more than even a high expenditure explains.
                match high.needed {
                    Some(needed) if needed > 0.0 => Verdict::UnusuallyHigh,
                    _ => Verdict::NotPossible,
                }
            } else if kg > least {
                Verdict::UnusuallyLow
            } else {
                Verdict::Plausible
            }
        }
        _ => match (middle.needed, high.needed) {
            (Some(needed), _) if needed > p.very_low.value => Verdict::Plausible,
            (_, Some(needed)) if needed > 0.0 => Verdict::UnusuallyHigh,
            _ => Verdict::NotPossible,
        },
    }
}

/// The usual rates of practice for a body, share of body mass a week: slow, fast, with source.
fn practice(gaining: bool, fat_percent: f64, person: &Person) -> (&'static Figure, &'static Figure) {
    let p = policy();
    if gaining {
        (&p.gain_rate_advanced, &p.gain_rate_most)
    } else {
        (&p.loss_rate_lean, loss_rate_cap(person.sex, fat_percent))
    }
}

fn rate_step(stage: &Stage, kg: f64, start_kg: f64, state: &State, person: &Person, steps: &mut Vec<Step>) {
    let rate = 100.0 * (libm::pow((start_kg + kg) / start_kg, 1.0 / f64::from(stage.weeks)) - 1.0);
    let (slow, fast) = practice(kg > 0.0, 100.0 * state.fat_share(), person);
    let (from, to) = (100.0 * slow.value, 100.0 * fast.value);
    let word = if rate.abs() > to + 0.005 {
        format!("faster than the {from:.2} to {to:.2} % of practice")
    } else if rate.abs() < from - 0.005 {
        format!("slower than the {from:.2} to {to:.2} % of practice")
    } else {
        format!("within the {from:.2} to {to:.2} % of practice")
    };
    steps.push(step(
        "rate",
        format!("{rate:+.2} % of body mass a week"),
        format!("{word}, {:+.2} kg a week", kg / f64::from(stage.weeks)),
        &fast.source,
    ));
}

#[allow(clippy::too_many_arguments)]
fn composition_steps(
    claim: &Claim,
    stage: &Stage,
    kg: f64,
    start_kg: f64,
    fat_before: Option<f64>,
    base: &Baseline,
    path: &Path,
    state: &State,
    middle: &Column,
    verdicts: &mut Vec<Verdict>,
    steps: &mut Vec<Step>,
) {
    let p = policy();
    let training = stage.training.unwrap_or(claim.person.training);
    // What the model gives for exactly the claimed weight.
    let exact = middle.needed.and_then(|intake| {
        let run = path.model.run(
            *state,
            0,
            &[PhaseInput::new(7 * stage.weeks, Kcal(intake))],
            STEP_DAYS,
        );
        let end = run.end()?.state;
        Some((end.fat_kg - state.fat_kg, end.fat_free_kg() - state.fat_free_kg()))
    });
    let Some((fat, lean)) = exact else { return };
    let share = if kg.abs() > 0.05 { fat / kg } else { 0.0 };
    steps.push(step(
        "what it would be made of",
        format!("{fat:+.1} kg fat, {lean:+.1} kg lean with its water"),
        format!(
            "the model at the claimed weight; a little change at this body fat is {:.0} % lean without \
             training",
            100.0 * lean_share_of_change(state.fat_kg)
        ),
        "Hall et al., Lancet 378:826-837, 2011; Forbes, Nutr Rev 45:225-231, 1987",
    ));
    if kg > 0.0 && share > 0.5 && verdicts.first() == Some(&Verdict::Plausible) {
        verdicts[0] = Verdict::MostlyFat;
    }
    let weeks = f64::from(stage.weeks);
    let person = Person {
        training,
        ..claim.person.clone()
    };
    // Losing: the condition of enough protein cannot be seen in a claim; it is given the benefit.
    let surplus = Kcal(if kg > 0.0 { 1.0 } else { -1.0 });
    let trained =
        lean_shift_bounds(&person, surplus, p.lean_kept_protein.value).map(|(_, strong)| match strong {
            LeanShift::Added(a_week) => lean + a_week * weeks,
            LeanShift::Kept(share) => lean * share,
        });
    let study = p.trained_gain.value * (weeks / p.trained_gain_weeks.value).min(1.0);
    if training != Training::None {
        steps.push(step(
            "what training adds",
            format!("{:+.1} kg fat-free mass in studies, mean", p.trained_gain.value),
            format!(
                "10 to 12 weeks of resistance training in men; up to {:+.1} kg in all here by the stronger \
                 bound of this project's proposal",
                trained.unwrap_or(lean).max(study)
            ),
            &p.trained_gain.source,
        ));
    }
    if let (Some(from), Some(to)) = (fat_before, stage.end_body_fat) {
        let end_kg = start_kg + kg;
        let claimed = end_kg * (1.0 - to) - start_kg * (1.0 - from / 100.0);
        // Two body fats, each with its error, make the change.
        let error = libm::sqrt(2.0) * base.composition.error_points / 100.0 * start_kg;
        let most = lean
            .max(trained.unwrap_or(lean))
            .max(if training == Training::None { lean } else { study });
        let over = claimed - most;
        let word = if over > error {
            verdicts.push(Verdict::CompositionNotSupported);
            "beyond that even with the error of body fat"
        } else if over > 0.0 {
            "above that, within the error of body fat"
        } else {
            "within that"
        };
        steps.push(step(
            "fat-free mass claimed",
            format!("{claimed:+.1} ± {error:.1} kg"),
            format!("from the stated body fats; the most expected here is {most:+.1} kg: {word}"),
            &p.trained_gain.source,
        ));
        let (index, tall) =
            fat_free_mass_index(Kilograms(end_kg * (1.0 - to)), Centimetres(claim.person.height.0));
        let word = if tall > p.ffmi_limit.value {
            "over the 25 that men without steroids reached in one study: a flag, no finding"
        } else {
            "under 25"
        };
        steps.push(step(
            "fat-free mass index at the end",
            format!("{index:.1} kg/m², {tall:.1} brought to 1.80 m"),
            word,
            &p.ffmi_limit.source,
        ));
    }
}

fn first_weeks(stage: &Stage, path: &Path, state: &State, middle: &Column, steps: &mut Vec<Step>) {
    let p = policy();
    let Some(intake) = stage.intake.map(|k| k.0).or(middle.needed) else {
        return;
    };
    let days = (p.water_days.value as u32).min(7 * stage.weeks);
    let run = path
        .model
        .run(*state, 0, &[PhaseInput::new(days, Kcal(intake))], STEP_DAYS);
    if let Some(end) = run.end().map(|d| d.state) {
        let kg = end.weight_kg() - state.weight_kg();
        let tissue = end.fat_kg - state.fat_kg + end.lean_kg - state.lean_kg;
        steps.push(step(
            "the first two weeks",
            format!("{kg:+.1} kg, of it {:+.1} kg glycogen and fluid", kg - tissue),
            "the scale moves with carbohydrate and salt before tissue does; 2 to 3 kg are seen: not to be \
             carried on",
            &p.water_most.source,
        ));
    }
}

#[allow(clippy::too_many_arguments)]
fn believable(
    stage: &Stage,
    start_kg: f64,
    gaining: bool,
    state: &State,
    path: &Path,
    before: &Person,
    claim: &Claim,
    base: &Baseline,
) -> Instead {
    let p = policy();
    let (slow, fast) = practice(gaining, 100.0 * state.fat_share(), before);
    let sign = if gaining { 1.0 } else { -1.0 };
    let weeks = f64::from(stage.weeks);
    let end = |rate: f64| start_kg * libm::pow(1.0 + sign * rate, weeks);
    let holding = path.model.holding_intake(state, 0.0);
    let like = PhaseInput::new(7 * stage.weeks, holding);
    let (floor, _) = gates::intake_floor(before, before.bmi(), base.resting);
    let available = p.availability_refuse.value * state.fat_free_kg() + base.exercise_share * base.resting.0;
    let least = floor.0.max(available);
    let intake = |kg: f64| {
        let goal = Kilograms(state.weight_kg() + kg - start_kg);
        path.model
            .intake_for(*state, &like, goal)
            .ok()
            .map(|k| k.0)
            .filter(|k| gaining || *k >= least)
    };
    let weight = (end(slow.value), end(fast.value));
    let intakes = (intake(weight.0), intake(weight.1));
    let lean = intakes.1.or(intakes.0).map_or(0.0, |k| {
        let run = path
            .model
            .run(*state, 0, &[PhaseInput::new(like.days, Kcal(k))], STEP_DAYS);
        run.end()
            .map_or(0.0, |d| d.state.fat_free_kg() - state.fat_free_kg())
    });
    let person = Person {
        training: stage.training.unwrap_or(claim.person.training),
        ..before.clone()
    };
    let lean_trained =
        lean_shift_bounds(&person, Kcal(sign), p.lean_kept_protein.value).map(|(_, strong)| match strong {
            LeanShift::Added(a_week) => lean + a_week * weeks,
            LeanShift::Kept(share) => lean * share,
        });
    Instead {
        weight,
        intake: intakes,
        lean,
        lean_trained,
    }
}
