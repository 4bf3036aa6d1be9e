//! The forecast: what the phases of a brief will do to weight, fat, lean tissue and expenditure, with
//! bands, milestones and the water of the first weeks.
//!
//! Takes a brief, gives a [`Forecast`]. Rests on the body-weight model and the intakes found by `energy`;
//! knows no food. Bands come from a fixed set of parameter draws, so the same brief gives the same bands.

use crate::brief::{Brief, PhaseKind, PhaseSize};
use crate::diagnostic::Diagnostic;
use crate::energy::body::{
    Body0, DayState, LeanShift, Model, PhaseInput, STEP_DAYS, State, lean_shift_bounds,
};
use crate::energy::composition::{Estimate, essential_fat, estimates, fat_free_mass_index};
use crate::energy::data::policy;
use crate::energy::rules::{Linear, old_rule_kg};
use crate::energy::{self, Course, Gate, GateAction, PhaseCourse};
use crate::nutrient::Nutrient;
use crate::targets;
use crate::units::{Kcal, Kilograms};

/// A figure with the band that holds it in eight of ten people.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// The model's own figure.
    pub middle: f64,
    /// Low end.
    pub low: f64,
    /// High end.
    pub high: f64,
}

/// The body at the end of a week.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Week {
    /// Weeks since the start; 0 is the start.
    pub week: u32,
    /// The phase that led here, from 0.
    pub phase: usize,
    /// Body mass, kg.
    pub weight: Band,
    /// Fat, kg.
    pub fat: Band,
    /// Fat-free mass, kg: lean tissue, fluid, glycogen.
    pub fat_free: Band,
    /// Expenditure a day, kcal.
    pub expenditure: Band,
    /// Intake a day, kcal.
    pub intake: f64,
    /// Fat-free mass by the weak and the strong bound of resistance training, kg: a proposal; `None`
    /// without training.
    pub trained: Option<(f64, f64)>,
}

/// What moved on the scale since the start of a phase, kg.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parts {
    /// Phase, from 0.
    pub phase: usize,
    /// Days since the start of the phase.
    pub day: u32,
    /// Change of body mass.
    pub weight: f64,
    /// Of it fat.
    pub fat: f64,
    /// Of it lean tissue.
    pub lean: f64,
    /// Of it glycogen with the water bound to it.
    pub glycogen: f64,
    /// Of it fluid between the cells, which follows carbohydrate and salt.
    pub fluid: f64,
}

impl Parts {
    fn new(phase: usize, day: u32, from: &State, to: &State) -> Parts {
        let weight = to.weight_kg() - from.weight_kg();
        let (fat, lean) = (to.fat_kg - from.fat_kg, to.lean_kg - from.lean_kg);
        let fluid = to.fluid_kg - from.fluid_kg;
        Parts {
            phase,
            day,
            weight,
            fat,
            lean,
            glycogen: weight - fat - lean - fluid,
            fluid,
        }
    }
    /// Glycogen, its water and fluid together, kg: not tissue.
    pub fn water(&self) -> f64 {
        self.glycogen + self.fluid
    }
}

/// A phase of the forecast.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Gain, hold or lose.
    pub kind: PhaseKind,
    /// First week, from 1.
    pub first_week: u32,
    /// Weeks.
    pub weeks: u32,
    /// Intake a day, kcal.
    pub intake: f64,
    /// What would hold the body of its start, kcal a day.
    pub holding: f64,
    /// Body mass at its start and end, kg.
    pub weight: (f64, f64),
    /// Fat at its start and end, kg.
    pub fat: (f64, f64),
    /// Change of body mass by the model made linear, kg: to compare.
    pub linear_kg: f64,
    /// Change of body mass by the rule of 7700 kcal a kilogram, kg: to compare.
    pub old_rule_kg: f64,
    /// Bounds of resistance training, weak then strong; `None` without.
    pub training: Option<(LeanShift, LeanShift)>,
    /// Safety rules that fire at its start or end.
    pub gates: Vec<Gate>,
}

/// Something worth knowing on the way.
#[derive(Clone, Debug, PartialEq)]
pub struct Milestone {
    /// Days since the start.
    pub day: u32,
    /// Body mass then, kg.
    pub weight: f64,
    /// What is reached, a few words.
    pub what: String,
}

