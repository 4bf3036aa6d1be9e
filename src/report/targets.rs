//! Energy and targets of a brief for people and machines.
//!
//! Takes the brief, its energy and its targets, gives text of 80 columns or JSON. Computes
//! nothing.

use crate::brief::{Brief, PhaseKind, Scope};
use crate::energy::{EnergyBudget, Gate, GateAction, Spread};
use crate::nutrient::Nutrient;
use crate::report::amount;
use crate::targets::{Strength, Target};
use crate::units::Kcal;
use serde_json::{Value, json};
use unicode_width::UnicodeWidthStr;

/// Columns of the text.
pub(super) const WIDTH: usize = 80;

/// Energy with its derivation, safety rules that fired, and every floor and ceiling with reason
/// and source, as text of 80 columns.
pub fn text(brief: &Brief, energy: &EnergyBudget, targets: &[Target]) -> String {
    let mut out = String::new();
    line(&mut out, &brief.title);
    line(&mut out, &"=".repeat(brief.title.width().clamp(1, WIDTH)));
    out.push('\n');
    let kind = brief.phases.first().map(|p| match p.kind {
        PhaseKind::Gain => "gain",
        PhaseKind::Hold => "hold",
        PhaseKind::Lose => "lose",
    });
    if let Some(kind) = kind {
        line(&mut out, &format!("Energy a day, phase of kind {kind}"));
    } else {
        line(&mut out, "Energy a day");
    }
    let bare = |k: Kcal| amount::bare(Nutrient::ENERGY, k.0);
    let spread = |s: &Spread| {
        format!(
            "{:>6} {}  ({} to {})",
            bare(s.middle),
            amount::unit(Nutrient::ENERGY),
            bare(s.low),
            bare(s.high)
        )
    };
    line(&mut out, &format!("  resting      {}", spread(&energy.resting)));
    line(
        &mut out,
        &format!("  expenditure  {}", spread(&energy.expenditure)),
    );
    line(
        &mut out,
        &format!(
            "  to eat       {:>6} {}",
            bare(energy.intake),
            amount::unit(Nutrient::ENERGY)
        ),
    );
    if let Some(rate) = energy.rate_kg_per_week {
        line(&mut out, &format!("  expected     {rate:>+6.2} kg a week"));
    }
    if !energy.derivation.is_empty() {
        out.push_str("\nHow it was derived\n");
        for (index, step) in energy.derivation.iter().enumerate() {
            wrapped(
                &mut out,
                &format!("{:>3}. ", index + 1),
                &format!("{}: {}", step.what, step.value),
            );
            wrapped(&mut out, "     ", &step.how);
            if !step.source.is_empty() {
                wrapped(&mut out, "     ", &format!("Source: {}", step.source));
            }
        }
    }
    if !energy.gates.is_empty() {
        out.push_str("\nCare\n");
        care(&mut out, &energy.gates);
    }
    out.push_str("\nFloors and ceilings\n");
    line(
        &mut out,
        &format!(
            "  {} {} {} {:<5} {}",
            left("nutrient", 22),
            right("floor", 10),
            right("ceiling", 10),
            "unit",
            "over"
        ),
    );
    let mut sources: Vec<&str> = Vec::new();
    for target in targets {
        let soft = if target.strength == Strength::Should {
            ", soft"
        } else {
            ""
        };
        let number = |bound: Option<f64>| bound.map_or("-".to_string(), |v| amount::bare(target.nutrient, v));
        line(
            &mut out,
            &format!(
                "  {} {} {} {} {}{soft}",
                left(target.nutrient.name(), 22),
                right(&number(target.floor), 10),
                right(&number(target.ceiling), 10),
                left(amount::unit(target.nutrient), 5),
                over(target.scope),
            ),
        );
        let mut marks = Vec::new();
        for source in target.source.split("; ").filter(|s| !s.is_empty()) {
            let index = sources.iter().position(|s| *s == source).unwrap_or_else(|| {
                sources.push(source);
                sources.len() - 1
            });
            marks.push((index + 1).to_string());
        }
        wrapped(
            &mut out,
            "      ",
            &format!("{} [{}]", target.reason, marks.join(", ")),
        );
    }
    line(&mut out, "");
    wrapped(
        &mut out,
        "  ",
        "A soft floor is met where the brief and the foods allow; what is missing is named.",
    );
    if !sources.is_empty() {
        out.push_str("\nSources\n");
        for (index, source) in sources.iter().enumerate() {
            wrapped(&mut out, &format!("{:>4} ", format!("[{}]", index + 1)), source);
        }
    }
    out
}

/// The same as JSON: `energy` and `targets` as in schema 1, with `derivation` and `gates`.
///
/// Amounts are rounded to 6 significant places after the point; `strength` is `must` or `should`.
pub fn json(brief: &Brief, energy: &EnergyBudget, targets: &[Target]) -> Value {
    json!({
        "schema": 1,
        "title": brief.title,
        "energy": {
            "resting_kcal": rounded(energy.resting.middle.0),
            "resting_range_kcal": [rounded(energy.resting.low.0), rounded(energy.resting.high.0)],
            "expenditure_kcal": rounded(energy.expenditure.middle.0),
            "expenditure_range_kcal":
                [rounded(energy.expenditure.low.0), rounded(energy.expenditure.high.0)],
            "intake_kcal": rounded(energy.intake.0),
            "rate_kg_per_week": energy.rate_kg_per_week.map(rounded),
        },
        "derivation": energy.derivation.iter().map(|step| json!({
            "what": step.what, "value": step.value, "how": step.how, "source": step.source,
        })).collect::<Vec<_>>(),
        "gates": gates_json(&energy.gates),
        "targets": targets_json(targets),
    })
}

