//! What the phases will do.

use super::{Here, care, drawn};
use crate::forecast::{Band, Forecast, forecast, kind_word};
use crate::page::frame::{Room, escaped, messages};
use crate::report::amount::{fixed, signed, styled};
use crate::report::forecast::{
    BAND, OLD_RULE, PROMISE, Show, WATER, chart, compared, index, range, trained, when,
};
use crate::report::form::style;
use maud::{Markup, html};

/// What the chart can show: as an address says it, in words, and for the chart.
const SHOWN: [(&str, &str, Show); 4] = [
    ("weight", "Weight", Show::Weight),
    ("fat", "Fat", Show::Fat),
    ("lean", "Fat-free mass", Show::FatFree),
    ("energy", "Energy spent and eaten", Show::Energy),
];

pub(super) fn section(here: &Here, show: &str) -> Markup {
    let made = forecast(&here.brief);
    html! {
        section aria-labelledby="ahead" {
            h2 #ahead { "The weeks ahead" }
            @match &made {
                Err(problems) => {
                    p { "No forecast can be made of this brief as it is." }
                    (messages(&here.sheet.text, problems))
                }
                Ok(f) => (styled(style(&here.brief), || told(here, f, show)))
            }
        }
    }
}

fn band(b: &Band) -> Markup {
    html! { (fixed(b.middle, 1)) " " span.band { (range(b)) } }
}

fn told(here: &Here, f: &Forecast, show: &str) -> Markup {
    let (word, _, shown) = SHOWN.into_iter().find(|s| s.0 == show).unwrap_or(SHOWN[0]);
    let address = Room::Months.of(&here.sheet.name);
    let file = |ending: &str| format!("/b/{}/lists/file/forecast.{ending}", escaped(&here.sheet.name));
    html! {
        @if let (Some(first), Some(last)) = (f.weeks.first(), f.weeks.last()) {
            p.lead {
                "After " (last.week) " weeks " strong { (fixed(last.weight.middle, 1)) " kg" } ", likely "
                (fixed(last.weight.low, 1)) " to " (fixed(last.weight.high, 1)) " kg; now " (fixed(first.weight.middle, 1)) " kg."
            }
        }
        @for (n, p) in f.phases.iter().enumerate().filter(|(_, p)| !p.gates.is_empty()) {
            h3 { "Care: phase " (n + 1) " (" (kind_word(p.kind)) ")" }
            (care(&p.gates))
        }
        form.row.chooser method="get" action=(address) hx-get=(address) hx-trigger="change" hx-target="#ahead-chart" hx-select="#ahead-chart" hx-swap="outerHTML" {
            label for="show" { "The chart shows" }
            select #show name="show" { @for (w, words, _) in SHOWN { option value=(w) selected[w == word] { (words) } } }
            noscript { button { "Show" } }
        }
        figure #ahead-chart {
            (drawn(&chart(f, shown).svg()))
            figcaption.fine { (BAND) }
        }
        div.wide tabindex="0" role="group" aria-label="Table of the phases" {
            table {
                caption { "Phases" }
                thead { tr { th scope="col" { "Phase" } th scope="col" { "Weeks" } th.n scope="col" { "Spends at its start, kcal" } th.n scope="col" { "Eats, kcal" } th.n scope="col" { "Weight, kg" } th.n scope="col" { "Fat, kg" } } }
                tbody {
                    @for (n, p) in f.phases.iter().enumerate() {
                        tr {
                            th scope="row" { (n + 1) " " (kind_word(p.kind)) }
                            td { (p.first_week) " to " (p.first_week + p.weeks - 1) }
                            td.n { (fixed(p.holding, 0)) }
                            td.n { (fixed(p.intake, 0)) }
                            td.n { (fixed(p.weight.0, 1)) " to " (fixed(p.weight.1, 1)) }
                            td.n { (fixed(p.fat.0, 1)) " to " (fixed(p.fat.1, 1)) }
                        }
                    }
                }
            }
        }
        details {
            summary { "Week by week, with the band of eight in ten" }
            (weeks(f))
            p.row { a href=(file("csv")) download { "This table as a file" } a href={ (file("svg")) "?show=" (word) } download { "The chart as a file" } }
        }
        details {
            summary { "Milestones, the water of the first weeks, and what the figures rest on" }
            (rest(f))
        }
    }
}

fn weeks(f: &Forecast) -> Markup {
    html! {
        div.wide tabindex="0" role="group" aria-label="Table of the weeks" {
            table {
                thead { tr { th scope="col" { "Week" } th scope="col" { "Phase" } th.n scope="col" { "Weight, kg" } th.n scope="col" { "Fat, kg" } th.n scope="col" { "Lean, kg" } th.n scope="col" { "Spends, kcal" } th.n scope="col" { "Eats, kcal" } } }
                tbody {
                    @for w in &f.weeks {
                        tr {
                            th scope="row" { (w.week) }
                            td { @if w.week > 0 { @if let Some(p) = f.phases.get(w.phase) { (kind_word(p.kind)) } } @else { "start" } }
                            td.n { (band(&w.weight)) }
                            td.n { (band(&w.fat)) }
                            td.n { (band(&w.fat_free)) }
                            td.n { (fixed(w.expenditure.middle, 0)) }
                            td.n { @if w.week == 0 { "–" } @else { (fixed(w.intake, 0)) } }
                        }
                    }
                }
            }
        }
        p.fine { "Lean is all that is not fat, with its water. Intakes are taken as never corrected; a weekly review narrows the band." }
    }
}

fn rest(f: &Forecast) -> Markup {
    html! {
        h3 { "Milestones" }
        ul { @for m in &f.milestones { li { (when(m.day)) ": " (fixed(m.weight, 1)) " kg, " (m.what) } } }
        @if let Some(words) = trained(f) { h3 { "Resistance training (a proposal of this project)" } p { (words) } }
        h3 { "What the scale does first, kg since the start of a phase" }
        div.wide tabindex="0" role="group" aria-label="Table of the first weeks" {
            table {
                thead { tr { th scope="col" { "Phase" } th.n scope="col" { "After days" } th.n scope="col" { "Scale" } th.n scope="col" { "Fat" } th.n scope="col" { "Lean" } th.n scope="col" { "Glycogen and its water" } th.n scope="col" { "Fluid" } } }
                tbody {
                    @for p in &f.first_weeks {
                        tr { th scope="row" { (p.phase + 1) } td.n { (p.day) } @for kg in [p.weight, p.fat, p.lean, p.glycogen, p.fluid] { td.n { (signed(kg, 1)) } } }
                    }
                }
            }
        }
        p.fine { (WATER) }
        h3 { "To compare" }
        ul { @for words in compared(f) { li { (words) } } }
        p.fine { (OLD_RULE) }
        h3 { "Body fat at the start" }
        (estimates(&f.estimates))
        @if let Some(words) = index(f) { p { (words) } }
        h3 { "What this is" }
        @for note in &f.notes { p { (note) } }
        p { (PROMISE) }
    }
}

/// Body fat used and what other published ways give.
pub(super) fn estimates(all: &[crate::energy::composition::Estimate]) -> Markup {
    html! {
        ul { @for e in all {
            li {
                @if e.used { strong { "Used: " } }
                (e.name) ", " (fixed(e.fat_percent, 1)) " % ± " (fixed(e.error_points, 1)) " points. "
                span.fine { (e.note) ". " (e.source) }
            }
        } }
    }
}
