//! A forecast for people and machines: a table with a chart, CSV, JSON, and charts for SVG.
//!
//! Takes a [`Forecast`], gives text. Computes nothing but units of the page.

use super::amount::{decimals, fixed, signed};
use super::chart::{Axis, Chart, Line, Mark};
use super::targets::{WIDTH, care, gates_json, left, line, right, rounded, wrapped};
use crate::energy::body::LeanShift;
use crate::energy::data::policy;
use crate::forecast::{Band, Forecast, Stretch, kind_word};
use serde_json::{Value, json};
use unicode_width::UnicodeWidthStr;

/// What a chart shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Show {
    /// Body mass.
    Weight,
    /// Fat.
    Fat,
    /// Fat-free mass.
    FatFree,
    /// Energy spent and eaten.
    Energy,
}

/// What a band is.
pub(crate) const BAND: &str = "A band holds eight of ten people: it carries the spread of the expenditure equation, \
    the error of body fat, and for a surplus how differently people store one.";

/// Why the first weeks are told apart.
pub(crate) const WATER: &str = "More or less carbohydrate fills or empties glycogen, each gram with 2.7 g of water, \
    and the kidneys keep or let go of salt and fluid with it. That settles within 10 to 14 days and is no tissue: \
    do not carry the first two weeks on. A change of salt moves fluid as well.";

/// What the rules to compare with leave out.
pub(crate) const OLD_RULE: &str = "The model's figure holds the water of a new phase, the other two do not. The old rule \
    knows no falling or rising expenditure: fair for four to six weeks, useless beyond (Thomas et al., Int J Obes \
    37:1611-1613, 2013).";

/// What a forecast is.
pub(crate) const PROMISE: &str = "A computation, not a promise: people differ, and nobody eats exactly what is planned. \
    General education for healthy adults, not medical advice. Model: Hall et al., Lancet 378:826-837, 2011; how it \
    fared against trials, and where it misses: docs/phases.md.";

/// The forecast as text of 80 columns, with a chart.
pub fn text(f: &Forecast) -> String {
    let mut out = String::new();
    let title = format!("{}: forecast", f.title);
    line(&mut out, &title);
    line(&mut out, &"=".repeat(title.width().clamp(1, WIDTH)));
    out.push_str("\nPhases\n");
    line(
        &mut out,
        "   nr kind  weeks     spends at start    eats    weight kg       fat kg",
    );
    for (number, p) in f.phases.iter().enumerate() {
        line(
            &mut out,
            &format!(
                "  {:>3} {} {} {} kcal {} kcal   {} > {}  {} > {}",
                number + 1,
                left(kind_word(p.kind), 5),
                right(&format!("{}-{}", p.first_week, p.first_week + p.weeks - 1), 6),
                right(&fixed(p.holding, 0), 14),
                right(&fixed(p.intake, 0), 6),
                right(&fixed(p.weight.0, 1), 5),
                left(&fixed(p.weight.1, 1), 5),
                right(&fixed(p.fat.0, 1), 4),
                fixed(p.fat.1, 1),
            ),
        );
    }
    out.push('\n');
    out.push_str(&chart(f, Show::Weight).text(WIDTH));
    out.push_str("\nWeek by week (middle, and the band of eight in ten)\n");
    line(
        &mut out,
        "  week       weight kg           fat kg          lean kg   spends   eats",
    );
    for w in &f.weeks {
        let phase = f.phases.get(w.phase);
        let first = phase.is_some_and(|p| w.week + 1 == p.first_week || w.week == p.first_week);
        let word = match phase {
            Some(p) if w.week > 0 && first && w.week == p.first_week => kind_word(p.kind),
            _ => "",
        };
        line(
            &mut out,
            &format!(
                "  {:>4} {}{} {} {} {} {}",
                w.week,
                left(word, 4),
                cell(&w.weight, 17),
                cell(&w.fat, 16),
                cell(&w.fat_free, 16),
                right(&fixed(w.expenditure.middle, 0), 7),
                right(
                    &if w.week == 0 {
                        "-".into()
                    } else {
                        fixed(w.intake, 0)
                    },
                    6
                ),
            ),
        );
    }
    wrapped(
        &mut out,
        "  ",
        &format!(
            "Lean is all that is not fat, with its water. {BAND} Intakes are taken as never corrected; a \
             weekly `review` narrows the band."
        ),
    );
    if let Some(trained) = trained(f) {
        out.push_str("\nResistance training (a proposal of this project, no published equation)\n");
        wrapped(&mut out, "  ", &trained);
        wrapped(
            &mut out,
            "  ",
            &format!("Source: {}", policy().lean_novice_low.source),
        );
    }
    out.push_str("\nMilestones\n");
    for m in &f.milestones {
        line(
            &mut out,
            &format!(
                "  {}  {} kg  {}",
                left(&when(m.day), 17),
                right(&fixed(m.weight, 1), 5),
                m.what
            ),
        );
    }
    first_weeks(&mut out, f);
    out.push_str("\nTo compare\n");
    for words in compared(f) {
        wrapped(&mut out, "  ", &words);
    }
    wrapped(&mut out, "  ", OLD_RULE);
    body_fat(&mut out, f);
    let stops: Vec<_> = f
        .phases
        .iter()
        .enumerate()
        .filter(|(_, p)| !p.gates.is_empty())
        .collect();
    if !stops.is_empty() {
        out.push_str("\nCare\n");
        for (number, p) in stops {
            line(
                &mut out,
                &format!("  Phase {} ({})", number + 1, kind_word(p.kind)),
            );
            care(&mut out, &p.gates);
        }
    }
    out.push_str("\nWhat this is\n");
    for note in &f.notes {
        wrapped(&mut out, "  ", note);
    }
    wrapped(&mut out, "  ", PROMISE);
    out
}

