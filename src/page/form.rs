//! The brief as a form: every field of the file, its checks beside the fields, and a line that says whether a plan
//! can exist.
//!
//! - `fields`: the fields there are
//! - `typed`: what is typed, read from a text and written back where it differs
//! - `check`: what there is to say of a text, and beside which field
//! - `draw`: the form
//! - `new`: a brief that is not there yet

mod check;
mod draw;
mod fields;
mod new;
mod typed;

use super::folder::{Folder, Refusal, Shared, Sheet};
use super::frame::{Room, page};
use crate::brief::edit::Document;
use axum::Router;
use axum::extract::{Form, Path, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use check::{Checked, check};
use draw::{Note, Scene};
use typed::Typed;

/// The groups of fields: id, heading.
const GROUPS: &[(&str, &str)] = &[
    ("phase", "Phases"),
    ("person", "Person"),
    ("activity", "Activity"),
    ("screen", "Referral questions"),
    ("aim", "Days and aim"),
    ("taste", "Allergies and taste"),
    ("slot", "The day's meals"),
    ("target", "Floors and ceilings"),
    ("pantry", "At home"),
    ("cooking", "Time to cook"),
    ("lock", "Fixed meals"),
    ("usual", "The usual week"),
    ("household", "Household"),
    ("output", "How figures are told"),
];

/// The heading of a group; a list of hours belongs to the activity.
fn heading(group: &str) -> &str {
    let group = if group == "hours" { "activity" } else { group };
    GROUPS
        .iter()
        .find(|(id, _)| *id == group)
        .map_or(group, |(_, h)| h)
}

/// What an address ends in after saving.
const SAVED: &str = "saved";

/// On to the form, which says that it was saved.
fn to_saved(name: &str) -> Response {
    Redirect::to(&format!("{}?{SAVED}", Room::Brief.of(name))).into_response()
}

type Pairs = Vec<(String, String)>;

/// Routes of this room.
pub fn routes() -> Router<Shared> {
    Router::new()
        .route("/b/{name}/brief", get(show).post(save))
        .route("/b/{name}/brief/check", post(live))
        .route("/b/{name}/brief/text", post(save_text))
        .route("/new", get(new::show).post(new::make))
}

/// The first value of a name in a post.
fn first<'a>(post: &'a [(String, String)], name: &str) -> &'a str {
    post.iter()
        .find(|(k, _)| k == name)
        .map_or("", |(_, v)| v.as_str())
}

fn answer(status: StatusCode, sheet: &Sheet, said: Option<&str>, main: maud::Markup) -> Response {
    let title = sheet.title();
    let html: Html<String> = page(&title, Some((sheet, Room::Brief)), said, main);
    (status, html).into_response()
}