/// The whole forecast.
#[derive(Clone, Debug, PartialEq)]
pub struct Forecast {
    /// Title of the brief.
    pub title: String,
    /// One for each week, the start first.
    pub weeks: Vec<Week>,
    /// The phases.
    pub phases: Vec<Stretch>,
    /// In order of days.
    pub milestones: Vec<Milestone>,
    /// After one and two weeks of each phase.
    pub first_weeks: Vec<Parts>,
    /// Body fat used and what other published ways give.
    pub estimates: Vec<Estimate>,
    /// Fat-free mass index now with its error, and brought to 1.80 m, kg/m²; `None` while body fat is
    /// only estimated from BMI.
    pub index: Option<(f64, f64, f64)>,
    /// One standard deviation of expenditure, share.
    pub expenditure_spread: f64,
    /// Remarks on the forecast itself.
    pub notes: Vec<String>,
}

impl Forecast {
    /// Whether a safety rule stops one of the phases.
    pub fn stopped(&self) -> bool {
        self.phases
            .iter()
            .flat_map(|p| &p.gates)
            .any(|g| g.action == GateAction::Stop)
    }
}

/// The forecast of a brief, or every mistake of its energy side.
pub fn forecast(brief: &Brief) -> Result<Forecast, Vec<Diagnostic>> {
    forecast_with(brief, STEP_DAYS)
}

/// As [`forecast()`], integrated in steps of `dt` days (at most one).
pub fn forecast_with(brief: &Brief, dt: f64) -> Result<Forecast, Vec<Diagnostic>> {
    let course = energy::course(brief)?;
    let (Some(model), Some(_)) = (course.model, course.phases.first()) else {
        return Err(vec![
            Diagnostic::error(
                "forecast-outside-model",
                "the body-weight model does not hold for this body: no forecast can be made",
            )
            .help(
                "it is for adults with body fat above 3 % (men) or 10 % (women); `targets` says what \
                 stops this brief",
            ),
        ]);
    };
    let mut phases = Vec::new();
    for index in 0..course.phases.len() {
        phases.push(stretch(brief, &course, &model, index)?);
    }
    let inputs: Vec<PhaseInput> = course.phases.iter().map(|p| p.input).collect();
    let middle = model.weeks(model.start(), &inputs, dt);
    let mut notes = Vec::new();
    let weeks = weeks(&course, &model, &inputs, &phases, &middle, dt, &mut notes);
    if middle.len() < course.weeks() as usize + 1 {
        notes.push(format!(
            "The forecast ends after week {}: body fat would fall under the {} % below which the model \
             does not go.",
            middle.len().saturating_sub(1),
            (100.0 * essential_fat(brief.person.sex)).round()
        ));
    }
    let first_weeks = first_weeks(&course);
    let index = course.composition.known.then(|| {
        let (plain, tall) = fat_free_mass_index(course.composition.fat_free, brief.person.height);
        let m = brief.person.height.metres();
        (plain, course.composition.error.0 / (m * m), tall)
    });
    Ok(Forecast {
        title: brief.title.clone(),
        milestones: milestones(brief, &course),
        weeks,
        phases,
        first_weeks,
        estimates: estimates(&brief.person),
        index,
        expenditure_spread: course.expenditure_spread(),
        notes,
    })
}

