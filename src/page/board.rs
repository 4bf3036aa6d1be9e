//! Give and take: targets, budget and energy as handles, and what the linear program says while they move.
//!
//! Every answer is that of the brief with the handles written in it. [`handle`] knows what can be moved and how the
//! brief says it, [`live`] keeps the programs solved, [`frontier`] draws what one handle or two do over their range.

pub mod frontier;
pub mod handle;
pub mod live;

use super::folder::{Folder, Refusal, Shared, Sheet};
use super::frame::{Room, messages, page};
use crate::diagnostic::Diagnostic;
use crate::plan::{Plan, Work};
use crate::ready::{Ready, answer, ready};
use crate::report::amount::{decimals, figure, styled};
use crate::report::form::style;
use crate::report::why::{about, bound, money, shown, sides};
use crate::report::words;
use crate::why::BoundPrice;
use axum::Router;
use axum::extract::{Extension, Form, Path, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use handle::{Handle, Moved, Moves, Place, handles, moved, write};
use live::{Answer, Best, Boards, Never, Outcome};
use maud::{Markup, html};
use serde_json::{Value, json};
use std::sync::{Arc, LazyLock};
use std::time::Duration;

/// A form as it was posted.
type Posted = Vec<(String, String)>;

/// What this room alone loads.
const OURS: &str = include_str!("assets/board.js");

/// Its address, which changes with it.
static SCRIPT: LazyLock<String> =
    LazyLock::new(|| format!("/assets/board.js?{}", super::folder::digest(OURS)));

/// How long a page waits for its first answer before it is sent without.
const PATIENCE: Duration = Duration::from_millis(60);

/// Routes of this room.
pub fn routes() -> Router<Shared> {
    Router::new()
        .route("/b/{name}/give-and-take", get(show).post(act))
        .route("/b/{name}/give-and-take/answer", post(live_answer))
        .route("/assets/board.js", get(script))
        .layer(Extension(Arc::new(Boards::default())))
}

async fn script() -> Response {
    let kept = [
        (header::CONTENT_TYPE, "text/javascript; charset=utf-8"),
        (header::CACHE_CONTROL, "max-age=31536000, immutable"),
    ];
    (kept, OURS).into_response()
}

fn field<'f>(form: &'f Posted, key: &str) -> &'f str {
    form.iter()
        .find(|(k, _)| k == key)
        .map_or("", |(_, v)| v.as_str())
}

/// A brief on the board, with its handles as a form has them.
struct Board {
    sheet: Sheet,
    ready: Ready,
    handles: Vec<Handle>,
    moved: Vec<Moved>,
    /// The text with the handles written in it, or why not.
    text: Result<String, Vec<Diagnostic>>,
}

fn lay(folder: &Folder, sheet: Sheet, form: &Posted) -> Result<Board, Refusal> {
    let ready = folder.ready(&sheet)?;
    let handles = handles(&sheet.text, &ready, &folder.larder);
    let moved = moved(&handles, form);
    let text = if moved.is_empty() {
        Ok(sheet.text.clone())
    } else {
        write(&sheet.text, &ready, &handles, &moved)
    };
    Ok(Board {
        sheet,
        ready,
        handles,
        moved,
        text,
    })
}

impl Board {
    /// What the linear program says, `None` when that broke off.
    async fn ask(&self, folder: &Shared, boards: &Boards, full: bool) -> Option<Answer> {
        match &self.text {
            Ok(text) => {
                let moved = self.moved.iter().map(|m| m.handle).collect();
                boards.ask(folder, &self.sheet, text.clone(), moved, full).await
            }
            Err(problems) => Some(Answer {
                unit: String::new(),
                objective: "cost",
                days: self.ready.brief.days,
                before: None,
                outcome: Outcome::Mistakes(problems.clone()),
            }),
        }
    }

    /// The number of a handle as it stands in the form.
    fn typed(&self, n: usize) -> String {
        let moved = self.moved.iter().find(|m| m.handle == n);
        moved.map_or_else(|| self.handles[n].number(), |m| m.typed.clone())
    }
}

