//! What stands around every room: head, name of the brief, ways to the other rooms, messages, and the files that a
//! page loads.

use super::folder::{Refusal, Shared, Sheet};
use crate::diagnostic::{Diagnostic, Severity};
use crate::report::html::STYLE;
use axum::Router;
use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use axum::routing::get;
use maud::{DOCTYPE, Markup, html};
use std::sync::LazyLock;

/// The look of all rooms: that of the take-away page, then what only a page with controls needs.
static LOOK: LazyLock<String> = LazyLock::new(|| {
    [
        STYLE,
        crate::report::chart::STYLE,
        include_str!("assets/frame.css"),
    ]
    .concat()
});

/// What each room adds to it, on its own pages alone.
const LOOKS: [(&str, &str); 6] = [
    (
        "folder.css",
        concat!(include_str!("assets/form.css"), include_str!("assets/roster.css")),
    ),
    ("brief.css", include_str!("assets/form.css")),
    ("week.css", include_str!("assets/week.css")),
    ("give-and-take.css", include_str!("assets/board.css")),
    ("months.css", include_str!("assets/months.css")),
    ("lists.css", include_str!("assets/lists.css")),
];

/// The library that swaps parts of a page: htmx 2.0.11, Zero-Clause BSD, text of the licence beside it.
const HTMX: &str = include_str!("assets/htmx.min.js");

/// Our own few lines.
const OURS: &str = include_str!("assets/page.js");

/// Changes with the files, so that a browser keeps them until then.
pub(super) static EDITION: LazyLock<String> = LazyLock::new(|| {
    let rooms: String = LOOKS.iter().map(|(_, look)| *look).collect();
    super::folder::digest(&[LOOK.as_str(), &rooms, HTMX, OURS].concat())
});

/// Settings of the library: no code from attributes, no styles of its own, answers that refuse are shown too.
pub(super) const SETTINGS: &str = r#"{"allowEval":false,"includeIndicatorStyles":false,"selfRequestsOnly":true,"historyEnabled":false,"defaultFocusScroll":true,"responseHandling":[{"code":"204","swap":false},{"code":"[2345]..","swap":true}]}"#;

/// The rooms of a brief, in the order a person goes through them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Room {
    /// The brief as a form.
    Brief,
    /// The days of meals.
    Week,
    /// Targets and budget against cost, live.
    Board,
    /// The weeks ahead and behind.
    Months,
    /// Shopping, cooking and files to take along.
    Lists,
}

impl Room {
    const ALL: [Room; 5] = [Room::Brief, Room::Week, Room::Board, Room::Months, Room::Lists];

    /// Its part of the address.
    pub fn path(self) -> &'static str {
        match self {
            Room::Brief => "brief",
            Room::Week => "week",
            Room::Board => "give-and-take",
            Room::Months => "months",
            Room::Lists => "lists",
        }
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Room::Brief => "Brief",
            Room::Week => "Meals",
            Room::Board => "Give and take",
            Room::Months => "Months",
            Room::Lists => "Lists and files",
        }
    }

    /// Its address for a brief.
    pub fn of(self, name: &str) -> String {
        format!("/b/{}/{}", escaped(name), self.path())
    }
}

/// A name as a part of an address (RFC 3986, unreserved characters stay).
pub fn escaped(name: &str) -> String {
    name.bytes()
        .map(|b| match b {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => char::from(b).to_string(),
            _ => format!("%{b:02X}"),
        })
        .collect()
}

/// A whole page. `room` is the brief and the room of it that is shown; `None` for pages of the folder.
///
/// A room puts its content into `main`; a part that is swapped alone carries an `id` there. The element
/// `#said` is a live region: what stands in `said` is read out.
pub fn page(title: &str, room: Option<(&Sheet, Room)>, said: Option<&str>, main: Markup) -> Html<String> {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="htmx-config" content=(SETTINGS);
                title { (title) " – Platewright" }
                link rel="icon" href="data:,";
                link rel="stylesheet" href={ "/assets/page.css?" (*EDITION) };
                link rel="stylesheet" href={ "/assets/" (room.map_or("folder", |(_, r)| r.path())) ".css?" (*EDITION) };
                script src={ "/assets/htmx.js?" (*EDITION) } defer {}
                script src={ "/assets/page.js?" (*EDITION) } defer {}
            }
            body.app {
                a.skip href="#main" { "Skip to the content" }
                header.top {
                    p.home { a href="/" { "All briefs" } }
                    h1 { (title) }
                }
                @if let Some((sheet, here)) = room {
                    nav.rooms aria-label="Rooms of this brief" {
                        @for r in Room::ALL {
                            a href=(r.of(&sheet.name)) aria-current=[(r == here).then_some("page")] { (r.name()) }
                        }
                    }
                }
                p #said role="status" aria-live="polite" { @if let Some(said) = said { (said) } }
                main #main { (main) }
                footer.fine { "Meals for healthy adults, not medical advice: local rules and the people who treat you come first." }
            }
        }
    };
    Html(page.into_string())
}

