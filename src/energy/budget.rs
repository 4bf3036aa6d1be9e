//! From a brief to the energy of a phase: screen, resting, expenditure, phase size, intake, gates.
//!
//! Order of science: screen, resting energy, expenditure, rate, intake by inverting the body-weight
//! model, floors. Takes a brief, gives an [`EnergyBudget`] or every mistake.

use super::body::{Body0, Model, PhaseInput, STEP_DAYS, State, Stopped, Trajectory};
use super::composition::{Composition, composition};
use super::data::{self, Figure, policy};
use super::expenditure::{check_pal, day_of_hours, eer, eer_form, eer_level, fao_class, level_id, level_pal};
use super::gates::{self, Facts, deficit_cap, energy_availability, intake_floor};
use super::resting::{default_equation, equation, needs_fat_free_mass, resting};
use super::{EnergyBudget, EnergyError, Spread, Step};
use crate::brief::{Activity, Brief, Phase, PhaseKind, PhaseSize, Read};
use crate::diagnostic::Diagnostic;
use crate::person::{BodyFat, Person, Sex, Training};
use crate::units::{Kcal, Kilograms};

/// Energy for the first week of the first phase. \[kcal/day\]
///
/// `Err` holds every mistake of the brief's energy side. A gate of
/// [`super::GateAction::Stop`] means that no plan may be made; the figures then only show why.
pub fn budget(brief: &Brief) -> Result<EnergyBudget, Vec<Diagnostic>> {
    budget_at(brief, 0, 1)
}

/// Energy for a week (1-based) of a phase (0-based). \[kcal/day\]
///
/// Earlier phases and weeks are simulated: the body, its resting energy and its expenditure are
/// those expected then. The intake stays the same through a phase.
pub fn budget_at(brief: &Brief, phase: usize, week: u32) -> Result<EnergyBudget, Vec<Diagnostic>> {
    course(brief)?.budget(brief, phase, week)
}

/// A phase with the intake that was found for it.
#[derive(Clone, Debug, PartialEq)]
pub struct PhaseCourse {
    /// Direction.
    pub kind: PhaseKind,
    /// Weeks, stated or assumed.
    pub weeks: u32,
    /// Day on which it starts, from 0.
    pub first_day: u32,
    /// The intake.
    pub intake: Kcal,
    /// What the body-weight model is given for it: intake, days, change of activity.
    pub input: PhaseInput,
    /// Resistance training in it.
    pub training: Training,
    /// Exercise above daily living, share of resting energy.
    exercise_share: f64,
    /// Expenditure that would hold the body of the phase's start.
    pub expenditure: Kcal,
    /// The days of the phase; `None` when the body lies outside the model.
    pub trajectory: Option<Trajectory>,
    /// How the size was found.
    pub steps: Vec<Step>,
    /// The default deficit vanished at the floors.
    pub no_room: bool,
}

/// All phases of a brief, one after the other.
#[derive(Clone, Debug)]
pub struct Course {
    /// The body at balance; for forecasts with other expenditures.
    pub body: Body0,
    /// Its model; `None` when the body lies outside it.
    pub model: Option<Model>,
    /// Composition at the start.
    pub composition: Composition,
    /// The phases.
    pub phases: Vec<PhaseCourse>,
    ground: Ground,
}

/// What is known before any phase.
#[derive(Clone, Debug)]
struct Ground {
    resting: Kcal,
    resting_id: String,
    expenditure: Kcal,
    /// One standard deviation, share of expenditure.
    spread: f64,
    /// Exercise above daily living, share of resting energy.
    exercise_share: f64,
    exercise_how: &'static str,
    steps: Vec<Step>,
}

fn step(what: &str, value: String, how: impl Into<String>, source: &str) -> Step {
    Step {
        what: what.to_string(),
        value,
        how: how.into(),
        source: source.to_string(),
    }
}

fn kcal(k: Kcal) -> String {
    format!("{:.0} kcal/d", k.0)
}

impl Course {
    /// One standard deviation of expenditure, share of it.
    pub fn expenditure_spread(&self) -> f64 {
        self.ground.spread
    }