async fn show(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Response, Refusal> {
    folder
        .ask(move |folder| {
            let sheet = folder.sheet(&name)?;
            let checked = check(&folder.larder, sheet.text.clone());
            let doc = Document::read(&sheet.text).ok();
            let typed = doc.as_ref().map(|d| Typed::of(d, &folder.larder.catalogue));
            let scene = Scene::new(&folder.larder, &sheet, typed, &checked);
            let said = (query.as_deref() == Some(SAVED)).then_some("Saved.");
            Ok(answer(StatusCode::OK, &sheet, said, draw::room(&scene)))
        })
        .await?
}

/// Writes what was typed into a brief's text and checks it; with the fields that were written.
fn written(folder: &Folder, sheet: &Sheet, typed: Typed, mut doc: Document) -> (Checked, Typed) {
    let catalogue = &folder.larder.catalogue;
    let base = Typed::of(&doc, catalogue);
    let typed = typed.without_blank_rows();
    let checked = match typed::write(&mut doc, &base, &typed, catalogue) {
        Ok(()) => check(&folder.larder, doc.text()),
        Err(problems) => Checked::mistaken(sheet.text.clone(), problems),
    };
    (checked, typed)
}

async fn save(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Form(post): Form<Pairs>,
) -> Result<Response, Refusal> {
    folder.ask(move |folder| saved(folder, &name, &post)).await?
}

fn saved(folder: &Folder, name: &str, post: &Pairs) -> Result<Response, Refusal> {
    let sheet = folder.sheet(name)?;
    let doc = Document::read(&sheet.text).map_err(|d| Refusal::Mistakes(sheet.text.clone(), vec![d]))?;
    let now = Typed::of(&doc, &folder.larder.catalogue);
    let mut typed = now.clone().overlaid(post);
    let mut touched = None;
    if let Some((what, place)) = first(post, "do").split_once(' ') {
        match what {
            "add" => typed.add(place),
            _ => typed.drop_row(place),
        }
        touched = Some(place.to_string());
    }
    let old = first(post, "seen") != sheet.digest;
    if old {
        typed = typed.placed_anew(&now);
    }
    if let Some(place) = touched {
        // Rows are only drawn; nothing is written before the form is saved.
        let shown = typed.clone();
        let (checked, kept) = written(folder, &sheet, typed, doc);
        let note = old.then(|| Note::Changed(now.differs(&shown)));
        let mut scene = Scene::new(&folder.larder, &sheet, Some(shown), &checked);
        scene.said = check::beside(&checked, &kept);
        scene.touched = Some(place);
        scene.note = note;
        return Ok(answer(
            StatusCode::OK,
            &sheet,
            Some("Not saved yet."),
            draw::room(&scene),
        ));
    }
    let (checked, typed) = written(folder, &sheet, typed, doc);
    let typed = typed.settled();
    let shown = |status, note, said| {
        let mut scene = Scene::new(&folder.larder, &sheet, Some(typed.clone()), &checked);
        scene.note = Some(note);
        Ok(answer(status, &sheet, Some(said), draw::room(&scene)))
    };
    if old {
        let note = Note::Changed(now.differs(&typed));
        return shown(
            StatusCode::CONFLICT,
            note,
            "The file changed meanwhile; nothing was written.",
        );
    }
    if !checked.sound() {
        let said = "There are mistakes; nothing was written.";
        return shown(StatusCode::UNPROCESSABLE_ENTITY, Note::Mistakes, said);
    }
    if checked.text != sheet.text {
        folder.save(name, &sheet.digest, &checked.text, None)?;
    }
    Ok(to_saved(name))
}

/// The text with the ends of lines of the one it takes the place of.
fn with_ends_of(old: &str, new: &str) -> String {
    let plain = new.replace("\r\n", "\n");
    if old.contains("\r\n") {
        plain.replace('\n', "\r\n")
    } else {
        plain
    }
}

async fn save_text(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Form(post): Form<Pairs>,
) -> Result<Response, Refusal> {
    folder
        .ask(move |folder| {
            let sheet = folder.sheet(&name)?;
            let text = with_ends_of(&sheet.text, first(&post, "text"));
            let checked = check(&folder.larder, text);
            let changed = first(&post, "seen") != sheet.digest;
            if !changed && checked.sound() {
                if checked.text != sheet.text {
                    folder.save(&name, &sheet.digest, &checked.text, None)?;
                }
                return Ok(to_saved(&name));
            }
            let doc = Document::read(&sheet.text).ok();
            let typed = doc.as_ref().map(|d| Typed::of(d, &folder.larder.catalogue));
            let standing = check(&folder.larder, sheet.text.clone());
            let mut scene = Scene::new(&folder.larder, &sheet, typed, &standing);
            scene.raw = Some(&checked);
            scene.note = Some(if changed {
                Note::TextChanged
            } else {
                Note::TextMistakes
            });
            let (status, said) = if changed {
                (
                    StatusCode::CONFLICT,
                    "The file changed meanwhile; nothing was written.",
                )
            } else {
                (
                    StatusCode::UNPROCESSABLE_ENTITY,
                    "The text has mistakes; nothing was written.",
                )
            };
            Ok(answer(status, &sheet, Some(said), draw::room(&scene)))
        })
        .await?
}

/// The answer while somebody types: the line of energy and plan, and the messages beside the fields.
async fn live(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Form(post): Form<Pairs>,
) -> Result<Html<String>, Refusal> {
    folder
        .ask(move |folder| {
            let sheet = folder.sheet(&name)?;
            let doc =
                Document::read(&sheet.text).map_err(|d| Refusal::Mistakes(sheet.text.clone(), vec![d]))?;
            let typed = Typed::of(&doc, &folder.larder.catalogue).overlaid(&post);
            let shown = typed.clone();
            let (checked, kept) = written(folder, &sheet, typed, doc);
            let mut scene = Scene::new(&folder.larder, &sheet, Some(shown), &checked);
            scene.said = check::beside(&checked, &kept);
            scene.stale = first(&post, "seen") != sheet.digest;
            Ok(Html(draw::live(&scene, first(&post, "had")).into_string()))
        })
        .await?
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_of_lines_stay_as_they_were() {
        assert_eq!(with_ends_of("a\n", "b\r\nc\r\n"), "b\nc\n");
        assert_eq!(with_ends_of("a\r\n", "b\r\nc\r\n"), "b\r\nc\r\n");
        assert_eq!(with_ends_of("", "b"), "b");
    }

    #[test]
    fn every_table_of_the_form_has_a_heading() {
        for (list, _) in fields::LISTS {
            assert_ne!(heading(list), *list);
        }
        assert_eq!(heading("hours"), heading("activity"));
    }
}
