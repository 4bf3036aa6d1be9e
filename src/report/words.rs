//! The sentences that all reports for people say alike: energy, costs, bounds, shop amounts.
//!
//! Takes parts of a [`Plan`], gives text whose figures [`amount`] has rounded; a no-break space holds a figure
//! to its unit.

use crate::brief::Scope;
use crate::energy::EnergyBudget;
use crate::nutrient::Nutrient;
use crate::plan::{
    Cooked, Eaten, Eater, Plan, Purchase, Recipe, SearchReport, Second, Standings, Verdict, Way,
};
use crate::report::amount::{self, Units};
use crate::targets::Strength;
use itertools::Itertools;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeMap;

/// Said before days that are no plan.
pub(crate) const NEAREST: &str = "What follows comes nearest; it does not keep all that must hold.";

/// What a target is counted over.
pub(crate) fn scope(scope: Scope) -> &'static str {
    match scope {
        Scope::Mean => "mean",
        Scope::Day => "each day",
        Scope::Meal => "each meal",
    }
}

/// Kitchen, days and intake.
pub(crate) fn days_and_intake(plan: &Plan) -> String {
    format!(
        "Kitchen {}, {}, {} a day to eat.",
        plan.kitchen,
        counted(plan.days.len(), "day"),
        glued(&amount::kcal(plan.energy.intake.0))
    )
}

/// Expenditure with its spread, the intake against it and the change to expect.
pub(crate) fn expenditure(plan: &Plan, units: Units) -> String {
    spent(&plan.energy, units)
}

/// As [`expenditure`], before there is a plan.
pub(crate) fn spent(energy: &EnergyBudget, units: Units) -> String {
    let kcal = |v: f64| glued(&amount::kcal(v));
    let difference = energy.intake.0 - energy.expenditure.middle.0;
    let over = if difference.abs() < 0.5 {
        "the intake equals it".to_string()
    } else {
        format!(
            "the intake is {} {} it",
            kcal(difference.abs()),
            if difference > 0.0 { "over" } else { "under" }
        )
    };
    let mut text = format!(
        "Expenditure {} a day, likely {} to {}; {over}.",
        kcal(energy.expenditure.middle.0),
        amount::bare(Nutrient::ENERGY, energy.expenditure.low.0),
        kcal(energy.expenditure.high.0),
    );
    if let Some(rate) = energy.rate_kg_per_week {
        text += &format!(" Expected change: {}.", glued(&amount::weekly(rate, units)));
    }
    text
}

/// Why there is no plan, in a sentence before the list of [`conflicts`].
pub(crate) fn why_not(plan: &Plan) -> String {
    match plan.conflict.len() {
        0 if plan.misses.is_empty() && !plan.breaches.is_empty() => {
            "The finished days were checked again from their ingredients, and do not keep to the brief."
                .into()
        }
        0 => format!(
            "{}Whole servings found none within {} moves. That does not prove that there is none: a looser bound or more moves may help.",
            if plan.search.bound.is_some() {
                "In fractions of servings all of it can hold. "
            } else {
                ""
            },
            plan.search.moves
        ),
        1 => "This cannot hold:".into(),
        _ => "These cannot hold together; give way in one of them:".into(),
    }
}

/// The members of the conflict, each with its reason.
pub(crate) fn conflicts(plan: &Plan) -> Vec<String> {
    let one = |c: &crate::plan::Conflict| {
        if c.reason.is_empty() {
            c.group.clone()
        } else {
            format!("{}: {}", c.group, c.reason)
        }
    };
    plan.conflict.iter().map(one).collect()
}

/// Said before [`breaches`].
pub(crate) const AGAINST: &str = "Against the diets and allergies of the brief, by the ingredients:";

/// Said before [`misses`].
pub(crate) const MISSED: &str = "What the nearest days miss:";

/// What the ingredients break of the brief's diets and allergies.
pub(crate) fn breaches(plan: &Plan) -> Vec<String> {
    let one = |b: &crate::plan::Breach| {
        format!(
            "day {}, {}: {}; {}: {}",
            b.day,
            b.slot.replace('_', " "),
            b.item,
            b.rule,
            b.why
        )
    };
    plan.breaches.iter().map(one).collect()
}

