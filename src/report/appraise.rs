//! An appraisal for people and machines. Takes an [`Appraisal`], gives text or JSON. Computes nothing.

use super::amount::{fixed, signed};
use super::targets::{WIDTH, care, gates_json, line, right, rounded, wrapped};
use crate::appraise::{Appraisal, Instead, Judged};
use crate::energy::Step;
use serde_json::{Value, json};
use unicode_width::UnicodeWidthStr;

/// What an appraisal is.
pub(crate) const MEANING: &str = "What the energy of tissue and published trials allow for the figures as stated. It finds \
    no fault with anybody: scales, memories and logs err, and logged intakes run 280 to 365 kcal a day low on average \
    (PLoS ONE 8:e76632, 2013). It promises nobody a result. General education for healthy adults, not medical advice. \
    How the model fared against trials, and where it misses: docs/phases.md.";

/// The appraisal as text of 80 columns.
pub fn text(a: &Appraisal) -> String {
    let mut out = String::new();
    let title = format!("{}: appraisal", a.title);
    line(&mut out, &title);
    line(&mut out, &"=".repeat(title.width().clamp(1, WIDTH)));
    for (number, stage) in a.stages.iter().enumerate() {
        out.push('\n');
        line(&mut out, &format!("Stage {}: {}", number + 1, said(stage)));
        let words: Vec<&str> = stage.verdicts.iter().map(|v| v.words()).collect();
        wrapped(&mut out, "  Verdict: ", &words.join("; "));
        columns(&mut out, stage);
        instead(&mut out, stage);
        out.push_str("\n  How it was judged\n");
        steps(&mut out, &stage.steps);
        if !stage.gates.is_empty() {
            out.push_str("\n  Care: safety rules that eating so would set off\n");
            care(&mut out, &stage.gates);
        }
    }
    out.push_str("\nWhat the expenditure rests on\n");
    steps(&mut out, &a.basis);
    out.push_str("\nBody fat at the start\n");
    for e in &a.estimates {
        wrapped(
            &mut out,
            if e.used { "  used  " } else { "        " },
            &format!(
                "{}: {} % ± {} points; {}. Source: {}",
                e.name,
                fixed(e.fat_percent, 1),
                fixed(e.error_points, 1),
                e.note,
                e.source
            ),
        );
    }
    out.push_str("\nWhat this is\n");
    wrapped(&mut out, "  ", MEANING);
    out
}

/// What a stage says.
pub(crate) fn said(stage: &Judged) -> String {
    let claimed = match stage.claimed_kg {
        Some(kg) => format!("{} kg claimed", signed(kg, 1)),
        None => "no weight claimed".to_string(),
    };
    let eaten = stage.intake.map_or("intake not stated".to_string(), |k| {
        format!("{} kcal a day stated", fixed(k, 0))
    });
    format!(
        "{} weeks from {} kg, {claimed}, {eaten}",
        stage.weeks,
        fixed(stage.start_kg, 1)
    )
}

fn columns(out: &mut String, stage: &Judged) {
    line(out, "                            low     middle       high");
    for (what, cells) in rows(stage) {
        let [a, b, c] = cells.map(|c| right(&c, 10));
        line(out, &format!("    {what:<17}{a} {b} {c}"));
    }
}

/// The figures of a stage for a low, a middle and a high expenditure, each with what it is.
pub(crate) fn rows(stage: &Judged) -> Vec<(&'static str, [String; 3])> {
    let mut rows = Vec::new();
    let mut row = |what, cells| rows.push((what, cells));
    let cell = |v: Option<f64>, places: usize| v.map_or("none".to_string(), |v| fixed(v, places));
    row("spends, kcal", stage.columns.map(|c| fixed(c.expenditure, 0)));
    if stage.intake.is_some() {
        let of = |f: fn((f64, f64, f64)) -> f64| {
            stage
                .columns
                .map(|c| c.predicted.map_or(String::new(), |p| signed(f(p), 1)))
        };
        row("model, kg", of(|p| p.0));
        row("  of it fat", of(|p| p.1));
        row("  of it water", of(|p| p.2));
    }
    if stage.columns.iter().any(|c| c.kcal_per_kg.is_some()) {
        row("kcal per kg", stage.columns.map(|c| cell(c.kcal_per_kg, 0)));
    }
    if stage.claimed_kg.is_some() {
        row("needs, kcal", stage.columns.map(|c| cell(c.needed, 0)));
    }
    rows
}

