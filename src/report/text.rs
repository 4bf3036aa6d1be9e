//! A plan as plain text of at most 80 columns.
//!
//! Takes a [`Plan`] with the units of the shop, gives lines. All rounding is done by
//! [`amount`]; a mark that needs explaining is explained where it stands.

use crate::brief::Scope;
use crate::nutrient::Nutrient;
use crate::plan::{Day, Plan, Purchase, Standings};
use crate::report::amount::{self, Units};
use crate::targets::Strength;
use itertools::Itertools;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// Columns of a line at most.
pub const WIDTH: usize = 80;

/// The plan as text, each line at most [`WIDTH`] columns.
///
/// A plan that misses what must hold says so first and is headed as the nearest, not a plan.
pub fn plan(plan: &Plan, units: Units) -> String {
    let mut page = Page::default();
    head(&mut page, plan, units);
    if !plan.planned {
        not_planned(&mut page, plan);
    }
    // A safety rule can stop a brief before any day is planned.
    if !plan.days.is_empty() {
        for day in &plan.days {
            one_day(&mut page, plan, day);
        }
        standings(&mut page, plan);
        cost(&mut page, plan);
        search(&mut page, plan);
        shopping(&mut page, plan, units);
    }
    if !plan.cautions.is_empty() {
        page.heading("Cautions");
        for c in &plan.cautions {
            page.entry(&c.text);
        }
    }
    page.text
}

fn head(page: &mut Page, plan: &Plan, units: Units) {
    page.line(0, 0, &plan.title);
    let energy = &plan.energy;
    let days = counted(plan.days.len(), "day");
    let kcal = |v: f64| glued(&amount::kcal(v));
    page.line(
        0,
        2,
        &format!(
            "Kitchen {}, {days}, {} a day to eat.",
            plan.kitchen,
            kcal(energy.intake.0)
        ),
    );
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
        amount::decimals(energy.expenditure.low.0, 0),
        kcal(energy.expenditure.high.0),
    );
    if let Some(rate) = energy.rate_kg_per_week {
        text += &format!(" Expected change: {}.", glued(&amount::weekly(rate, units)));
    }
    page.line(0, 2, &text);
}

fn not_planned(page: &mut Page, plan: &Plan) {
    page.heading("No plan meets everything");
    if plan.conflict.is_empty() {
        let moves = plan.search.moves;
        let fractions = if plan.search.bound.is_some() {
            "In fractions of servings all of it can hold; only whole servings stand against it. "
        } else {
            ""
        };
        page.line(0, 0, &format!("{fractions}Whole servings found none within {moves} moves. That does not prove that there is none: a looser bound or more moves may help."));
    } else {
        let together = if plan.conflict.len() > 1 {
            "These cannot hold together; give way in one of them:"
        } else {
            "This cannot hold:"
        };
        page.line(0, 0, together);
        for c in &plan.conflict {
            let reason = if c.reason.is_empty() {
                String::new()
            } else {
                format!(": {}", c.reason)
            };
            page.entry(&format!("{}{reason}", c.group));
        }
    }
    super::why::ways(page, &plan.ways, plan.currency.map(|c| c.to_string()));
    if !plan.misses.is_empty() {
        page.line(0, 0, "What the nearest week misses:");
        for m in &plan.misses {
            page.entry(&format!(
                "{} (of {}): by {}, it comes to {}",
                m.row,
                m.group,
                amount::percent(m.share),
                amount::figure(m.activity)
            ));
        }
    }
    if plan.days.is_empty() {
        return;
    }
    page.heading("NEAREST, NOT A PLAN");
    page.line(
        0,
        0,
        "What follows comes nearest; it does not keep all that must hold.",
    );
}

fn one_day(page: &mut Page, plan: &Plan, day: &Day) {
    page.heading(&format!("Day {}", day.day));
    for meal in &day.meals {
        let energy: f64 = meal.items.iter().map(|i| i.kcal).sum();
        let title = format!("{}: {}", meal.slot_name, meal.form);
        page.row(
            2,
            &[Cell::left(&title, 67), Cell::right(&amount::kcal(energy), 10)],
        );
        for item in &meal.items {
            page.row(
                4,
                &[
                    Cell::left(&item.name, 31),
                    Cell::left(&amount::household(&item.serving, item.servings), 23),
                    Cell::right(&amount::grams(item.grams), 9),
                    Cell::right(&amount::kcal(item.kcal), 10),
                ],
            );
        }
    }
    let total = |n: Nutrient| amount::nutrient(n, day.totals.get(n.index()).copied().unwrap_or(0.0));
    let mut parts = vec![format!("Day {}: {}", day.day, total(Nutrient::ENERGY))];
    for n in [
        Nutrient::PROTEIN,
        Nutrient::FAT,
        Nutrient::CARBOHYDRATE,
        Nutrient::FIBRE,
    ] {
        parts.push(format!("{} {}", n.name(), total(n)));
    }
    parts.extend(day.cost.map(|c| amount::price(c, plan.currency)));
    page.line(2, 4, &parts.iter().map(|p| glued(p)).join(", "));
}