/// What the nearest days miss: the rule, the day where it is one day's, and by how much of the bound.
pub(crate) fn misses(plan: &Plan) -> Vec<String> {
    let one = |m: &crate::plan::Miss| {
        let day = m.row.rsplit_once("_d").and_then(|(_, n)| n.parse::<u32>().ok());
        let rule = m.group.trim_end_matches("_day");
        let (rule, place) = match (rule.strip_suffix("_mean"), day) {
            (Some(rule), _) => (rule, ", mean of the days".to_string()),
            (None, Some(day)) => (rule, format!(", day {day}")),
            (None, None) => (rule, String::new()),
        };
        let by = match m.share {
            // Half of the last digit that a share is told with.
            share if share < 0.0005 => "less than 0.1 %".to_string(),
            share => amount::percent(share),
        };
        format!("{}{place}: by {by}", rule.replace('_', " "))
    };
    plan.misses.iter().map(one).collect()
}

/// Ways out of a conflict of one kind.
pub(crate) struct WaysOut {
    /// What they have in common, a sentence.
    pub(crate) head: &'static str,
    /// Each way.
    pub(crate) ways: Vec<String>,
    /// What the cheapest plan costs when all of them are taken together.
    pub(crate) all: Option<String>,
}

/// The ways out of a conflict by kind: alone, together, and for information.
pub(crate) fn ways(ways: &[Way], currency: &str) -> Vec<WaysOut> {
    let pay = |c: f64| glued(amount::objective(c, currency, true).trim());
    let told = |chosen: &[&Way]| {
        let cost = |w: &Way| w.cost.filter(|_| !w.together);
        let one = |w: &&Way| {
            let cost = cost(w).map_or_else(String::new, |c| {
                format!(" - the cheapest plan then costs {}", pay(c))
            });
            format!("{}{cost}", super::why::one_way(w))
        };
        chosen.iter().map(one).collect_vec()
    };
    let kind = |head, chosen: Vec<&Way>, together: bool| {
        let cost = chosen.first().and_then(|w| w.cost).filter(|_| together);
        (!chosen.is_empty()).then(|| WaysOut {
            head,
            ways: told(&chosen),
            all: cost.map(|c| format!("The cheapest plan then costs {}.", pay(c))),
        })
    };
    let of = |keep: fn(&Way) -> bool| ways.iter().filter(|w| keep(w)).collect_vec();
    [
        kind(
            "Each of these alone would open a plan, in fractions of servings; whole servings may ask a little more:",
            of(|w| !w.together && !w.information),
            false,
        ),
        kind(
            "No single bound opens a plan. The smallest set found, all of them together:",
            of(|w| w.together),
            true,
        ),
        kind("For information, no suggestion:", of(|w| w.information), false),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// The ways out of a plan's conflict.
pub(crate) fn plan_ways(plan: &Plan) -> Vec<WaysOut> {
    let currency = plan.currency.map_or_else(String::new, |c| c.to_string());
    ways(&plan.ways, &currency)
}

/// The line under what was cooked on an earlier day.
pub(crate) fn from_pot(item: &Eaten) -> Option<String> {
    item.pot.map(|day| format!("reheated, from the pot of day {day}"))
}

/// A count of servings or batches, as a household fraction where it is near one.
fn count(value: f64) -> String {
    amount::fraction(value).unwrap_or_else(|| amount::figure(value))
}

/// A line of the cooking list in parts.
pub(crate) struct ToCook {
    /// `6 servings (1½ times the recipe)`
    pub(crate) made: String,
    /// `25 min of work, 60 min in all`
    pub(crate) time: String,
    /// `day 1 dinner (2), day 2 lunch (2)`
    pub(crate) meals: String,
    /// `good until day 4`, when it keeps.
    pub(crate) keeps: Option<String>,
}

/// What there is to say of a dish to cook.
pub(crate) fn to_cook(c: &Cooked) -> ToCook {
    let recipe = match c.batches {
        b if (b - 1.0).abs() < 0.01 => "the recipe once".into(),
        b if b > 1.0 => format!("{} times the recipe", count(b)),
        b => format!("{} of the recipe", count(b)),
    };
    let noun = if c.servings > 1.0 { "servings" } else { "serving" };
    let meal = |(day, slot, servings): &(u32, String, f64)| {
        format!("day {day} {} ({})", slot.replace('_', " "), count(*servings))
    };
    ToCook {
        made: format!("{} {noun} ({recipe})", count(c.servings)),
        time: minutes(c.minutes, c.total_minutes),
        meals: c.meals.iter().map(meal).join(", "),
        keeps: (c.keep_until > c.day).then(|| format!("good until day {}", c.keep_until)),
    }
}

/// A line of the cooking list as a sentence.
pub(crate) fn cooking_line(c: &Cooked) -> String {
    let t = to_cook(c);
    let keeps = t.keeps.map_or_else(String::new, |k| format!("; {k}"));
    format!("{}: {}, {}; for {}{keeps}", c.name, t.made, t.time, t.meals)
}

/// Work and time from start to table: `25 min of work, 60 min in all`.
fn minutes(work: f64, total: f64) -> String {
    let min = |v: f64| glued(&format!("{} min", amount::decimals(v, 0)));
    if total > work {
        format!("{} of work, {} in all", min(work), min(total))
    } else {
        format!("{} of work", min(work))
    }
}

/// What a recipe makes, how much of it is eaten, how long it takes and keeps.
pub(crate) fn about(r: &Recipe) -> String {
    let keeps = match r.keeps_days {
        0 => "Eat at once.".to_string(),
        n => format!("Keeps {} in a refrigerator.", counted(n as usize, "day")),
    };
    format!(
        "Makes {}; eaten over the days: {}. {}. {keeps}",
        amount::household(&r.serving, r.servings),
        amount::household(&r.serving, r.eaten),
        capital(&minutes(r.minutes, r.total_minutes)),
    )
}

/// What goes into a recipe, water last.
pub(crate) fn ingredients(r: &Recipe) -> Vec<String> {
    let water = (r.water > 0.0).then_some(("water", r.water));
    let all = r.ingredients.iter().map(|(name, g)| (name.as_str(), *g));
    all.chain(water)
        .map(|(name, g)| format!("{} {name}", glued(&amount::grams(g))))
        .collect()
}

/// What is left after the last day, and how long it keeps.
pub(crate) fn left(plan: &Plan, units: Units) -> Vec<String> {
    let one = |l: &crate::plan::Left| {
        let keeps = match usize::try_from(l.keeps_days) {
            Ok(n) if n > 0 => format!("keeps {} more", counted(n, "day")),
            _ => "past its days".into(),
        };
        format!("{}: {}, {keeps}", l.name, glued(&amount::mass(l.grams, units)))
    };
    plan.left.iter().map(one).collect()
}

/// What is eaten by its place on the plate, the dearest first; empty when something has no price.
pub(crate) fn cost_by_place(plan: &Plan) -> Vec<(String, Decimal)> {
    let items = plan.days.iter().flat_map(|d| &d.meals).flat_map(|m| &m.items);
    let all = items.map(|i| Some((i.role.as_str(), i.cost?)));
    dearest_first(all)
}

/// What is paid at the till by food group, the dearest first; empty when something has no price.
pub(crate) fn till_by_group(plan: &Plan) -> Vec<(String, Decimal)> {
    let bought = plan.shopping.iter().filter(|p| p.buy_grams > 0.0);
    dearest_first(bought.map(|p| Some((p.section.as_str(), p.cost?))))
}

fn dearest_first<'a>(all: impl Iterator<Item = Option<(&'a str, Decimal)>>) -> Vec<(String, Decimal)> {
    let Some(all) = all.collect::<Option<Vec<_>>>() else {
        return Vec::new();
    };
    let mut groups: BTreeMap<&str, Decimal> = BTreeMap::new();
    for (name, cost) in all {
        *groups.entry(name).or_default() += cost;
    }
    let named = groups.into_iter().filter(|(_, v)| !v.is_zero());
    named
        .map(|(k, v)| (capital(&k.replace('_', " ")), v))
        .sorted_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)))
        .collect()
}

