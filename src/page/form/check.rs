//! What there is to say of a text: the checks of the command line, whether a plan can exist, and beside which field
//! each message belongs.

use super::typed::{Typed, field_at};
use crate::brief::{self, edit};
use crate::diagnostic::{Diagnostic, any_error};
use crate::model::build::{Built, build};
use crate::plan::{reason_of, spoken};
use crate::ready::{Larder, Ready, ready};
use crate::solve::bound::{Standing, standing};
use std::collections::BTreeMap;

/// Whether a plan can exist, by the continuous form of its model.
#[derive(Clone, Debug, PartialEq)]
pub enum Hope {
    /// All that must hold can; what the foods cannot reach of what should.
    Open(Vec<String>),
    /// These cannot hold together.
    None(Vec<String>),
    /// Not known, and why.
    Unknown(String),
}

/// A text looked at.
#[derive(Debug)]
pub struct Checked {
    /// The text.
    pub text: String,
    /// All mistakes, warnings and notes.
    pub problems: Vec<Diagnostic>,
    /// Energy and targets, where it could be read.
    pub ready: Option<Ready>,
    /// The model of its days, where it could be built.
    built: Option<Built>,
}

impl Checked {
    /// A text of which only mistakes are known.
    pub fn mistaken(text: String, problems: Vec<Diagnostic>) -> Checked {
        Checked {
            text,
            problems,
            ready: None,
            built: None,
        }
    }

    /// Whether it may be written.
    pub fn sound(&self) -> bool {
        !any_error(&self.problems)
    }

    /// Whether a plan can exist; `None` with mistakes, and when a safety gate stops it.
    pub fn hope(&self, larder: &Larder) -> Option<Hope> {
        let ready = self.ready.as_ref().filter(|r| !r.stopped())?;
        let built = self.built.as_ref()?;
        let pieces = ready.pieces(larder).ok()?;
        let said = |group: &String| match reason_of(built, group) {
            why if why.is_empty() => spoken(pieces, group),
            why => format!("{}: {why}", spoken(pieces, group)),
        };
        Some(match standing(&built.model) {
            Standing::Open(_) => Hope::Open(Vec::new()),
            Standing::Short(short) => {
                let rows = short.iter().filter_map(|s| built.model.rows.get(s.row));
                let mut groups: Vec<String> = rows.map(|r| spoken(pieces, &r.group)).collect();
                groups.dedup();
                Hope::Open(groups)
            }
            Standing::Conflict(groups) => Hope::None(groups.iter().map(said).collect()),
            Standing::Unknown(why) => Hope::Unknown(why),
        })
    }
}

/// Checks a text as the command line does, with what only shows against the kitchen.
pub fn check(larder: &Larder, text: String) -> Checked {
    let ready = match ready(&text, None, None) {
        Ok(ready) => ready,
        Err(mut problems) => {
            // The kitchen is known to be wrong as soon as its word can be read.
            let read = brief::parse(&text).ok();
            problems.extend(read.and_then(|(b, _)| larder.kitchen(&b).err()));
            return Checked::mistaken(text, problems);
        }
    };
    let mut problems = ready.remarks.clone();
    let built = ready.pieces(larder).and_then(build);
    match &built {
        Ok(built) => problems.extend(built.warnings.iter().cloned()),
        Err(more) => problems.extend(more.iter().cloned()),
    }
    Checked {
        text,
        problems,
        ready: Some(ready),
        built: built.ok(),
    }
}

/// Messages by the place of their field; those that belong to none under the empty place.
pub type Said<'a> = BTreeMap<String, Vec<&'a Diagnostic>>;

/// Sorts the messages about a text to the fields that were typed for it; the places are those on the form.
pub fn beside<'a>(checked: &'a Checked, typed: &Typed) -> Said<'a> {
    let places = edit::places(&checked.text);
    let mut said = Said::new();
    for d in &checked.problems {
        let home = home(d, &places, typed, checked).unwrap_or_default();
        said.entry(typed.was_at(&home)).or_default().push(d);
    }
    said
}

