//! The weeks ahead and behind: the forecast of the phases, the log of weigh-ins with its review and the week that
//! follows from it, and whether a claim is believable.

mod ahead;
mod claim;
mod log;
mod review;

use super::folder::{Folder, Refusal, Shared, Sheet};
use super::frame::{Room, page};
use crate::brief::{self, Brief};
use crate::diagnostic::Diagnostic;
use crate::energy::{Gate, GateAction};
use crate::report::chart::bare;
use crate::review::log::{Day, day_of};
use axum::extract::{Form, Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Router, response::Html};
use chrono::{Datelike, Local};
use maud::{Markup, PreEscaped, html};
use std::collections::BTreeMap;

pub use log::next_review;

/// What a form or an address says, by name.
type Said = BTreeMap<String, String>;

/// Routes of this room.
pub fn routes() -> Router<Shared> {
    Router::new()
        .route("/b/{name}/months", get(show))
        .route("/b/{name}/months/log", post(enter))
        .route("/b/{name}/months/log/take", post(take))
        .route("/b/{name}/months/next", post(follow))
}

/// A value that was sent, without space around it; empty when there is none.
fn value<'a>(said: &'a Said, name: &str) -> &'a str {
    said.get(name).map_or("", |v| v.trim())
}

/// Today by the clock of this machine.
fn today() -> Day {
    let now = Local::now().date_naive();
    day_of(
        i64::from(now.year()),
        i64::from(now.month()),
        i64::from(now.day()),
    )
    .unwrap_or(0)
}

/// A brief with its text, as this room needs it: as written, for the first week.
struct Here {
    sheet: Sheet,
    brief: Brief,
}

fn here(folder: &Folder, name: &str) -> Result<Here, Refusal> {
    let sheet = folder.sheet(name)?;
    let (brief, _) =
        brief::parse(&sheet.text).map_err(|problems| Refusal::Mistakes(sheet.text.clone(), problems))?;
    Ok(Here { sheet, brief })
}

fn draw(
    folder: &Folder,
    name: &str,
    asked: &Said,
    entry: &log::Entered,
    said: Option<&str>,
) -> Result<Html<String>, Refusal> {
    let here = here(folder, name)?;
    let kept = log::kept(folder, name)?;
    let main = html! {
        (ahead::section(&here, value(asked, "show")))
        div #tracking {
            (log::section(&here, &kept, entry, today()))
            (review::section(&here, &kept, today()))
        }
        (claim::section(&here, asked))
    };
    Ok(page(
        &here.brief.title,
        Some((&here.sheet, Room::Months)),
        said,
        main,
    ))
}

async fn show(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Query(asked): Query<Said>,
) -> Result<Html<String>, Refusal> {
    let ask = move |folder: &Folder| {
        let kept = log::kept(folder, &name)?;
        let entry = log::Entered::asked(&kept, &asked, today());
        let done = log::done(value(&asked, "done"));
        draw(folder, &name, &asked, &entry, done)
    };
    folder.ask(ask).await?
}

/// To the log again after a change of it.
fn back(name: &str, done: &str) -> Response {
    Redirect::to(&format!("{}?done={done}#log", Room::Months.of(name))).into_response()
}

async fn enter(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Form(said): Form<Said>,
) -> Result<Response, Refusal> {
    let ask = move |folder: &Folder| {
        let here = here(folder, &name)?;
        match log::enter(folder, &here, &said, today())? {
            Ok(done) => Ok(back(&name, done)),
            Err(entered) => {
                let told = "Nothing was written; see what is beside the fields.";
                let html = draw(folder, &name, &Said::new(), &entered, Some(told))?;
                Ok((StatusCode::UNPROCESSABLE_ENTITY, html).into_response())
            }
        }
    };
    folder.ask(ask).await?
}

async fn take(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Form(said): Form<Said>,
) -> Result<Response, Refusal> {
    let ask = move |folder: &Folder| {
        log::take(folder, &name, &said)?;
        Ok(back(&name, "taken"))
    };
    folder.ask(ask).await?
}

/// Writes the brief that a review brought up to date, and leads to its meals.
async fn follow(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Form(said): Form<Said>,
) -> Result<Response, Refusal> {
    let ask = move |folder: &Folder| {
        let here = here(folder, &name)?;
        let kept = log::kept(folder, &name)?;
        if kept.digest != value(&said, "log") {
            return Err(log::changed(&name));
        }
        let text = review::next(&here, &kept)?;
        crate::ready::ready(&text, None, None)
            .map_err(|problems| Refusal::Mistakes(text.clone(), problems))?;
        folder.save(&name, value(&said, "seen"), &text, None)?;
        Ok(Redirect::to(&Room::Week.of(&name)).into_response())
    };
    folder.ask(ask).await?
}

/// A chart, which on a narrow page is moved under a window of its own.
fn drawn(svg: &str) -> Markup {
    html! { div.drawn tabindex="0" role="group" aria-label="Chart" { (PreEscaped(bare(svg))) } }
}

/// Safety rules that fired: what, why, what instead, source.
fn care(gates: &[Gate]) -> Markup {
    html! {
        ul.messages {
            @for gate in gates {
                @let (kind, word) = match gate.action { GateAction::Stop => ("error", "Stops: "), GateAction::Warn => ("warning", "Mind: ") };
                li class=(kind) {
                    strong { (word) } (gate.why) " "
                    span.help { "Instead: " (gate.instead) }
                    span.source { "Source: " (gate.source) }
                }
            }
        }
    }
}

/// A field of a form with its label, a hint, and what is wrong with what was typed.
struct Field<'a> {
    id: &'a str,
    name: &'a str,
    label: &'a str,
    kind: &'a str,
    value: &'a str,
    hint: &'a str,
    wrong: &'a [Diagnostic],
}

impl Field<'_> {
    fn draw(&self, with: Markup) -> Markup {
        let about = format!("{}-about", self.id);
        let told = !self.hint.is_empty() || !self.wrong.is_empty();
        html! {
            div.field {
                label for=(self.id) { (self.label) }
                div.typed {
                    input id=(self.id) name=(self.name) type=(self.kind) value=(self.value) autocomplete="off"
                        aria-describedby=[told.then_some(about.as_str())] aria-invalid=[(!self.wrong.is_empty()).then_some("true")];
                    (with)
                }
                @if told {
                    div id=(about) {
                        @for d in self.wrong { p.wrong { (d.message) "." @if let Some(help) = &d.help { " " span.help { (help) } } } }
                        @if !self.hint.is_empty() { p.hint { (self.hint) } }
                    }
                }
            }
        }
    }
}

/// A choice of a form: values with their words.
fn choice(id: &str, name: &str, label: &str, options: &[(&str, &str)], chosen: &str) -> Markup {
    html! {
        div.field {
            label for=(id) { (label) }
            select id=(id) name=(name) {
                @for (value, word) in options { option value=(value) selected[*value == chosen] { (word) } }
            }
        }
    }
}
