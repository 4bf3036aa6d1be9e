//! The briefs of the folder: how each stands, and all of them planned.

use super::folder::{Folder, Glance, Outcome, Refusal, Shared, Sheet};
use super::frame::{Room, page};
use crate::brief::{self, Brief, PhaseKind};
use axum::Router;
use axum::extract::{Query, State};
use axum::response::{Html, Redirect};
use axum::routing::{get, post};
use maud::{Markup, html};
use serde::Deserialize;
use std::sync::{MutexGuard, PoisonError};

/// Routes of this room.
pub fn routes() -> Router<Shared> {
    Router::new()
        .route("/", get(list))
        .route("/all", get(progress))
        .route("/all/plan", post(plan_all))
        .route("/all/stop", post(stop))
}

/// All briefs being planned.
#[derive(Clone, Debug, Default)]
pub struct Round {
    /// Counts the rounds, so that what is left of a stopped one does not count in the next.
    number: u64,
    /// Briefs of the round.
    total: usize,
    /// Those that are through.
    done: usize,
    /// Those with mistakes or failures.
    refused: Vec<String>,
    /// Whether it goes on.
    running: bool,
}

fn round(folder: &Folder) -> MutexGuard<'_, Round> {
    folder.round.lock().unwrap_or_else(PoisonError::into_inner)
}

/// How a brief stands, as the list shows and filters it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Standing {
    Planned,
    NoPlan,
    Stopped,
    Stale,
    New,
    Mistakes,
}

impl Standing {
    const ALL: [Standing; 6] = [
        Standing::Planned,
        Standing::NoPlan,
        Standing::Stopped,
        Standing::Stale,
        Standing::New,
        Standing::Mistakes,
    ];

    fn of(read: Option<&Brief>, glance: Option<&Glance>) -> Standing {
        match (read, glance) {
            (None, _) => Standing::Mistakes,
            (_, None) => Standing::New,
            (_, Some(g)) if !g.fresh => Standing::Stale,
            (_, Some(g)) => match g.outcome {
                Outcome::Planned => Standing::Planned,
                Outcome::NoPlan => Standing::NoPlan,
                Outcome::Stopped => Standing::Stopped,
            },
        }
    }

    fn id(self) -> &'static str {
        match self {
            Standing::Planned => "planned",
            Standing::NoPlan => "no-plan",
            Standing::Stopped => "stopped",
            Standing::Stale => "stale",
            Standing::New => "new",
            Standing::Mistakes => "mistakes",
        }
    }

    fn words(self) -> &'static str {
        match self {
            Standing::Planned => "planned",
            Standing::NoPlan => "no plan",
            Standing::Stopped => "stopped by a safety rule",
            Standing::Stale => "changed since it was planned",
            Standing::New => "not planned yet",
            Standing::Mistakes => "has mistakes",
        }
    }

    /// Where a person goes to move it on.
    fn room(self) -> Room {
        match self {
            Standing::Mistakes | Standing::Stopped => Room::Brief,
            _ => Room::Week,
        }
    }
}

/// What of the list is wanted.
#[derive(Debug, Default, Deserialize)]
struct Wanted {
    #[serde(default)]
    words: String,
    #[serde(default)]
    standing: String,
}

struct Line {
    sheet: Sheet,
    brief: Option<Brief>,
    glance: Option<Glance>,
    standing: Standing,
}

fn lines(folder: &Folder) -> Result<Vec<Line>, Refusal> {
    let sheets = folder.names()?.into_iter().filter_map(|n| folder.sheet(&n).ok());
    Ok(sheets
        .map(|sheet| {
            let brief = brief::parse(&sheet.text).ok().map(|(brief, _)| brief);
            let glance = folder.glance(&sheet);
            Line {
                standing: Standing::of(brief.as_ref(), glance.as_ref()),
                sheet,
                brief,
                glance,
            }
        })
        .collect())
}

async fn list(State(folder): State<Shared>, Query(wanted): Query<Wanted>) -> Result<Html<String>, Refusal> {
    let lines = folder.ask(lines).await??;
    let words = wanted.words.to_lowercase();
    let fits = |l: &&Line| {
        let title = l.brief.as_ref().map_or("", |b| b.title.as_str());
        let named = l.sheet.name.to_lowercase().contains(&words) || title.to_lowercase().contains(&words);
        named && (wanted.standing.is_empty() || wanted.standing == l.standing.id())
    };
    let shown: Vec<&Line> = lines.iter().filter(fits).collect();
    let waiting = lines
        .iter()
        .filter(|l| matches!(l.standing, Standing::New | Standing::Stale))
        .count();
    let main = html! {
        @if lines.is_empty() {
            p.lead { "There is no brief in this folder yet. A brief says who eats, what for, and what may stand on the plate." }
            p { a.button.main href="/new" { "Write the first brief" } }
        } @else {
            div.row {
                a.button href="/new" { "New brief" }
                (all(&folder, waiting))
            }
            @if lines.len() > 5 { (search(&wanted)) }
            @if shown.is_empty() {
                p { "No brief fits. " a href="/" { "See all of them." } }
            } @else {
                (table(&folder, &shown))
            }
        }
    };
    Ok(page("Briefs", None, None, main))
}

fn search(wanted: &Wanted) -> Markup {
    html! {
        form.row.search method="get" action="/" role="search" {
            label { "Name or title " input type="text" name="words" value=(wanted.words); }
            label {
                "Standing "
                select name="standing" {
                    option value="" { "any" }
                    @for s in Standing::ALL { option value=(s.id()) selected[wanted.standing == s.id()] { (s.words()) } }
                }
            }
            button { "Show" }
        }
    }
}