    /// All weeks of the phases together.
    pub fn weeks(&self) -> u32 {
        self.phases.iter().map(|p| p.weeks).sum()
    }

    /// The phase (0-based) and the week in it (1-based) of a week of the whole course (1-based).
    pub fn place(&self, week: u32) -> Option<(usize, u32)> {
        let mut before = 0;
        for (index, phase) in self.phases.iter().enumerate() {
            if week > before && week <= before + phase.weeks {
                return Some((index, week - before));
            }
            before += phase.weeks;
        }
        None
    }

    /// The body expected on a day: at most the last one that the model reaches.
    pub fn state_on(&self, day: u32) -> Option<State> {
        let phase = self.phases.iter().rev().find(|p| p.first_day <= day)?;
        let run = phase.trajectory.as_ref()?;
        run.on_day(day).or(run.end()).map(|d| d.state)
    }

    /// The brief as it would be written at the start of a week (1-based) of the course, and that
    /// week's energy: the body expected then, its phase first, with what is left of its weeks.
    ///
    /// Targets relative to body mass and the shape of meals follow from it; everything else of the
    /// brief stays.
    pub fn week(&self, brief: &Brief, week: u32) -> Result<(Brief, EnergyBudget), Vec<Diagnostic>> {
        let Some((phase, in_phase)) = self.place(week) else {
            return Err(vec![
                Diagnostic::error(
                    "phase-week",
                    format!(
                        "week {week} was asked for, the phases of the brief have {} weeks",
                        self.weeks()
                    ),
                )
                .help(format!("weeks are counted from 1 to {}", self.weeks())),
            ]);
        };
        let energy = self.budget(brief, phase, in_phase)?;
        let mut then = brief.clone();
        then.person.training = self.phases[phase].training;
        if week > 1 {
            if let Some(s) = self.state_on(7 * (week - 1)) {
                then.person.weight = Kilograms(s.weight_kg());
                if self.composition.known {
                    then.person.body_fat = Some(BodyFat::Measured(s.fat_share()));
                }
            }
            then.title = format!("{}, week {week}", brief.title);
        }
        then.phases.drain(..phase);
        if let Some(first) = then.phases.first_mut() {
            first.weeks = Some(self.phases[phase].weeks - in_phase + 1);
        }
        Ok((then, energy))
    }