/// Safety rules as lines of text: what, why, what instead, source.
pub(super) fn care(out: &mut String, gates: &[Gate]) {
    for gate in gates {
        let word = match gate.action {
            GateAction::Stop => "STOP",
            GateAction::Warn => "WARNING",
        };
        wrapped(out, "  ", &format!("{word} ({}): {}", gate.code, gate.why));
        wrapped(out, "    ", &format!("Instead: {}", gate.instead));
        wrapped(out, "    ", &format!("Source: {}", gate.source));
    }
}

/// The `gates` of a JSON document.
pub fn gates_json(gates: &[Gate]) -> Value {
    gates
        .iter()
        .map(|gate| {
            json!({
                "code": gate.code,
                "action": match gate.action { GateAction::Stop => "stop", GateAction::Warn => "warn" },
                "why": gate.why, "instead": gate.instead, "source": gate.source,
            })
        })
        .collect()
}

/// The `targets` of schema 1, for any document that carries them.
pub fn targets_json(targets: &[Target]) -> Value {
    targets
        .iter()
        .map(|t| {
            json!({
                "id": t.id,
                "nutrient": t.nutrient.id(),
                "unit": t.nutrient.unit().symbol(),
                "floor": t.floor.map(rounded),
                "ceiling": t.ceiling.map(rounded),
                "centre": t.centre.map(rounded),
                "scope": match t.scope {
                    Scope::Meal => "meal",
                    Scope::Day => "day",
                    Scope::Mean => "mean",
                },
                "strength": match t.strength {
                    Strength::Must => "must",
                    Strength::Should => "should",
                },
                "from_brief": t.from_brief,
                "reason": t.reason,
                "source": t.source,
            })
        })
        .collect()
}

/// Six places after the point: enough for every nutrient, and the same text on every machine.
pub(super) fn rounded(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

fn over(scope: Scope) -> &'static str {
    match scope {
        Scope::Meal => "each main meal",
        Scope::Day => "each day",
        Scope::Mean => "mean of the days",
    }
}

pub(super) fn left(text: &str, width: usize) -> String {
    format!("{text}{}", " ".repeat(width.saturating_sub(text.width())))
}

pub(super) fn right(text: &str, width: usize) -> String {
    format!("{}{text}", " ".repeat(width.saturating_sub(text.width())))
}

pub(super) fn line(out: &mut String, text: &str) {
    out.push_str(text.trim_end());
    out.push('\n');
}

/// Text broken at spaces so that no line is wider than the page; later lines stand under the
/// first. A single word wider than the page is left whole.
pub(super) fn wrapped(out: &mut String, indent: &str, text: &str) {
    let hang = " ".repeat(indent.width());
    let mut current = indent.to_string();
    let mut fresh = true;
    for word in text.split_whitespace() {
        if !fresh && current.width() + 1 + word.width() > WIDTH {
            line(out, &current);
            current = hang.clone();
            fresh = true;
        }
        if !fresh {
            current.push(' ');
        }
        current.push_str(word);
        fresh = false;
    }
    line(out, &current);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::energy::Step;
    use crate::units::Kcal;

    fn example() -> (Brief, EnergyBudget, Vec<Target>) {
        let text = "title = \"A phase of gaining\"\nregion = \"us\"\n[person]\nsex = \"female\"\nage = 30\n\
            height = \"168 cm\"\nweight = \"61 kg\"\ntraining = \"novice\"\n[activity]\nlevel = \"active\"\n\
            [[phase]]\nkind = \"gain\"\n";
        let brief = crate::brief::parse(text).expect("sound").0;
        let spread = |m: f64| Spread {
            low: Kcal(m - 100.0),
            middle: Kcal(m),
            high: Kcal(m + 100.0),
        };
        let energy = EnergyBudget {
            resting: spread(1349.0),
            expenditure: spread(2300.0),
            intake: Kcal(2800.0),
            rate_kg_per_week: Some(0.31),
            fat_free_mass_kg: None,
            derivation: vec![Step {
                what: "resting energy".into(),
                value: "1349 kcal a day".into(),
                how: "an invented step whose words are many, so that they do not fit on one line of the page"
                    .into(),
                source: "invented for this test".into(),
            }],
            gates: vec![Gate {
                code: "invented",
                action: GateAction::Warn,
                why: "an invented warning".into(),
                instead: "nothing".into(),
                source: "invented for this test".into(),
            }],
        };
        let (targets, _) = crate::targets::derive(&brief, &energy);
        (brief, energy, targets)
    }

    #[test]
    fn the_text_fits_the_page_and_holds_every_target() {
        let (brief, energy, targets) = example();
        let text = text(&brief, &energy, &targets);
        for line in text.lines() {
            assert!(line.width() <= WIDTH, "{line}");
            assert_eq!(line, line.trim_end());
        }
        for target in &targets {
            assert!(text.contains(target.nutrient.name()), "{}", target.id);
        }
        insta::with_settings!({ snapshot_path => "../../tests/report" }, {
            insta::assert_snapshot!("targets", text);
        });
    }

    #[test]
    fn the_json_keeps_the_contract() {
        let (brief, energy, targets) = example();
        let value = json(&brief, &energy, &targets);
        assert_eq!(value["energy"]["intake_kcal"], 2800.0);
        assert_eq!(value["energy"]["resting_kcal"], 1349.0);
        assert_eq!(value["energy"]["expenditure_kcal"], 2300.0);
        let rows = value["targets"].as_array().expect("a list");
        assert_eq!(rows.len(), targets.len());
        for row in rows {
            for key in [
                "nutrient", "unit", "floor", "ceiling", "scope", "reason", "source",
            ] {
                assert!(row.get(key).is_some(), "{key}");
            }
        }
    }
}
