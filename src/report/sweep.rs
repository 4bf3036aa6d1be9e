//! A sweep as text with a chart, as CSV, JSON and SVG.
//!
//! Takes a [`Sweep`], gives text or a value. The chart is that of [`super::chart`].

use super::amount::{decimals, figure, significant};
use super::chart::{Axis, Chart, Line, Map, Mark};
use super::csv::DIGITS;
use super::json::{SCHEMA, number, optional};
use super::text::{Page, WIDTH};
use crate::why::sweep::{Piece, Sweep};
use serde_json::{Value, json};

/// Names told at a corner, at most.
const TOLD: usize = 3;

/// Pieces along which the same bounds cost something, first and last of each: there only foods change.
fn stretches(pieces: &[Piece]) -> Vec<(&Piece, &Piece)> {
    let mut out: Vec<(&Piece, &Piece)> = Vec::new();
    for p in pieces {
        match out.last_mut() {
            Some((first, last)) if new(first, p).is_empty() && new(p, first).is_empty() => *last = p,
            _ => out.push((p, p)),
        }
    }
    out
}

/// What binds on the second piece and not on the first.
fn new<'a>(before: &Piece, after: &'a Piece) -> Vec<&'a str> {
    after
        .binding
        .iter()
        .filter(|b| !before.binding.contains(b))
        .map(String::as_str)
        .collect()
}

fn listed(names: &[&str]) -> String {
    let mut text = names.iter().take(TOLD).copied().collect::<Vec<_>>().join("; ");
    if names.len() > TOLD {
        text += &format!("; and {} more", names.len() - TOLD);
    }
    text
}

/// A value of the frontier, so fine that neighbours differ.
pub(crate) fn finer(value: f64) -> String {
    decimals(value, if value.abs() < 10.0 { 3 } else { 2 })
}

/// A stretch along which the same bounds cost something.
pub(crate) struct Stretch {
    /// Where it begins: place and value.
    pub(crate) from: (f64, f64),
    /// Its ends and its slope.
    pub(crate) head: String,
    /// What binds besides on the first, what takes over on the others.
    pub(crate) body: String,
}

/// The stretches of a frontier in words.
pub(crate) fn told(s: &Sweep) -> Vec<Stretch> {
    let v = &s.varied[0];
    let stretches = stretches(&s.pieces);
    let slope = |v: f64| decimals(significant(v, 3), 6);
    let mut out = Vec::new();
    for (n, (p, last)) in stretches.iter().enumerate() {
        let slopes = if p.from == last.from {
            slope(p.slope)
        } else {
            format!("{} to {}", slope(p.slope), slope(last.slope))
        };
        let head = format!(
            "{} to {} {}: {slopes} {} for each {}",
            finer(p.from),
            finer(last.to),
            v.unit,
            s.unit,
            v.unit
        );
        let body = match n.checked_sub(1) {
            None if p.binding.is_empty() => "nothing else costs anything".into(),
            None => format!(
                "binding besides: {}",
                listed(&p.binding.iter().map(String::as_str).collect::<Vec<_>>())
            ),
            Some(before) => {
                let before = stretches[before].0;
                let (come, gone) = (new(before, p), new(p, before));
                let mut parts = Vec::new();
                if !come.is_empty() {
                    parts.push(format!("now binds: {}", listed(&come)));
                }
                if !gone.is_empty() {
                    parts.push(format!("no longer: {}", listed(&gone)));
                }
                if parts.is_empty() {
                    "other foods come in".into()
                } else {
                    parts.join(". ")
                }
            }
        };
        out.push(Stretch {
            from: (p.from, p.value_from),
            head,
            body,
        });
    }
    out
}

