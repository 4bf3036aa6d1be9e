//! Lists and files: what to buy and to cook with ticks that stay, what is at home and left over, and every file that
//! the command line writes.

mod files;
pub mod house;
mod ticks;

use super::folder::{Folder, Refusal, Shared, Sheet, Week};
use super::frame::{Room, page};
use crate::brief;
use crate::plan::{Cooked, Plan, Purchase};
use crate::report::amount::{self, Units, styled};
use crate::report::form::{self, style};
use crate::report::html::bought;
use crate::report::words::{NEAREST, SOON, capital, counted, glued, left, soon, to_cook, why_not};
use axum::Router;
use axum::extract::{Form, Path, Query, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use itertools::Itertools;
use maud::{Markup, html};
use std::collections::BTreeMap;
use ticks::Ticks;

/// What a form or an address says, in order; a name may stand more than once.
type Said = Vec<(String, String)>;

/// Routes of this room.
pub fn routes() -> Router<Shared> {
    Router::new()
        .route("/b/{name}/lists", get(show))
        .route("/b/{name}/lists/plan", post(plan))
        .route("/b/{name}/lists/ticks", get(poll).post(tick))
        .merge(files::routes())
}

/// How the lists and files are told, as an address says it.
type Asked = BTreeMap<String, String>;

/// The units that are asked for, else those of the brief or its kitchen.
fn units(folder: &Folder, sheet: &Sheet, asked: Option<&str>) -> Result<Units, Refusal> {
    match asked {
        Some("metric") => return Ok(Units::Metric),
        Some("us") => return Ok(Units::Us),
        Some("") | None => {}
        Some(other) => {
            return Err(Refusal::Wrong(format!(
                "units are metric or us; \"{other}\" was asked for"
            )));
        }
    }
    let Ok((brief, _)) = brief::parse(&sheet.text) else {
        return Ok(Units::Metric);
    };
    let kitchen = folder.larder.kitchen(&brief).map_or("", |k| k.units.as_str());
    Ok(form::units(&brief, kitchen))
}

/// The lists of a week with their ticks, ready to draw.
struct Sight {
    sheet: Sheet,
    week: Option<Week>,
    units: Units,
    ticks: Ticks,
}

fn sight(folder: &Folder, name: &str, asked: Option<&str>) -> Result<Sight, Refusal> {
    let sheet = folder.sheet(name)?;
    let week = folder.week(name);
    Ok(Sight {
        units: units(folder, &sheet, asked)?,
        ticks: week
            .as_ref()
            .map_or_else(Ticks::default, |w| Ticks::of(folder, name, &w.plan)),
        sheet,
        week,
    })
}

impl Sight {
    /// The lists under the address of their page.
    fn lists(&self, base: &str, units: &str) -> Markup {
        let style =
            brief::parse(&self.sheet.text).map_or_else(|_| amount::Style::default(), |(b, _)| style(&b));
        html! {
            @if let Some(week) = &self.week {
                (styled(style, || lists(&week.plan, self.units, &self.ticks, base, units)))
            }
        }
    }

    fn fresh(&self) -> bool {
        self.week.as_ref().is_some_and(|w| w.digest == self.sheet.digest)
    }
}

async fn show(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Html<String>, Refusal> {
    let ask = move |folder: &Folder| {
        let sight = sight(folder, &name, asked.get("units").map(String::as_str))?;
        let title = sight.sheet.title();
        let main = html! {
            (standing(&sight))
            (sight.lists(&Room::Lists.of(&name), asked.get("units").map_or("", String::as_str)))
            @if let Some(week) = sight.week.as_ref().filter(|w| !w.plan.days.is_empty()) {
                (styled(amount::Style::default(), || at_home(&week.plan, sight.units)))
            }
            (files::section(&sight.sheet, sight.week.as_ref().filter(|_| sight.fresh()), &asked))
        };
        Ok(page(&title, Some((&sight.sheet, Room::Lists)), None, main))
    };
    folder.ask(ask).await?
}

/// Whether there is a week, and how it stands to the brief.
fn standing(sight: &Sight) -> Markup {
    let action = format!("{}/plan", Room::Lists.of(&sight.sheet.name));
    let form = |word: &str| {
        html! { form method="post" action=(action) { button.main #plan data-waiting="Planning …" { (word) } } }
    };
    html! {
        @match &sight.week {
            None => section.none aria-labelledby="none" {
                h2 #none { "No week yet" }
                p { "The lists come from a week of meals, and none is made of this brief yet. It takes about a second." }
                (form("Plan the week"))
            },
            Some(week) => {
                @if !sight.fresh() {
                    section.none {
                        p { strong { "The brief was changed since this week was made." } " These are the lists of the week as it was." }
                        (form("Plan the week anew"))
                    }
                }
                @if week.plan.days.is_empty() {
                    section.none { p { "No meals are planned: " (why_not(&week.plan)) " " a href=(Room::Week.of(&sight.sheet.name)) { "See why, and what would open a week." } } }
                } @else if !week.plan.planned {
                    p.nearest { "No plan meets everything. " (NEAREST) }
                }
            },
        }
    }
}

async fn plan(State(folder): State<Shared>, Path(name): Path<String>) -> Result<Redirect, Refusal> {
    folder.planned(&name).await?;
    Ok(Redirect::to(&Room::Lists.of(&name)))
}

/// The lists again when a tick changed since, else nothing.
async fn poll(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Response, Refusal> {
    let base = Room::Lists.of(&name);
    folder
        .ask(move |folder| again(folder, &name, &base, &asked))
        .await?
}

fn again(folder: &Folder, name: &str, base: &str, asked: &Asked) -> Result<Response, Refusal> {
    let units = asked.get("units").map_or("", String::as_str);
    let sight = sight(folder, name, Some(units))?;
    if asked.get("seen") == Some(&sight.ticks.version()) {
        return Ok(StatusCode::NO_CONTENT.into_response());
    }
    Ok(Html(sight.lists(base, units).into_string()).into_response())
}

async fn tick(
    State(folder): State<Shared>,
    Path(name): Path<String>,
    Form(said): Form<Said>,
) -> Result<Response, Refusal> {
    let base = Room::Lists.of(&name);
    folder
        .ask(move |folder| ticked(folder, &name, &base, &said))
        .await?
}

/// Writes the ticks that a form says; one with scripts, all without.
fn ticked(folder: &Folder, name: &str, base: &str, said: &Said) -> Result<Response, Refusal> {
    let week = folder
        .week(name)
        .ok_or_else(|| Refusal::Wrong("there is no week yet whose lists could be ticked".into()))?;
    let one = ticks::write(folder, name, &week.plan, said)?;
    Ok(if one {
        StatusCode::NO_CONTENT.into_response()
    } else {
        Redirect::to(base).into_response()
    })
}

/// Lines by their sections, in the order of the plan.
fn grouped(plan: &Plan) -> Vec<(&str, Vec<&Purchase>)> {
    let sections = plan.shopping.iter().chunk_by(|p| p.section.as_str());
    sections.into_iter().map(|(s, l)| (s, l.collect())).collect()
}

/// The lists with their boxes: the part that is drawn again when a tick changed elsewhere.
fn lists(plan: &Plan, units: Units, ticks: &Ticks, base: &str, asked: &str) -> Markup {
    let post = format!("{base}/ticks");
    let again = format!("{post}?seen={}&units={asked}", ticks.version());
    let days: Vec<(u32, Vec<&Cooked>)> = {
        let by_day = plan.cooking.iter().chunk_by(|c| c.day);
        by_day.into_iter().map(|(d, l)| (d, l.collect())).collect()
    };
    let order = |id: &str| ticks.place(id);
    let tickbox = |id: &str| {
        html! {
            input type="checkbox" name="tick" value=(id) id={ "tick-" (order(id)) } checked[ticks.has(id)]
                hx-post=(post) hx-trigger="change" hx-swap="none" hx-vals={ "{\"id\":\"" (id) "\"}" };
        }
    };
    html! {
        @if !plan.days.is_empty() {
            form.ticklist #ticklist method="post" action=(post) data-again {
                div hx-get=(again) hx-trigger="every 5s" hx-target="#ticklist" hx-swap="outerHTML" {}
                input type="hidden" name="list" value=(ticks.list());
                input type="hidden" name="was" value=(ticks.all());
                section aria-labelledby="shopping" {
                    h2 #shopping { "Shopping list" }
                    @if plan.shopping.is_empty() { p { "Nothing to buy." } }
                    div.sections {
                        @for (name, lines) in grouped(plan) {
                            section.part {
                                h3 { (capital(name)) }
                                ul { @for p in lines { li { label { (tickbox(&ticks::buy(p))) (bought(plan, p, units)) } } } }
                            }
                        }
                    }
                    p.fine {
                        @if let Some(t) = plan.till { "At the till about " (amount::price(t, plan.currency)) ". " }
                        @if plan.shopping.iter().any(|p| soon(p).is_some()) { (capital(SOON)) ". " }
                        @if plan.shopping.iter().any(|p| p.invented) { "~ an invented price: replace it with your own." }
                    }
                }
                @if !days.is_empty() {
                    section aria-labelledby="cooking" {
                        h2 #cooking { "Cooking list" }
                        div.sections {
                            @for (day, dishes) in &days {
                                section.part {
                                    h3 { "Day " (day) }
                                    ul { @for c in dishes { li { label { (tickbox(&ticks::cook(c))) (cooked(c)) } } } }
                                }
                            }
                        }
                    }
                }
                noscript { p { button { "Save the ticks" } } }
            }
        }
    }
}

fn cooked(c: &Cooked) -> Markup {
    let t = to_cook(c);
    html! {
        span.what.whole { strong { (c.name) } ": " (t.made) " " span.more { (t.time) "; for " (t.meals) @if let Some(k) = &t.keeps { "; " (k) } } }
    }
}

fn at_home(plan: &Plan, units: Units) -> Markup {
    let home: Vec<&Purchase> = plan.shopping.iter().filter(|p| p.home_grams > 0.5).collect();
    html! {
        @if !home.is_empty() {
            section aria-labelledby="home" {
                h2 #home { "At home already" }
                ul.columns { @for p in home { li { (p.name) ": " (glued(&amount::mass(p.home_grams, units))) } } }
            }
        }
        @if !plan.left.is_empty() {
            section aria-labelledby="left" {
                h2 #left { "Left over after " (counted(plan.days.len(), "day")) }
                ul.columns { @for l in left(plan, units) { li { (l) } } }
            }
        }
    }
}
