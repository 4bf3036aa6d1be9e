//! Whether a claimed change of weight is believable: the person is the brief's, the claim a small form.

use super::{Field, Here, Said, ahead, care, choice, value};
use crate::appraise::{Appraisal, appraise};
use crate::brief::claim;
use crate::brief::edit::Document;
use crate::diagnostic::{Diagnostic, Severity};
use crate::page::frame::{Room, line_of, messages};
use crate::report::appraise::{MEANING, expected, rows, said};
use crate::report::words::capital;
use maud::{Markup, html};
use toml::{Table, Value};

/// Names of the form with the place of each in a claim.
const PLACES: [(&str, &str, &str); 7] = [
    ("start", "person", "weight"),
    ("start_fat", "person", "body_fat"),
    ("weeks", "stage", "weeks"),
    ("end", "stage", "end_weight"),
    ("end_fat", "stage", "end_body_fat"),
    ("eaten", "stage", "intake"),
    ("training", "person", "training"),
];

const TRAINING: [(&str, &str); 5] = [
    ("", "as in the brief"),
    ("none", "none"),
    ("novice", "novice"),
    ("intermediate", "intermediate"),
    ("advanced", "advanced"),
];

const ACTIVITY: [(&str, &str); 2] = [("", "as in the brief"), ("unknown", "not known")];

/// The claim as the text of its file, from the brief's person and the form.
fn text(here: &Here, asked: &Said) -> Option<String> {
    let brief: Table = here.sheet.text.parse().ok()?;
    let part = |name: &str| brief.get(name).and_then(Value::as_table).cloned();
    let mut person = part("person").unwrap_or_default();
    let mut stage = Table::new();
    for (name, table, key) in PLACES {
        let typed = value(asked, name);
        if typed.is_empty() {
            continue;
        }
        let number = typed.parse::<i64>().ok().filter(|_| key == "weeks");
        let typed = number.map_or_else(|| Value::from(typed), Value::from);
        if key == "body_fat" {
            // Girths would contradict it.
            for girth in ["neck", "waist", "hip"] {
                person.remove(girth);
            }
        }
        let table = if table == "person" {
            &mut person
        } else {
            &mut stage
        };
        table.insert(key.into(), typed);
    }
    let mut claim = Table::new();
    claim.insert(
        "title".into(),
        format!("A claim with {}", here.brief.title).into(),
    );
    claim.insert("person".into(), person.into());
    if let Some(activity) = part("activity").filter(|_| value(asked, "activity").is_empty()) {
        claim.insert("activity".into(), activity.into());
    }
    claim.insert("stage".into(), Value::Array(vec![stage.into()]));
    Some(claim.to_string())
}

/// The field that a message about the claim belongs to; empty for one of the brief's own.
fn field(text: &str, d: &Diagnostic) -> &'static str {
    let Some(line) = line_of(text, d).and_then(|n| n.checked_sub(1)) else {
        return "";
    };
    let lines: Vec<&str> = text.lines().take(line + 1).collect();
    let table = lines.iter().rev().find_map(|l| l.strip_prefix('['));
    let table = table.map_or("", |t| t.trim_matches(['[', ']']));
    let key = lines
        .last()
        .and_then(|l| l.split('=').next())
        .unwrap_or("")
        .trim();
    let place = PLACES.iter().find(|p| p.1 == table && p.2 == key);
    // A stage that says nothing points at itself.
    match place {
        Some(p) => p.0,
        None if d.code == "claim-nothing-said" => "end",
        None if table == "stage" => "weeks",
        None => "",
    }
}

pub(super) fn section(here: &Here, asked: &Said) -> Markup {
    let claimed = asked.contains_key("claim");
    let typed = claimed.then(|| text(here, asked)).flatten();
    let judged = typed.as_deref().map(|text| {
        claim::parse(text).and_then(|(claim, mut told)| match appraise(&claim) {
            Ok(a) => Ok((a, told)),
            Err(more) => {
                told.extend(more);
                Err(told)
            }
        })
    });
    let told = match &judged {
        Some(Ok((_, told)) | Err(told)) => told.as_slice(),
        None => &[],
    };
    let source = typed.as_deref().unwrap_or("");
    let wrong = |name: &str| -> Vec<Diagnostic> {
        let mine = told.iter().filter(|d| field(source, d) == name);
        mine.filter(|d| d.severity == Severity::Error || !name.is_empty())
            .cloned()
            .collect()
    };
    html! {
        section #claim aria-labelledby="claim-head" {
            h2 #claim-head { "Is a claim believable?" }
            (form(here, asked, claimed, &wrong))
            @if let Some(Ok((a, _))) = &judged { (appraised(a)) }
        }
    }
}

