//! The review: weigh-ins against the plan, expenditure again, and the week that follows.
//!
//! Takes a brief, its text and a log, gives a [`Review`] and, where there is enough to say, the text of
//! the brief brought up to date. Knows no food; dates are those of the log.

pub mod log;
mod rewrite;

pub use log::{Day, Entry, Log, date};

use crate::brief::{self, Brief, PhaseKind, PhaseSize};
use crate::diagnostic::Diagnostic;
use crate::energy::body::{Body0, Model, PhaseInput, State};
use crate::energy::data::policy;
use crate::energy::reestimate::{Estimate, Trend, capped, combine, from_balance, robust_slope, trend};
use crate::energy::rules::stored_kcal_per_kg;
use crate::energy::{self, Course, EnergyBudget};
use crate::targets::{self, Target};
use crate::units::{Kcal, Kilograms};

/// A weigh-in and what became of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeighIn {
    /// Line of the log.
    pub line: usize,
    /// Which day.
    pub day: Day,
    /// kg.
    pub kg: f64,
    /// Part of the trend, or too far from the others.
    pub used: bool,
}

/// How the phase goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// The planned rate lies within two standard errors of the trend.
    OnCourse,
    /// The change is faster than planned.
    Faster,
    /// The change is slower than planned, or goes the other way.
    Slower,
    /// Too little data.
    CannotSay,
}

/// How the intake of the window is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Eaten {
    /// Mean, kcal a day.
    pub mean: f64,
    /// One standard error, kcal a day.
    pub error: f64,
    /// Days with a figure, of all days.
    pub known: usize,
    /// All days.
    pub days: usize,
    /// Mean planned, kcal a day.
    pub planned: f64,
}

/// What moved over the window, kg.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// By the trend of tissue and the modelled water.
    pub scale: f64,
    /// Glycogen and fluid by the model.
    pub water: f64,
    /// Fat and lean tissue by the trend.
    pub tissue: f64,
}

/// The figures of a window with enough weigh-ins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// Trend of the weigh-ins without the modelled water.
    pub trend: Trend,
    /// Median slope of all pairs, kg a day, as a check.
    pub robust_kg_per_day: Option<f64>,
    /// Weight on the trend on the last day, water included, kg.
    pub weight_now: f64,
    /// Body fat of the model now, kg.
    pub fat_now: f64,
    /// Planned change of tissue, kg a day.
    pub planned_kg_per_day: f64,
    /// What moved.
    pub moved: Moved,
    /// Expenditure over the window, by the model alone.
    pub prior: Estimate,
    /// By weigh-ins and intake alone.
    pub observed: Estimate,
    /// Both, each weighted by its precision.
    pub together: Estimate,
    /// What holds the body of now, as far as one review may move it.
    pub holding: Estimate,
    /// The same before the cap.
    pub holding_uncapped: Kcal,
    /// What the brief expected to hold the body of now.
    pub holding_before: Kcal,
}

/// What follows.
#[derive(Clone, Debug, PartialEq)]
pub struct Next {
    /// Text of the brief brought up to date.
    pub brief: String,
    /// Intake of the week, kcal a day.
    pub intake: f64,
    /// Intake until now, kcal a day.
    pub intake_before: f64,
    /// A cap held the change back.
    pub capped: bool,
    /// A new phase begins.
    pub new_phase: bool,
    /// Kind of the phase that the week belongs to.
    pub kind: PhaseKind,
    /// Energy, with gates.
    pub energy: EnergyBudget,
    /// Floors and ceilings.
    pub targets: Vec<Target>,
}