    /// Energy for a week (1-based) of a phase (0-based). \[kcal/day\]
    pub fn budget(&self, brief: &Brief, phase: usize, week: u32) -> Result<EnergyBudget, Vec<Diagnostic>> {
        let Some(course) = self.phases.get(phase) else {
            return Err(vec![Diagnostic::error(
                "phase-missing",
                format!(
                    "phase {} was asked for, the brief has {}",
                    phase + 1,
                    self.phases.len()
                ),
            )]);
        };
        if week == 0 || week > course.weeks {
            return Err(vec![Diagnostic::error(
                "phase-week",
                format!("week {week} was asked for, the phase has {} weeks", course.weeks),
            )]);
        }
        let day = course.first_day + 7 * (week - 1);
        let run = course.trajectory.as_ref();
        let state = run.and_then(|t| t.on_day(day).or(t.end())).map(|d| d.state);
        let g = &self.ground;
        let at_start = day == 0;
        let (mut now, mut resting_now, mut expenditure) =
            (brief.person.clone(), g.resting, course.expenditure);
        now.training = course.training;
        let (mut fat_kg, mut fat_free_kg) = (self.composition.fat.0, self.composition.fat_free.0);
        let mut steps = g.steps.clone();
        if let (Some(s), Some(model), false) = (state, &self.model, at_start) {
            now.weight = Kilograms(s.weight_kg());
            (fat_kg, fat_free_kg) = (s.fat_kg, s.fat_free_kg());
            resting_now =
                resting(&g.resting_id, &now, Some(Kilograms(fat_free_kg))).unwrap_or(model.resting(&s));
            expenditure = model.holding_intake(&s, course.input.delta_change_kj_per_kg);
            steps.push(step(
                "body then",
                format!("{:.1} kg, {:.1} kg of it fat", s.weight_kg(), s.fat_kg),
                format!("body-weight model, day {day} of the brief"),
                MODEL_SOURCE,
            ));
            steps.push(step(
                "expenditure then",
                kcal(expenditure),
                "the intake that would hold that body",
                MODEL_SOURCE,
            ));
        }
        steps.extend(course.steps.iter().cloned());
        steps.push(step(
            "intake",
            kcal(course.intake),
            format!(
                "{:+.0} kcal/d against the expenditure at the start of the phase",
                course.intake.0 - course.expenditure.0
            ),
            "difference of the figures above",
        ));
        let (end_kg, rate, kg_per_week) = match run.map(|t| (t.days.first(), t.end())) {
            Some((Some(a), Some(b))) if b.day > a.day => {
                let weeks = f64::from(b.day - a.day) / 7.0;
                let (from, to) = (a.state.weight_kg(), b.state.weight_kg());
                // Water moves within the first weeks: a short phase is judged by its tissue.
                let judged = if weeks < 4.0 {
                    from + (b.state.fat_kg - a.state.fat_kg) + (b.state.lean_kg - a.state.lean_kg)
                } else {
                    to
                };
                let rate = libm::exp(libm::log(judged / from) / weeks) - 1.0;
                (Some(to), Some(rate), Some((to - from) / weeks))
            }
            _ => (None, None, None),
        };
        if let (Some(end), Some(kg)) = (end_kg, kg_per_week) {
            steps.push(step(
                "expected change",
                format!("{kg:+.2} kg a week, to {end:.1} kg"),
                format!(
                    "body-weight model, mean of {} weeks, water included",
                    course.weeks
                ),
                MODEL_SOURCE,
            ));
        }
        let exercise = Kcal(course.exercise_share * resting_now.0);
        steps.push(step(
            "energy availability",
            format!(
                "{:.1} ± {:.1} kcal/kg FFM/d",
                energy_availability(course.intake, exercise, fat_free_kg),
                // The error of body fat moves fat-free mass, and with it the quotient.
                energy_availability(course.intake, exercise, fat_free_kg) * self.composition.error.0
                    / fat_free_kg
            ),
            format!(
                "(intake - {:.0} kcal of exercise)/{fat_free_kg:.1} kg; {}",
                exercise.0, g.exercise_how
            ),
            &policy().availability_warn.source,
        ));
        let facts = Facts {
            person: &now,
            screen: &brief.screen,
            kind: course.kind,
            weeks: course.weeks,
            weight_kg: now.weight.0,
            end_weight_kg: end_kg,
            rate,
            fat_kg,
            fat_free_kg,
            resting: resting_now,
            expenditure,
            intake: course.intake,
            exercise,
            exercise_how: g.exercise_how,
            fat_ran_out: run
                .and_then(|t| t.stopped)
                .map(|Stopped { day, least_share, .. }| (day.saturating_sub(course.first_day), least_share)),
            no_room: course.no_room,
        };
        Ok(EnergyBudget {
            resting: spread(resting_now, policy().resting_spread.value),
            expenditure: spread(expenditure, g.spread),
            intake: course.intake,
            rate_kg_per_week: kg_per_week,
            fat_free_mass_kg: self
                .composition
                .known
                .then_some((fat_free_kg, self.composition.error.0)),
            derivation: steps,
            gates: gates::gates(&facts),
        })
    }
}

const MODEL_SOURCE: &str = "Hall et al., Lancet 378:826-837, 2011, and web appendix";

fn spread(middle: Kcal, share: f64) -> Spread {
    Spread {
        low: middle * (1.0 - share),
        middle,
        high: middle * (1.0 + share),
    }
}

