//! The handles of a board: what can be moved, where it stands now, and the brief with it moved.

use crate::brief::Scope;
use crate::brief::edit::{Document, Value};
use crate::diagnostic::Diagnostic;
use crate::nutrient::{Nutrient, Unit};
use crate::ready::{Larder, Ready};
use crate::report::amount::significant;
use crate::report::why::shown;
use crate::targets::Target;
use crate::units;
use crate::why::{Side, spoken};
use itertools::Itertools;

/// What a handle moves.
#[derive(Clone, Debug, PartialEq)]
pub enum Moves {
    /// The most that the days may cost.
    Budget,
    /// Energy eaten a day, through the size of the first phase.
    Intake,
    /// A floor or a ceiling.
    Bound(Nutrient, Scope, Side),
}

/// Where a handle stands on the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Money and energy.
    First,
    /// What most of the food is made of, fibre, salt.
    Large,
    /// Vitamins, minerals and other small amounts.
    Small,
}

/// Something that can be moved, with the range in which it makes sense.
#[derive(Clone, Debug, PartialEq)]
pub struct Handle {
    /// Its name in a form: `protein.day.floor`, `budget`, `intake`.
    pub id: String,
    /// What it moves.
    pub moves: Moves,
    /// What it is of: `protein`.
    pub of: String,
    /// Which bound of it: `each day, at least`.
    pub which: String,
    /// Unit of its number.
    pub unit: String,
    /// Where the brief or the table has it, as it is shown; `None` for a budget that is not set.
    pub now: Option<f64>,
    /// Lowest place of the handle. Lower numbers can be typed.
    pub least: f64,
    /// Highest place of the handle. Higher numbers can be typed.
    pub most: f64,
    /// One step of a key.
    pub step: f64,
    /// Why it stands where it stands.
    pub reason: String,
    /// Set by the brief itself.
    pub from_brief: bool,
    /// Where it stands on the board.
    pub place: Place,
}

/// A handle moved, with the number as it was typed.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// Place among the handles.
    pub handle: usize,
    /// As typed.
    pub typed: String,
}

impl Handle {
    /// `protein, each day, at least`.
    pub fn name(&self) -> String {
        if self.which.is_empty() {
            self.of.clone()
        } else {
            format!("{}, {}", self.of, self.which)
        }
    }

    /// Units a day in one unit of the handle, for a budget of a week, a day or all days.
    pub fn per_day(&self, days: f64) -> f64 {
        match self
            .unit
            .rsplit(['/', ' '])
            .next()
            .filter(|_| self.moves == Moves::Budget)
        {
            Some("week" | "wk" | "w") => 1.0 / 7.0,
            Some(per) if per.len() == 3 && per != "day" => 1.0 / days,
            _ => 1.0,
        }
    }

    /// Its number as a form has it: plain, with a point.
    pub fn number(&self) -> String {
        self.now.map_or_else(String::new, |v| v.to_string())
    }
}

/// A round step of about a hundredth of a size: 1, 2 or 5 times a power of ten.
fn step(size: f64) -> f64 {
    let raw = (size.abs() / 100.0).max(1e-6);
    let power = libm::exp10(libm::log10(raw).floor());
    let times = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|m| m * power >= raw * 0.999);
    // A power of ten from its own digits, so that steps are short numbers.
    significant(times.unwrap_or(10.0) * power, 1)
}

/// The word of a scope in a brief.
fn scope(scope: Scope) -> &'static str {
    match scope {
        Scope::Meal => "meal",
        Scope::Day => "day",
        Scope::Mean => "mean",
    }
}

/// The name of a bound's handle.
pub fn id(n: Nutrient, over: Scope, side: Side) -> String {
    format!("{}.{}.{}", n.id(), scope(over), side.id())
}

/// The strictest bound of one side among targets of a nutrient and scope, with its target.
pub fn strictest(targets: &[Target], n: Nutrient, scope: Scope, side: Side) -> Option<(f64, &Target)> {
    let of = |t: &Target| if side == Side::Floor { t.floor } else { t.ceiling };
    let all = targets
        .iter()
        .filter(|t| t.nutrient == n && t.scope == scope)
        .filter_map(|t| Some((of(t)?, t)));
    match side {
        Side::Floor => all.max_by(|a, b| a.0.total_cmp(&b.0)),
        Side::Ceiling => all.min_by(|a, b| a.0.total_cmp(&b.0)),
    }
}

