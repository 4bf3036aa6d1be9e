//! Safety gates: who must be referred, floors of intake, caps, rates, BMI, waist, energy
//! availability. Numbers in `policy.toml`, questions in `screen.csv`.
//!
//! Takes figures already computed, gives the gates that fire, stops first. Every gate says why with
//! its figures, what would be acceptable instead, and its source. Only two stops yield to an explicit
//! agreement in the brief's screen (`surplus_agreed`, `clinician_follows_gain`), and then they stay
//! as warnings.

use super::data::{self, Figure, policy};
use super::{Gate, GateAction};
use crate::brief::{PhaseKind, Screen};
use crate::diagnostic::{Diagnostic, suggestion};
use crate::person::{Person, Population, Sex, Training};
use crate::units::Kcal;

/// What the gates look at.
#[derive(Clone, Debug)]
pub struct Facts<'a> {
    /// Who.
    pub person: &'a Person,
    /// Referral questions answered yes.
    pub screen: &'a Screen,
    /// Direction of the phase.
    pub kind: PhaseKind,
    /// Weeks of the phase.
    pub weeks: u32,
    /// Body mass now, kg.
    pub weight_kg: f64,
    /// Body mass at the end of the phase, kg, when modelled.
    pub end_weight_kg: Option<f64>,
    /// Change of body mass a week, share, mean over the phase (negative is loss), when modelled.
    pub rate: Option<f64>,
    /// Fat, kg.
    pub fat_kg: f64,
    /// Fat-free mass, kg.
    pub fat_free_kg: f64,
    /// Resting expenditure.
    pub resting: Kcal,
    /// Total expenditure.
    pub expenditure: Kcal,
    /// Intake.
    pub intake: Kcal,
    /// Exercise energy above daily living, mean of the week.
    pub exercise: Kcal,
    /// How the exercise energy was found.
    pub exercise_how: &'a str,
    /// Body fat share at which the model stopped, with the least share, when it did.
    pub fat_ran_out: Option<(u32, f64)>,
    /// The default deficit had to vanish since the floors leave no room.
    pub no_room: bool,
}

/// Diagnostics for answers to unknown questions.
pub fn unknown_answers(screen: &Screen) -> Vec<Diagnostic> {
    let ids = || data::screen().iter().map(|r| r.id.as_str());
    screen
        .yes
        .iter()
        .filter(|answer| !ids().any(|id| id == answer.value))
        .map(|answer| {
            let help = match suggestion(&answer.value, ids()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("known questions: {}", ids().collect::<Vec<_>>().join(", ")),
            };
            Diagnostic::error(
                "screen-unknown",
                format!("`{}` is not a question of the screen", answer.value),
            )
            .at(answer.span.clone(), "unknown question")
            .help(help)
        })
        .collect()
}

/// The lowest intake a deficit may reach. \[kcal/day\] With the rule that sets it.
///
/// The largest of the floor by sex (women 1200, men 1500), 0.9 of resting expenditure unless BMI is
/// 30 or more, and 800 (which itself is already refused).
pub fn intake_floor(person: &Person, bmi: f64, resting: Kcal) -> (Kcal, String) {
    let p = policy();
    let (floor, who) = match person.sex {
        Sex::Female => (p.floor_female.value, "women"),
        Sex::Male => (p.floor_male.value, "men"),
    };
    let by_rest = p.floor_resting.value * resting.0;
    if bmi < p.bmi_obese.value && by_rest > floor {
        (
            Kcal(by_rest),
            format!("{:.0} % of resting expenditure", 100.0 * p.floor_resting.value),
        )
    } else {
        (Kcal(floor), format!("the floor for {who}"))
    }
}

/// Energy availability. \[kcal per kg of fat-free mass a day\]
///
/// (intake − exercise energy above daily living)/FFM. Source: IOC consensus on REDs, Br J Sports Med
/// 57:1073-1097, 2023.
pub fn energy_availability(intake: Kcal, exercise: Kcal, fat_free_kg: f64) -> f64 {
    (intake.0 - exercise.0) / fat_free_kg
}

/// The most a deficit should be. \[kcal/day\] With the rule that sets it.
///
/// The least of 25 % of expenditure, half of what body fat can supply (69 kcal/kg/d), and 500 kcal
/// for a person who trains and wants to keep muscle.
pub fn deficit_cap(person: &Person, expenditure: Kcal, fat_kg: f64) -> (Kcal, &'static Figure) {
    let p = policy();
    let mut cap = (p.deficit_cap.value * expenditure.0, &p.deficit_cap);
    let by_fat = p.fat_supply.value * p.fat_supply_share.value * fat_kg;
    if by_fat < cap.0 {
        cap = (by_fat, &p.fat_supply);
    }
    if person.training != Training::None && p.deficit_keep_muscle.value < cap.0 {
        cap = (p.deficit_keep_muscle.value, &p.deficit_keep_muscle);
    }
    (Kcal(cap.0), cap.1)
}