/// The phases of a brief with their intakes and trajectories, or every mistake.
pub fn course(brief: &Brief) -> Result<Course, Vec<Diagnostic>> {
    let mut problems = gates::unknown_answers(&brief.screen);
    problems.extend(person_problems(&brief.person));
    if brief.phases.is_empty() {
        problems.push(Diagnostic::error("phase-none", "the brief has no phase"));
    }
    for phase in &brief.phases {
        if phase.weeks == Some(0) {
            problems.push(
                Diagnostic::error("phase-weeks", "a phase lasts at least one week")
                    .at(phase.span.clone(), "0 weeks"),
            );
        }
        if let PhaseSize::Energy(Kcal(x)) | PhaseSize::Rate(x) | PhaseSize::Goal(Kilograms(x)) = phase.size
            && !(x.is_finite() && x > 0.0)
        {
            problems.push(
                Diagnostic::error(
                    "phase-size",
                    format!("the size of a phase is a positive number, not {x}"),
                )
                .at(phase.span.clone(), "here"),
            );
        }
        if let PhaseSize::Rate(x) = phase.size
            && x >= 0.05
        {
            problems.push(
                Diagnostic::error(
                    "phase-rate",
                    format!(
                        "{:.1} % of body mass a week is not a rate a body can follow",
                        100.0 * x
                    ),
                )
                .at(phase.span.clone(), "here")
                .help("0.25 to 0.5 % a week is a usual gain, 0.5 to 1 % a usual loss"),
            );
        }
    }
    if !problems.is_empty() {
        // The figures below need a sound person; equation and activity are still checked.
        if person_problems(&brief.person).is_empty()
            && let Err(more) = ground(&brief.person, &brief.activity, brief.equation.as_ref())
        {
            problems.extend(more);
        }
        return Err(problems);
    }
    let (ground, composition) = ground(&brief.person, &brief.activity, brief.equation.as_ref())?;
    let body = Body0::new(&brief.person, composition.fat, ground.resting, ground.expenditure);
    let adult = f64::from(brief.person.age) >= policy().adult.value;
    let model = if adult {
        Model::new(&body)
    } else {
        Err(EnergyError::Minor)
    };
    let mut state = model.as_ref().ok().map(Model::start);
    let (mut phases, mut first_day) = (Vec::new(), 0);
    for phase in &brief.phases {
        match phase_course(brief, phase, &ground, &composition, &model, state, first_day) {
            Ok(p) => {
                first_day += 7 * p.weeks;
                if let Some(end) = p.trajectory.as_ref().and_then(Trajectory::end) {
                    state = Some(end.state);
                }
                phases.push(p);
            }
            Err(d) => {
                problems.push(d);
                break; // later phases start from this one's end
            }
        }
    }
    if problems.is_empty() {
        Ok(Course {
            body,
            model: model.ok(),
            composition,
            phases,
            ground,
        })
    } else {
        Err(problems)
    }
}

fn person_problems(person: &Person) -> Vec<Diagnostic> {
    let mut problems = Vec::new();
    let mut check = |ok: bool, code, message: String| {
        if !ok {
            problems.push(Diagnostic::error(code, message));
        }
    };
    let (w, h) = (person.weight.0, person.height.0);
    check(
        (20.0..=400.0).contains(&w),
        "person-weight",
        format!("a weight of {w} kg is outside 20 to 400 kg"),
    );
    check(
        (80.0..=250.0).contains(&h),
        "person-height",
        format!("a height of {h} cm is outside 80 to 250 cm"),
    );
    check(
        (10..=110).contains(&person.age),
        "person-age",
        format!("an age of {} years is outside 10 to 110", person.age),
    );
    problems
}

/// What is known of a body before any phase.
#[derive(Clone, Debug)]
pub struct Baseline {
    /// Resting expenditure a day.
    pub resting: Kcal,
    /// Total expenditure a day.
    pub expenditure: Kcal,
    /// One standard deviation of expenditure, share.
    pub spread: f64,
    /// Exercise above daily living, share of resting energy.
    pub exercise_share: f64,
    /// How that was found.
    pub exercise_how: &'static str,
    /// Body fat and fat-free mass.
    pub composition: Composition,
    /// How it was derived.
    pub steps: Vec<Step>,
}