/// What training may change at the end; `None` without training.
pub(crate) fn trained(f: &Forecast) -> Option<String> {
    let last = f.weeks.last()?;
    let (weak, strong) = last.trained?;
    Some(format!(
        "Lean at the end: {} kg by the published model, {} to {} kg when training adds lean tissue while gaining or \
         spares it while losing as in trials; the stronger bound is part of the band.",
        fixed(last.fat_free.middle, 1),
        fixed(weak.min(strong), 1),
        fixed(weak.max(strong), 1)
    ))
}

/// Each phase that moves, by the model and by two shorter rules.
pub(crate) fn compared(f: &Forecast) -> Vec<String> {
    let moving = f.phases.iter().enumerate();
    moving
        .filter(|(_, p)| (p.intake - p.holding).abs() >= 1.0)
        .map(|(number, p)| {
            format!(
                "Phase {}: the model says {} kg; made linear around its start {} kg; the old rule of 7700 kcal a \
                 kilogram {} kg.",
                number + 1,
                signed(p.weight.1 - p.weight.0, 1),
                signed(p.linear_kg, 1),
                signed(p.old_rule_kg, 1)
            )
        })
        .collect()
}

fn cell(b: &Band, width: usize) -> String {
    right(&format!("{} {}", fixed(b.middle, 1), range(b)), width)
}

/// A band in brackets.
pub(crate) fn range(b: &Band) -> String {
    format!("({}-{})", fixed(b.low, 1), fixed(b.high, 1))
}

/// A day of the phases with its week.
pub(crate) fn when(day: u32) -> String {
    let week = day.div_ceil(7).max(1);
    format!("day {day}, week {week}")
}

fn first_weeks(out: &mut String, f: &Forecast) {
    out.push_str("\nWhat the scale does first, kg since the start of a phase\n");
    line(
        out,
        "  phase   after     scale      fat     lean   glycogen    fluid",
    );
    line(out, "                                               + water");
    for p in &f.first_weeks {
        line(
            out,
            &format!(
                "  {:>5} {:>4} days {} {} {} {} {}",
                p.phase + 1,
                p.day,
                right(&signed(p.weight, 1), 8),
                right(&signed(p.fat, 1), 8),
                right(&signed(p.lean, 1), 8),
                right(&signed(p.glycogen, 1), 10),
                right(&signed(p.fluid, 1), 8),
            ),
        );
    }
    wrapped(out, "  ", WATER);
}