/// The handles of a brief, in the order of its targets.
pub fn handles(text: &str, ready: &Ready, larder: &Larder) -> Vec<Handle> {
    let mut out = Vec::new();
    out.extend(budget(text, ready, larder));
    out.extend(intake(ready));
    let large = [
        Nutrient::PROTEIN,
        Nutrient::FAT,
        Nutrient::CARBOHYDRATE,
        Nutrient::FIBRE,
        Nutrient::SODIUM,
    ];
    let keys = ready.targets.iter().map(|t| (t.nutrient, t.scope)).unique();
    for (n, over) in keys.filter(|k| k.0 != Nutrient::ENERGY) {
        for side in [Side::Floor, Side::Ceiling] {
            let Some((bound, target)) = strictest(&ready.targets, n, over, side) else {
                continue;
            };
            if !matches!(n.unit(), Unit::Gram | Unit::Milligram | Unit::Microgram) {
                continue;
            }
            let now = significant(bound, 4);
            let by = step(now);
            // A floor has no room over the ceiling that stands for the same days.
            let above = ready
                .targets
                .iter()
                .filter(|t| t.nutrient == n && t.scope != Scope::Meal && over != Scope::Meal)
                .filter_map(|t| t.ceiling)
                .fold(f64::INFINITY, f64::min);
            let twice = (2.0 * now / by).ceil() * by;
            let most = if side == Side::Floor {
                twice.min(above.max(now))
            } else {
                twice
            };
            let energy_of = ["saturated_fat", "trans_fat"].contains(&n.id());
            let word = if side == Side::Floor {
                "at least"
            } else {
                "at most"
            };
            let named = spoken(target);
            let over_words = named
                .strip_prefix(n.name())
                .unwrap_or(&named)
                .trim_start_matches(", ");
            out.push(Handle {
                id: id(n, over, side),
                moves: Moves::Bound(n, over, side),
                of: n.name().to_string(),
                which: format!("{over_words}, {word}"),
                unit: n.unit().symbol().to_string(),
                now: Some(now),
                least: 0.0,
                most: significant(most.max(by), 6),
                step: by,
                reason: target.reason.clone(),
                from_brief: target.from_brief,
                place: if large.contains(&n) || energy_of {
                    Place::Large
                } else {
                    Place::Small
                },
            });
        }
    }
    out
}

/// A budget in the words of the brief: number and unit, such as `USD/week`.
fn own_budget(text: &str) -> Option<(f64, String)> {
    let typed = Document::read(text).ok()?.typed("budget")?;
    let one = units::single(&typed).ok()?;
    Some((one.value, one.unit))
}

fn budget(text: &str, ready: &Ready, larder: &Larder) -> Option<Handle> {
    let kitchen = larder.kitchen(&ready.brief).ok()?;
    let prices = larder.prices(&kitchen.id).ok()??;
    let own = own_budget(text);
    let (now, unit) = match own {
        Some((now, unit)) => (Some(now), unit),
        None => (None, format!("{}/week", prices.currency)),
    };
    let size = now.unwrap_or(100.0);
    let by = step(size);
    Some(Handle {
        id: "budget".into(),
        moves: Moves::Budget,
        of: "budget".into(),
        which: "at most".into(),
        unit,
        now,
        least: 0.0,
        most: significant((2.0 * size / by).ceil() * by, 6),
        step: by,
        reason: if now.is_some() {
            String::new()
        } else {
            "none is set".into()
        },
        from_brief: now.is_some(),
        place: Place::First,
    })
}

/// kcal a day on either side of the intake, and for one step of a key. Design choices.
const INTAKE_ROOM: f64 = 600.0;
const INTAKE_STEP: f64 = 10.0;

fn intake(ready: &Ready) -> Option<Handle> {
    ready.brief.phases.first()?;
    let (eaten, spent) = (ready.energy.intake.0, ready.energy.expenditure.middle.0);
    let now = eaten.round();
    let side = match eaten - spent {
        d if d > 0.5 => format!(", a surplus of {d:.0}"),
        d if d < -0.5 => format!(", a deficit of {:.0}", -d),
        _ => String::new(),
    };
    Some(Handle {
        id: "intake".into(),
        moves: Moves::Intake,
        of: "intake of energy".into(),
        which: String::new(),
        unit: "kcal".into(),
        now: Some(now),
        least: ((now - INTAKE_ROOM) / INTAKE_STEP).floor().max(0.0) * INTAKE_STEP,
        most: ((now + INTAKE_ROOM) / INTAKE_STEP).ceil() * INTAKE_STEP,
        step: INTAKE_STEP,
        reason: format!("expenditure {spent:.0} kcal a day{side}"),
        from_brief: true,
        place: Place::First,
    })
}

/// The handles that a form has elsewhere than the brief.
pub fn moved(handles: &[Handle], form: &[(String, String)]) -> Vec<Moved> {
    let mut out = Vec::new();
    for (n, h) in handles.iter().enumerate() {
        let Some((_, typed)) = form.iter().find(|(k, _)| *k == h.id) else {
            continue;
        };
        let typed = typed.trim();
        let same = typed.parse::<f64>().ok().zip(h.now).is_some_and(|(a, b)| a == b);
        if !typed.is_empty() && !same {
            out.push(Moved {
                handle: n,
                typed: typed.to_string(),
            });
        }
    }
    out
}

/// Most that a number of the board may be: beyond any food, and short of what arithmetic holds.
const BEYOND: f64 = 1e9;