/// The whole review.
#[derive(Clone, Debug, PartialEq)]
pub struct Review {
    /// Title of the brief.
    pub title: String,
    /// First day of the brief's phases.
    pub start: Day,
    /// Last day of the log.
    pub today: Day,
    /// Phase of today, from 0, and the week in it, from 1.
    pub place: (usize, u32),
    /// Kind of that phase.
    pub kind: PhaseKind,
    /// Weigh-ins since the phase began.
    pub weigh_ins: Vec<WeighIn>,
    /// Longest stretch without a weigh-in, days.
    pub longest_gap: i64,
    /// The line of the trend for drawing: day, kg with water.
    pub line: Vec<(Day, f64)>,
    /// What the brief expected: day, kg.
    pub planned: Vec<(Day, f64)>,
    /// What was eaten.
    pub eaten: Eaten,
    /// Figures, when there is enough.
    pub found: Option<Found>,
    /// What is lacking, when there is not.
    pub lacking: Vec<String>,
    /// How it goes.
    pub standing: Standing,
    /// The week that follows; `None` without enough data or after the last phase.
    pub next: Option<Next>,
    /// Remarks.
    pub notes: Vec<String>,
}

fn error(code: &'static str, message: String, help: &str) -> Vec<Diagnostic> {
    vec![Diagnostic::error(code, message).help(help)]
}

/// What the line above a brief begins with that a review brought up to date.
const BROUGHT: &str = "Brought up to date from weigh-ins until ";

/// The last day whose weigh-ins a brief's text already follows, by the line that a review wrote above it; `None` for a
/// text that no review wrote.
pub fn brought_up_to(text: &str) -> Option<Day> {
    let notes = text
        .lines()
        .map(str::trim_start)
        .take_while(|l| l.starts_with('#'));
    let rests = notes.filter_map(|l| l.trim_start_matches(['#', ' ']).strip_prefix(BROUGHT));
    rests.filter_map(|rest| log::day(rest.get(..10)?)).max()
}

/// First day of a brief's first phase: the day after the weigh-ins it already follows, else the first day of its log.
fn first_day(text: &str, log: &Log) -> Option<Day> {
    let after = brought_up_to(text).map(|day| day + 1);
    after.or(log.entries.first().map(|e| e.day))
}

/// The day of the next review from `today` on: the first that ends a week of its phase, the third or a later one, by
/// which there can be weigh-ins enough. `None` before the first weigh-in, and after the last phase.
///
/// Never on fewer than four weigh-ins a week over three weeks, since two weeks alone are noise, and never sooner than a
/// week after another, since one review moves the intake by 150 kcal a day for a week at most. Proposals of this
/// project; the figures with their sources stand in `energy/policy.toml` (`weigh_ins_a_week`, `weigh_in_weeks`,
/// `change_cap`).
pub fn next_review(brief: &Brief, text: &str, log: &Log, today: Day) -> Option<Day> {
    let p = policy();
    let (a_week, weeks) = (p.weigh_ins_a_week.value, p.weigh_in_weeks.value as i64);
    let course = energy::course(brief).ok()?;
    let start = first_day(text, log)?;
    let need = (a_week * weeks as f64) as i64;
    course.phases.iter().find_map(|phase| {
        let from = start + i64::from(phase.first_day);
        let days: Vec<Day> = log
            .entries
            .iter()
            .filter(|e| e.weight.is_some() && (from..from + i64::from(7 * phase.weeks)).contains(&e.day))
            .map(|e| e.day)
            .collect();
        // From the last weigh-in on, or from now when there was none for a while, as many a week as are needed.
        let lacking = (need - days.len() as i64).max(0);
        let wait = libm::ceil(7.0 * lacking as f64 / a_week) as i64;
        let last = days.last().copied().unwrap_or(from - 1);
        let enough = if lacking == 0 {
            last
        } else {
            last.max(today - 1) + wait
        };
        let span = days.first().copied().unwrap_or(from.max(today)) + 7 * weeks - 1;
        let ready = enough.max(span).max(today);
        // Up to the end of a week.
        let week = ((ready - from + 1 + 6) / 7).max(weeks);
        (week <= i64::from(phase.weeks)).then(|| from + 7 * week - 1)
    })
}