/// What the food costs: eaten, at the till, against the budget.
pub(crate) fn costs(plan: &Plan) -> Vec<String> {
    let pay = |a: Decimal| glued(&amount::price(a, plan.currency));
    let mut out = Vec::new();
    out.push(match plan.cost {
        Some(cost) => format!(
            "What is eaten, less what was at home: {}, {} a day.",
            pay(cost),
            pay(cost / Decimal::from(plan.days.len().max(1)))
        ),
        None => "Not known: not everything that is eaten has a price.".into(),
    });
    if let Some(till) = plan.till {
        let over = plan.cost.map(|c| till - c).filter(|rest| *rest > Decimal::ZERO);
        let over = over.map_or_else(String::new, |rest| {
            format!(", of which {} is left over in packs (see the list)", pay(rest))
        });
        out.push(format!("At the till, in whole packs: {}{over}.", pay(till)));
    }
    let Some(budget) = plan.budget else { return out };
    let against = |what: &str, spent: Decimal| {
        let rest = budget - spent;
        if rest.is_sign_negative() {
            format!("; {what} passes it by {}", pay(-rest))
        } else {
            format!("; {what} leaves {} of it", pay(rest))
        }
    };
    let eaten = plan
        .cost
        .map_or_else(String::new, |c| against("what is eaten", c));
    let till = plan.till.map_or_else(String::new, |t| against("the till", t));
    out.push(format!("Budget: {}{eaten}{till}.", pay(budget)));
    out
}