fn number(h: &Handle, typed: &str) -> Result<f64, Diagnostic> {
    let cut: String = typed.chars().take(24).collect();
    let wrong = |what: String| {
        Diagnostic::error("board-number", format!("{}: {what}", h.name())).help(format!(
            "write a plain number of {}, such as {}",
            shown(&h.unit),
            h.now.unwrap_or(h.most / 2.0)
        ))
    };
    let one = units::single(typed).map_err(|e| wrong(e.to_string()))?;
    if !one.unit.is_empty() {
        return Err(wrong(format!("\"{cut}\" is no plain number")));
    }
    if one.value > BEYOND {
        return Err(wrong(format!("{cut} is beyond any day's food")));
    }
    Ok(one.value)
}

/// The text of the brief with handles moved, its comments kept.
///
/// # Errors
/// All numbers that are none, and places of the brief that cannot be changed.
pub fn write(
    text: &str,
    ready: &Ready,
    handles: &[Handle],
    moved: &[Moved],
) -> Result<String, Vec<Diagnostic>> {
    let mut problems = Vec::new();
    let mut doc = Document::read(text).map_err(|d| vec![d])?;
    for m in moved {
        let h = &handles[m.handle];
        let done = number(h, &m.typed).and_then(|value| match &h.moves {
            Moves::Budget => doc.set("budget", format!("{} {}", plain(&m.typed), h.unit).into()),
            Moves::Intake => write_intake(&mut doc, ready, value),
            Moves::Bound(n, over, side) => {
                let amount = format!("{} {}", plain(&m.typed), h.unit);
                write_bound(&mut doc, *n, *over, *side, amount)
            }
        });
        problems.extend(done.err());
    }
    if problems.is_empty() {
        Ok(doc.text())
    } else {
        Err(problems)
    }
}

/// A typed number as a brief has it: `1,8` is `1.8`.
fn plain(typed: &str) -> String {
    units::single(typed).map_or_else(|_| typed.to_string(), |one| one.number)
}

fn write_bound(
    doc: &mut Document,
    n: Nutrient,
    over: Scope,
    side: Side,
    amount: String,
) -> Result<(), Diagnostic> {
    let of = |at: usize, key: &str| doc.typed(&format!("target.{at}.{key}"));
    let own: Vec<usize> = (0..doc.count("target"))
        .filter(|&at| of(at, "nutrient").as_deref() == Some(n.id()))
        .collect();
    let exact = |at: &usize| of(*at, "scope").as_deref() == Some(scope(over));
    let every = |at: &usize| of(*at, "scope").is_none();
    let has = |at: &usize| of(*at, side.id()).is_some();
    let found = own
        .iter()
        .find(|at| exact(at) && has(at))
        .or_else(|| own.iter().find(|at| every(at) && has(at)))
        .or_else(|| own.iter().find(|at| exact(at)))
        .copied();
    match found {
        Some(at) => doc.set(&format!("target.{at}.{}", side.id()), amount.into()),
        None => doc.push(
            "target",
            vec![
                ("nutrient", n.id().into()),
                (side.id(), amount.into()),
                ("scope", scope(over).into()),
            ],
        ),
    }
}

fn write_intake(doc: &mut Document, ready: &Ready, intake: f64) -> Result<(), Diagnostic> {
    let by = intake - ready.energy.expenditure.middle.0;
    let (kind, size) = match by {
        b if b >= 1.0 => ("gain", Some("surplus")),
        b if b <= -1.0 => ("lose", Some("deficit")),
        _ => ("hold", None),
    };
    if doc.typed("phase.0.kind").as_deref() != Some(kind) {
        doc.set("phase.0.kind", kind.into())?;
    }
    for key in ["surplus", "deficit", "rate", "goal_weight"] {
        if Some(key) != size {
            doc.remove(&format!("phase.0.{key}"))?;
        }
    }
    let Some(size) = size else { return Ok(()) };
    let amount = significant((by.abs() * 10.0).round() / 10.0, 6);
    doc.set(&format!("phase.0.{size}"), Value::Text(format!("{amount} kcal")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round() {
        for (size, by) in [(97.6, 1.0), (2300.0, 50.0), (1.1, 0.02), (15.0, 0.2), (65.0, 1.0)] {
            assert_eq!(step(size), by, "{size}");
        }
    }

    #[test]
    fn a_bound_is_written_where_the_brief_has_it() {
        let text = "[[target]]\nnutrient = \"protein\" # mine\nfloor = \"1.8 g/kg\" # high\n";
        let mut doc = Document::read(text).unwrap();
        let (n, day) = (Nutrient::PROTEIN, Scope::Day);
        write_bound(&mut doc, n, day, Side::Floor, "90 g".into()).unwrap();
        assert_eq!(
            doc.text(),
            "[[target]]\nnutrient = \"protein\" # mine\nfloor = \"90 g\" # high\n"
        );
        write_bound(&mut doc, n, Scope::Mean, Side::Ceiling, "150 g".into()).unwrap();
        assert_eq!(doc.count("target"), 2);
        assert_eq!(doc.typed("target.1.ceiling").as_deref(), Some("150 g"));
        assert_eq!(doc.typed("target.1.scope").as_deref(), Some("mean"));
    }
}