fn standings(page: &mut Page, plan: &Plan) {
    if plan.standings.is_empty() {
        return;
    }
    page.heading(if plan.days.len() == 7 {
        "The week against its floors and ceilings"
    } else {
        "The days against their floors and ceilings"
    });
    let widths = |t: &[&str; 6]| -> Vec<Cell> {
        vec![
            Cell::left(t[0], 25),
            Cell::right(t[1], 12),
            Cell::right(t[2], 7),
            Cell::right(t[3], 7),
            Cell::left(t[4], 4),
            Cell::left(t[5], 18),
        ]
    };
    page.row(2, &widths(&["", "reached", "floor", "ceiling", "", ""]));
    for s in &joined(&plan.standings) {
        let t = &s.target;
        let scope = match t.scope {
            Scope::Mean => "mean",
            Scope::Day => "each day",
            Scope::Meal => "each meal",
        };
        let name = format!(
            "{}, {scope}{}",
            t.nutrient.name(),
            if t.from_brief { " *" } else { "" }
        );
        let bound = |b: Option<f64>| b.map_or_else(String::new, |b| bare(t.nutrient, b));
        page.row(
            2,
            &widths(&[
                &name,
                &reached(s),
                &bound(t.floor),
                &bound(t.ceiling),
                t.nutrient.unit().label(),
                &verdict(s),
            ]),
        );
    }
    if plan.standings.iter().any(|s| s.target.from_brief) {
        page.line(2, 4, "* set by the brief");
    }
    let weak = plan
        .standings
        .iter()
        .filter(|s| !s.met() && s.target.strength == Strength::Should)
        .map(|s| glued(s.target.nutrient.name()))
        .unique()
        .join(", ");
    if !weak.is_empty() {
        page.line(2, 4, &format!("Not met, though not a must: {weak}."));
    }
}

/// A figure without its unit; energy in whole kcal.
fn bare(nutrient: Nutrient, value: f64) -> String {
    if nutrient == Nutrient::ENERGY {
        amount::decimals(value, 0)
    } else {
        amount::figure(value)
    }
}