fn instead(out: &mut String, stage: &Judged) {
    let words = expected(stage);
    if !words.is_empty() {
        out.push_str("\n  What practice would expect in this time\n");
    }
    for w in words {
        wrapped(out, "    ", &w);
    }
}

/// What practice would expect in the time of a stage, in sentences; none without a claimed weight.
pub(crate) fn expected(stage: &Judged) -> Vec<String> {
    let Some(i) = &stage.instead else {
        return Vec::new();
    };
    let change = |kg: f64| signed(kg - stage.start_kg, 1);
    let weight = format!(
        "{} to {} kg ({} to {} kg at the end). To eat, at the middle expenditure: {}.",
        change(i.weight.0),
        change(i.weight.1),
        fixed(i.weight.0, 1),
        fixed(i.weight.1, 1),
        match i.intake {
            (Some(slow), Some(fast)) => format!("{} to {} kcal a day", fixed(slow, 0), fixed(fast, 0)),
            (Some(slow), None) => format!(
                "{} kcal a day for the slower; the faster would go under the lowest safe intake",
                fixed(slow, 0)
            ),
            _ => "nothing above the lowest safe intake does it".to_string(),
        }
    );
    let lean = match i.lean_trained {
        Some(trained) => format!(
            "Of the faster, fat-free mass {} kg by the published model, up to {} kg with resistance training \
             (a proposal of this project).",
            signed(i.lean, 1),
            signed(trained, 1)
        ),
        None => format!(
            "Of the faster, fat-free mass {} kg by the published model.",
            signed(i.lean, 1)
        ),
    };
    vec![weight, lean]
}

fn steps(out: &mut String, steps: &[Step]) {
    for (index, s) in steps.iter().enumerate() {
        wrapped(
            out,
            &format!("{:>5}. ", index + 1),
            &format!("{}: {}", s.what, s.value),
        );
        wrapped(out, "       ", &s.how);
        wrapped(out, "       ", &format!("Source: {}", s.source));
    }
}

fn steps_json(steps: &[Step]) -> Value {
    steps
        .iter()
        .map(|s| json!({ "what": s.what, "value": s.value, "how": s.how, "source": s.source }))
        .collect()
}

fn instead_json(i: &Instead) -> Value {
    json!({
        "weight_kg": [rounded(i.weight.0), rounded(i.weight.1)],
        "intake_kcal": [i.intake.0.map(rounded), i.intake.1.map(rounded)],
        "fat_free_kg": rounded(i.lean),
        "fat_free_trained_kg": i.lean_trained.map(rounded),
    })
}

/// The appraisal as JSON.
pub fn json(a: &Appraisal) -> Value {
    json!({
        "schema": 1,
        "title": a.title,
        "outcome": "appraised",
        "resting_kcal": rounded(a.resting),
        "expenditure_kcal": a.expenditure.map(rounded),
        "stages": a.stages.iter().map(|s| json!({
            "weeks": s.weeks,
            "start_kg": rounded(s.start_kg),
            "claimed_kg": s.claimed_kg.map(rounded),
            "intake_kcal": s.intake.map(rounded),
            "verdicts": s.verdicts.iter().map(|v| json!({ "code": v.code(), "words": v.words() })).collect::<Vec<_>>(),
            "columns": s.columns.iter().zip(["low", "middle", "high"]).map(|(c, name)| json!({
                "expenditure": name,
                "expenditure_kcal": rounded(c.expenditure),
                "predicted_kg": c.predicted.map(|p| rounded(p.0)),
                "predicted_fat_kg": c.predicted.map(|p| rounded(p.1)),
                "predicted_water_kg": c.predicted.map(|p| rounded(p.2)),
                "kcal_per_kg": c.kcal_per_kg.map(rounded),
                "needed_kcal": c.needed.map(rounded),
            })).collect::<Vec<_>>(),
            "instead": s.instead.as_ref().map(instead_json),
            "steps": steps_json(&s.steps),
            "gates": gates_json(&s.gates),
        })).collect::<Vec<_>>(),
        "basis": steps_json(&a.basis),
        "body_fat": a.estimates.iter().map(|e| json!({
            "name": e.name, "percent": rounded(e.fat_percent), "error_points": rounded(e.error_points),
            "used": e.used, "note": e.note, "source": e.source,
        })).collect::<Vec<_>>(),
        "cautions": ["figures as stated, no finding about a person", "no promise of a result",
            "general education for healthy adults, not medical advice"],
    })
}
