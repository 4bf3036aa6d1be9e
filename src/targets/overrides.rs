//! What the brief sets itself: replaces floors and ceilings, drops targets, and is refused where
//! it contradicts an upper level, the energy of the phase or itself.

use super::Strength;
use super::data::{self, shown};
use super::derive::{Basis, Bound, Draft};
use crate::brief::{Brief, Scope, TargetAmount, TargetOverride, energy_per_gram};
use crate::diagnostic::Diagnostic;
use crate::nutrient::Nutrient;

pub(super) fn apply(
    drafts: &mut Vec<Draft>,
    brief: &Brief,
    basis: &Basis,
    diagnostics: &mut Vec<Diagnostic>,
) {
    for wanted in &brief.targets {
        if wanted.nutrient == Nutrient::ENERGY && !energy_may(wanted, basis, diagnostics) {
            continue;
        }
        if wanted.off {
            drop_target(drafts, wanted, diagnostics);
        } else {
            replace(drafts, wanted, basis, diagnostics);
        }
    }
    if !brief.targets.is_empty() {
        macros_fit(drafts, brief, basis, diagnostics);
    }
}

/// Energy follows from the phase and its gates: a brief may widen the day, not move it.
fn energy_may(wanted: &TargetOverride, basis: &Basis, diagnostics: &mut Vec<Diagnostic>) -> bool {
    let room = data::cutoff("energy_override", basis.person.sex).unwrap_or(0.0) / 100.0;
    let (least, most) = (basis.intake * (1.0 - room), basis.intake * (1.0 + room));
    let floor = wanted.floor.map(|a| resolve(a, wanted.nutrient, basis));
    let ceiling = wanted.ceiling.map(|a| resolve(a, wanted.nutrient, basis));
    let sound = !wanted.off
        && wanted.scope != Some(Scope::Meal)
        && floor.is_none_or(|f| (least..=basis.intake).contains(&f))
        && ceiling.is_none_or(|c| (basis.intake..=most).contains(&c));
    if !sound {
        diagnostics.push(
            Diagnostic::error(
                "target-energy",
                format!(
                    "energy follows from the phase: its bounds may lie {:.0} to {:.0} kcal around {:.0}",
                    least, most, basis.intake
                ),
            )
            .at(wanted.span.clone(), "asks for another energy")
            .help("change the size of the phase, or state the expenditure in [activity]"),
        );
    }
    sound
}

fn drop_target(drafts: &mut Vec<Draft>, wanted: &TargetOverride, diagnostics: &mut Vec<Diagnostic>) {
    let fits = |d: &Draft| d.nutrient == wanted.nutrient && wanted.scope.is_none_or(|scope| scope == d.scope);
    if let Some(limit) = drafts
        .iter()
        .filter(|d| fits(d))
        .filter_map(|d| d.ceiling.as_ref())
        .find(|b| b.upper_level)
    {
        diagnostics.push(beyond(wanted, limit, "is switched off"));
    }
    if !drafts.iter().any(fits) {
        diagnostics.push(
            Diagnostic::warning(
                "target-nothing-to-drop",
                format!("there is no target of {} to switch off", wanted.nutrient.name()),
            )
            .at(wanted.span.clone(), "has no effect")
            .help("leave it out"),
        );
    }
    drafts.retain(|d| !fits(d));
}

fn beyond(wanted: &TargetOverride, limit: &Bound, what: &str) -> Diagnostic {
    let n = wanted.nutrient;
    Diagnostic::warning(
        "target-beyond-upper-level",
        format!("the limit of {} {} {what}", shown(limit.value, n), n.name()),
    )
    .at(wanted.span.clone(), "by the brief")
    .help(format!(
        "it is a published limit: {} ({})",
        limit.reason, limit.source
    ))
}

/// The amount in the nutrient's unit. Per kg means the body mass now, as the person wrote it.
fn resolve(amount: TargetAmount, nutrient: Nutrient, basis: &Basis) -> f64 {
    match amount {
        TargetAmount::Absolute(value) => value,
        TargetAmount::PerKilogram(value) => value * basis.person.weight.0,
        TargetAmount::EnergyShare(share) => basis.share(share, nutrient).unwrap_or(0.0),
    }
}