fn body_fat(out: &mut String, f: &Forecast) {
    out.push_str("\nBody fat at the start\n");
    for e in &f.estimates {
        line(
            out,
            &format!(
                "  {} {} {} % ± {} points",
                if e.used { "used" } else { "    " },
                left(e.name, 31),
                right(&fixed(e.fat_percent, 1), 5),
                fixed(e.error_points, 1),
            ),
        );
        wrapped(out, "         ", &format!("{}. {}", e.note, e.source));
    }
    if let Some(words) = index(f) {
        wrapped(out, "  ", &words);
    }
    wrapped(
        out,
        "  ",
        "The error of the one used is part of every band, of the energy availability and of targets by \
         fat-free mass.",
    );
}

/// The fat-free mass index in words; `None` while body fat is only estimated from BMI.
pub(crate) fn index(f: &Forecast) -> Option<String> {
    let (index, error, tall) = f.index?;
    Some(format!(
        "Fat-free mass index {} ± {} kg/m², {} brought to 1.80 m (Kouri et al., Clin J Sport Med 5:223-228, 1995).",
        fixed(index, 1),
        fixed(error, 1),
        fixed(tall, 1)
    ))
}

/// A chart of the forecast, with its band and the phases' ends marked.
pub fn chart(f: &Forecast, show: Show) -> Chart {
    let pick: fn(&crate::forecast::Week) -> Band = match show {
        Show::Weight => |w| w.weight,
        Show::Fat => |w| w.fat,
        Show::FatFree => |w| w.fat_free,
        Show::Energy => |w| w.expenditure,
    };
    let (label, unit) = match show {
        Show::Weight => ("Weight", "kg"),
        Show::Fat => ("Fat", "kg"),
        Show::FatFree => ("Fat-free mass", "kg"),
        Show::Energy => ("Energy a day", "kcal"),
    };
    let at = |w: &crate::forecast::Week| f64::from(w.week);
    let name = if show == Show::Energy { "spent" } else { label };
    let mut lines = vec![Line {
        name: name.to_lowercase(),
        points: f.weeks.iter().map(|w| (at(w), pick(w).middle)).collect(),
        band: f
            .weeks
            .iter()
            .map(|w| (at(w), pick(w).low, pick(w).high))
            .collect(),
        dots: false,
    }];
    if show == Show::Energy {
        lines.push(Line {
            name: "eaten".into(),
            points: f.weeks.iter().skip(1).map(|w| (at(w), w.intake)).collect(),
            ..Line::default()
        });
    }
    let end = |b: Option<Band>| b.map_or(String::new(), |b| fixed(b.middle, usize::from(unit == "kg")));
    Chart {
        title: format!("{}: {}", f.title, label.to_lowercase()),
        description: format!(
            "{label} over {} weeks, from {} to {} {unit}, with the band of eight people in ten.",
            f.weeks.len().saturating_sub(1),
            end(f.weeks.first().map(pick)),
            end(f.weeks.last().map(pick)),
        ),
        x: Axis::new("Week", ""),
        y: Axis::new(label, unit),
        lines,
        marks: f
            .phases
            .iter()
            .skip(1)
            .map(|p| Mark {
                x: f64::from(p.first_week - 1),
                label: kind_word(p.kind).to_string(),
            })
            .collect(),
    }
}

/// The weeks as CSV: one row each, with bands and the bounds of training.
pub fn csv(f: &Forecast) -> String {
    let mut out = String::from(
        "week,phase,kind,weight_kg,weight_low_kg,weight_high_kg,fat_kg,fat_low_kg,fat_high_kg,\
         fat_free_kg,fat_free_low_kg,fat_free_high_kg,expenditure_kcal,expenditure_low_kcal,\
         expenditure_high_kcal,intake_kcal,fat_free_trained_weak_kg,fat_free_trained_strong_kg\n",
    );
    for w in &f.weeks {
        let mut cells = vec![
            w.week.to_string(),
            (w.phase + 1).to_string(),
            f.phases
                .get(w.phase)
                .map_or("", |p| kind_word(p.kind))
                .to_string(),
        ];
        for (band, places) in [(w.weight, 2), (w.fat, 2), (w.fat_free, 2), (w.expenditure, 0)] {
            cells.push(decimals(band.middle, places));
            // A tenth of a kilogram is more than a band knows.
            cells.extend([band.low, band.high].map(|v| decimals(v, places.min(1))));
        }
        // Nothing is eaten yet at the start.
        cells.push(if w.week == 0 {
            String::new()
        } else {
            decimals(w.intake, 0)
        });
        let trained = |v: Option<f64>| v.map_or(String::new(), |v| decimals(v, 1));
        cells.push(trained(w.trained.map(|t| t.0)));
        cells.push(trained(w.trained.map(|t| t.1)));
        out.push_str(&cells.join(","));
        out.push('\n');
    }
    out
}

