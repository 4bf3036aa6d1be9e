//! The days of meals: made, looked at, locked, changed one thing at a time, taken back.
//!
//! Every change is written into the brief first and then searched for with the rest kept ([`crate::swap`]); what the
//! brief alone would give is another week, and the page says so.

mod change;
mod draw;
mod note;

use super::folder::{Folder, Refusal, Shared, Sheet};
use super::frame::{Room, messages, page};
use crate::plan::{Plan, stopped};
use crate::ready::Ready;
use axum::Router;
use axum::extract::{Form, Path, Query, State};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use change::{Asked, Outcome};
use maud::{Markup, html};
use serde::Deserialize;

/// Routes of this room.
pub fn routes() -> Router<Shared> {
    Router::new()
        .route("/b/{name}/week", get(show))
        .route("/b/{name}/week/plan", post(plan))
        .route("/b/{name}/week/change", post(change))
        .route("/b/{name}/week/instead", get(instead))
        .route("/b/{name}/undo", post(undo))
}

/// Which of the days are shown, where there are more than a week of them.
#[derive(Debug, Deserialize)]
struct Days {
    from: Option<u32>,
}

/// A form that changes something: the text it was made from, and what is asked.
#[derive(Debug, Deserialize)]
struct Changing {
    seen: String,
    #[serde(default)]
    r#do: String,
    /// The room to go back to, by its part of the address.
    back: Option<String>,
}

/// The item of a meal that something else is asked for.
#[derive(Debug, Deserialize)]
struct Instead {
    day: u32,
    slot: String,
    item: String,
}

async fn show(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Query(days): Query<Days>,
) -> Result<Html<String>, Refusal> {
    folder.ask(move |folder| room(folder, &name, days.from)).await?
}

async fn plan(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Form(form): Form<Changing>,
) -> Result<Response, Refusal> {
    if folder.sheet(&name)?.digest != form.seen {
        return Err(Refusal::Changed(name));
    }
    let (sheet, week) = folder.planned(&name).await?;
    let said = if week.plan.planned {
        format!("Planned: {}.", draw::cost_told(&week.plan))
    } else {
        "No plan meets everything.".into()
    };
    note::write(&folder, &sheet, note::Note::said(said))?;
    Ok(to(&name, "week"))
}

async fn change(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Form(form): Form<Changing>,
) -> Result<Response, Refusal> {
    let asked = Asked::read(&form.r#do)
        .ok_or_else(|| Refusal::Wrong("this page asks for nothing of that kind".into()))?;
    let done = {
        let name = name.clone();
        folder
            .work(move |folder| change::make(folder, &name, &form.seen, &asked))
            .await??
    };
    Ok(match done {
        Outcome::Done(at) => to(&name, &at),
        Outcome::Nothing(sheet, why) => {
            let name = sheet.title();
            page(
                &name,
                Some((&sheet, Room::Week)),
                Some("Nothing was changed."),
                why,
            )
            .into_response()
        }
    })
}

async fn instead(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Query(asked): Query<Instead>,
) -> Result<Html<String>, Refusal> {
    folder
        .ask(move |folder| {
            let sheet = folder.sheet(&name)?;
            let place = crate::swap::Place {
                day: asked.day,
                slot: asked.slot,
            };
            let offers = change::offers(folder, &sheet, &place, &asked.item)?;
            let heading = sheet.title();
            let main = draw::offers(&sheet, &offers);
            Ok(page(&heading, Some((&sheet, Room::Week)), None, main))
        })
        .await?
}

async fn undo(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Form(form): Form<Changing>,
) -> Result<Response, Refusal> {
    let room = form.back.unwrap_or_else(|| Room::Week.path().to_string());
    let back = [Room::Brief, Room::Week, Room::Board, Room::Months, Room::Lists]
        .into_iter()
        .find(|r| r.path() == room)
        .unwrap_or(Room::Week);
    let address = back.of(&name);
    folder
        .ask(move |folder| {
            let now = folder.sheet(&name)?;
            if now.digest != form.seen {
                return Err(Refusal::Changed(name));
            }
            let sheet = folder.undo(&name)?;
            let said = change::taken_back(&now.text, &sheet.text);
            note::say(folder, &sheet, said)
        })
        .await??;
    Ok(Redirect::to(&address).into_response())
}

/// Back to the days, at a part of the page.
fn to(name: &str, at: &str) -> Response {
    Redirect::to(&format!("{}#{at}", Room::Week.of(name))).into_response()
}

/// The room as a brief and its week stand.
fn room(folder: &Folder, name: &str, from: Option<u32>) -> Result<Html<String>, Refusal> {
    let sheet = folder.sheet(name)?;
    let heading = sheet.title();
    let here = Some((&sheet, Room::Week));
    let ready = match folder.ready(&sheet) {
        Ok(ready) => ready,
        Err(Refusal::Mistakes(text, problems)) => {
            let main = html! {
                section.stop aria-labelledby="stop" {
                    h2 #stop { "The brief has mistakes" }
                    p { "No meals are planned before they are put right. " a href=(Room::Brief.of(name)) { "To the brief" } }
                    (messages(&text, &problems))
                }
                (back_button(folder, &sheet))
            };
            return Ok(page(&heading, here, None, main));
        }
        Err(other) => return Err(other),
    };
    let note = note::read(folder, &sheet);
    let said = note.as_ref().map(|n| n.said.as_str()).filter(|s| !s.is_empty());
    let body = match folder.week(name) {
        _ if ready.stopped() => none(
            &stopped(&ready.brief, &ready.energy, &ready.targets),
            &sheet,
            &ready,
        ),
        None => draw::invite(&sheet, &ready),
        Some(week) => {
            let fresh = week.digest == sheet.digest;
            let plan = &week.plan;
            if plan.planned {
                let view = draw::View {
                    sheet: &sheet,
                    ready: &ready,
                    plan,
                    fresh,
                    note: note.as_ref(),
                    catalogue: &folder.larder.catalogue,
                    from: from.unwrap_or(1),
                    undo: folder.can_undo(name),
                };
                draw::week(&view)
            } else if fresh {
                none(plan, &sheet, &ready)
            } else {
                draw::invite(&sheet, &ready)
            }
        }
    };
    let main = html! {
        (body)
        @if !folder.week(name).is_some_and(|w| w.plan.planned) || ready.stopped() { (back_button(folder, &sheet)) }
    };
    Ok(page(&heading, here, said, main))
}

/// Why there is no plan, and the ways out.
fn none(plan: &Plan, sheet: &Sheet, ready: &Ready) -> Markup {
    draw::told(&ready.brief, || draw::none(plan, sheet, ready))
}

/// Takes the last change back, where there is one.
fn back_button(folder: &Folder, sheet: &Sheet) -> Markup {
    html! { @if folder.can_undo(&sheet.name) { (draw::undo(sheet)) } }
}