fn stretch(brief: &Brief, course: &Course, model: &Model, index: usize) -> Result<Stretch, Vec<Diagnostic>> {
    let phase = &course.phases[index];
    let mut gates: Vec<Gate> = Vec::new();
    let first = course.budget(brief, index, 1)?;
    let mut protein = 0.0;
    let mut then = brief.clone();
    let (start, end) = ends(phase, model);
    then.person.weight = Kilograms(start.weight_kg());
    then.person.training = phase.training;
    for target in targets::derive_phase(&then, phase.kind, &first).0 {
        if target.nutrient == Nutrient::PROTEIN {
            protein = f64::max(protein, target.floor.unwrap_or(0.0) / start.weight_kg());
        }
    }
    for budget in [first, course.budget(brief, index, phase.weeks)?] {
        for gate in budget.gates {
            match gates.iter_mut().find(|g| g.code == gate.code) {
                Some(known) if known.action == GateAction::Warn && gate.action == GateAction::Stop => {
                    *known = gate;
                }
                Some(_) => {}
                None => gates.push(gate),
            }
        }
    }
    gates.sort_by_key(|g| g.action == GateAction::Warn);
    let surplus = Kcal(phase.intake.0 - phase.expenditure.0);
    let days = f64::from(7 * phase.weeks);
    let linear = Linear::new(
        start.fat_kg,
        model.delta_kj_per_kg() + phase.input.delta_change_kj_per_kg,
        0.0,
    );
    Ok(Stretch {
        kind: phase.kind,
        first_week: phase.first_day / 7 + 1,
        weeks: phase.weeks,
        intake: phase.intake.0,
        holding: phase.expenditure.0,
        weight: (start.weight_kg(), end.weight_kg()),
        fat: (start.fat_kg, end.fat_kg),
        linear_kg: linear.change_kg(surplus, days),
        old_rule_kg: old_rule_kg(surplus, days),
        training: match phase.kind {
            PhaseKind::Hold => None,
            _ => lean_shift_bounds(&then.person, surplus, protein),
        },
        gates,
    })
}

fn ends(phase: &PhaseCourse, model: &Model) -> (State, State) {
    let run = phase.trajectory.as_ref();
    let start = run.and_then(|t| t.days.first()).map(|d| d.state);
    let end = run.and_then(|t| t.end()).map(|d| d.state);
    let start = start.unwrap_or(model.start());
    (start, end.unwrap_or(start))
}

/// What one draw gives, week by week: body mass, fat, fat-free mass, expenditure.
type Series = Vec<[f64; 4]>;

fn series(weeks: &[DayState]) -> Series {
    let row = |d: &DayState| {
        [
            d.state.weight_kg(),
            d.state.fat_kg,
            d.state.fat_free_kg(),
            d.expenditure.0,
        ]
    };
    weeks.iter().map(row).collect()
}

/// Weekly figures with bands.
///
/// Each uncertain parameter is moved alone to both ends of its middle 80 %: expenditure by the spread of
/// its equation, body fat by its error, the stored share of a surplus by the spread of the overfeeding
/// trials; the bounds of resistance training are one more, to one side. Deviations of a week are added as
/// squares, each side by itself.
fn weeks(
    course: &Course,
    model: &Model,
    inputs: &[PhaseInput],
    phases: &[Stretch],
    middle: &[DayState],
    dt: f64,
    notes: &mut Vec<String>,
) -> Vec<Week> {
    let p = policy();
    let z = p.band_deviations.value;
    let run = |body: &Body0, inputs: &[PhaseInput]| {
        let m = Model::new(body).ok()?;
        Some(series(&m.weeks(m.start(), inputs, dt)))
    };
    let body = course.body;
    let scaled = |share: f64| Body0 {
        resting: body.resting * (1.0 + share),
        expenditure: body.expenditure * (1.0 + share),
        ..body
    };
    let fatter = |kg: f64| Body0 {
        fat_kg: (body.fat_kg + kg).max((essential_fat(body.sex) + 0.001) * body.weight_kg),
        ..body
    };
    let with = |change: &dyn Fn(usize, &mut PhaseInput)| {
        let mut inputs = inputs.to_vec();
        inputs
            .iter_mut()
            .enumerate()
            .for_each(|(i, input)| change(i, input));
        inputs
    };
    let spread = z * course.expenditure_spread();
    let fat = z * course.composition.error.0;
    let tail = |end: f64| libm::exp(libm::log(end) * z / p.storage_deviations.value);
    let stored = |share: f64| with(&move |_, input: &mut PhaseInput| input.storage = share);
    let surplus = phases.iter().any(|p| p.intake > p.holding + 1.0);
    let mut pairs: Vec<Vec<Series>> = vec![
        [scaled(-spread), scaled(spread)]
            .iter()
            .filter_map(|b| run(b, inputs))
            .collect(),
        [fatter(-fat), fatter(fat)]
            .iter()
            .filter_map(|b| run(b, inputs))
            .collect(),
    ];
    if surplus {
        let ends = [tail(p.storage_low.value), tail(p.storage_high.value)];
        pairs.push(ends.iter().filter_map(|s| run(&body, &stored(*s))).collect());
    }
    let trained = phases.iter().any(|p| p.training.is_some());
    let shifted = |strong: bool| {
        let shift = |i: usize, input: &mut PhaseInput| {
            input.training = phases[i]
                .training
                .map(|(weak, most)| if strong { most } else { weak });
        };
        series(&model.weeks(model.start(), &with(&shift), dt))
    };
    let bounds = trained.then(|| (shifted(false), shifted(true)));
    if let Some((_, strong)) = &bounds {
        pairs.push(vec![strong.clone()]);
    }
    if pairs.iter().flatten().any(|s| s.len() < middle.len()) {
        notes.push(
            "In part of the band body fat leaves the model's range before the end; that part is held \
             where it was."
                .to_string(),
        );
    }
    let at = |s: &Series, week: usize, what: usize| s.get(week).or(s.last()).map(|row| row[what]);
    let rows = series(middle);
    let mut weeks = Vec::with_capacity(rows.len());
    for (week, (row, day)) in rows.iter().zip(middle).enumerate() {
        let band = |what: usize| {
            let (mut low, mut high) = (0.0, 0.0);
            for pair in &pairs {
                let (mut down, mut up) = (0.0_f64, 0.0_f64);
                for s in pair {
                    let off = at(s, week, what).map_or(0.0, |v| v - row[what]);
                    down = down.max(-off);
                    up = up.max(off);
                }
                low += down * down;
                high += up * up;
            }
            Band {
                middle: row[what],
                low: row[what] - libm::sqrt(low),
                high: row[what] + libm::sqrt(high),
            }
        };
        weeks.push(Week {
            week: week as u32,
            phase: day.phase,
            // The scale shows the weight of the start: body fat alone cannot move it.
            weight: band(0),
            fat: band(1),
            fat_free: band(2),
            expenditure: band(3),
            intake: day.intake.0,
            trained: bounds
                .as_ref()
                .and_then(|(weak, strong)| Some((at(weak, week, 2)?, at(strong, week, 2)?))),
        });
    }
    weeks
}