async fn show(
    State(folder): State<Shared>,
    Extension(boards): Extension<Arc<Boards>>,
    Path(name): Path<String>,
    Query(asked): Query<Posted>,
) -> Result<Html<String>, Refusal> {
    let (board, week) = folder
        .ask(move |folder| {
            let sheet = folder.sheet(&name)?;
            let board = lay(folder, sheet, &asked)?;
            let week = folder
                .week(&board.sheet.name)
                .filter(|w| w.digest == board.sheet.digest);
            Ok::<_, Refusal>((board, week))
        })
        .await??;
    let answer = tokio::time::timeout(PATIENCE, board.ask(&folder, &boards, true)).await;
    let answer = answer.ok().flatten();
    let plan = week.as_ref().map(|w| w.plan.as_ref());
    Ok(whole(&board, answer.as_ref(), plan, None, None, None))
}

/// What a form of the board asks for: an answer, a frontier, or a week.
async fn act(
    State(folder): State<Shared>,
    Extension(boards): Extension<Arc<Boards>>,
    Path(name): Path<String>,
    Form(form): Form<Posted>,
) -> Result<Response, Refusal> {
    let task = field(&form, "do").to_string();
    let seen = field(&form, "seen").to_string();
    let (one, two) = (field(&form, "one").to_string(), field(&form, "two").to_string());
    let board = folder
        .ask(move |folder| {
            let sheet = folder.sheet(&name)?;
            lay(folder, sheet, &form)
        })
        .await??;
    if board.sheet.digest != seen {
        return Err(Refusal::Changed(board.sheet.name));
    }
    if task == "plan" {
        return plan_week(&folder, &boards, board).await;
    }
    let drawn = if task == "draw" {
        Some(draw(&folder, &board, one, two).await?)
    } else {
        None
    };
    let answer = board.ask(&folder, &boards, true).await;
    let wrong = matches!(
        answer.as_ref().map(|a| &a.outcome),
        Some(Outcome::Mistakes(_)) | None
    );
    let said = answer.as_ref().map(|a| sentence(&board, a));
    let shown = whole(&board, answer.as_ref(), None, drawn, said.as_deref(), None);
    let status = if wrong {
        StatusCode::UNPROCESSABLE_ENTITY
    } else {
        StatusCode::OK
    };
    Ok((status, shown).into_response())
}

/// A drawing with the handles it is of.
struct Drawn {
    one: String,
    two: String,
    figure: Markup,
}

async fn draw(folder: &Shared, board: &Board, one: String, two: String) -> Result<Drawn, Refusal> {
    let find = |id: &str| board.handles.iter().find(|h| h.id == id).cloned();
    let first = find(&one).ok_or_else(|| Refusal::Wrong("choose a handle to vary".into()))?;
    let second = find(&two).filter(|h| h.id != first.id);
    let text = board.text.clone();
    let figure = folder
        .work(move |folder| {
            let told = text
                .and_then(|text| ready(&text, None, None))
                .map_err(|problems| problems.first().map_or_else(String::new, |d| d.message.clone()))
                .and_then(|ready| frontier::trace(&folder.larder, &ready, &first, second.as_ref()));
            match told {
                Ok(sweep) => frontier::figure_of(&sweep, &first, second.as_ref()),
                Err(why) => html! { p.stop { "This cannot be drawn: " (why) "." } },
            }
        })
        .await?;
    Ok(Drawn { one, two, figure })
}

/// Writes the handles that were moved into the brief and plans its week: both, or neither.
async fn plan_week(folder: &Shared, boards: &Boards, board: Board) -> Result<Response, Refusal> {
    let room = Room::Board.of(&board.sheet.name);
    let back = || Redirect::to(&format!("{room}#planned")).into_response();
    if board.moved.is_empty() {
        folder.planned(&board.sheet.name).await?;
        return Ok(back());
    }
    let (sheet, text) = (board.sheet.clone(), board.text.clone());
    let made = folder
        .work(move |folder| {
            let text = text?;
            let ready = ready(&text, None, None)?;
            let plan = answer(&folder.larder, &ready, Work::of(ready.brief.days, None))?;
            if !plan.planned {
                return Ok(Err(words::why_not(&plan)));
            }
            Ok::<_, Vec<Diagnostic>>(Ok(folder.save(&sheet.name, &sheet.digest, &text, Some(plan))))
        })
        .await?;
    let not = match made {
        Ok(Ok(saved)) => {
            saved?;
            return Ok(back());
        }
        Ok(Err(why)) => format!("Nothing was written: with the handles here there is no week. {why}"),
        Err(_) => "Nothing was written: the handles make no brief.".into(),
    };
    let answer = board.ask(folder, boards, true).await;
    let shown = whole(&board, answer.as_ref(), None, None, Some(&not), Some(&not));
    Ok((StatusCode::UNPROCESSABLE_ENTITY, shown).into_response())
}