fn table(folder: &Folder, lines: &[&Line]) -> Markup {
    html! {
        table.briefs {
            caption.unseen { "Briefs of this folder" }
            thead { tr {
                th scope="col" { "Brief" }
                th scope="col" { "What for" }
                th scope="col" { "Kitchen" }
                th scope="col" { "Standing" }
                th.n scope="col" { "The days cost" }
                th scope="col" { "Next review" }
            } }
            tbody {
                @for l in lines {
                    tr {
                        th scope="row" {
                            a href=(l.standing.room().of(&l.sheet.name)) { (l.brief.as_ref().map_or(l.sheet.name.as_str(), |b| &b.title)) }
                            span.more { (l.sheet.name) ".toml" }
                        }
                        td data-head="What for" { (l.brief.as_ref().map_or_else(|| "–".into(), purpose)) }
                        td data-head="Kitchen" { (l.brief.as_ref().map_or_else(|| "–".into(), |b| kitchen(folder, b))) }
                        td data-head="Standing" { span class={ "standing " (l.standing.id()) } { (l.standing.words()) } }
                        td.n data-head="The days cost" {
                            @match l.glance.as_ref().and_then(|g| g.cost.as_ref().map(|c| (g.days, c))) {
                                Some((days, cost)) => { (cost) span.more { (days) @if days == 1 { " day" } @else { " days" } } }
                                None => { "–" }
                            }
                        }
                        td data-head="Next review" { (next_review(folder, l).unwrap_or_else(|| "–".into())) }
                    }
                }
            }
        }
    }
}

fn purpose(brief: &Brief) -> String {
    let Some(phase) = brief.phases.first() else {
        return "–".into();
    };
    let kind = match phase.kind {
        PhaseKind::Gain => "gain",
        PhaseKind::Hold => "hold",
        PhaseKind::Lose => "lose",
    };
    match phase.weeks {
        Some(1) => format!("{kind}, 1 week"),
        Some(weeks) => format!("{kind}, {weeks} weeks"),
        None => kind.into(),
    }
}

fn kitchen(folder: &Folder, brief: &Brief) -> String {
    let id = &brief.region.value;
    folder
        .larder
        .catalogue
        .kitchen(id)
        .map_or_else(|| id.clone(), |k| k.name.clone())
}

/// The day of the next review.
fn next_review(folder: &Folder, line: &Line) -> Option<String> {
    super::months::next_review(folder, &line.sheet).map(crate::review::date)
}

/// The button that plans all, or how far it is.
fn all(folder: &Folder, waiting: usize) -> Markup {
    let now = round(folder).clone();
    html! {
        div #all.row hx-get=[now.running.then_some("/all")] hx-trigger="every 600ms" hx-swap="outerHTML" {
            @if now.running {
                label { "Planning " progress max=(now.total) value=(now.done) {} " " (now.done) " of " (now.total) }
                form method="post" action="/all/stop" { button.plain { "Stop after those begun" } }
            } @else if waiting > 0 {
                form method="post" action="/all/plan" { button.main data-waiting="Planning …" { "Plan the " (waiting) " that wait" } }
            }
            @if !now.running && now.total > 0 {
                span role="status" {
                    "Planned " (now.done) " of " (now.total) "."
                    @if !now.refused.is_empty() { " Not planned for mistakes or failures: " (now.refused.join(", ")) "." }
                }
            }
        }
    }
}

/// How far it is; the whole list again when it is through.
async fn progress(State(folder): State<Shared>) -> Result<axum::response::Response, Refusal> {
    use axum::response::IntoResponse;
    if round(&folder).running {
        return Ok(Html(all(&folder, 0).into_string()).into_response());
    }
    Ok(([("HX-Redirect", "/")], Redirect::to("/")).into_response())
}

async fn plan_all(State(folder): State<Shared>) -> Result<Redirect, Refusal> {
    let waiting: Vec<String> = folder
        .ask(lines)
        .await??
        .into_iter()
        .filter(|l| matches!(l.standing, Standing::New | Standing::Stale))
        .map(|l| l.sheet.name)
        .collect();
    let number = {
        let mut now = round(&folder);
        if now.running || waiting.is_empty() {
            return Ok(Redirect::to("/"));
        }
        *now = Round {
            number: now.number + 1,
            total: waiting.len(),
            running: true,
            ..Round::default()
        };
        now.number
    };
    tokio::spawn(async move {
        let hands = std::thread::available_parallelism().map_or(1, usize::from);
        let queue = std::sync::Arc::new(std::sync::Mutex::new(waiting.into_iter()));
        let each = (0..hands).map(|_| {
            let (folder, queue) = (folder.clone(), queue.clone());
            tokio::spawn(async move {
                loop {
                    let next = queue.lock().unwrap_or_else(PoisonError::into_inner).next();
                    let Some(name) = next.filter(|_| going(&folder, number)) else {
                        break;
                    };
                    let made = folder.planned(&name).await;
                    let mut now = round(&folder);
                    if now.number == number {
                        now.done += 1;
                        if made.is_err() {
                            now.refused.push(name);
                        }
                    }
                }
            })
        });
        for hand in each.collect::<Vec<_>>() {
            let _ = hand.await;
        }
        let mut now = round(&folder);
        if now.number == number {
            now.running = false;
        }
    });
    Ok(Redirect::to("/"))
}

fn going(folder: &Folder, number: u64) -> bool {
    let now = round(folder);
    now.running && now.number == number
}

async fn stop(State(folder): State<Shared>) -> Redirect {
    round(&folder).running = false;
    Redirect::to("/")
}
