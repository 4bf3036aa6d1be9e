//! The briefs of the folder: how each stands, a new one, and all of them planned.

use super::folder::{Refusal, Shared, Sheet};
use super::frame::{Room, page};
use axum::Router;
use axum::extract::State;
use axum::response::Html;
use axum::routing::get;
use maud::html;

/// Routes of this room.
pub fn routes() -> Router<Shared> {
    Router::new().route("/", get(list))
}

async fn list(State(folder): State<Shared>) -> Result<Html<String>, Refusal> {
    let names = folder.names()?;
    let sheets: Vec<Sheet> = names.iter().filter_map(|n| folder.sheet(n).ok()).collect();
    let main = html! {
        ul { @for sheet in &sheets { li { a href=(Room::Week.of(&sheet.name)) { (sheet.name) } } } }
    };
    Ok(page("Briefs", None, None, main))
}