/// The value reached, and what is proven of it.
pub(crate) fn how_good(plan: &Plan) -> String {
    let s = &plan.search;
    let is_money = s.objective == "cost";
    let at_least = |b: f64| glued(&amount::lower_bound(b, &s.unit, is_money));
    let aim = match s.objective {
        "cost" => "cost",
        "closeness" => "distance from the centre of the targets",
        "usual" => "distance from the usual week",
        "swap" => "distance from the plan that was",
        other => other,
    };
    let proof = match (s.proved, s.bound, s.gap) {
        (true, ..) => "This is the proven lowest.".to_string(),
        (false, Some(bound), _) if bound <= 1e-9 => {
            "The proven bound is 0, which does not tell how far from the lowest it is.".to_string()
        }
        (false, Some(bound), Some(gap)) => format!(
            "No plan comes under {} (proven): the gap to the lowest there can be is at most {}.",
            at_least(bound),
            glued(&amount::at_most(gap))
        ),
        (false, Some(bound), None) => format!("No plan comes under {} (proven).", at_least(bound)),
        (false, None, _) => "No lower bound was proven.".to_string(),
    };
    // The model adds binary fractions, the plan decimals; they differ by less than a cent or two.
    let value = match plan
        .cost
        .filter(|c| is_money && c.to_f64().is_some_and(|c| (c - s.value).abs() < s.value * 1e-4))
    {
        Some(cost) => glued(&amount::price(cost, plan.currency)),
        None => glued(&amount::objective(s.value, &s.unit, is_money)),
    };
    let what = if plan.planned {
        "Lowest found"
    } else {
        "The nearest has"
    };
    let second = s
        .second
        .as_ref()
        .map_or_else(String::new, |o| second(o, s, plan.planned));
    format!(
        "{what}: {aim} {value}. {proof} {} moves, seed {}.{second}",
        s.moves, s.seed
    )
}

