//! The frontier of one handle, or the map of two, as a drawing and as tables.

use super::handle::{Handle, Moves};
use crate::brief::Objective;
use crate::ready::{Larder, Ready};
use crate::report::amount::figure;
use crate::report::chart::Mark;
use crate::report::sweep as drawn;
use crate::report::why::shown;
use crate::why::Side;
use crate::why::sweep::{Question, Sweep, sweep};
use itertools::Itertools;
use maud::{Markup, PreEscaped, html};

/// Places along a frontier, and along each side of a map.
const PLACES: (usize, usize) = (31, 7);

/// The words that ask for a handle's whole range; `None` for one that no sweep knows.
fn words(h: &Handle, ready: &Ready, part: f64) -> Option<String> {
    let middle = h.now.unwrap_or((h.least + h.most) / 2.0);
    let (from, to) = (
        middle - (middle - h.least) * part,
        middle + (h.most - middle) * part,
    );
    Some(match h.moves {
        Moves::Budget => {
            let days = f64::from(ready.brief.days);
            let (money, per) = h.unit.split_once(['/', ' ']).unwrap_or((&h.unit, ""));
            // A budget of all days is asked for by the day.
            let (k, per) = match per.trim_start_matches("per ").trim_start_matches("a ") {
                "week" | "wk" | "w" => (1.0, "week"),
                "day" | "d" => (1.0, "day"),
                _ => (1.0 / days, "day"),
            };
            format!("budget {}..{} {money}/{per}", from * k, to * k)
        }
        Moves::Intake => format!("intake {from}..{to} kcal"),
        Moves::Bound(n, over, side) => {
            let (_, target) = super::handle::strictest(&ready.targets, n, over, side)?;
            let side = if side == Side::Floor { "floor" } else { "ceiling" };
            format!("{} {side} {from}..{to} {}", target.id, h.unit)
        }
    })
}

/// The sweep of one handle or two, from the brief with its handles where they are.
///
/// # Errors
/// Why it cannot be told, in words.
pub fn trace(larder: &Larder, ready: &Ready, one: &Handle, two: Option<&Handle>) -> Result<Sweep, String> {
    let pieces = ready
        .pieces(larder)
        .map_err(|problems| problems.iter().map(|d| d.message.clone()).join("; "))?;
    let energy = [Some(one), two]
        .iter()
        .flatten()
        .any(|h| h.moves == Moves::Intake);
    let close = ready.brief.objective == Objective::Closeness && !energy;
    let against = if close || pieces.prices.is_none() {
        "closeness"
    } else {
        "cost"
    };
    let mut failed = String::new();
    // Energy may reach a safety rule before the end of its range: then a part of it is asked for.
    for part in [1.0, 0.6, 0.3, 0.1] {
        let vary: Option<Vec<String>> = [Some(one), two]
            .into_iter()
            .flatten()
            .map(|h| words(h, ready, if h.moves == Moves::Intake { part } else { 1.0 }))
            .collect();
        let question = Question {
            vary: vary.ok_or("this bound is no longer there")?,
            against: against.into(),
            points: if two.is_some() { PLACES.1 } else { PLACES.0 },
            whole: 0,
        };
        match sweep(pieces, &question) {
            Ok(s) => return Ok(s),
            Err(e) => failed = e.what.trim_start_matches("--vary: ").to_string(),
        }
        if !energy {
            break;
        }
    }
    Err(failed)
}

/// A drawing without the styles it carries for use by itself: those of the page hold here.
fn bare(svg: &str) -> String {
    match (svg.find("<style>"), svg.find("</style>")) {
        (Some(a), Some(b)) if a < b => format!("{}{}", &svg[..a], &svg[b + "</style>".len()..]),
        _ => svg.to_string(),
    }
}

/// A sweep drawn, with what it says as text.
pub fn figure_of(s: &Sweep, one: &Handle, two: Option<&Handle>) -> Markup {
    if s.pieces.is_empty() && s.cells.is_empty() {
        return html! { p { "No plan exists anywhere in this range, even in fractions of servings." } };
    }
    if let Some(two) = two {
        return map(s, one, two);
    }
    let v = &s.varied[0];
    let mut chart = drawn::chart(s);
    let stretches = drawn::told(s);
    chart.lines[0].name = format!("lowest {}, servings in fractions", s.against);
    chart.title = format!("{} against {}", crate::report::words::capital(&s.against), v.name);
    if stretches.len() > 1 {
        chart.lines.push(crate::report::chart::Line {
            name: "something else takes over".into(),
            points: stretches.iter().skip(1).map(|t| t.from).collect(),
            dots: true,
            ..Default::default()
        });
    }
    // A budget of all days is asked for in another unit.
    if let Some(x) = one.now.filter(|_| v.unit == one.unit) {
        chart.marks.push(Mark {
            x,
            label: "in the brief".into(),
        });
    }
    html! {
        (PreEscaped(bare(&chart.svg())))
        h4 { "What binds along it, and what takes over where" }
        ol.stretches {
            @if let Some(x) = s.closed_below { li { "No plan below " (figure(x)) " " (shown(&v.unit)) "." } }
            @for t in &stretches { li { (t.head) ". " (crate::report::words::capital(&t.body)) "." } }
            @if let Some(x) = s.closed_above { li { "No plan above " (figure(x)) " " (shown(&v.unit)) "." } }
        }
        details {
            summary { "The same as a table" }
            div.wide tabindex="0" role="region" aria-label="Table of the frontier" {
                table {
                    thead { tr { th scope="col" { (v.name) ", " (shown(&v.unit)) } th.n scope="col" { (s.against) ", " (s.unit) } } }
                    tbody { @for (x, y) in &s.table { tr { th.n scope="row" { (figure(*x)) } td.n { (y.map_or_else(|| "no plan".into(), drawn::finer)) } } } }
                }
            }
        }
        (notes(s))
    }
}

fn notes(s: &Sweep) -> Markup {
    html! { p.fine { @for n in &s.notes { (n) " " } } }
}

fn map(s: &Sweep, one: &Handle, two: &Handle) -> Markup {
    let (v, w) = (&s.varied[0], &s.varied[1]);
    html! {
        div.wide tabindex="0" role="region" aria-label="Map" { (PreEscaped(bare(&drawn::svg(s)))) }
        p.fine { "In the brief: " (one.name()) " " (one.number()) " " (shown(&one.unit)) "; " (two.name()) " " (two.number()) " " (shown(&two.unit)) ". \"none\" means that no plan exists there." }
        details {
            summary { "The same as a table" }
            div.wide tabindex="0" role="region" aria-label="Table of the map" {
                table {
                    caption { (s.against) ", " (s.unit) "; across: " (v.name) ", " (shown(&v.unit)) "; down: " (w.name) ", " (shown(&w.unit)) }
                    thead { tr { td {} @for (x, _) in &s.table { th.n scope="col" { (figure(*x)) } } } }
                    tbody {
                        @for (y, cells) in s.second.iter().zip(&s.cells).rev() {
                            tr { th.n scope="row" { (figure(*y)) } @for c in cells { td.n { (c.map_or_else(|| "no plan".into(), drawn::finer)) } } }
                        }
                    }
                }
            }
        }
        (notes(s))
    }
}