/// Reviews a log against its brief. `text` is the text the brief was read from; `start` the first day of its first
/// phase, without it the day after the weigh-ins that the text already follows ([`brought_up_to`]), or else the first
/// day of the log.
pub fn review(brief: &Brief, text: &str, log: &Log, start: Option<Day>) -> Result<Review, Vec<Diagnostic>> {
    let p = policy();
    let course = energy::course(brief)?;
    let Some(model) = course.model else {
        return Err(error(
            "review-outside-model",
            "the body-weight model does not hold for this body: nothing can be reviewed".into(),
            "it is for adults with body fat above 3 % (men) or 10 % (women)",
        ));
    };
    let weighed: Vec<&Entry> = log.entries.iter().filter(|e| e.weight.is_some()).collect();
    let (Some(first), Some(last)) = (first_day(text, log), log.entries.last()) else {
        return Err(error(
            "review-no-log",
            "the log holds no day".into(),
            "add weigh-ins",
        ));
    };
    let start = start.unwrap_or(first);
    let today = last.day;
    if today < start {
        return Err(error(
            "review-before-start",
            format!(
                "the log ends on {}, before the phases begin on {}",
                date(today),
                date(start)
            ),
            "check the dates, or the day given as start",
        ));
    }
    // The last day of the log closes its week: a log of 28 days reviews four weeks.
    let elapsed = today - start + 1;
    let total = i64::from(7 * course.weeks());
    let mut notes = Vec::new();
    let current = course
        .phases
        .iter()
        .rposition(|ph| i64::from(ph.first_day) < elapsed)
        .unwrap_or(0);
    let phase = &course.phases[current];
    if elapsed > total {
        notes.push(format!(
            "The phases of the brief ended on {}; what follows needs a phase of its own.",
            date(start + total - 1)
        ));
    }
    let from = start + i64::from(phase.first_day);
    let in_phase = (elapsed - i64::from(phase.first_day)).max(1);
    let before: Vec<&&Entry> = weighed.iter().filter(|e| e.day < start).collect();
    if !before.is_empty() {
        notes.push(format!(
            "{} weigh-ins before the first phase are left out.",
            before.len()
        ));
    }
    let mut weigh_ins: Vec<WeighIn> = weighed
        .iter()
        .filter(|e| e.day >= from)
        .filter_map(|e| {
            Some(WeighIn {
                line: e.line,
                day: e.day,
                kg: e.weight?,
                used: true,
            })
        })
        .collect();
    mark_outliers(&mut weigh_ins);
    let outliers = weigh_ins.iter().filter(|w| !w.used).count();
    if outliers > 0 {
        notes.push(format!(
            "{outliers} of {} weigh-ins lie too far from the others and are left out; check them in the log.",
            weigh_ins.len()
        ));
    }
    let days = (today - from + 1).clamp(1, 800) as usize;
    let intakes = intakes(log, from, days, phase.intake.0);
    let eaten = eaten(&intakes, phase.intake.0);
    if eaten.known == 0 {
        notes.push(format!(
            "No intake is logged: it is taken as planned, ± {:.0} %.",
            100.0 * p.intake_unlogged.value
        ));
    }
    let used: Vec<&WeighIn> = weigh_ins.iter().filter(|w| w.used).collect();
    let lacking = lacking(&used, from, today);
    let longest_gap = used.windows(2).map(|w| w[1].day - w[0].day).max().unwrap_or(0);
    if longest_gap > 7 {
        notes.push(format!(
            "There is a gap of {longest_gap} days without a weigh-in."
        ));
    }
    let state = course.state_on(phase.first_day).unwrap_or(model.start());
    let planned: Vec<(Day, f64)> = phase.trajectory.as_ref().map_or_else(Vec::new, |t| {
        t.days
            .iter()
            .map(|d| (start + i64::from(d.day), d.state.weight_kg()))
            .collect()
    });
    let mut review = Review {
        title: brief.title.clone(),
        start,
        today,
        place: (current, ((in_phase - 1) / 7 + 1) as u32),
        kind: phase.kind,
        line: Vec::new(),
        planned,
        eaten,
        found: None,
        lacking,
        standing: Standing::CannotSay,
        next: None,
        longest_gap,
        notes,
        weigh_ins,
    };
    if !review.lacking.is_empty() {
        return Ok(review);
    }
    let points: Vec<(f64, f64)> = review
        .weigh_ins
        .iter()
        .filter(|w| w.used)
        .map(|w| ((w.day - from) as f64, w.kg))
        .collect();
    let Some(found) = find(&course, &model, current, &state, &points, &intakes, &eaten) else {
        review
            .lacking
            .push("the weigh-ins and intakes lie outside what the body-weight model can follow".into());
        return Ok(review);
    };
    let (found, water) = found;
    let (steps, last) = (water.len(), water.last().copied().unwrap_or(0.0));
    review.line = water
        .iter()
        .enumerate()
        .map(|(day, water)| {
            let back = (steps - 1 - day) as f64;
            let kg = found.weight_now - found.trend.kg_per_day * back - last + water;
            (from + day as i64, kg)
        })
        .collect();
    review.standing = standing(phase.kind, &found);
    if let Some(slope) = found.robust_kg_per_day
        && (slope - found.trend.kg_per_day).abs() > 2.0 * found.trend.error_kg_per_day
    {
        review
            .notes
            .push("The median slope and the line disagree: single days pull the trend.".into());
    }
    review.found = Some(found);
    if elapsed < total || course.phases.len() > current + 1 {
        match next(brief, text, &course, current, elapsed, &found, today) {
            Ok(next) => review.next = next,
            Err(problems) => review.notes.extend(problems.into_iter().map(|d| {
                format!(
                    "The brief cannot be brought up to date: {}{}",
                    d.message,
                    d.help.map(|h| format!(" ({h})")).unwrap_or_default()
                )
            })),
        }
    }
    Ok(review)
}