fn first_weeks(course: &Course) -> Vec<Parts> {
    let mut list = Vec::new();
    for (number, phase) in course.phases.iter().enumerate() {
        let Some(run) = &phase.trajectory else { continue };
        let Some(start) = run.days.first() else { continue };
        for day in [7, 14] {
            if let Some(d) = run.on_day(phase.first_day + day) {
                list.push(Parts::new(number, day, &start.state, &d.state));
            }
        }
    }
    list
}

/// Changes of body mass that are named on the way, shares of the start.
const NAMED_CHANGES: [f64; 4] = [0.02, 0.05, 0.10, 0.15];

fn milestones(brief: &Brief, course: &Course) -> Vec<Milestone> {
    let mut list: Vec<Milestone> = Vec::new();
    let start = brief.person.weight.0;
    let days = || {
        let runs = course.phases.iter().filter_map(|p| p.trajectory.as_ref());
        runs.flat_map(|t| t.days.iter())
    };
    for share in NAMED_CHANGES {
        for sign in [1.0, -1.0] {
            if let Some(d) = days().find(|d| sign * (d.state.weight_kg() / start - 1.0) >= share) {
                list.push(Milestone {
                    day: d.day,
                    weight: d.state.weight_kg(),
                    what: format!("{:+.0} % of the weight at the start", 100.0 * sign * share),
                });
            }
        }
    }
    for (number, (phase, wanted)) in course.phases.iter().zip(&brief.phases).enumerate() {
        let Some(end) = phase.trajectory.as_ref().and_then(|t| t.end()) else {
            continue;
        };
        if let PhaseSize::Goal(goal) = wanted.size {
            list.push(Milestone {
                day: end.day,
                weight: end.state.weight_kg(),
                what: format!("goal of {:.1} kg", goal.0),
            });
        }
        list.push(Milestone {
            day: end.day,
            weight: end.state.weight_kg(),
            what: format!("end of phase {} ({})", number + 1, kind_word(phase.kind)),
        });
    }
    list.sort_by_key(|m| m.day);
    list
}

/// The word of a kind of phase.
pub fn kind_word(kind: PhaseKind) -> &'static str {
    match kind {
        PhaseKind::Gain => "gain",
        PhaseKind::Hold => "hold",
        PhaseKind::Lose => "lose",
    }
}