/// What a second solver said, as a sentence after others.
fn second(o: &Second, s: &SearchReport, planned: bool) -> String {
    let took = glued(&format!("{:.0} s", o.seconds));
    let bound = || match o.bound {
        Some(b) if b > 1e-9 => format!(
            "its own bound is {}",
            glued(&amount::lower_bound(b, &s.unit, s.objective == "cost"))
        ),
        _ => "it has no bound of its own".into(),
    };
    let what = match o.verdict {
        Verdict::Proved => "proves that none is lower".into(),
        Verdict::ImprovedAndProved => {
            "found this plan, lower than the search's, and proves that none is lower".into()
        }
        Verdict::Improved => format!(
            "found this plan, lower than the search's, within {took}; {}",
            bound()
        ),
        Verdict::NothingLower if planned => format!("found nothing lower within {took}; {}", bound()),
        Verdict::NothingLower => format!("found no plan within {took} either"),
        Verdict::NoPlan => "proves that no plan in whole servings exists".into(),
        Verdict::NoAnswer => "gave no answer that could be checked".into(),
    };
    format!(" Second opinion: {} {what}.", o.solver)
}

/// Neighbours of one nutrient and scope in one line, when one has the floor and the other the ceiling.
pub(crate) fn joined(standings: &[Standings]) -> Vec<Standings> {
    let mut lines: Vec<Standings> = Vec::new();
    for s in standings {
        let fits = |l: &&mut Standings| {
            let (a, b) = (&l.target, &s.target);
            a.nutrient == b.nutrient
                && a.scope == b.scope
                && a.from_brief == b.from_brief
                && !(a.floor.is_some() && b.floor.is_some())
                && !(a.ceiling.is_some() && b.ceiling.is_some())
        };
        match lines.last_mut().filter(fits) {
            Some(l) => {
                l.target.floor = l.target.floor.or(s.target.floor);
                l.target.ceiling = l.target.ceiling.or(s.target.ceiling);
                l.shortfall = l.shortfall.max(s.shortfall);
                l.excess = l.excess.max(s.excess);
            }
            None => lines.push(s.clone()),
        }
    }
    lines
}

/// What was reached: the mean, or the lowest and highest day or meal.
pub(crate) fn reached(s: &Standings) -> String {
    let show = |v: f64| amount::bare(s.target.nutrient, v);
    let (low, high) = (show(s.range.0), show(s.range.1));
    if !(s.range.0.is_finite() && s.range.1.is_finite()) {
        "-".into()
    } else if s.target.scope == Scope::Mean {
        show(s.mean)
    } else if low == high {
        low
    } else {
        format!("{low}..{high}")
    }
}

pub(crate) fn verdict(s: &Standings) -> String {
    let mut words = Vec::new();
    if s.shortfall > 0.0 {
        words.push(format!(
            "short by {}",
            amount::bare(s.target.nutrient, s.shortfall)
        ));
    }
    if s.excess > 0.0 {
        words.push(format!("over by {}", amount::bare(s.target.nutrient, s.excess)));
    }
    if words.is_empty() {
        words.push("met".into());
    }
    if s.known < 1.0 - 1e-9 {
        words.push(format!("known {}", amount::percent(s.known)));
    }
    words.join(", ")
}

/// How much to buy: packs, pieces or a mass.
pub(crate) fn shop_amount(p: &Purchase, units: Units) -> String {
    let mass = |g: f64| glued(&amount::mass(g, units));
    if p.buy_grams < 0.05 {
        return "nothing to buy".into();
    }
    match (p.packs, p.pack_grams, p.piece_grams.filter(|g| *g > 0.0)) {
        (Some(n), Some(pack), Some(piece)) if whole(pack / piece) => {
            format!(
                "{} of {} ({})",
                counted(n as usize, "pack"),
                (pack / piece).round(),
                mass(pack)
            )
        }
        (Some(n), Some(pack), _) => format!("{} of {}", counted(n as usize, "pack"), mass(pack)),
        (_, _, Some(g)) => format!(
            "{} ({})",
            counted((p.buy_grams / g).round() as usize, "piece"),
            mass(p.buy_grams)
        ),
        _ => mass(p.buy_grams),
    }
}

/// A product that keeps no longer than this is marked, so that it is bought near the day. A design choice.
const SOON_DAYS: u32 = 3;

