//! How the phase goes by the weigh-ins, and the week that follows from it.

use super::log::Kept;
use super::{Here, care, drawn};
use crate::page::folder::Refusal;
use crate::page::frame::{Room, messages};
use crate::report::review::{
    ERROR, NOISE, SCALE, chart, check, expenditures, holding, moved, next_words, outliers, rate, stops,
    where_it_stands,
};
use crate::report::words::capital;
use crate::review::log::{Day, Log, date};
use crate::review::{Found, Next, Review, brought_up_to, next_review, review};
use maud::{Markup, html};

/// The text of the brief that follows from the log as it stands.
pub(super) fn next(here: &Here, kept: &Kept) -> Result<String, Refusal> {
    let none = || Refusal::Wrong("there is no next week to write: see the review".into());
    let told = |problems| Refusal::Mistakes(kept.text.clone(), problems);
    let (log, _) = kept
        .log(here.brief.person.weight)
        .ok_or_else(none)?
        .map_err(told)?;
    let made = review(&here.brief, &here.sheet.text, &log, None).map_err(told)?;
    let next = made.next.filter(|n| !stops(&n.energy.gates)).ok_or_else(none)?;
    Ok(next.brief)
}

pub(super) fn section(here: &Here, kept: &Kept, today: Day) -> Markup {
    let Some(Ok((log, _))) = kept.log(here.brief.person.weight) else {
        return html! {};
    };
    let text = &here.sheet.text;
    let follows = brought_up_to(text).filter(|day| log.entries.last().is_none_or(|e| e.day <= *day));
    html! {
        section aria-labelledby="review" {
            h2 #review { "How it goes" }
            @if let Some(day) = follows {
                p { "The brief follows the weigh-ins until " (date(day)) " already. The weigh-ins after that day are for the next review." }
                (again(here, &log, today))
            } @else {
                @match review(&here.brief, text, &log, None) {
                    Err(problems) => (messages("", &problems)),
                    Ok(r) => (told(here, kept, &log, &r, today)),
                }
            }
        }
    }
}

/// When to review next.
fn again(here: &Here, log: &Log, today: Day) -> Markup {
    html! {
        @if let Some(day) = next_review(&here.brief, &here.sheet.text, log, today) {
            p.again {
                @if day == today { strong { "A review is due today." } } @else { strong { "Next review on " (date(day)) "." } }
                " " span.fine { "At the end of a week of the phase, once there are four weigh-ins a week over three weeks." }
            }
        }
    }
}

fn told(here: &Here, kept: &Kept, log: &Log, r: &Review, today: Day) -> Markup {
    html! {
        p.lead { (capital(r.standing.words())) "." }
        p { (where_it_stands(r)) " The phases are counted from " (date(r.start)) "." }
        @if !r.lacking.is_empty() {
            h3 { "Too little data" }
            ul { @for what in &r.lacking { li { (what) } } }
            p { (NOISE) }
        }
        (again(here, log, today))
        @if !r.weigh_ins.is_empty() { figure { (drawn(&chart(r).svg())) } }
        @if let Some(f) = &r.found { (found(f)) }
        @if let Some(n) = &r.next { (follows(here, kept, n)) }
        details open[r.notes.iter().any(|n| n.contains("cannot be brought"))] {
            summary { "Remarks" }
            @for note in &r.notes { p { (note) } }
            @if let Some(words) = outliers(r) { p { (words) } }
            p { (SCALE) }
        }
    }
}

fn found(f: &Found) -> Markup {
    html! {
        h3 { "Trend, without the modelled water" }
        p { (rate(f)) "." @if let Some(words) = check(f) { " " span.fine { (capital(&words)) "." } } }
        p { (moved(f)) }
        h3 { "Expenditure over these days" }
        table.figures {
            thead { tr { th scope="col" { "From" } th.n scope="col" { "kcal a day" } th.n scope="col" { "±" } } }
            tbody { @for (what, kcal, error) in expenditures(f) { tr { th scope="row" { (capital(what)) } td.n { (kcal) } td.n { (error) } } } }
        }
        p.fine { (ERROR) }
        p { (holding(f)) }
    }
}

fn follows(here: &Here, kept: &Kept, n: &Next) -> Markup {
    let words = next_words(n);
    let action = format!("{}/next", Room::Months.of(&here.sheet.name));
    html! {
        h3 #next { "Next week" }
        @for (i, w) in words.iter().enumerate() { p.lead[i == 0] { (capital(w)) @if !w.ends_with('.') { "." } } }
        @if !n.energy.gates.is_empty() { (care(&n.energy.gates)) }
        @if !stops(&n.energy.gates) {
            p { "This changes in the brief; all else in it stays, and it can be taken back." }
            (changes(&here.sheet.text, &n.brief))
            form method="post" action=(action) {
                input type="hidden" name="seen" value=(here.sheet.digest);
                input type="hidden" name="log" value=(kept.digest);
                button.main #follow data-waiting="Writing …" { "Write it, and plan next week from it" }
            }
        }
    }
}

/// Lines that go and lines that come, in order.
fn changes(old: &str, new: &str) -> Markup {
    let (old, new): (Vec<&str>, Vec<&str>) = (old.lines().collect(), new.lines().collect());
    html! {
        div.wide tabindex="0" role="group" aria-label="Lines of the brief that change" {
            table.changes {
                thead { tr { th scope="col" { "Line" } th scope="col" { "of the brief" } } }
                tbody {
                    @for change in difference(&old, &new) {
                        @match change {
                            Line::Goes(text) => tr.goes { th scope="row" { "goes" } td { del { (text) } } },
                            Line::Comes(text) => tr.comes { th scope="row" { "comes" } td { ins { (text) } } },
                        }
                    }
                }
            }
        }
    }
}

#[derive(Debug, PartialEq)]
enum Line<'a> {
    Goes(&'a str),
    Comes(&'a str),
}

/// What is not in a longest common sequence of lines; lines of nothing are left out.
fn difference<'a>(old: &[&'a str], new: &[&'a str]) -> Vec<Line<'a>> {
    let (n, m) = (old.len(), new.len());
    let mut common = vec![vec![0_usize; m + 1]; n + 1];
    for i in (0..n).rev() {
        for j in (0..m).rev() {
            common[i][j] = if old[i] == new[j] {
                common[i + 1][j + 1] + 1
            } else {
                common[i + 1][j].max(common[i][j + 1])
            };
        }
    }
    let (mut i, mut j) = (0, 0);
    let mut out = Vec::new();
    while i < n || j < m {
        if i < n && j < m && old[i] == new[j] {
            (i, j) = (i + 1, j + 1);
        } else if j == m || i < n && common[i + 1][j] >= common[i][j + 1] {
            out.push(Line::Goes(old[i]));
            i += 1;
        } else {
            out.push(Line::Comes(new[j]));
            j += 1;
        }
    }
    out.retain(|l| !matches!(l, Line::Goes(t) | Line::Comes(t) if t.trim().is_empty()));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_changes_is_told() {
        let old = ["a", "b", "", "c", "d"];
        let new = ["# n", "a", "x", "", "d"];
        assert_eq!(
            difference(&old, &new),
            [
                Line::Comes("# n"),
                Line::Goes("b"),
                Line::Comes("x"),
                Line::Goes("c")
            ]
        );
        assert_eq!(difference(&old, &old), []);
    }
}