/// The answer while a handle moves, for the few lines of the page.
async fn live_answer(
    State(folder): State<Shared>,
    Extension(boards): Extension<Arc<Boards>>,
    Path(name): Path<String>,
    Form(form): Form<Posted>,
) -> Result<Response, Refusal> {
    let full = field(&form, "full") == "yes";
    let board = folder
        .ask(move |folder| {
            let sheet = folder.sheet(&name)?;
            if sheet.digest != field(&form, "seen") {
                return Err(Refusal::Changed(sheet.name));
            }
            lay(folder, sheet, &form)
        })
        .await??;
    let Some(answer) = board.ask(&folder, &boards, full).await else {
        return Err(Refusal::Wrong("the answer broke off; try again".into()));
    };
    let tells: serde_json::Map<String, Value> = board
        .handles
        .iter()
        .map(|h| (h.id.clone(), json!(tell(&board, &answer, h))))
        .collect();
    let value = match &answer.outcome {
        Outcome::Best(b) => Some(b.value),
        _ => None,
    };
    let told = json!({
        "value": value,
        "figure": figure_part(&board, Some(&answer)).into_string(),
        "rest": rest_part(&board, Some(&answer)).into_string(),
        "said": sentence(&board, &answer),
        "open": value.is_some(),
        "tells": tells,
    });
    Ok(([(header::CONTENT_TYPE, "application/json")], told.to_string()).into_response())
}

/// Money of a day as a person reads it, or another objective.
fn amount_of(answer: &Answer, value: f64) -> String {
    let shown = if answer.objective == "cost" {
        if value.abs() >= 100.0 {
            decimals(value, 1)
        } else {
            decimals(value, 2)
        }
    } else {
        figure(value)
    };
    format!("{shown} {}", answer.unit)
}

/// What changes against the brief as it is.
fn change(answer: &Answer, value: f64) -> String {
    let Some(before) = answer.before else {
        return "The brief as it is has no week, even in fractions of servings.".into();
    };
    let by = value - before;
    if by.abs() <= 1e-6 * before.abs().max(1e-3) {
        return "The same as the brief as it is.".into();
    }
    let word = if by > 0.0 { "more" } else { "less" };
    format!(
        "{} {} {word} than the brief as it is ({}).",
        money(by.abs()),
        answer.unit,
        amount_of(answer, before)
    )
}