/// Resting and total expenditure and body fat of a person, or every mistake.
pub fn baseline(person: &Person, activity: &Activity) -> Result<Baseline, Vec<Diagnostic>> {
    let problems = person_problems(person);
    if !problems.is_empty() {
        return Err(problems);
    }
    let (g, composition) = ground(person, activity, None)?;
    Ok(Baseline {
        resting: g.resting,
        expenditure: g.expenditure,
        spread: g.spread,
        exercise_share: g.exercise_share,
        exercise_how: g.exercise_how,
        composition,
        steps: g.steps,
    })
}

fn ground(
    person: &Person,
    activity: &Activity,
    named: Option<&Read<String>>,
) -> Result<(Ground, Composition), Vec<Diagnostic>> {
    let p = policy();
    let mut problems = Vec::new();
    let composition = composition(person).map_err(|e| problems.push(e.into())).ok();
    let minor = f64::from(person.age) < p.adult.value;
    let at = |e: EnergyError| match named {
        Some(n) => Diagnostic::from(e).at(n.span.clone(), "this equation"),
        None => e.into(),
    };
    let (default_id, default_why) = default_equation(person);
    let (mut resting_id, mut why, mut eer_id) = (default_id, default_why, None);
    // A minor is refused by a gate; the equation named does not matter then.
    if let Some(n) = named.filter(|_| !minor) {
        match equation(&n.value) {
            Ok(e) if e.kind == "eer" => eer_id = Some(e.id.as_str()),
            Ok(e) => (resting_id, why) = (e.id.as_str(), "named in the brief"),
            Err(e) => problems.push(at(e)),
        }
    }
    let day = match activity {
        Activity::Hours(hours) => match day_of_hours(hours) {
            Ok(d) => Some(d),
            Err(errors) => {
                problems.extend(errors.into_iter().map(Diagnostic::from));
                None
            }
        },
        _ => None,
    };
    let pal = match (activity, day) {
        (Activity::Level(l), _) => Some(level_pal(*l)),
        (Activity::Pal(pal), _) => check_pal(*pal).map_err(|e| problems.push(e.into())).ok(),
        (Activity::Hours(_), Some(d)) => check_pal(d.pal).map_err(|e| problems.push(e.into())).ok(),
        (Activity::Hours(_), None) => None,
        (Activity::Measured(k), _) => {
            if !(k.0.is_finite() && k.0 > 0.0) {
                problems.push(Diagnostic::error(
                    "activity-measured",
                    format!("a measured expenditure is a positive number of kcal, not {}", k.0),
                ));
            }
            None
        }
    };
    let Some(composition) = composition else {
        return Err(problems);
    };
    // Fat-free mass of a mere estimate does not feed an equation that asks for a measured one.
    let ffm = composition.known.then_some(composition.fat_free);
    let resting_kcal = resting(resting_id, person, ffm)
        .map_err(|e| problems.push(at(e)))
        .ok();
    let direct = match (eer_id, activity) {
        (Some(id), Activity::Level(l)) => Some(eer(id, person, *l).map(|k| (k, level_id(*l)))),
        (Some(id), Activity::Pal(_) | Activity::Hours(_)) => pal.map(|pal| {
            let form = eer_form(id, person)?;
            let level = eer_level(form, person, pal).ok_or(EnergyError::PalRange {
                pal,
                least: p.pal_least.value,
                most: p.pal_most.value,
            })?;
            Ok((eer(id, person, level)?, level_id(level)))
        }),
        _ => None,
    };
    let direct = match direct.transpose() {
        Ok(d) => d,
        Err(e) => {
            problems.push(at(e));
            None
        }
    };
    let (true, Some(resting_kcal)) = (problems.is_empty(), resting_kcal) else {
        return Err(problems);
    };
    let mut steps = vec![step(
        "body fat",
        format!(
            "{:.1} % ± {:.1} points, fat-free mass {:.1} ± {:.1} kg",
            composition.fat_percent, composition.error_points, composition.fat_free.0, composition.error.0
        ),
        composition.how,
        composition.source,
    )];
    let e = equation(resting_id).map_err(|e| vec![at(e)])?;
    let mut how = format!("{}: {why}", e.name);
    if needs_fat_free_mass(resting_id) {
        let error = (resting(resting_id, person, Some(composition.fat_free + composition.error)))
            .map(|high| high.0 - resting_kcal.0)
            .unwrap_or(0.0);
        how += &format!("; the error of body fat alone moves it by {error:.0} kcal");
    }
    steps.push(step("resting energy", kcal(resting_kcal), how, &e.citation));
    let resting_share = p.resting_spread.value;
    let combined = |share: f64| libm::sqrt(resting_share * resting_share + share * share);
    let (expenditure, spread, how, source): (Kcal, f64, String, &str) = match (activity, direct, pal) {
        (Activity::Measured(k), _, _) => (*k, p.measured_spread.value, "as measured".into(), "the brief"),
        (_, Some((k, level)), _) => {
            let e = equation(eer_id.unwrap_or_default()).map_err(|e| vec![at(e)])?;
            (
                k,
                p.eer_spread.value,
                format!("{}, category {level}", e.name),
                &e.citation,
            )
        }
        (activity, None, Some(pal)) => {
            let (share, how, source) = match activity {
                Activity::Level(l) => (
                    p.level_spread.value,
                    format!("level {} as PAL {pal:.2}", level_id(*l)),
                    p.pal_active.source.as_str(),
                ),
                Activity::Hours(_) => (
                    p.pal_spread.value / pal,
                    format!("mean MET of the day {pal:.4}"),
                    MET_SOURCE,
                ),
                _ => (p.pal_spread.value / pal, format!("PAL {pal:.2} as given"), FAO),
            };
            (
                resting_kcal * pal,
                combined(share),
                format!("resting energy times PAL; {how}; {}", fao_class(pal)),
                source,
            )
        }
        (_, None, None) => return Err(problems),
    };
    steps.push(step(
        "expenditure",
        format!("{} ± {:.0} %", kcal(expenditure), 100.0 * spread),
        how,
        source,
    ));
    let implied = expenditure.0 / resting_kcal.0;
    if !(0.8..=3.5).contains(&implied) {
        // Outside what any published equation and any living day can explain together.
        return Err(vec![Diagnostic::error(
            "activity-measured",
            format!(
                "an expenditure of {:.0} kcal is {implied:.2} times resting energy",
                expenditure.0
            ),
        )]);
    }
    let (exercise_share, exercise_how) = match day {
        Some(d) => (
            d.exercise_share,
            "exercise hours above sitting, the mean of the day given",
        ),
        None => (
            (implied - p.daily_living_pal.value).max(0.0),
            "all activity above a PAL of 1.4 taken as exercise, the mean of all days of the week",
        ),
    };
    let ground = Ground {
        resting: resting_kcal,
        resting_id: resting_id.to_string(),
        expenditure,
        spread,
        exercise_share,
        exercise_how,
        steps,
    };
    Ok((ground, composition))
}