fn reason(amount: TargetAmount, nutrient: Nutrient) -> String {
    match amount {
        TargetAmount::Absolute(_) => "set in the brief".to_string(),
        TargetAmount::PerKilogram(v) => {
            format!("set in the brief, {} per kg", shown(v, nutrient))
        }
        TargetAmount::EnergyShare(s) => {
            format!("set in the brief, {} % of energy", (s * 1000.0).round() / 10.0)
        }
    }
}

fn replace(
    drafts: &mut Vec<Draft>,
    wanted: &TargetOverride,
    basis: &Basis,
    diagnostics: &mut Vec<Diagnostic>,
) {
    let n = wanted.nutrient;
    let bound = |amount: TargetAmount| Bound {
        value: resolve(amount, n, basis),
        reason: reason(amount, n),
        source: "the brief".to_string(),
        upper_level: false,
    };
    let (floor, ceiling) = (wanted.floor.map(bound), wanted.ceiling.map(bound));
    if let (Some(floor), Some(ceiling)) = (&floor, &ceiling)
        && floor.value > ceiling.value
    {
        diagnostics.push(
            Diagnostic::error(
                "target-floor-over-ceiling",
                format!(
                    "the floor of {} is {}, above its ceiling of {}",
                    n.name(),
                    shown(floor.value, n),
                    shown(ceiling.value, n)
                ),
            )
            .at(wanted.span.clone(), "this target")
            .help("change one of the two"),
        );
        return;
    }
    // Where the tool has one and the brief names no scope, its bound takes that scope.
    let own_scope = |drafts: &[Draft], side: fn(&Draft) -> &Option<Bound>| {
        drafts
            .iter()
            .find(|d| d.nutrient == n && side(d).is_some())
            .map(|d| d.scope)
    };
    let other = drafts.iter().find(|d| d.nutrient == n).map(|d| d.scope);
    let floor_scope = wanted
        .scope
        .or(own_scope(drafts, |d| &d.floor))
        .or(other)
        .unwrap_or(Scope::Mean);
    let ceiling_scope = wanted
        .scope
        .or(own_scope(drafts, |d| &d.ceiling))
        .or(other)
        .unwrap_or(Scope::Mean);

    for d in drafts.iter_mut().filter(|d| d.nutrient == n) {
        let same = |scope| wanted.scope.is_none() || d.scope == scope;
        if floor.is_some() && same(floor_scope) {
            d.floor = None;
        }
        if let Some(ceiling) = &ceiling
            && same(ceiling_scope)
            && let Some(own) = d.ceiling.take()
            && own.upper_level
            && ceiling.value > own.value
        {
            diagnostics.push(beyond(wanted, &own, "is raised"));
        }
        // A bound of the tool on the other side that the brief's bound leaves no room for.
        // Amounts of a meal and of a day are not compared.
        if let (Some(floor), Some(own)) = (&floor, &d.ceiling)
            && floor_scope != Scope::Meal
            && floor.value > own.value
        {
            if own.upper_level {
                diagnostics.push(
                    Diagnostic::error(
                        "target-over-upper-level",
                        format!(
                            "the floor of {} is {}, above the limit of {}",
                            n.name(),
                            shown(floor.value, n),
                            shown(own.value, n)
                        ),
                    )
                    .at(wanted.span.clone(), "this floor")
                    .help(format!("lower it: {} ({})", own.reason, own.source)),
                );
            } else {
                diagnostics.push(gives_way(wanted, "ceiling", own));
                d.ceiling = None;
            }
        }
        if let (Some(ceiling), Some(own)) = (&ceiling, &d.floor)
            && ceiling_scope != Scope::Meal
            && own.value > ceiling.value
        {
            diagnostics.push(gives_way(wanted, "floor", own));
            d.floor = None;
        }
        if let Some(centre) = d.centre {
            let low = floor
                .as_ref()
                .filter(|_| floor_scope != Scope::Meal)
                .map(|b| b.value);
            let high = ceiling
                .as_ref()
                .filter(|_| ceiling_scope != Scope::Meal)
                .map(|b| b.value);
            d.centre = Some(centre.max(low.unwrap_or(centre)).min(high.unwrap_or(f64::MAX)));
        }
    }
    // The centre of a target that has lost both bounds goes on with the brief's own.
    let centre = drafts
        .iter()
        .filter(|d| d.nutrient == n && d.floor.is_none() && d.ceiling.is_none())
        .find_map(|d| d.centre)
        .filter(|_| wanted.scope != Some(Scope::Meal));
    // Keep the brief's targets beside the tool's of the same nutrient.
    let at = drafts
        .iter()
        .rposition(|d| d.nutrient == n)
        .map_or(drafts.len(), |i| i + 1);
    let mut own = Draft::new(n, floor_scope, Strength::Must);
    own.from_brief = true;
    own.centre = centre;
    own.floor = floor;
    match ceiling {
        Some(ceiling) if ceiling_scope != floor_scope && own.floor.is_some() => {
            let mut second = Draft::new(n, ceiling_scope, Strength::Must);
            second.from_brief = true;
            second.ceiling = Some(ceiling);
            drafts.insert(at, second);
        }
        Some(ceiling) => {
            own.scope = ceiling_scope;
            own.ceiling = Some(ceiling);
        }
        None => {}
    }
    drafts.insert(at, own);
}