/// Messages about a text, each with its line and what to do.
pub fn messages(text: &str, problems: &[Diagnostic]) -> Markup {
    html! {
        @if !problems.is_empty() {
            ul.messages {
                @for d in problems {
                    li class=(kind(d)) {
                        strong { @match d.severity { Severity::Error => "Mistake: ", Severity::Warning => "Mind: ", Severity::Note => "Note: " } }
                        (d.message) "."
                        @if let Some(line) = line_of(text, d) { " " span.fine { "Line " (line) "." } }
                        @if let Some(help) = &d.help { " " span.help { (help) } }
                    }
                }
            }
        }
    }
}

fn kind(d: &Diagnostic) -> &'static str {
    match d.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Note => "note",
    }
}

/// The line of a text that a message is about, from 1.
pub fn line_of(text: &str, d: &Diagnostic) -> Option<usize> {
    d.line.or_else(|| {
        let at = d.spans.first()?.range.start.min(text.len());
        Some(text.as_bytes()[..at].iter().filter(|b| **b == b'\n').count() + 1)
    })
}

/// A page that says what was refused.
impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let (status, title, body) = match self {
            Refusal::Missing(name) => (
                StatusCode::NOT_FOUND,
                "No such brief",
                html! { p { "There is no brief \"" (name) "\" in this folder. " a href="/" { "See those there are." } } },
            ),
            Refusal::Mistakes(text, problems) => (
                StatusCode::UNPROCESSABLE_ENTITY,
                "The brief has mistakes",
                html! { p { "Nothing was planned and nothing was written." } (messages(&text, &problems)) },
            ),
            Refusal::Changed(name) => (
                StatusCode::CONFLICT,
                "The file changed meanwhile",
                html! { p { "The brief \"" (name) "\" was changed elsewhere, perhaps in another window or by hand. Nothing was written over it. " a href=(Room::Brief.of(&name)) { "See it as it is now." } } },
            ),
            Refusal::Wrong(what) => (
                StatusCode::BAD_REQUEST,
                "That cannot be done",
                html! { p { (what) "." } },
            ),
            Refusal::File(what) => (
                StatusCode::INTERNAL_SERVER_ERROR,
                "A file cannot be read or written",
                html! { p { (what) "." } },
            ),
        };
        let body = html! { section.refused { (body) } };
        (status, page(title, None, Some(title), body)).into_response()
    }
}

/// The answer for addresses that lead nowhere.
pub async fn nothing_here() -> Response {
    let body = html! { p { "Nothing is at this address. " a href="/" { "All briefs." } } };
    (StatusCode::NOT_FOUND, page("Nothing here", None, None, body)).into_response()
}

/// The files that a page loads.
pub fn routes() -> Router<Shared> {
    Router::new().route("/assets/{file}", get(asset))
}

/// One of those files.
pub(super) async fn asset(Path(file): Path<String>) -> Response {
    let (media, text) = match file.as_str() {
        "page.css" => ("text/css; charset=utf-8", LOOK.as_str()),
        "htmx.js" => ("text/javascript; charset=utf-8", HTMX),
        "page.js" => ("text/javascript; charset=utf-8", OURS),
        room => match LOOKS.iter().find(|(name, _)| *name == room) {
            Some((_, look)) => ("text/css; charset=utf-8", *look),
            None => return nothing_here().await,
        },
    };
    (
        [
            (header::CONTENT_TYPE, media),
            (header::CACHE_CONTROL, "max-age=31536000, immutable"),
        ],
        text,
    )
        .into_response()
}
