//! A brief's text brought up to date, with its comments kept.

use crate::brief::PhaseKind;
use crate::brief::edit::{Document, Value};
use crate::diagnostic::Diagnostic;
use crate::units::{Kcal, Kilograms};

/// What changes.
pub(super) struct Change {
    /// A line above the text.
    pub note: String,
    /// Body mass now.
    pub weight: Kilograms,
    /// Body fat now, share; `None` leaves the brief without.
    pub body_fat: Option<f64>,
    /// What holds the body of now.
    pub expenditure: Kcal,
    /// Phases that are over.
    pub drop: usize,
    /// Weeks left of the first phase that stays; `None` keeps its own.
    pub weeks: Option<u32>,
    /// Another size for it.
    pub size: Option<(PhaseKind, Kcal)>,
}

/// The text with the changes.
pub(super) fn rewrite(text: &str, change: &Change) -> Result<String, Diagnostic> {
    let mut doc = Document::read(text)?;
    doc.set("person.weight", format!("{:.1} kg", change.weight.0).into())?;
    if let Some(share) = change.body_fat {
        // Girths of the start would contradict the body fat of now.
        doc.remove("person.neck")?;
        doc.remove("person.hip")?;
        doc.set("person.body_fat", format!("{:.1} %", 100.0 * share).into())?;
    }
    for key in ["level", "pal", "hours"] {
        doc.remove(&format!("activity.{key}"))?;
    }
    doc.set(
        "activity.expenditure",
        format!("{:.0} kcal", change.expenditure.0).into(),
    )?;
    for _ in 0..change.drop.min(doc.count("phase")) {
        doc.remove("phase.0")?;
    }
    if let Some(weeks) = change.weeks {
        // The expenditure of now was found in it: it needs no activity of its own.
        doc.remove("phase.0.level")?;
        doc.remove("phase.0.pal")?;
        doc.set("phase.0.weeks", Value::Whole(i64::from(weeks)))?;
    }
    if let Some((kind, size)) = change.size {
        for key in ["rate", "goal_weight", "surplus", "deficit"] {
            doc.remove(&format!("phase.0.{key}"))?;
        }
        let key = if kind == PhaseKind::Gain {
            "surplus"
        } else {
            "deficit"
        };
        doc.set(&format!("phase.0.{key}"), format!("{:.0} kcal", size.0).into())?;
    }
    Ok(format!("# {}\n{}", change.note, doc.text()))
}