/// The handles that were moved, in words.
fn where_now(board: &Board) -> String {
    let one = |m: &Moved| {
        let h = &board.handles[m.handle];
        format!("{} {} {}", h.name(), m.typed, shown(&h.unit))
    };
    board.moved.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// The answer as a sentence or two, for those who listen.
fn sentence(board: &Board, answer: &Answer) -> String {
    styled(style(&board.ready.brief), || {
        let at = where_now(board);
        let told = match &answer.outcome {
            Outcome::Best(best) => {
                let binds = match best.prices.as_slice() {
                    [] => "No bound costs anything.".to_string(),
                    [p] => format!("Binding: {}.", p.name),
                    [p, rest @ ..] => format!("Binding: {}, and {} more.", p.name, rest.len()),
                };
                format!(
                    "{}. {} {binds}",
                    amount_of(answer, best.value),
                    change(answer, best.value)
                )
            }
            Outcome::Never(never) => {
                let names: Vec<&str> = never.conflict.iter().map(|c| c.group.as_str()).collect();
                let backs: Vec<String> = never.back.iter().filter_map(|b| back(board, b, true)).collect();
                format!(
                    "No week can hold all of it: {}. {}",
                    names.join("; "),
                    backs.join(" ")
                )
            }
            Outcome::Stopped(why, instead) => format!("A safety rule stops this: {why} {instead}"),
            Outcome::Mistakes(problems) => problems.iter().map(|d| format!("{}. ", d.message)).collect(),
            Outcome::Unknown(e) => format!("Nothing can be said for certain: {e}."),
        };
        if at.is_empty() {
            told
        } else {
            format!("{at}: {told}")
        }
    })
}

/// Where a handle must go back to, in words.
fn back(board: &Board, (id, to): &(String, f64), named: bool) -> Option<String> {
    let h = board.handles.iter().find(|h| h.id == *id)?;
    let days = f64::from(board.ready.brief.days);
    let to = if h.moves == Moves::Budget {
        to / h.per_day(days)
    } else {
        *to
    };
    let name = if named {
        format!("{}: this handle", words::capital(&h.name()))
    } else {
        "This handle".into()
    };
    Some(format!(
        "{name} alone opens a week at {} {}.",
        decimals(to, if to.abs() < 10.0 { 3 } else { 2 }),
        shown(&h.unit)
    ))
}

/// What a bound costs, in words.
fn price(best: &Best, p: &BoundPrice, unit: &str) -> String {
    if best.both {
        sides(p, unit)
    } else {
        words::capital(&format!("{}.", about(p, unit)))
    }
}

/// What a handle costs where it is, in words.
fn tell(board: &Board, answer: &Answer, h: &Handle) -> String {
    styled(style(&board.ready.brief), || match &answer.outcome {
        Outcome::Best(best) => {
            let mine = |id: &str| match h.moves {
                Moves::Intake => id.starts_with("energy."),
                _ => id == h.id,
            };
            let words: Vec<String> = best
                .prices
                .iter()
                .filter(|p| mine(&p.id))
                .map(|p| {
                    let sides = price(best, p, &answer.unit);
                    if h.moves == Moves::Intake {
                        format!("{}. {sides}", words::capital(&bound(p)))
                    } else {
                        sides
                    }
                })
                .collect();
            if words.is_empty() && h.now.is_some() {
                "Costs nothing here.".into()
            } else {
                words.join(" ")
            }
        }
        Outcome::Never(never) => {
            let found = never.back.iter().find(|b| b.0 == h.id);
            found.and_then(|b| back(board, b, false)).unwrap_or_default()
        }
        _ => String::new(),
    })
}

/// What stands against a week, in a sentence.
fn against(never: &Never) -> String {
    let names: Vec<&str> = never.conflict.iter().map(|c| c.group.as_str()).collect();
    match names.as_slice() {
        [] => "What is asked for cannot hold together, even in fractions of servings.".into(),
        [one] => format!(
            "{} cannot hold, even in fractions of servings.",
            words::capital(one)
        ),
        [one, two] => format!("{}, and {two}: they cannot hold together.", words::capital(one)),
        [one, two, rest @ ..] => format!(
            "{}; {two}; and {} more: they cannot hold together.",
            words::capital(one),
            rest.len()
        ),
    }
}

/// The figure of the answer: what stays in sight.
fn figure_part(board: &Board, answer: Option<&Answer>) -> Markup {
    let Some(answer) = answer else {
        return html! { p.value { "…" } p.fine { "The linear program is being set up." } };
    };
    styled(style(&board.ready.brief), || match &answer.outcome {
        Outcome::Best(best) => html! {
            p.value { strong { (amount_of(answer, best.value)) } }
            p.change { (change(answer, best.value)) }
        },
        Outcome::Never(never) => html! {
            p.value { strong { "No week" } }
            p.change { (against(never)) }
        },
        Outcome::Stopped(..) => {
            html! { p.value { strong { "Stopped" } } p.change { "A safety rule stands against this energy." } }
        }
        Outcome::Mistakes(_) => html! { p.value { strong { "Not a number to plan with" } } },
        Outcome::Unknown(_) => html! { p.value { strong { "No answer" } } },
    })
}

/// The rest of the answer: what binds, what costs nothing, or what stands against it.
fn rest_part(board: &Board, answer: Option<&Answer>) -> Markup {
    let Some(answer) = answer else {
        return html! { p.fine { "It comes by itself; without scripts, \"Show the answer\" brings it." } };
    };
    styled(style(&board.ready.brief), || match &answer.outcome {
        Outcome::Best(best) => html! {
            p.fine {
                @if answer.objective == "cost" { "The cheapest week in fractions of servings" } @else { "The best week in fractions of servings" }
                @if best.proved { "; proven: no plan goes below it. " } @else { "; not proven. " }
                @if answer.objective == "cost" && answer.days > 1 { "For " (answer.days) " days " (money(best.value * f64::from(answer.days))) " " (answer.unit.trim_end_matches(" a day")) "." }
            }
            h3 { "What binds" }
            @if best.prices.is_empty() { p { "No target and no budget costs anything: the rules of meals alone decide." } }
            ul.binds {
                @for p in &best.prices {
                    li { a href={ "#" (row_id(if p.id.starts_with("energy.") { "intake" } else { &p.id })) } { (words::capital(&bound(p))) } span { (price(best, p, &answer.unit)) } }
                }
            }
            @if !best.lowered.is_empty() {
                h3 { "Floors that food does not reach here" }
                ul { @for l in &best.lowered { li { (l.name) ": " (figure(l.taken)) " of " (figure(l.asked)) " " (shown(&l.unit)) } } }
            }
            details { summary { "What costs nothing (" (best.free.len()) ")" } p.fine { (best.free.join("; ")) "." } }
            p.fine { "A price holds for small changes and for servings in fractions." }
        },
        Outcome::Never(never) => html! {
            p { @if never.irreducible { "These cannot hold together; without any one of them the others can:" } @else { "One proof of it leans on these together:" } }
            ul.binds { @for c in &never.conflict { li { strong { (words::capital(&c.group)) } @if !c.reason.is_empty() { span { (c.reason) } } } } }
            @if !never.back.is_empty() {
                h3 { "How far back" }
                ul { @for b in &never.back { @if let Some(words) = back(board, b, true) { li { (words) } } } }
            } @else if never.irreducible && !board.moved.is_empty() {
                p { "No handle that was moved opens a week by itself: more than one must go back." }
            }
        },
        Outcome::Stopped(why, instead) => html! { p { (why) } p { strong { "Instead: " } (instead) } },
        Outcome::Mistakes(problems) => html! { (messages("", &unplaced(problems))) },
        Outcome::Unknown(e) => {
            html! { p { "The linear program was not solved: " (e) ". \"Plan this week\" still searches." } }
        }
    })
}

/// Messages without places in a text that nobody sees.
fn unplaced(problems: &[Diagnostic]) -> Vec<Diagnostic> {
    let bare = |d: &Diagnostic| Diagnostic {
        spans: Vec::new(),
        line: None,
        ..d.clone()
    };
    problems.iter().filter(|d| d.is_error()).map(bare).collect()
}

fn row_id(id: &str) -> String {
    format!("h-{}", id.replace('.', "-"))
}

/// The whole page.
fn whole(
    board: &Board,
    answer: Option<&Answer>,
    plan: Option<&Plan>,
    drawn: Option<Drawn>,
    said: Option<&str>,
    not: Option<&str>,
) -> Html<String> {
    let sheet = &board.sheet;
    let room = Room::Board.of(&sheet.name);
    let open_small = board
        .moved
        .iter()
        .any(|m| board.handles[m.handle].place == Place::Small);
    let group = |place: Place| {
        html! {
            @for n in 0..board.handles.len() {
                @if board.handles[n].place == place { (handle_row(board, n, answer)) }
            }
        }
    };
    let small = board.handles.iter().filter(|h| h.place == Place::Small).count();
    let main = html! {
        p.lead { "Move a floor, a ceiling, the budget or the energy, and see what the best week then costs. Nothing is written until you plan." }
        @if let Some(not) = not { p.stop { (not) } }
        form.board #board action=(room) method="post" novalidate data-again data-live={ (room) "/answer" } data-asked=[answer.is_none().then_some("no")] .never[answer.is_some_and(|a| !matches!(a.outcome, Outcome::Best(_)))] {
            input type="hidden" name="seen" value=(sheet.digest);
            // What the enter key does.
            button.unseen type="submit" name="do" value="show" tabindex="-1" aria-hidden="true" { "Show the answer" }
            section.answer aria-labelledby="g-answer" {
                h2.unseen #g-answer { "The answer" }
                div #figure .figure { (figure_part(board, answer)) }
                div.does {
                    div.row {
                        button.main #plan type="submit" name="do" value="plan" data-waiting="Planning…" { "Plan this week" }
                        button #ask type="submit" name="do" value="show" { "Show the answer" }
                        a.button #back href=(room) { "Back to the brief" }
                    }
                    label.letting #letting hidden { input type="checkbox" #at-once; " Plan as soon as I let go of a handle" }
                }
                div #rest .rest { (rest_part(board, answer)) }
            }
            p.unseen #heard role="status" aria-live="polite" {}
            div.handles {
                section aria-labelledby="g-first" { h2 #g-first { "Money and energy" } (group(Place::First)) }
                section aria-labelledby="g-large" { h2 #g-large { "Protein, fat, carbohydrate, fibre, salt" } (group(Place::Large)) }
                details #small open[open_small] { summary { h2 { "Vitamins and minerals (" (small) ")" } } (group(Place::Small)) }
            }
        }
        @if let Some(plan) = plan { (planned(board, plan)) }
        (frontier_part(board, drawn))
        script src=(*SCRIPT) defer {}
    };
    let title = format!("{}: give and take", board.ready.brief.title);
    page(&title, Some((sheet, Room::Board)), said, main)
}

/// A handle: a track with its thumb, and the number beside it.
fn handle_row(board: &Board, n: usize, answer: Option<&Answer>) -> Markup {
    let h = &board.handles[n];
    let (id, typed) = (row_id(&h.id), board.typed(n));
    let at: f64 = typed.parse().ok().or(h.now).unwrap_or(h.most);
    let told = answer.map_or_else(String::new, |a| tell(board, a, h));
    let binds = !told.is_empty() && told != "Costs nothing here.";
    let side = match &h.moves {
        Moves::Bound(_, _, side) => side.id(),
        Moves::Budget => "ceiling",
        Moves::Intake => "both",
    };
    let place = h
        .now
        .map(|now| (1e4 * ((now - h.least) / (h.most - h.least)).clamp(0.0, 1.0)).round() / 100.0);
    let unit = shown(&h.unit);
    html! {
            div.handle #(id) .(side) .binds[binds] data-handle=(h.id) {
                label for={ (id) "-n" } { span.of { (words::capital(&h.of)) } @if !h.which.is_empty() { " " span.which { (h.which) } } }
                div.track {
                    input type="range" #{ (id) "-r" } hidden disabled min=(h.least) max=(h.most) step=(h.step) value=(at)
                        aria-label=(words::capital(&h.name())) aria-valuetext={ (typed) " " (unit) } aria-describedby={ (id) "-t" } autocomplete="off";
                    @if let Some(place) = place {
                        svg.now aria-hidden="true" { line x1={ (place) "%" } x2={ (place) "%" } y1="0" y2="100%" {} }
                    }
                }
                span.number {
                    input type="number" #{ (id) "-n" } name=(h.id) value=(typed) step=(h.step) min="0" inputmode="decimal"
                        data-now=(h.number()) aria-describedby={ (id) "-u " (id) "-t" } autocomplete="off";
                    span.unit #{ (id) "-u" } { (unit) }
                }
    div.told {
                    p.from {
                        @match h.now { Some(now) => { @if h.from_brief { "In the brief: " } @else { "By the table: " } (now) " " (unit) }, None => { "Not set" } }
                        @if !h.reason.is_empty() && h.reason != "set in the brief" { ", " (h.reason) }
                        ". "
                    }
                    p.tells #{ (id) "-t" } { (told) }
                }
            }
        }
}

/// The week as it was planned, beside the bound.
fn planned(board: &Board, plan: &Plan) -> Markup {
    styled(style(&board.ready.brief), || {
        html! {
            section.planned #planned tabindex="-1" {
                h2 { "The week of this brief" }
                @if plan.planned {
                    @let s = &plan.search;
                    dl.facts {
                        div { dt { "In whole servings" } dd { (crate::report::amount::objective(s.value, &s.unit, s.objective == "cost")) } }
                        @if let Some(b) = s.bound { div { dt { "No plan comes under" } dd { (crate::report::amount::lower_bound(b, &s.unit, s.objective == "cost")) } } }
                        @if let Some(g) = s.gap { div { dt { "Gap, at most" } dd { (crate::report::amount::at_most(g)) } } }
                    }
                    p { (words::how_good(plan)) }
                    p { a.button href=(Room::Week.of(&board.sheet.name)) { "See the meals" } }
                } @else {
                    p { (words::why_not(plan)) }
                    ul { @for c in words::conflicts(plan) { li { (c) } } }
                }
            }
        }
    })
}

/// What one handle or two do over their range.
fn frontier_part(board: &Board, drawn: Option<Drawn>) -> Markup {
    let (one, two) = drawn
        .as_ref()
        .map_or(("", ""), |d| (d.one.as_str(), d.two.as_str()));
    let first = if one.is_empty() { "protein.day.floor" } else { one };
    let options = |chosen: &str| {
        let chosen = chosen.to_string();
        html! { @for h in &board.handles { option value=(h.id) selected[h.id == chosen] { (words::capital(&h.name())) } } }
    };
    html! {
        section.frontier #frontier {
            h2 { "Over the whole range" }
            p { "What the best week costs as one handle goes from end to end, the others staying where they are; with two handles, a map." }
            div.row {
                label for="one" { "Vary " select #one name="one" form="board" { (options(first)) } }
                label for="two" { "and " select #two name="two" form="board" { option value="" { "nothing else" } (options(two)) } }
                button #draw type="submit" form="board" name="do" value="draw" data-waiting="Drawing…" { "Draw" }
            }
            div #drawn aria-live="polite" { @if let Some(d) = drawn { (d.figure) } }
        }
    }
}