/// The sweep as text, each line at most 80 columns.
pub fn text(s: &Sweep) -> String {
    let mut page = Page::default();
    page.line(0, 2, &s.title);
    let v = &s.varied[0];
    if s.cells.is_empty() {
        page.line(
            0,
            2,
            &format!("{} ({}) against {} ({})", s.against, s.unit, v.name, v.unit),
        );
    } else {
        let w = &s.varied[1];
        page.line(
            0,
            2,
            &format!(
                "{} ({}) over {} ({}) and {} ({})",
                s.against, s.unit, v.name, v.unit, w.name, w.unit
            ),
        );
    }
    page.push("");
    if !s.cells.is_empty() {
        grid(&mut page, s);
    } else if s.pieces.is_empty() {
        page.line(0, 0, "No plan exists anywhere in this range, even in fractions of servings. `why` says what stands against it.");
    } else {
        for line in chart(s).text(WIDTH).lines() {
            page.push(line);
        }
        page.heading("Places");
        page.push(&format!("{:>12}  {:>12}", v.unit, short_unit(&s.unit)));
        for (x, y) in &s.table {
            let y = y.map_or_else(|| "no plan".to_string(), finer);
            page.push(&format!("{:>12}  {y:>12}", figure(*x)));
        }
        page.heading("What binds along it, and what takes over where");
        page.line(
            0,
            0,
            &format!(
                "The line has {} straight pieces; `--format json` has every corner.",
                s.pieces.len()
            ),
        );
        if let Some(x) = s.closed_below {
            page.line(0, 2, &format!("No plan below {} {}.", figure(x), v.unit));
        }
        for t in told(s) {
            page.entry(&t.head);
            page.line(4, 6, &t.body);
        }
        if let Some(x) = s.closed_above {
            page.line(0, 2, &format!("No plan above {} {}.", figure(x), v.unit));
        }
        if !s.whole.is_empty() {
            page.heading("Plans in whole servings");
            page.line(
                0,
                0,
                &format!(
                    "The best of {} moves at each place, not proven to be the best there is.",
                    s.moves
                ),
            );
            for (x, y) in &s.whole {
                let y = y.map_or_else(|| "none found".to_string(), finer);
                page.push(&format!("{:>12}  {y:>12}", figure(*x)));
            }
        }
    }
    if !s.notes.is_empty() {
        page.heading("Notes");
        for n in &s.notes {
            page.entry(n);
        }
    }
    page.text
}

fn short_unit(unit: &str) -> String {
    unit.chars().take(12).collect()
}

/// A table with a column for each place of the first quantity, in blocks that fit the page.
fn grid(page: &mut Page, s: &Sweep) {
    let room = (WIDTH - 11) / 9;
    let across: Vec<usize> = (0..s.table.len()).collect();
    page.line(
        0,
        0,
        &format!(
            "Across: {} ({}). Down: {} ({}).",
            s.varied[0].name, s.varied[0].unit, s.varied[1].name, s.varied[1].unit
        ),
    );
    for block in across.chunks(room.max(1)) {
        page.push("");
        let head: String = block
            .iter()
            .map(|&c| format!("{:>9}", figure(s.table[c].0)))
            .collect();
        page.push(&format!("{:>10} {head}", ""));
        for (y, row) in s.second.iter().zip(&s.cells).rev() {
            let cells: String = block
                .iter()
                .map(|&c| format!("{:>9}", row[c].map_or_else(|| "-".to_string(), finer)))
                .collect();
            page.push(&format!("{:>10} {cells}", figure(*y)));
        }
    }
    page.push("");
    page.line(0, 0, "- means that no plan exists there.");
}

/// The frontier as a chart.
pub(crate) fn chart(s: &Sweep) -> Chart {
    let v = &s.varied[0];
    let mut points: Vec<(f64, f64)> = s.pieces.iter().map(|p| (p.from, p.value_from)).collect();
    points.extend(s.pieces.last().map(|p| (p.to, p.value_to)));
    let mut lines = vec![Line {
        name: "servings in fractions".into(),
        points,
        ..Line::default()
    }];
    let whole: Vec<(f64, f64)> = s.whole.iter().filter_map(|&(x, y)| Some((x, y?))).collect();
    if !whole.is_empty() {
        lines.push(Line {
            name: "whole servings".into(),
            points: whole,
            dots: true,
            ..Line::default()
        });
    }
    let mut marks = Vec::new();
    marks.extend(s.closed_below.map(|x| Mark {
        x,
        label: "no plan below".into(),
    }));
    marks.extend(s.closed_above.map(|x| Mark {
        x,
        label: "no plan above".into(),
    }));
    let ends = lines[0].points.first().zip(lines[0].points.last());
    let description = ends.map_or(String::new(), |(a, b)| {
        format!(
            "{} goes from {} to {} {} as {} goes from {} to {} {}, in {} straight pieces.",
            s.against,
            finer(a.1),
            finer(b.1),
            s.unit,
            v.name,
            figure(a.0),
            figure(b.0),
            v.unit,
            s.pieces.len()
        )
    });
    Chart {
        title: format!("{}: {} against {}", s.title, s.against, v.name),
        description,
        x: Axis::new(&v.name, &v.unit),
        y: Axis::new(&s.against, &s.unit),
        lines,
        marks,
    }
}