/// Marks weigh-ins whose distance from a robust line is too large: 3.5 robust standard deviations, which
/// are no less than the noise of a scale.
fn mark_outliers(weigh_ins: &mut [WeighIn]) {
    let p = policy();
    if weigh_ins.len() < 4 {
        return;
    }
    let points: Vec<(f64, f64)> = weigh_ins.iter().map(|w| (w.day as f64, w.kg)).collect();
    let slope = robust_slope(&points).unwrap_or(0.0);
    let mut off: Vec<f64> = points.iter().map(|(d, w)| w - slope * d).collect();
    let middle = median(&mut off.clone());
    off.iter_mut().for_each(|v| *v -= middle);
    let mut sizes: Vec<f64> = off.iter().map(|v| v.abs()).collect();
    // 1.4826: the median absolute deviation of a normal distribution is 1/1.4826 of its deviation.
    let spread = (1.4826 * median(&mut sizes)).max(p.weigh_in_noise.value);
    for (w, off) in weigh_ins.iter_mut().zip(off) {
        w.used = off.abs() <= p.outlier_deviations.value * spread;
    }
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    match values.len() {
        0 => 0.0,
        n if n % 2 == 1 => values[n / 2],
        n => (values[n / 2 - 1] + values[n / 2]) / 2.0,
    }
}

/// What each day was eaten, where it is known.
fn intakes(log: &Log, from: Day, days: usize, planned: f64) -> Vec<Option<f64>> {
    let mut out = vec![None; days];
    for e in log.entries.iter().filter(|e| e.day >= from) {
        let known = match (e.intake, e.adherence) {
            (Some(kcal), _) => Some(kcal),
            (None, Some(Some(share))) => Some(share * planned),
            _ => None,
        };
        if let Some(slot) = out.get_mut((e.day - from) as usize) {
            *slot = known;
        }
    }
    out
}