fn gives_way(wanted: &TargetOverride, side: &str, own: &Bound) -> Diagnostic {
    let n = wanted.nutrient;
    Diagnostic::warning(
        "target-gives-way",
        format!(
            "the {side} of {} {} gives way to the brief",
            shown(own.value, n),
            n.name()
        ),
    )
    .at(wanted.span.clone(), "leaves no room for it")
    .help(format!("it stood for: {} ({})", own.reason, own.source))
}

/// Hard floors of the macronutrients must fit in the energy, hard ceilings must fill it.
fn macros_fit(drafts: &[Draft], brief: &Brief, basis: &Basis, diagnostics: &mut Vec<Diagnostic>) {
    let macros = [Nutrient::PROTEIN, Nutrient::FAT, Nutrient::CARBOHYDRATE];
    let hard = |n: Nutrient| {
        drafts
            .iter()
            .filter(move |d| d.nutrient == n && d.strength == Strength::Must && d.scope != Scope::Meal)
    };
    let mut floors = 0.0;
    let mut ceilings = 0.0;
    for n in macros {
        let kcal = energy_per_gram(n).unwrap_or(0.0);
        let floor = hard(n)
            .filter_map(|d| d.floor.as_ref())
            .map(|b| b.value)
            .fold(0.0, f64::max);
        let ceiling = hard(n)
            .filter_map(|d| d.ceiling.as_ref())
            .map(|b| b.value)
            .fold(f64::INFINITY, f64::min);
        floors += floor * kcal;
        ceilings += ceiling * kcal;
    }
    let first = brief.targets.iter().find(|t| macros.contains(&t.nutrient));
    let Some(first) = first else { return };
    let spans = |mut d: Diagnostic| {
        d = d.at(first.span.clone(), "with this target");
        for t in brief
            .targets
            .iter()
            .filter(|t| macros.contains(&t.nutrient) && *t != first)
        {
            d = d.at(t.span.clone(), "and this one");
        }
        d
    };
    // The tolerance of the day's energy, so that what can be met is not refused.
    let room = data::rules()
        .iter()
        .filter(|r| r.nutrient == "energy" && r.bound == "ceiling" && r.scope == "day")
        .map(|r| r.value)
        .fold(1.0, f64::max);
    if floors > basis.intake * room {
        diagnostics.push(
            spans(Diagnostic::error(
                "target-floors-over-energy",
                format!(
                    "the floors of protein, fat and carbohydrate take {floors:.0} kcal of {:.0}",
                    basis.intake
                ),
            ))
            .help("lower one of them"),
        );
    }
    if ceilings < basis.intake * (2.0 - room) {
        diagnostics.push(
            spans(Diagnostic::error(
                "target-ceilings-under-energy",
                format!(
                    "the ceilings of protein, fat and carbohydrate allow {ceilings:.0} kcal of {:.0}",
                    basis.intake
                ),
            ))
            .help("raise one of them"),
        );
    }
}
