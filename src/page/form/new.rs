//! A brief that is not there yet: a few fields make the commented starter.

use super::Pairs;
use super::check::{Said, beside, check};
use super::draw::{described, id, select, told};
use super::fields::{AMOUNT, FIRST, Field, Kind, PERSON, PHASE, Pick, options};
use super::typed::{Typed, write};
use crate::brief::edit::Document;
use crate::brief::{PhaseKind, StarterOptions, starter};
use crate::diagnostic::Diagnostic;
use crate::page::folder::{Folder, Refusal, Shared, is_name};
use crate::page::frame::{Room, page};
use crate::person::Sex;
use axum::extract::{Form, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};

const NAME: Field = Field {
    key: "name",
    label: "Name of the brief",
    hint: "Its file is called so: letters, digits, spaces, - and _.",
    kind: Kind::Line,
};

/// The fields asked for, with their places in the brief.
fn asked() -> Vec<(String, Field)> {
    let of = |outer: &str, fields: &[Field], keys: &[&str]| -> Vec<(String, Field)> {
        let wanted = fields.iter().filter(|f| keys.contains(&f.key));
        wanted.map(|f| (format!("{outer}{}", f.key), *f)).collect()
    };
    let mut all = vec![("name".to_string(), NAME)];
    all.extend(of("", FIRST, &["region"]));
    all.extend(of("person.", PERSON, &["sex", "age", "height", "weight"]));
    all.extend(of("phase.0.", PHASE, &["kind", AMOUNT.key]));
    all.extend(of("", FIRST, &["diet", "budget"]));
    all
}

/// The empty form.
pub async fn show(State(folder): State<Shared>) -> Result<Html<String>, Refusal> {
    folder
        .ask(|folder| {
            page(
                "New brief",
                None,
                None,
                draw(folder, &Typed::default(), &Said::new(), None),
            )
        })
        .await
}

/// Writes the starter, or says what is wrong beside the fields.
pub async fn make(State(folder): State<Shared>, Form(post): Form<Pairs>) -> Result<Response, Refusal> {
    folder.ask(move |folder| made(folder, &post)).await?
}

fn made(folder: &Folder, post: &Pairs) -> Result<Response, Refusal> {
    let asked = asked();
    let known = |k: &str| k == "has" || asked.iter().any(|(place, _)| place == k);
    let mut mine: Pairs = post.iter().filter(|(k, _)| known(k)).cloned().collect();
    // Marks that are all off are not posted, and are off all the same.
    mine.insert(0, ("has".into(), "diet".into()));
    let typed = Typed::default().overlaid(&mine);
    let name = typed.one("name");
    let word = |place: &str| Some(typed.one(place)).filter(|w| !w.is_empty());
    let standard = StarterOptions::default();
    let or = |place: &str, other: String| word(place).map_or(other, str::to_string);
    let text = starter(&StarterOptions {
        region: or("region", standard.region),
        sex: if typed.one("person.sex") == "male" {
            Sex::Male
        } else {
            Sex::Female
        },
        age: standard.age,
        height: or("person.height", standard.height),
        weight: or("person.weight", standard.weight),
        phase: match typed.one("phase.0.kind") {
            "gain" => PhaseKind::Gain,
            "lose" => PhaseKind::Lose,
            _ => PhaseKind::Hold,
        },
        diets: typed.many("diet").into_iter().map(str::to_string).collect(),
        budget: word("budget").map(str::to_string),
    });
    let broken = |d: Diagnostic| Refusal::Mistakes(text.clone(), vec![d]);
    let mut doc = Document::read(&text).map_err(broken)?;
    let base = Typed::of(&doc, &folder.larder.catalogue);
    // A field that was not sent counts as empty here, so that what is needed is asked for.
    let empty = asked
        .iter()
        .filter(|(p, f)| !matches!(f.kind, Kind::Many(_)) && p != "name");
    let all: Pairs = empty
        .map(|(p, _)| (p.clone(), typed.raw(p).to_string()))
        .collect();
    let full = base.clone().overlaid(&all);
    write(&mut doc, &base, &full, &folder.larder.catalogue)
        .map_err(|problems| Refusal::Mistakes(text.clone(), problems))?;
    let checked = check(&folder.larder, doc.text());
    let bad_name = name_problem(folder, name);
    if checked.sound() && bad_name.is_none() {
        let sheet = folder.create(name, &checked.text)?;
        return Ok(Redirect::to(&Room::Brief.of(&sheet.name)).into_response());
    }
    let mut said = beside(&checked, &full);
    said.values_mut().for_each(|all| all.retain(|d| d.is_error()));
    said.retain(|_, all| !all.is_empty());
    if let Some(problem) = &bad_name {
        said.entry("name".into()).or_default().push(problem);
    }
    let main = draw(folder, &typed, &said, Some(&asked));
    let said = "There are mistakes; nothing was written.";
    Ok((
        StatusCode::UNPROCESSABLE_ENTITY,
        page("New brief", None, Some(said), main),
    )
        .into_response())
}