/// Explains [`soon`].
pub(crate) const SOON: &str = "soon: keeps three days or less, buy it near the day named";

/// Whether a line is nothing to buy: what is at home is enough.
pub(crate) fn all_at_home(p: &Purchase) -> bool {
    p.buy_grams < 0.5 && p.home_grams > 0.0
}

/// The mark of what does not keep: `soon: day 3`.
pub(crate) fn soon(p: &Purchase) -> Option<String> {
    (p.keeps_days <= SOON_DAYS && !all_at_home(p)).then(|| glued(&format!("soon: day {}", p.first_day)))
}

/// What else there is to say of a line: what is needed, at home, left over.
pub(crate) fn left_and_home(p: &Purchase, units: Units) -> String {
    let mass = |g: f64| glued(&amount::mass(g, units));
    let mut words = Vec::from_iter(soon(p));
    if (p.needed_grams - p.buy_grams).abs() >= 0.5 {
        words.push(format!("needs {}", mass(p.needed_grams)));
    }
    if p.home_grams > 0.0 {
        words.push(format!("{} from home", mass(p.home_grams)));
    }
    if p.left_over_grams >= 0.5 {
        words.push(format!("{} left", mass(p.left_over_grams)));
    }
    if p.cost.is_none() {
        words.push("no price".into());
    }
    words.join(", ")
}

fn whole(value: f64) -> bool {
    value >= 1.0 && (value - value.round()).abs() < 0.01
}

pub(crate) fn counted(n: usize, noun: &str) -> String {
    format!(
        "{n} {}",
        if n == 1 {
            noun.to_string()
        } else {
            amount::plural(noun)
        }
    )
}

/// The text with spaces at which [`wrap`] does not break.
pub(crate) fn glued(text: &str) -> String {
    text.replace(' ', "\u{a0}")
}

pub(crate) fn capital(word: &str) -> String {
    let mut chars = word.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// What holds for everybody and what for the person alone; empty without a household.
pub(crate) fn for_everybody(plan: &Plan) -> String {
    if plan.household.is_empty() {
        return String::new();
    }
    format!(
        "These meals are for {} portions. Meals, totals and the cost of a day are the portion of the person of the brief; the cost in all, the till, the budget and the lists of shopping and cooking are for everybody.",
        amount::decimals(plan.portions(), 2)
    )
}

/// A sentence or two for each member: portion, energy, share of the cost, what is not met.
pub(crate) fn household(plan: &Plan) -> Vec<String> {
    plan.household.iter().map(|e| member(plan, e)).collect()
}

fn member(plan: &Plan, e: &Eater) -> String {
    if !e.stopped.is_empty() {
        return format!(
            "{}: not planned for, a safety rule stops the phase: {}",
            e.title,
            e.stopped.join(" ")
        );
    }
    let mut text = format!(
        "{}: {} of each amount, for {} a day to eat",
        e.title,
        glued(&amount::percent(e.portion)),
        glued(&amount::kcal(e.intake_kcal))
    );
    if let Some(c) = e.cost {
        text += &format!("; {} of the cost", glued(&amount::price(c, plan.currency)));
    }
    let missed = |strength: Strength| {
        joined(&e.standings)
            .iter()
            .filter(|s| !s.met() && s.target.strength == strength)
            .map(|s| {
                format!(
                    "{} ({}, {})",
                    glued(s.target.nutrient.name()),
                    scope(s.target.scope),
                    verdict(s)
                )
            })
            .collect::<Vec<_>>()
            .join(", ")
    };
    let (must, should) = (missed(Strength::Must), missed(Strength::Should));
    text += &match (must.is_empty(), should.is_empty()) {
        (true, true) => ". All of their floors and ceilings are met.".into(),
        (true, false) => format!(". All that must hold is met; not met: {should}."),
        (false, true) => format!(". Of what must hold, not met: {must}."),
        (false, false) => format!(". Of what must hold, not met: {must}; also not met: {should}."),
    };
    text
}