/// Mean intake with its error: of the days seen, and of those taken for granted.
fn eaten(intakes: &[Option<f64>], planned: f64) -> Eaten {
    let known: Vec<f64> = intakes.iter().flatten().copied().collect();
    let (n, days) = (known.len(), intakes.len());
    let unknown = 1.0 - n as f64 / days.max(1) as f64;
    let mean = if n == 0 {
        planned
    } else {
        known.iter().sum::<f64>() / n as f64
    };
    let spread = if n > 1 {
        known.iter().map(|k| (k - mean) * (k - mean)).sum::<f64>() / (n as f64 - 1.0)
    } else {
        0.0
    };
    let sampled = spread / n.max(1) as f64 * unknown;
    let granted = policy().intake_unlogged.value * mean * unknown;
    Eaten {
        mean,
        error: libm::sqrt(sampled + granted * granted),
        known: n,
        days,
        planned,
    }
}

/// What is missing for a trend: at least so many weigh-ins a week, over so many weeks.
fn lacking(used: &[&WeighIn], from: Day, today: Day) -> Vec<String> {
    let p = policy();
    let (a_week, weeks) = (p.weigh_ins_a_week.value, p.weigh_in_weeks.value);
    let mut lacking = Vec::new();
    let span = match (used.first(), used.last()) {
        (Some(a), Some(z)) => z.day - a.day + 1,
        _ => 0,
    };
    let least = 7 * weeks as i64;
    // A day without a weigh-in at either end does not spoil three weeks.
    if span < least - 1 {
        lacking.push(format!(
            "the weigh-ins span {span} days since the phase began on {}; {least} are needed ({} on)",
            date(from),
            date(from.max(today - span + 1) + least - 1)
        ));
    }
    let need = (a_week * weeks) as usize;
    if used.len() < need {
        lacking.push(format!(
            "{} weigh-ins since the phase began; {need} are needed, {a_week:.0} a week for {weeks:.0} weeks",
            used.len()
        ));
    } else if span > 0 && (used.len() as f64) < a_week * span as f64 / 7.0 * 0.5 {
        lacking.push(format!(
            "{} weigh-ins in {span} days are less than half of {a_week:.0} a week",
            used.len()
        ));
    }
    lacking
}

/// Mean expenditure and water of the window for a balance expenditure, with the state at its end.
fn window(body: &Body0, share: f64, lead: &[PhaseInput], inputs: &[PhaseInput]) -> Option<Window> {
    let body = Body0 {
        resting: body.resting * share,
        expenditure: body.expenditure * share,
        ..*body
    };
    let model = Model::new(&body).ok()?;
    let start = match lead.is_empty() {
        true => model.start(),
        false => model.run(model.start(), 0, lead, 1.0).end()?.state,
    };
    let run = model.run(start, 0, inputs, 1.0);
    if run.stopped.is_some() {
        return None;
    }
    let water: Vec<f64> = run
        .days
        .iter()
        .map(|d| d.state.weight_kg() - d.state.fat_kg - d.state.lean_kg)
        .collect();
    let spent = run.days.iter().skip(1).map(|d| d.expenditure.0).sum::<f64>() / inputs.len().max(1) as f64;
    Some(Window {
        model,
        spent,
        water,
        end: run.end()?.state,
        fat: run.days.iter().map(|d| d.state.fat_kg).sum::<f64>() / run.days.len() as f64,
    })
}

struct Window {
    model: Model,
    /// Mean expenditure, kcal a day.
    spent: f64,
    /// Fluid, glycogen and its water by day, the start first, kg.
    water: Vec<f64>,
    end: State,
    /// Mean fat, kg.
    fat: f64,
}

