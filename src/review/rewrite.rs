//! A brief's text brought up to date, with its comments kept.

use crate::brief::PhaseKind;
use crate::diagnostic::Diagnostic;
use crate::units::{Kcal, Kilograms};
use toml_edit::{DocumentMut, Item, value};

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
    let fail = |what: &str| {
        Diagnostic::error(
            "review-rewrite",
            format!("{what} of the brief cannot be rewritten"),
        )
        .help("write [person], [activity] and [[phase]] as tables of their own")
    };
    let mut doc: DocumentMut = text.parse().map_err(|_| fail("the text"))?;
    let person = doc.get_mut("person").and_then(Item::as_table_like_mut);
    let person = person.ok_or_else(|| fail("[person]"))?;
    set(person, "weight", format!("{:.1} kg", change.weight.0));
    if let Some(share) = change.body_fat {
        // Girths of the start would contradict the body fat of now.
        for key in ["neck", "hip"] {
            person.remove(key);
        }
        set(person, "body_fat", format!("{:.1} %", 100.0 * share));
    }
    let activity = doc.get_mut("activity").and_then(Item::as_table_like_mut);
    let activity = activity.ok_or_else(|| fail("[activity]"))?;
    for key in ["level", "pal", "hours"] {
        activity.remove(key);
    }
    set(
        activity,
        "expenditure",
        format!("{:.0} kcal", change.expenditure.0),
    );
    let phases = doc.get_mut("phase").and_then(Item::as_array_of_tables_mut);
    let phases = phases.ok_or_else(|| fail("[[phase]]"))?;
    for _ in 0..change.drop.min(phases.len()) {
        phases.remove(0);
    }
    let first = phases.get_mut(0).ok_or_else(|| fail("[[phase]]"))?;
    // The expenditure of now was found in it: it needs no activity of its own.
    if change.weeks.is_some() {
        first.remove("level");
        first.remove("pal");
    }
    if let Some(weeks) = change.weeks {
        first["weeks"] = keep(first.get("weeks"), i64::from(weeks).into());
    }
    if let Some((kind, size)) = change.size {
        for key in ["rate", "goal_weight", "surplus", "deficit"] {
            first.remove(key);
        }
        let key = if kind == PhaseKind::Gain {
            "surplus"
        } else {
            "deficit"
        };
        first[key] = value(format!("{:.0} kcal", size.0));
    }
    Ok(format!("# {}\n{doc}", change.note))
}

fn set(table: &mut dyn toml_edit::TableLike, key: &str, text: String) {
    let new = keep(table.get(key), text.into());
    table.insert(key, new);
}

/// A value in the place of another, with the comment that stands behind it.
fn keep(old: Option<&Item>, new: toml_edit::Value) -> Item {
    let mut new = new;
    if let Some(old) = old.and_then(Item::as_value) {
        *new.decor_mut() = old.decor().clone();
    }
    Item::Value(new)
}