fn band_json(b: &Band, places: usize) -> Value {
    // A tenth of a kilogram is more than a band knows.
    let end = |v: f64| cut(v, places.min(1));
    json!({ "middle": cut(b.middle, places), "low": end(b.low), "high": end(b.high) })
}

/// As many places as the table of the weeks: more would be digits of the integration.
fn cut(value: f64, places: usize) -> f64 {
    fixed(value, places).parse().unwrap_or(value)
}

fn kg(value: f64) -> f64 {
    cut(value, 2)
}

fn kcal(value: f64) -> f64 {
    cut(value, 0)
}

fn shift_json(p: &Stretch) -> Value {
    let one = |s: &LeanShift| match s {
        LeanShift::Added(kg) => json!({ "lean_added_kg_per_week": rounded(*kg) }),
        LeanShift::Kept(share) => json!({ "share_of_lean_loss": rounded(*share) }),
    };
    match &p.training {
        None => Value::Null,
        Some((weak, strong)) => {
            json!({ "weak": one(weak), "strong": one(strong), "status": "a proposal of this project" })
        }
    }
}

/// The forecast as JSON.
pub fn json(f: &Forecast) -> Value {
    json!({
        "schema": 1,
        "title": f.title,
        "outcome": if f.stopped() { "stopped" } else { "forecast" },
        "band": "8 of 10",
        "expenditure_spread": rounded(f.expenditure_spread),
        "phases": f.phases.iter().map(|p| json!({
            "kind": kind_word(p.kind),
            "first_week": p.first_week,
            "weeks": p.weeks,
            "holding_kcal": kcal(p.holding),
            "intake_kcal": kcal(p.intake),
            "weight_start_kg": kg(p.weight.0),
            "weight_end_kg": kg(p.weight.1),
            "fat_start_kg": kg(p.fat.0),
            "fat_end_kg": kg(p.fat.1),
            "linear_change_kg": kg(p.linear_kg),
            "old_rule_change_kg": kg(p.old_rule_kg),
            "training": shift_json(p),
            "gates": gates_json(&p.gates),
        })).collect::<Vec<_>>(),
        "weeks": f.weeks.iter().map(|w| json!({
            "week": w.week,
            "phase": w.phase + 1,
            "weight_kg": band_json(&w.weight, 2),
            "fat_kg": band_json(&w.fat, 2),
            "fat_free_kg": band_json(&w.fat_free, 2),
            "expenditure_kcal": band_json(&w.expenditure, 0),
            "intake_kcal": if w.week == 0 { Value::Null } else { json!(kcal(w.intake)) },
            "fat_free_trained_kg": w.trained.map(|(weak, strong)| json!([cut(weak, 1), cut(strong, 1)])),
        })).collect::<Vec<_>>(),
        "milestones": f.milestones.iter().map(|m| json!({
            "day": m.day, "weight_kg": kg(m.weight), "what": m.what,
        })).collect::<Vec<_>>(),
        "first_weeks": f.first_weeks.iter().map(|p| json!({
            "phase": p.phase + 1, "day": p.day, "weight_kg": kg(p.weight), "fat_kg": kg(p.fat),
            "lean_kg": kg(p.lean), "glycogen_and_its_water_kg": kg(p.glycogen),
            "fluid_kg": kg(p.fluid),
        })).collect::<Vec<_>>(),
        "body_fat": f.estimates.iter().map(|e| json!({
            "name": e.name, "percent": rounded(e.fat_percent), "error_points": rounded(e.error_points),
            "used": e.used, "note": e.note, "source": e.source,
        })).collect::<Vec<_>>(),
        "fat_free_mass_index": f.index.map(|(index, error, tall)| json!({
            "index": rounded(index), "error": rounded(error), "at_180_cm": rounded(tall),
        })),
        "notes": f.notes,
        "cautions": ["a computation, not a promise", "general education for healthy adults, not medical advice"],
    })
}