/// The fastest published loss for a body, share of body mass a week.
pub fn loss_rate_cap(sex: Sex, fat_percent: f64) -> &'static Figure {
    let p = policy();
    let high = match sex {
        Sex::Male => p.loss_high_fat_male.value,
        Sex::Female => p.loss_high_fat_female.value,
    };
    if fat_percent > high {
        &p.loss_rate_most_high_fat
    } else {
        &p.loss_rate_most
    }
}

/// Every gate that fires, stops first.
pub fn gates(f: &Facts) -> Vec<Gate> {
    let mut g = Vec::new();
    referral(f, &mut g);
    body_size(f, &mut g);
    match f.kind {
        PhaseKind::Lose => deficit(f, &mut g),
        PhaseKind::Gain => surplus(f, &mut g),
        PhaseKind::Hold => {}
    }
    floors(f, &mut g);
    availability(f, &mut g);
    length(f, &mut g);
    activity(f, &mut g);
    g.sort_by_key(|gate| gate.action == GateAction::Warn); // stable: stops first
    g
}

fn gate(
    code: &'static str,
    action: GateAction,
    why: String,
    instead: impl Into<String>,
    source: &str,
) -> Gate {
    Gate {
        code,
        action,
        why,
        instead: instead.into(),
        source: source.to_string(),
    }
}

fn agreed(f: &Facts, id: &str) -> bool {
    f.screen.yes.iter().any(|a| a.value == id)
}

fn referral(f: &Facts, g: &mut Vec<Gate>) {
    let p = policy();
    let age = f64::from(f.person.age);
    if age < p.adult.value {
        g.push(gate(
            "under-18",
            GateAction::Stop,
            format!("age {age} is under {}: growth has its own needs", p.adult.value),
            "eating and growth looked after by a paediatrician or dietitian",
            &p.adult.source,
        ));
    }
    if age > p.old.value {
        g.push(gate(
            "over-65",
            GateAction::Warn,
            format!(
                "age {age} is over {}: muscle and bone are lost more easily",
                p.old.value
            ),
            "a letter from your clinician, slow change, and resistance training",
            &p.old.source,
        ));
    }
    for row in data::screen()
        .iter()
        .filter(|r| r.action != "agree" && agreed(f, &r.id))
    {
        let action = match f.kind {
            PhaseKind::Hold => &row.in_hold,
            PhaseKind::Gain | PhaseKind::Lose => &row.action,
        };
        let action = if action == "stop" {
            GateAction::Stop
        } else {
            GateAction::Warn
        };
        g.push(gate(
            &row.code,
            action,
            row.why.clone(),
            row.instead.clone(),
            &row.source,
        ));
    }
}

fn body_size(f: &Facts, g: &mut Vec<Gate>) {
    let p = policy();
    let m = f.person.height.metres();
    let bmi = f.weight_kg / (m * m);
    let under = p.bmi_underweight.value;
    let asian = f.person.population != Population::International;
    if bmi < under {
        let figures = format!("BMI {bmi:.1} is under {under}");
        g.push(match f.kind {
            PhaseKind::Lose => gate(
                "deficit-underweight",
                GateAction::Stop,
                format!("{figures}: a deficit is refused"),
                "a hold phase, and a clinician to look for the cause",
                &p.bmi_underweight.source,
            ),
            PhaseKind::Gain if !agreed(f, "clinician_follows_gain") => gate(
                "gain-underweight",
                GateAction::Stop,
                format!("{figures}: gaining from underweight needs a clinician beside it"),
                "a hold phase now; with a clinician, say so: `clinician_follows_gain` in the screen",
                &p.bmi_underweight.source,
            ),
            PhaseKind::Gain | PhaseKind::Hold => gate(
                "underweight",
                GateAction::Warn,
                format!("{figures}: illness should be ruled out"),
                "a slow gain with a clinician beside it",
                &p.bmi_underweight.source,
            ),
        });
    }
    let low = if asian {
        &p.bmi_low_asian
    } else {
        &p.bmi_low_international
    };
    if f.kind == PhaseKind::Lose && (under..low.value).contains(&bmi) {
        g.push(gate(
            "deficit-low-bmi",
            GateAction::Warn,
            format!("BMI {bmi:.1} is under {}: little is left to lose", low.value),
            "a hold or gain phase",
            &low.source,
        ));
    }
    if let (PhaseKind::Lose, Some(end)) = (f.kind, f.end_weight_kg)
        && bmi >= under
        && end / (m * m) < under
    {
        g.push(gate(
            "goal-underweight",
            GateAction::Stop,
            format!(
                "the phase would end at {end:.1} kg, BMI {:.1}, under {under}",
                end / (m * m)
            ),
            format!("a goal of {:.1} kg or more", under * m * m),
            &p.bmi_underweight.source,
        ));
    }
    if f.kind == PhaseKind::Gain {
        let action = if agreed(f, "surplus_agreed") {
            GateAction::Warn
        } else {
            GateAction::Stop
        };
        let high = if asian { &p.bmi_high_asian } else { &p.bmi_obese };
        let instead = "a hold or lose phase; or, knowing the risk, `surplus_agreed` in the screen";
        if bmi >= high.value {
            let why = format!(
                "BMI {bmi:.1} is {} or more: a surplus adds mostly fat",
                high.value
            );
            g.push(gate("surplus-high-bmi", action, why, instead, &high.source));
        }
        let limit = match (f.person.population, f.person.sex) {
            (Population::SouthAsian, Sex::Male) => (&p.waist_male_south_asian, true),
            (Population::SouthAsian, Sex::Female) => (&p.waist_female_south_asian, true),
            (_, Sex::Male) => (&p.waist_male, false),
            (_, Sex::Female) => (&p.waist_female, false),
        };
        if let Some(waist) = f.person.waist {
            let (limit, inclusive) = limit;
            if waist.0 > limit.value || (inclusive && waist.0 >= limit.value) {
                let why = format!(
                    "waist {:.0} cm is over the limit of {:.0} cm",
                    waist.0, limit.value
                );
                g.push(gate("surplus-waist", action, why, instead, &limit.source));
            }
        }
    }
}