type Places = [(String, std::ops::Range<usize>)];

fn home(d: &Diagnostic, places: &Places, typed: &Typed, checked: &Checked) -> Option<String> {
    let lacks = (d.code == "brief-missing-key")
        .then(|| d.message.split('`').nth(1))
        .flatten();
    let Some(span) = d.spans.first().filter(|s| s.range.end > s.range.start) else {
        let place = match lacks {
            Some(key) => key.to_string(),
            None => by_code(d, checked)?,
        };
        return nearest(&place, typed, d);
    };
    let within = |r: &std::ops::Range<usize>| r.start <= span.range.start && span.range.end <= r.end;
    let (place, _) = places
        .iter()
        .filter(|(_, r)| within(r))
        .min_by_key(|(_, r)| r.end - r.start)
        .or_else(|| {
            places
                .iter()
                .filter(|(_, r)| r.start <= span.range.start)
                .max_by_key(|(_, r)| r.start)
        })?;
    match lacks {
        Some(key) => nearest(&format!("{place}.{key}"), typed, d),
        None => nearest(place, typed, d),
    }
}

/// What a message without a place is about, by its code; one about a member of the household begins with the name.
fn by_code(d: &Diagnostic, checked: &Checked) -> Option<String> {
    let (key, member) = match d.code {
        "equation-unknown" | "equation-kind" | "equation-range" | "equation-needs-body-fat" => {
            ("equation", "title")
        }
        "person-body-fat" | "body-outside-model" => ("person.body_fat", "body_fat"),
        "person-weight" => ("person.weight", "weight"),
        "person-height" => ("person.height", "height"),
        "person-age" => ("person.age", "age"),
        "activity-unknown" | "activity-hours" => ("hours.0.hours", "level"),
        "activity-pal" => ("activity.pal", "pal"),
        "activity-measured" => ("activity.expenditure", "level"),
        code if code.starts_with("phase-") => ("phase.0.amount", "amount"),
        _ => return None,
    };
    let named = brief::parse(&checked.text).ok().and_then(|(b, _)| {
        let mut members = b.household.iter();
        members.position(|m| d.message.starts_with(&format!("{}: ", m.title)))
    });
    Some(named.map_or_else(|| key.to_string(), |n| format!("household.{n}.{member}")))
}

/// The field at a place of the file, or the one that stands nearest.
fn nearest(place: &str, typed: &Typed, d: &Diagnostic) -> Option<String> {
    let steps: Vec<&str> = place.split('.').collect();
    let place = match steps[..] {
        [
            "phase" | "household",
            n,
            "surplus" | "deficit" | "rate" | "goal_weight",
        ] => {
            format!("{}.{n}.amount", steps[0])
        }
        ["phase" | "household", n] if d.code.starts_with("phase-") => format!("{}.{n}.amount", steps[0]),
        ["lock", n, "day"] | ["lock", n, "days", _] => format!("lock.{n}.days"),
        ["household", n, "screen", ..] => format!("household.{n}.screen"),
        ["activity", "hours", ..] => "hours.0.hours".to_string(),
        ["cooking", "days", _] => "cooking.days".to_string(),
        [list @ ("diet" | "allergies" | "likes" | "dislikes"), ..] => list.to_string(),
        ["screen", ..] => return Some("screen".to_string()),
        _ => place.to_string(),
    };
    let list = steps[0];
    let first = |key: &str| Some(format!("{place}.{key}")).filter(|p| field_at(p, typed).is_some());
    if field_at(&place, typed).is_some() {
        return Some(place);
    }
    let keys = [
        "kind", "id", "nutrient", "what", "title", "item", "0.item", "days", "sex", "level",
    ];
    keys.into_iter()
        .find_map(first)
        .or_else(|| {
            steps.get(1).and_then(|n| {
                keys.iter()
                    .map(|k| format!("{list}.{n}.{k}"))
                    .find(|p| field_at(p, typed).is_some())
            })
        })
        .or_else(|| {
            super::GROUPS
                .iter()
                .any(|(g, _)| *g == list)
                .then(|| list.to_string())
        })
}