fn form(here: &Here, asked: &Said, claimed: bool, wrong: &dyn Fn(&str) -> Vec<Diagnostic>) -> Markup {
    let address = Room::Months.of(&here.sheet.name);
    let doc = Document::read(&here.sheet.text).ok();
    let own = |place: &str| doc.as_ref().and_then(|d| d.typed(place)).unwrap_or_default();
    let (weight, fat) = (own("person.weight"), own("person.body_fat"));
    let typed = |name: &str, first: &str| {
        let text = if claimed { value(asked, name) } else { first };
        text.to_string()
    };
    let one = |name: &str, label: &str, first: &str, hint: &str| {
        Field {
            id: &format!("claim-{name}"),
            name,
            label,
            kind: "text",
            value: &typed(name, first),
            hint,
            wrong: &wrong(name),
        }
        .draw(html! {})
    };
    let other = wrong("");
    html! {
        form method="get" action={ (address) "#claim" } hx-get=(address) hx-target="#claim" hx-select="#claim" hx-swap="outerHTML" {
            input type="hidden" name="claim" value="1";
            p { "Somebody like the person of this brief is said to have changed their weight. Sex, age and height are the brief's; say what is claimed." }
            @if !other.is_empty() { p { "Of the brief:" } (messages("", &other.iter().cloned().map(|mut d| { d.spans.clear(); d }).collect::<Vec<_>>())) }
            div.fields {
                (one("start", "Weight at the start", &weight, "With its unit: 61 kg, 134 lb."))
                (one("end", "Weight reached", "", "With its unit."))
                (one("weeks", "Weeks", "16", "1 to 104."))
                (one("eaten", "Eaten a day, if told", "", "3000 kcal, or 12.5 MJ."))
                (one("start_fat", "Body fat at the start, if known", &fat, "17 %"))
                (one("end_fat", "Body fat reached, if told", "", "14 %"))
                (choice("claim-training", "training", "Resistance training", &TRAINING, value(asked, "training")))
                (choice("claim-activity", "activity", "Activity", &ACTIVITY, value(asked, "activity")))
            }
            p { button #claim-send { "Hold it against the figures" } }
        }
    }
}

fn appraised(a: &Appraisal) -> Markup {
    html! {
        div role="status" {
            @for stage in &a.stages {
                h3 { (capital(&stage.verdicts.iter().map(|v| v.words()).collect::<Vec<_>>().join("; "))) }
                p { (said(stage)) "." }
                div.wide tabindex="0" role="group" aria-label="Figures of the claim" {
                    table.figures {
                        thead { tr { th scope="col" { "If the expenditure is" } @for w in ["low", "middle", "high"] { th.n scope="col" { (w) } } } }
                        tbody { @for (what, cells) in rows(stage) { tr { th scope="row" { (capital(what.trim())) } @for c in cells { td.n { (c) } } } } }
                    }
                }
                @let words = expected(stage);
                @if !words.is_empty() {
                    h4.quiet { "What practice would expect in this time" }
                    @for w in words { p { (w) } }
                }
                @if !stage.gates.is_empty() {
                    h4.quiet { "Care: safety rules that eating so would set off" }
                    (care(&stage.gates))
                }
                details { summary { "How it was judged" } (steps(&stage.steps)) }
            }
        }
        details {
            summary { "What the expenditure and the body fat rest on" }
            (steps(&a.basis))
            (ahead::estimates(&a.estimates))
        }
        p.fine { (MEANING) }
    }
}

fn steps(steps: &[crate::energy::Step]) -> Markup {
    html! {
        ol { @for s in steps { li { strong { (s.what) ": " (s.value) } ". " (s.how) @if !s.source.is_empty() { span.source { "Source: " (s.source) } } } } }
    }
}