fn deficit(f: &Facts, g: &mut Vec<Gate>) {
    let p = policy();
    let deficit = f.expenditure.0 - f.intake.0;
    let (cap, figure) = deficit_cap(f.person, f.expenditure, f.fat_kg);
    if deficit > cap.0 + 0.5 {
        g.push(gate(
            "deficit-cap",
            GateAction::Warn,
            format!(
                "a deficit of {deficit:.0} kcal a day is over {:.0} kcal ({} {})",
                cap.0, figure.value, figure.unit
            ),
            format!("{:.0} kcal a day or less under expenditure", cap.0),
            &figure.source,
        ));
    }
    let supply = p.fat_supply.value * f.fat_kg;
    if deficit > supply + 0.5 {
        g.push(gate(
            "deficit-over-fat",
            GateAction::Warn,
            format!(
                "a deficit of {deficit:.0} kcal a day is more than {:.1} kg of fat can supply \
                 ({supply:.0} kcal): the rest would be lean tissue",
                f.fat_kg
            ),
            format!("{:.0} kcal a day or less under expenditure", cap.0),
            &p.fat_supply.source,
        ));
    }
    let cap = loss_rate_cap(f.person.sex, 100.0 * f.fat_kg / f.weight_kg);
    if let Some(rate) = f.rate
        && -rate > cap.value + 1e-4
    {
        g.push(gate(
            "loss-rate",
            GateAction::Warn,
            format!(
                "losing {:.2} % of body mass a week is faster than {:.2} %",
                -100.0 * rate,
                100.0 * cap.value
            ),
            format!("{:.2} % a week or slower", 100.0 * cap.value),
            &cap.source,
        ));
    }
    if let Some((day, least)) = f.fat_ran_out {
        g.push(gate(
            "body-fat-floor",
            GateAction::Stop,
            format!(
                "body fat would fall under {:.0} % on day {day} of the phase",
                100.0 * least
            ),
            "a shorter phase or a smaller deficit",
            "edge of the body-weight model: Hall et al., Lancet 378:826-837, 2011",
        ));
    }
    if f.no_room {
        g.push(gate(
            "no-room-for-deficit",
            GateAction::Warn,
            format!(
                "expenditure of {:.0} kcal is at or under the lowest intake a deficit may reach: \
                 the plan holds weight",
                f.expenditure.0
            ),
            "more activity, or a hold phase",
            &p.floor_resting.source,
        ));
    }
}