/// Neighbours of one nutrient and scope in one line, when one has the floor and the other the ceiling.
fn joined(standings: &[Standings]) -> Vec<Standings> {
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
fn reached(s: &Standings) -> String {
    let show = |v: f64| bare(s.target.nutrient, v);
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

fn verdict(s: &Standings) -> String {
    let mut words = Vec::new();
    if s.shortfall > 0.0 {
        words.push(format!("short by {}", amount::figure(s.shortfall)));
    }
    if s.excess > 0.0 {
        words.push(format!("over by {}", amount::figure(s.excess)));
    }
    if words.is_empty() {
        words.push("met".into());
    }
    if s.known < 1.0 - 1e-9 {
        words.push(format!("known {}", amount::percent(s.known)));
    }
    words.join(", ")
}

fn cost(page: &mut Page, plan: &Plan) {
    page.heading("Cost");
    let pay = |a: Decimal| glued(&amount::price(a, plan.currency));
    match plan.cost {
        Some(cost) => {
            let days = Decimal::from(plan.days.len().max(1));
            page.line(
                2,
                4,
                &format!(
                    "What is eaten, less what was at home: {}, {} a day.",
                    pay(cost),
                    pay(cost / days)
                ),
            );
        }
        None => page.line(2, 4, "Not known: not everything that is eaten has a price."),
    }
    if let Some(till) = plan.till {
        let over = plan.cost.map(|c| till - c).filter(|rest| *rest > Decimal::ZERO);
        let over = over.map_or_else(String::new, |rest| {
            format!(", of which {} is left over in packs (see the list)", pay(rest))
        });
        page.line(
            2,
            4,
            &format!("At the till, in whole packs: {}{over}.", pay(till)),
        );
    }
    let Some(budget) = plan.budget else { return };
    let against = |what: &str, spent: Decimal| {
        let rest = budget - spent;
        if rest.is_sign_negative() {
            format!("{what} passes it by {}", pay(-rest))
        } else {
            format!("{what} leaves {} of it", pay(rest))
        }
    };
    let parts = [
        plan.cost.map(|c| against("what is eaten", c)),
        plan.till.map(|t| against("the till", t)),
    ];
    let parts = parts.into_iter().flatten().join("; ");
    page.line(
        2,
        4,
        &if parts.is_empty() {
            format!("Budget: {}.", pay(budget))
        } else {
            format!("Budget: {}; {parts}.", pay(budget))
        },
    );
}

fn search(page: &mut Page, plan: &Plan) {
    let s = &plan.search;
    page.heading("How good it is");
    let is_money = s.objective == "cost";
    let at_least = |b: f64| glued(&amount::lower_bound(b, &s.unit, is_money));
    let aim = match s.objective {
        "cost" => "cost",
        "closeness" => "distance from the centre of the targets",
        "usual" => "distance from the usual week",
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
    page.line(
        2,
        4,
        &format!(
            "{what}: {aim} {}. {proof} {} moves, seed {}.",
            value, s.moves, s.seed
        ),
    );
}

fn shopping(page: &mut Page, plan: &Plan, units: Units) {
    if plan.shopping.is_empty() {
        return;
    }
    let currency = plan
        .currency
        .map_or_else(String::new, |c| format!(", prices in {c}"));
    page.heading(&format!("Shopping list{currency}"));
    for (section, lines) in &plan.shopping.iter().chunk_by(|p| p.section.as_str()) {
        page.line(2, 4, &capital(section));
        for p in lines {
            let mark = if p.invented { " ~" } else { "  " };
            let cost = p.cost.map_or_else(|| "-".to_string(), amount::money) + mark;
            page.row(
                4,
                &[
                    Cell::left(&p.name, 23),
                    Cell::left(&buy(p, units), 18),
                    Cell::right(&glued(&cost), 10),
                    Cell::left(&note(p, units), 22),
                ],
            );
        }
    }
    if plan.shopping.iter().any(|p| p.invented) {
        page.line(
            2,
            4,
            "~ an invented price, since no published one was found: replace it with your own",
        );
    }
}

/// How much to buy: packs, pieces or a mass.
fn buy(p: &Purchase, units: Units) -> String {
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

fn note(p: &Purchase, units: Units) -> String {
    let mass = |g: f64| glued(&amount::mass(g, units));
    let mut words = Vec::new();
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

fn counted(n: usize, noun: &str) -> String {
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
fn glued(text: &str) -> String {
    text.replace(' ', "\u{a0}")
}

fn capital(word: &str) -> String {
    let mut chars = word.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// A cell of a row: text wrapped into a width.
struct Cell {
    lines: Vec<String>,
    width: usize,
    right: bool,
}

impl Cell {
    fn left(text: &str, width: usize) -> Cell {
        Cell {
            lines: wrap(text, width),
            width,
            right: false,
        }
    }
    fn right(text: &str, width: usize) -> Cell {
        Cell {
            lines: wrap(text, width),
            width,
            right: true,
        }
    }
}

/// Lines under way.
#[derive(Default)]
pub(super) struct Page {
    pub(super) text: String,
}

impl Page {
    pub(super) fn push(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    /// A heading with an empty line before it and a rule below.
    pub(super) fn heading(&mut self, text: &str) {
        self.push("");
        for line in wrap(text, WIDTH) {
            self.push(&line);
            self.push(&"-".repeat(line.width()));
        }
    }

    /// Wrapped text: the first line indented by `first`, the others by `rest`.
    pub(super) fn line(&mut self, first: usize, rest: usize, text: &str) {
        let deeper = first.max(rest);
        for (n, line) in wrap(text, WIDTH - deeper).into_iter().enumerate() {
            self.push(&format!(
                "{}{line}",
                " ".repeat(if n == 0 { first } else { rest })
            ));
        }
    }

    /// An entry of a list.
    pub(super) fn entry(&mut self, text: &str) {
        self.line(0, 2, &format!("- {text}"));
    }

    /// A row of cells, one space apart, as high as its highest cell.
    fn row(&mut self, indent: usize, cells: &[Cell]) {
        let height = cells.iter().map(|c| c.lines.len()).max().unwrap_or(0);
        for n in 0..height {
            let drawn = cells.iter().map(|c| {
                let text = c.lines.get(n).map_or("", String::as_str);
                let space = " ".repeat(c.width.saturating_sub(text.width()));
                if c.right {
                    format!("{space}{text}")
                } else {
                    format!("{text}{space}")
                }
            });
            let line = format!("{}{}", " ".repeat(indent), drawn.collect::<Vec<_>>().join(" "));
            self.push(&line);
        }
    }
}

/// Text in lines of at most `width` columns; a word that is too long is cut. One line at least.
/// No break at a no-break space, which becomes a plain one; control characters are left out.
pub(crate) fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut used = 0;
    for word in text
        .split(|c: char| c.is_whitespace() && c != '\u{a0}')
        .filter(|w| !w.is_empty())
    {
        let word: String = word
            .chars()
            .filter(|c| !c.is_control())
            .map(|c| if c == '\u{a0}' { ' ' } else { c })
            .collect();
        let size = word.width();
        if used > 0 && used + 1 + size <= width {
            if let Some(line) = lines.last_mut() {
                line.push(' ');
                line.push_str(&word);
            }
            used += 1 + size;
            continue;
        }
        if used > 0 {
            lines.push(String::new());
            used = 0;
        }
        for c in word.chars() {
            let w = c.width().unwrap_or(0);
            if used + w > width && used > 0 {
                lines.push(String::new());
                used = 0;
            }
            if let Some(line) = lines.last_mut() {
                line.push(c);
            }
            used += w;
        }
    }
    lines
}