/// Trend and expenditure. Balance over the window, on weigh-ins without the modelled water; as the water
/// depends on the expenditure, both are found in a few rounds.
fn find(
    course: &Course,
    model: &Model,
    current: usize,
    state: &State,
    points: &[(f64, f64)],
    intakes: &[Option<f64>],
    eaten: &Eaten,
) -> Option<(Found, Vec<f64>)> {
    let p = policy();
    let phase = &course.phases[current];
    let lead: Vec<PhaseInput> = course.phases[..current].iter().map(|ph| ph.input).collect();
    let inputs: Vec<PhaseInput> = intakes
        .iter()
        .map(|kcal| PhaseInput {
            days: 1,
            intake: Kcal(kcal.unwrap_or(eaten.mean)),
            ..phase.input
        })
        .collect();
    let at = |share: f64| window(&course.body, share, &lead, &inputs);
    let base = at(1.0)?;
    let spread = course.expenditure_spread();
    // How far the mean expenditure of the window moves with that of the start.
    let nearby = at(1.0 + 0.5 * spread)?;
    let slope = (nearby.spent - base.spent) / (0.5 * spread);
    if slope.is_nan() || slope <= 0.0 {
        return None;
    }
    let prior = Estimate {
        kcal: Kcal(base.spent),
        error: Kcal(spread * slope),
    };
    let mut share = 1.0;
    let mut result = None;
    for _ in 0..4 {
        let w = at(share)?;
        let water_at = |day: f64| {
            // A weigh-in of a morning sees the end of the day before.
            let day = (day as usize).min(w.water.len() - 1);
            w.water[day]
        };
        let dry: Vec<(f64, f64)> = points.iter().map(|(d, kg)| (*d, kg - water_at(*d))).collect();
        let line = trend(&dry)?;
        let balance = from_balance(Kcal(eaten.mean), &line, w.fat);
        let density = stored_kcal_per_kg(w.fat);
        // The modelled water is uncertain by a share of itself; the slope that share would fake.
        let faked = trend(&points.iter().map(|(d, _)| (*d, water_at(*d))).collect::<Vec<_>>())
            .map_or(0.0, |t| t.kg_per_day)
            * p.water_spread.value
            * density;
        // The density hangs on body fat.
        let fat_error = course.composition.error.0;
        let other = stored_kcal_per_kg((w.fat + fat_error).max(1.0)) - density;
        let parts = [balance.error.0, eaten.error, faked, other * line.kg_per_day];
        let observed = Estimate {
            kcal: balance.kcal,
            error: Kcal(libm::sqrt(parts.iter().map(|x| x * x).sum())),
        };
        let together = combine(prior, observed);
        share = (1.0 + (together.kcal.0 - base.spent) / slope).clamp(0.5, 2.0);
        result = Some((line, observed, together, dry));
    }
    let (line, observed, together, dry) = result?;
    let w = at(share)?;
    let last = (w.water.len() - 1) as f64;
    // Where the line of the dry weights stands at the end, and the water of now on it.
    let n = dry.len() as f64;
    let middle_day = dry.iter().map(|d| d.0).sum::<f64>() / n;
    let middle_kg = dry.iter().map(|d| d.1).sum::<f64>() / n;
    let weight_now = middle_kg + line.kg_per_day * (last - middle_day) + w.water.last()?;
    let delta = phase.input.delta_change_kj_per_kg;
    let holding = w.model.holding_intake(&w.end, delta);
    let holding_before = model.holding_intake(&base.end, delta);
    let new = capped(holding_before, holding, 1.0);
    let days = f64::from(inputs.len() as u32);
    let planned = phase.trajectory.as_ref().and_then(|t| {
        let end = t.on_day(phase.first_day + inputs.len() as u32).or(t.end())?;
        let tissue = |s: &State| s.fat_kg + s.lean_kg;
        let span = f64::from(end.day.saturating_sub(phase.first_day)).max(1.0);
        Some((tissue(&end.state) - tissue(state)) / span)
    });
    let tissue = line.kg_per_day * days;
    let water = w.water.last()? - w.water.first()?;
    let found = Found {
        trend: line,
        robust_kg_per_day: robust_slope(&dry),
        weight_now,
        fat_now: w.end.fat_kg,
        planned_kg_per_day: planned.unwrap_or(0.0),
        moved: Moved {
            scale: tissue + water,
            water,
            tissue,
        },
        prior,
        observed,
        together,
        holding: Estimate {
            kcal: new,
            error: together.error,
        },
        holding_uncapped: holding,
        holding_before,
    };
    Some((found, w.water))
}