fn surplus(f: &Facts, g: &mut Vec<Gate>) {
    let p = policy();
    let surplus = f.intake.0 - f.expenditure.0;
    let share = surplus / f.expenditure.0;
    let line = if share > p.surplus_cap.value + 1e-3 {
        &p.surplus_cap
    } else {
        &p.surplus_warn
    };
    if share > line.value + 1e-3 {
        let code = if share > p.surplus_cap.value + 1e-3 {
            "surplus-cap"
        } else {
            "surplus-high"
        };
        g.push(gate(
            code,
            GateAction::Warn,
            format!(
                "a surplus of {surplus:.0} kcal a day is {:.0} % of expenditure, over {:.0} %: \
                 more of the gain is fat",
                100.0 * share,
                100.0 * line.value
            ),
            format!(
                "{:.0} kcal a day or less over expenditure",
                line.value * f.expenditure.0
            ),
            &line.source,
        ));
    }
    if let Some(rate) = f.rate
        && rate > p.gain_rate_most.value + 1e-4
    {
        g.push(gate(
            "gain-rate",
            GateAction::Warn,
            format!(
                "gaining {:.2} % of body mass a week is faster than {:.2} %",
                100.0 * rate,
                100.0 * p.gain_rate_most.value
            ),
            format!("{:.2} % a week or slower", 100.0 * p.gain_rate_most.value),
            &p.gain_rate_most.source,
        ));
    }
}

fn floors(f: &Facts, g: &mut Vec<Gate>) {
    let p = policy();
    let m = f.person.height.metres();
    let (floor, rule) = intake_floor(f.person, f.weight_kg / (m * m), f.resting);
    let instead = format!("{:.0} kcal a day or more", floor.0);
    if f.intake.0 <= p.very_low.value {
        g.push(gate(
            "intake-very-low",
            GateAction::Stop,
            format!(
                "{:.0} kcal a day is {:.0} or less: only under medical supervision",
                f.intake.0, p.very_low.value
            ),
            instead,
            &p.very_low.source,
        ));
    } else if f.intake.0 < floor.0 - 0.5 {
        let (action, tail) = match f.kind {
            PhaseKind::Hold => (
                GateAction::Warn,
                ", though it is what is spent: nutrients will be hard to reach",
            ),
            PhaseKind::Gain | PhaseKind::Lose => (GateAction::Stop, ""),
        };
        let why = format!(
            "{:.0} kcal a day is under {:.0} kcal, {rule}{tail}",
            f.intake.0, floor.0
        );
        let source = match f.person.sex {
            _ if rule.contains("resting") => &p.floor_resting.source,
            Sex::Female => &p.floor_female.source,
            Sex::Male => &p.floor_male.source,
        };
        g.push(gate("intake-floor", action, why, instead, source));
    }
}

fn availability(f: &Facts, g: &mut Vec<Gate>) {
    let p = policy();
    let available = energy_availability(f.intake, f.exercise, f.fat_free_kg);
    if available >= p.availability_warn.value {
        return;
    }
    let refuse = available < p.availability_refuse.value
        && f64::from(f.weeks) > p.availability_weeks.value
        && f.kind != PhaseKind::Hold;
    let line = if refuse {
        &p.availability_refuse
    } else {
        &p.availability_warn
    };
    g.push(gate(
        "energy-availability",
        if refuse {
            GateAction::Stop
        } else {
            GateAction::Warn
        },
        format!(
            "energy availability is {available:.1} kcal per kg of fat-free mass a day, under {:.0} \
             (({:.0} - {:.0} kcal of exercise)/{:.1} kg; {})",
            line.value, f.intake.0, f.exercise.0, f.fat_free_kg, f.exercise_how
        ),
        format!(
            "{:.0} kcal a day or more",
            p.availability_warn.value * f.fat_free_kg + f.exercise.0
        ),
        &line.source,
    ));
}

fn length(f: &Facts, g: &mut Vec<Gate>) {
    let p = policy();
    let most = match f.kind {
        PhaseKind::Gain => &p.gain_weeks_most,
        PhaseKind::Lose => &p.loss_weeks_most,
        PhaseKind::Hold => return,
    };
    if f64::from(f.weeks) > most.value {
        g.push(gate(
            "phase-long",
            GateAction::Warn,
            format!("{} weeks is longer than {:.0}", f.weeks, most.value),
            "a hold phase of at least two weeks in between",
            &most.source,
        ));
    }
}

fn activity(f: &Facts, g: &mut Vec<Gate>) {
    let p = policy();
    let pal = f.expenditure.0 / f.resting.0;
    if pal > p.pal_high.value {
        g.push(gate(
            "activity-high",
            GateAction::Warn,
            format!(
                "expenditure is {pal:.2} times resting, over {}: few people do",
                p.pal_high.value
            ),
            "check the activity, or measure expenditure from weigh-ins",
            &p.pal_high.source,
        ));
    }
    if pal < p.pal_least.value - 1e-9 {
        g.push(gate(
            "activity-low",
            GateAction::Warn,
            format!(
                "expenditure is {pal:.2} times resting, under {}",
                p.pal_least.value
            ),
            "check the measured expenditure",
            &p.pal_least.source,
        ));
    }
}