const MET_SOURCE: &str = "Ainsworth et al., Med Sci Sports Exerc 43:1575-1581, 2011; Byrne et al., J Appl Physiol 99:1112-1119, 2005";
const FAO: &str = "FAO/WHO/UNU, Human Energy Requirements, 2004, table 5.3";

/// The rate of the practice standards for a person, share of body mass a week, with its source.
pub fn default_rate(person: &Person, fat_percent: f64, kind: PhaseKind) -> Option<&'static Figure> {
    let p = policy();
    let lean = match person.sex {
        Sex::Male => p.loss_lean_male.value,
        Sex::Female => p.loss_lean_female.value,
    };
    match kind {
        PhaseKind::Hold => None,
        PhaseKind::Lose if fat_percent < lean => Some(&p.loss_rate_lean),
        PhaseKind::Lose => Some(&p.loss_rate),
        PhaseKind::Gain => Some(match person.training {
            Training::None => &p.gain_rate_untrained,
            Training::Novice => &p.gain_rate_novice,
            Training::Intermediate => &p.gain_rate_intermediate,
            Training::Advanced => &p.gain_rate_advanced,
        }),
    }
}

fn phase_course(
    brief: &Brief,
    phase: &Phase,
    ground: &Ground,
    composition: &Composition,
    model: &Result<Model, EnergyError>,
    state: Option<State>,
    first_day: u32,
) -> Result<PhaseCourse, Diagnostic> {
    let at = |e: EnergyError| Diagnostic::from(e).at(phase.span.clone(), "this phase");
    let p = policy();
    let (weight_kg, fat_kg, fat_free_kg) = match state {
        Some(s) => (s.weight_kg(), s.fat_kg, s.fat_free_kg()),
        None => (brief.person.weight.0, composition.fat.0, composition.fat_free.0),
    };
    let person = Person {
        weight: Kilograms(weight_kg),
        training: phase.training.unwrap_or(brief.person.training),
        ..brief.person.clone()
    };
    let mut steps = Vec::new();
    // A phase may have an activity of its own: the same body spends more or less.
    let pal_before = ground.expenditure.0 / ground.resting.0;
    let pal = match phase.activity {
        Some(Activity::Level(l)) => level_pal(l),
        Some(Activity::Pal(pal)) => check_pal(pal).map_err(at)?,
        _ => pal_before,
    };
    let delta = match model {
        Ok(m) if phase.activity.is_some() => m.delta_change(pal_before, pal),
        _ => 0.0,
    };
    if phase.activity.is_some() {
        steps.push(step(
            "activity of the phase",
            format!("PAL {pal:.2}"),
            format!("instead of {pal_before:.2}; activity scales with body mass"),
            MODEL_SOURCE,
        ));
    }
    let exercise_share = (ground.exercise_share + pal - pal_before).max(0.0);
    let holding = match (model, state) {
        (Ok(m), Some(s)) if first_day > 0 || delta != 0.0 => m.holding_intake(&s, delta),
        _ => ground.expenditure * (pal / pal_before),
    };
    let like = |days: u32, intake: Kcal| PhaseInput {
        delta_change_kj_per_kg: delta,
        ..PhaseInput::new(days, intake)
    };
    let sign = match phase.kind {
        PhaseKind::Gain => 1.0,
        PhaseKind::Hold => 0.0,
        PhaseKind::Lose => -1.0,
    };
    let fat_percent = 100.0 * fat_kg / weight_kg;
    let rate = default_rate(&person, fat_percent, phase.kind);
    let weeks = match (phase.weeks, &phase.size, rate) {
        (Some(weeks), _, _) => weeks,
        (None, PhaseSize::Goal(goal), Some(rate)) => {
            let weeks = libm::fabs(libm::log(goal.0 / weight_kg) / libm::log1p(sign * rate.value));
            let weeks = (weeks.ceil() as u32).clamp(1, 520);
            steps.push(step(
                "weeks",
                weeks.to_string(),
                format!("to the goal at {:.2} % of body mass a week", 100.0 * rate.value),
                &rate.source,
            ));
            weeks
        }
        _ => {
            let assumed = if phase.kind == PhaseKind::Hold {
                &p.default_weeks_hold
            } else {
                &p.default_weeks
            };
            steps.push(step(
                "weeks",
                format!("{}", assumed.value),
                "the brief does not say",
                &assumed.source,
            ));
            assumed.value as u32
        }
    };
    let days = weeks.saturating_mul(7);
    let invert = |goal_kg: f64| match (model, state) {
        (Ok(m), Some(s)) => m
            .intake_for(s, &like(days, holding), Kilograms(goal_kg))
            .map_err(at),
        (Err(e), _) => Err(at(e.clone())),
        (Ok(_), None) => Err(at(EnergyError::Minor)),
    };
    let at_rate = |rate: f64| weight_kg * libm::pow(1.0 + sign * rate, f64::from(weeks));
    let mut no_room = false;
    let intake = match (&phase.size, rate) {
        _ if sign == 0.0 => {
            steps.push(step(
                "size",
                "0 kcal/d".into(),
                "holding is eating what is spent",
                "balance",
            ));
            holding
        }
        (PhaseSize::Energy(k), _) => {
            steps.push(step(
                "size",
                format!("{:+.0} kcal/d", sign * k.0),
                "as stated",
                "the brief",
            ));
            Kcal(holding.0 + sign * k.0)
        }
        (PhaseSize::Rate(rate), _) => {
            let intake = invert(at_rate(*rate))?;
            steps.push(step(
                "size",
                format!("{:+.0} kcal/d", intake.0 - holding.0),
                format!(
                    "intake for {:+.2} % of body mass a week over {weeks} weeks, by the model",
                    100.0 * sign * rate
                ),
                MODEL_SOURCE,
            ));
            intake
        }
        (PhaseSize::Goal(goal), _) => {
            if (goal.0 - weight_kg) * sign <= 0.0 {
                return Err(at(EnergyError::GoalDirection {
                    goal_kg: goal.0,
                    weight_kg,
                }));
            }
            let intake = invert(goal.0)?;
            steps.push(step(
                "size",
                format!("{:+.0} kcal/d", intake.0 - holding.0),
                format!("intake for {:.1} kg after {weeks} weeks, by the model", goal.0),
                MODEL_SOURCE,
            ));
            intake
        }
        (PhaseSize::Default, None) => holding,
        (PhaseSize::Default, Some(_)) if model.is_err() => holding,
        (PhaseSize::Default, Some(rate)) => {
            let wanted = (invert(at_rate(rate.value))?.0 - holding.0) * sign;
            steps.push(step(
                "rate",
                format!("{:+.2} % of body mass a week", 100.0 * sign * rate.value),
                format!(
                    "default for this training and body fat; the model needs {:+.0} kcal/d over {weeks} weeks",
                    sign * wanted
                ),
                &rate.source,
            ));
            if phase.kind == PhaseKind::Gain {
                let cap = p.surplus_cap.value * holding.0;
                let size = wanted
                    .clamp(p.gain_energy_least.value, p.gain_energy_most.value)
                    .min(cap);
                steps.push(step(
                    "size",
                    format!("{size:+.0} kcal/d"),
                    format!(
                        "held between {:.0} and {:.0} kcal and under {:.0} % of expenditure ({cap:.0} kcal)",
                        p.gain_energy_least.value,
                        p.gain_energy_most.value,
                        100.0 * p.surplus_cap.value
                    ),
                    &p.gain_energy_least.source,
                ));
                Kcal(holding.0 + size)
            } else {
                let (cap, figure) = deficit_cap(&person, holding, fat_kg);
                let ffm = Some(Kilograms(fat_free_kg));
                let rest = resting(&ground.resting_id, &person, ffm).unwrap_or(ground.resting);
                let (floor, rule) = intake_floor(&person, person.bmi(), rest);
                let available = p.availability_refuse.value * fat_free_kg + exercise_share * rest.0;
                let room = (holding.0 - floor.0.max(available)).max(0.0);
                let size = wanted.max(0.0).min(cap.0).min(room);
                no_room = room < 1.0;
                steps.push(step(
                    "size",
                    format!("{:+.0} kcal/d", -size),
                    format!(
                        "the least of the rate ({wanted:.0}), the cap ({:.0}: {} {}) and the room above \
                         the lowest intake ({room:.0} kcal; {:.0} kcal is {rule}, {available:.0} kcal \
                         keeps energy availability at {:.0})",
                        cap.0, figure.value, figure.unit, floor.0, p.availability_refuse.value
                    ),
                    &figure.source,
                ));
                Kcal(holding.0 - size)
            }
        }
    };
    if intake.0.is_nan() || intake.0 <= 0.0 {
        return Err(at(EnergyError::NothingLeft { intake }));
    }
    let trajectory = match (model, state) {
        (Ok(m), Some(s)) => Some(m.run(s, first_day, &[like(days, intake)], STEP_DAYS)),
        _ => None,
    };
    Ok(PhaseCourse {
        kind: phase.kind,
        weeks,
        first_day,
        intake,
        input: like(days, intake),
        training: person.training,
        exercise_share,
        expenditure: holding,
        trajectory,
        steps,
        no_room,
    })
}

/// The MET table's ids with their labels, for help texts.
pub fn activity_ids() -> impl Iterator<Item = (&'static str, &'static str)> {
    data::activities()
        .iter()
        .map(|a| (a.id.as_str(), a.label.as_str()))
}