fn standing(kind: PhaseKind, found: &Found) -> Standing {
    let off = found.trend.kg_per_day - found.planned_kg_per_day;
    if off.abs() <= 2.0 * found.trend.error_kg_per_day {
        return Standing::OnCourse;
    }
    match kind {
        PhaseKind::Gain if off > 0.0 => Standing::Faster,
        PhaseKind::Lose if off < 0.0 => Standing::Faster,
        // A hold that moves at all, or a change that lags.
        PhaseKind::Hold => Standing::Faster,
        PhaseKind::Gain | PhaseKind::Lose => Standing::Slower,
    }
}

/// The brief brought up to date and the week that follows.
fn next(
    brief: &Brief,
    text: &str,
    course: &Course,
    current: usize,
    elapsed: i64,
    found: &Found,
    today: Day,
) -> Result<Option<Next>, Vec<Diagnostic>> {
    let p = policy();
    let phase = &course.phases[current];
    let done = ((elapsed - i64::from(phase.first_day)) / 7) as u32;
    let left = phase.weeks.saturating_sub(done);
    let (drop, weeks) = if left == 0 {
        (current + 1, None)
    } else {
        (current, Some(left))
    };
    if drop >= brief.phases.len() {
        return Ok(None);
    }
    let mut change = rewrite::Change {
        note: format!("{BROUGHT}{}: expenditure on the log's own scale.", date(today)),
        weight: Kilograms(found.weight_now),
        body_fat: brief.person.body_fat.map(|_| found.fat_now / found.weight_now),
        expenditure: found.holding.kcal,
        drop,
        weeks,
        size: None,
    };
    let read = |change: &rewrite::Change| -> Result<(String, Brief, Course), Vec<Diagnostic>> {
        let text = rewrite::rewrite(text, change).map_err(|d| vec![d])?;
        let (brief, _) = brief::parse(&text)?;
        let course = energy::course(&brief)?;
        Ok((text, brief, course))
    };
    let (mut text, mut then, mut new) = read(&change)?;
    let new_phase = drop > current;
    let before = phase.intake.0;
    let mut held = (found.holding_uncapped.0 - found.holding.kcal.0).abs() > 0.5;
    // Within a phase the intake moves by no more than the cap, whatever the goal asks for.
    if !new_phase && let Some(first) = new.phases.first() {
        let intake = capped(Kcal(before), first.intake, 1.0).0;
        let size = intake - first.expenditure.0;
        let fits = match first.kind {
            PhaseKind::Gain => size >= 1.0,
            PhaseKind::Lose => size <= -1.0,
            PhaseKind::Hold => false,
        };
        if (intake - first.intake.0).abs() > 0.5 && fits {
            held = true;
            if !matches!(brief.phases[current].size, PhaseSize::Energy(_)) || size.abs() > 0.0 {
                change.size = Some((first.kind, Kcal(size.abs())));
                (text, then, new) = read(&change)?;
            }
        }
    }
    let energy = new.budget(&then, 0, 1)?;
    let (targets, _) = targets::derive(&then, &energy);
    let kind = then.phases.first().map_or(PhaseKind::Hold, |ph| ph.kind);
    if p.change_cap.value <= 0.0 {
        held = false;
    }
    Ok(Some(Next {
        brief: text,
        intake: energy.intake.0,
        intake_before: before,
        capped: held,
        new_phase,
        kind,
        energy,
        targets,
    }))
}