fn name_problem(folder: &Folder, name: &str) -> Option<Diagnostic> {
    let wrong = |message: String, help: &str| Some(Diagnostic::error("page-name", message).help(help));
    if name.is_empty() {
        wrong("the brief has no name".into(), "write one, such as spring")
    } else if !is_name(name) {
        wrong(
            format!("\"{name}\" cannot be the name of a file here"),
            "use letters, digits, spaces, - and _",
        )
    } else if folder.taken(name) {
        wrong(
            format!("there is a file \"{name}.toml\" already"),
            "choose another name",
        )
    } else {
        None
    }
}

/// The form; with mistakes, what is wrong comes first.
fn draw(folder: &Folder, typed: &Typed, said: &Said, wrong: Option<&[(String, Field)]>) -> Markup {
    let fields = asked();
    let label = |place: &str| {
        fields
            .iter()
            .find(|(p, _)| p == place)
            .map_or("The brief", |(_, f)| f.label)
    };
    html! {
        div.brief {
            @if wrong.is_some() {
                section.stop.told-first #summary tabindex="-1" autofocus aria-labelledby="summary-head" {
                    h2 #summary-head { (crate::report::words::counted(said.values().map(Vec::len).sum(), "mistake")) "; nothing was written" }
                    ul { @for (place, all) in said { @for d in all {
                        li {
                            @if fields.iter().any(|(p, _)| p == place) { a href={ "#f-" (id(place)) } { (label(place)) } ": " (d.message) "." }
                            @else { (d.message) "." @if let Some(help) = &d.help { " " span.help { (super::draw::sentence(help)) } } }
                        }
                    } } }
                }
            }
            p { "A few words make a brief with a comment for every key. All of it can be changed afterwards." }
            form #form method="post" action="/new" novalidate {
                section.first {
                    div.fields { @for (place, f) in fields.iter().filter(|(_, f)| !matches!(f.kind, Kind::Many(_))) {
                        (field(folder, typed, said, place, f))
                    } }
                    @for (place, f) in fields.iter().filter(|(_, f)| matches!(f.kind, Kind::Many(_))) {
                        (diets(folder, typed, said, place, f))
                    }
                }
                div.save { button.main data-waiting="Writing …" { "Write the brief" } a.button href="/" { "Leave it" } }
            }
        }
    }
}

fn field(folder: &Folder, typed: &Typed, said: &Said, place: &str, f: &Field) -> Markup {
    let mine: &[&Diagnostic] = said.get(place).map_or(&[], Vec::as_slice);
    let invalid = (!mine.is_empty()).then_some("true");
    let near = described(place, f);
    html! {
        div.field {
            label for={ "f-" (id(place)) } { (f.label) }
            @if let Kind::Pick(pick) = f.kind {
                (select(&folder.larder, None, place, typed.one(place), pick, &near, invalid))
            } @else {
                input type="text" id={ "f-" (id(place)) } name=(place) value=(typed.raw(place)) autocomplete="off" aria-describedby=(near) aria-invalid=[invalid];
            }
            @if !f.hint.is_empty() { p.hint id={ "h-" (id(place)) } { (f.hint) } }
            (told(&id(place), mine, false))
        }
    }
}

fn diets(folder: &Folder, typed: &Typed, said: &Said, place: &str, f: &Field) -> Markup {
    let [all, _] = options(Pick::Diets, &folder.larder, None);
    let now = typed.many(place);
    let mine: &[&Diagnostic] = said.get(place).map_or(&[], Vec::as_slice);
    html! {
        fieldset.field.many id={ "f-" (id(place)) } tabindex="-1" aria-describedby=(described(place, f)) {
            legend { (f.label) }
            p.hint id={ "h-" (id(place)) } { (f.hint) }
            div.marks { @for (word, name) in &all {
                label { input type="checkbox" name=(place) value=(word) checked[now.contains(&word.as_str())]; " " (name) }
            } }
            (told(&id(place), mine, false))
        }
    }
}
