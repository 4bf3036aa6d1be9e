//! A plan as plain text of at most 80 columns.
//!
//! Takes a [`Plan`] with the units of the shop, gives lines. All rounding is done by
//! [`amount`]; a mark that needs explaining is explained where it stands.

use crate::nutrient::Nutrient;
use crate::plan::{Day, Plan};
use crate::report::amount::{self, Units};
use crate::report::words::{self, capital, glued, joined, left_and_home, reached, shop_amount, verdict};
use crate::targets::Strength;
use itertools::Itertools;
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
        cooking(&mut page, plan);
        household(&mut page, plan);
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
    page.line(0, 2, &words::days_and_intake(plan));
    page.line(0, 2, &words::expenditure(plan, units));
}

fn not_planned(page: &mut Page, plan: &Plan) {
    page.heading("No plan meets everything");
    page.line(0, 0, &words::why_not(plan));
    for c in words::conflicts(plan) {
        page.entry(&c);
    }
    if !plan.breaches.is_empty() {
        page.line(0, 0, words::AGAINST);
        for b in words::breaches(plan) {
            page.entry(&b);
        }
    }
    ways(page, words::plan_ways(plan));
    if !plan.misses.is_empty() {
        page.line(0, 0, words::MISSED);
        for m in words::misses(plan) {
            page.entry(&m);
        }
    }
    if plan.days.is_empty() {
        return;
    }
    page.heading("NEAREST, NOT A PLAN");
    page.line(0, 0, words::NEAREST);
}

pub(super) fn ways(page: &mut Page, ways: Vec<words::WaysOut>) {
    for kind in ways {
        page.line(0, 0, kind.head);
        for w in &kind.ways {
            page.entry(w);
        }
        if let Some(cost) = kind.all {
            page.line(0, 2, &cost);
        }
    }
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
            if let Some(pot) = words::from_pot(item) {
                page.line(6, 6, &pot);
            }
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

fn cooking(page: &mut Page, plan: &Plan) {
    if plan.cooking.is_empty() {
        return;
    }
    page.heading("Cooking list");
    for (day, lines) in &plan.cooking.iter().chunk_by(|c| c.day) {
        page.line(2, 2, &format!("Day {day}"));
        for c in lines {
            page.line(4, 6, &words::cooking_line(c));
        }
    }
}

fn household(page: &mut Page, plan: &Plan) {
    if plan.household.is_empty() {
        return;
    }
    page.heading("Household");
    page.line(2, 4, &words::for_everybody(plan));
    for sentence in words::household(plan) {
        page.line(2, 4, &sentence);
    }
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
        let scope = words::scope(t.scope);
        let name = format!(
            "{}, {scope}{}",
            t.nutrient.name(),
            if t.from_brief { " *" } else { "" }
        );
        let bound = |b: Option<f64>| b.map_or_else(String::new, |b| amount::bare(t.nutrient, b));
        page.row(
            2,
            &widths(&[
                &name,
                &reached(s),
                &bound(t.floor),
                &bound(t.ceiling),
                amount::unit(t.nutrient),
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

fn cost(page: &mut Page, plan: &Plan) {
    page.heading("Cost");
    for sentence in words::costs(plan) {
        page.line(2, 4, &sentence);
    }
}

fn search(page: &mut Page, plan: &Plan) {
    page.heading("How good it is");
    page.line(2, 4, &words::how_good(plan));
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
            let cost = p
                .cost
                .map_or_else(|| "-".to_string(), |c| amount::coins(c, plan.currency))
                + mark;
            page.row(
                4,
                &[
                    Cell::left(&p.name, 23),
                    Cell::left(&shop_amount(p, units), 18),
                    Cell::right(&glued(&cost), 10),
                    Cell::left(&left_and_home(p, units), 22),
                ],
            );
        }
    }
    if plan.shopping.iter().any(|p| words::soon(p).is_some()) {
        page.line(2, 4, words::SOON);
    }
    if plan.shopping.iter().any(|p| p.invented) {
        page.line(
            2,
            4,
            "~ an invented price, since no published one was found: replace it with your own",
        );
    }
}

/// A cell of a row: text wrapped into a width.
pub(crate) struct Cell {
    lines: Vec<String>,
    width: usize,
    right: bool,
}

impl Cell {
    pub(crate) fn left(text: &str, width: usize) -> Cell {
        Cell {
            lines: wrap(text, width),
            width,
            right: false,
        }
    }
    pub(crate) fn right(text: &str, width: usize) -> Cell {
        Cell {
            lines: wrap(text, width),
            width,
            right: true,
        }
    }
}

/// Lines under way.
#[derive(Default)]
pub(crate) struct Page {
    pub(crate) text: String,
}

impl Page {
    pub(super) fn push(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    /// A heading with an empty line before it and a rule below.
    pub(crate) fn heading(&mut self, text: &str) {
        self.push("");
        for line in wrap(text, WIDTH) {
            self.push(&line);
            self.push(&"-".repeat(line.width()));
        }
    }

    /// Wrapped text: the first line indented by `first`, the others by `rest`.
    pub(crate) fn line(&mut self, first: usize, rest: usize, text: &str) {
        let deeper = first.max(rest);
        for (n, line) in wrap(text, WIDTH - deeper).into_iter().enumerate() {
            self.push(&format!(
                "{}{line}",
                " ".repeat(if n == 0 { first } else { rest })
            ));
        }
    }

    /// An entry of a list.
    pub(crate) fn entry(&mut self, text: &str) {
        self.line(0, 2, &format!("- {text}"));
    }

    /// A row of cells, one space apart, as high as its highest cell.
    pub(crate) fn row(&mut self, indent: usize, cells: &[Cell]) {
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