/// The sweep as an SVG document: a chart, or a map with figures in its cells.
pub fn svg(s: &Sweep) -> String {
    if s.cells.is_empty() {
        return chart(s).svg();
    }
    let (v, w) = (&s.varied[0], &s.varied[1]);
    let known = s.cells.iter().flatten().filter(|c| c.is_some()).count();
    Map {
        title: format!("{}: {}", s.title, s.against),
        description: format!(
            "{} over {} and {}; {known} of {} places have a plan.",
            s.against,
            v.name,
            w.name,
            s.cells.len() * s.table.len()
        ),
        x: Axis::new(&v.name, &v.unit),
        xs: s.table.iter().map(|t| t.0).collect(),
        y: Axis::new(&w.name, &w.unit),
        ys: s.second.clone(),
        value: Axis::new(&s.against, &s.unit),
        cells: s.cells.clone(),
    }
    .svg()
}

/// The sweep as a CSV table: the even places, then the corners, then plans in whole servings, told apart by
/// the first column. Units stand in the header.
pub fn csv(s: &Sweep) -> String {
    let cell = |v: f64| significant(v, DIGITS).to_string();
    let value = |v: Option<f64>| v.map_or(String::new(), cell);
    let quoted = |t: &str| format!("\"{}\"", t.replace('"', "\"\""));
    let head = |v: &crate::why::sweep::Varied| quoted(&format!("{} [{}]", v.id, v.unit));
    let of = quoted(&format!("{} [{}]", s.against, s.unit));
    let mut out = String::new();
    if s.cells.is_empty() {
        out += &format!("kind,{},{of},slope,binding\n", head(&s.varied[0]));
        for (x, y) in &s.table {
            out += &format!("place,{},{},,\n", cell(*x), value(*y));
        }
        for p in &s.pieces {
            out += &format!(
                "corner,{},{},{},{}\n",
                cell(p.from),
                cell(p.value_from),
                cell(p.slope),
                quoted(&p.binding.join("; "))
            );
        }
        if let Some(p) = s.pieces.last() {
            out += &format!("corner,{},{},,\n", cell(p.to), cell(p.value_to));
        }
        for (x, y) in &s.whole {
            out += &format!("whole,{},{},,\n", cell(*x), value(*y));
        }
    } else {
        out += &format!("{},{},{of}\n", head(&s.varied[0]), head(&s.varied[1]));
        for (y, row) in s.second.iter().zip(&s.cells) {
            for ((x, _), v) in s.table.iter().zip(row) {
                out += &format!("{},{},{}\n", cell(*x), cell(*y), value(*v));
            }
        }
    }
    out
}

/// The sweep as JSON of schema 1.
pub fn json(s: &Sweep) -> Value {
    json!({
        "schema": SCHEMA,
        "title": s.title,
        "against": s.against,
        "unit": s.unit,
        "vary": s.varied.iter().map(|v| json!({ "id": v.id, "name": v.name, "unit": v.unit, "from": number(v.from), "to": number(v.to) })).collect::<Vec<_>>(),
        "pieces": s.pieces.iter().map(|p| json!({
            "from": number(p.from),
            "to": number(p.to),
            "value_from": number(p.value_from),
            "value_to": number(p.value_to),
            "slope": number(p.slope),
            "binding": p.binding,
        })).collect::<Vec<_>>(),
        "no_plan_below": optional(s.closed_below),
        "no_plan_above": optional(s.closed_above),
        "places": s.table.iter().map(|(x, y)| json!({ "at": number(*x), "value": optional(*y) })).collect::<Vec<_>>(),
        "whole": s.whole.iter().map(|(x, y)| json!({ "at": number(*x), "value": optional(*y) })).collect::<Vec<_>>(),
        "whole_moves": s.moves,
        "second": s.second.iter().map(|y| number(*y)).collect::<Vec<_>>(),
        "cells": s.cells.iter().map(|r| r.iter().map(|v| optional(*v)).collect::<Vec<_>>()).collect::<Vec<_>>(),
        "notes": s.notes,
    })
}
