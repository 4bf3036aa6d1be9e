//! Every file that the command line writes of a brief, with the same bytes.

use super::{Asked, units};
use crate::brief;
use crate::cli::takeaway::next_monday;
use crate::cli::why::{self, WhyFormat};
use crate::model::linear::{lp_text, mps};
use crate::page::folder::{Folder, Refusal, Shared, Sheet, Week};
use crate::page::frame::{Room, escaped, nothing_here};
use crate::plan::export;
use crate::report::amount::styled;
use crate::report::form::{Look, PlanFormat, Stopped, render, style, weeks_ahead};
use crate::report::{self, forecast, json::pretty};
use crate::why::Case;
use axum::Router;
use axum::extract::{Path, Query, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use chrono::NaiveDate;
use maud::{Markup, html};

/// A form that is no form of the plan.
#[derive(Clone, Copy, PartialEq)]
enum Other {
    Brief,
    Leftovers,
    Targets(bool),
    Why(bool),
    ForecastText,
    ForecastCsv,
    ForecastJson,
    ForecastSvg,
    Mps,
    Lp,
}

/// Each with its file, its media type (RFC 6838; IANA has none for MPS and LP) and what it is for.
const OTHERS: [(&str, &str, &str, Other); 12] = [
    ("brief.toml", "application/toml", "The brief itself", Other::Brief),
    (
        "leftovers.toml",
        "application/toml",
        "What is left over, for the brief of the next week",
        Other::Leftovers,
    ),
    (
        "targets.txt",
        "text/plain; charset=utf-8",
        "Energy, floors and ceilings with their reasons and sources",
        Other::Targets(false),
    ),
    (
        "targets.json",
        "application/json",
        "The same for programs",
        Other::Targets(true),
    ),
    (
        "why.txt",
        "text/plain; charset=utf-8",
        "Why this week: what each bound and rule costs",
        Other::Why(false),
    ),
    (
        "why.json",
        "application/json",
        "The same for programs",
        Other::Why(true),
    ),
    (
        "forecast.txt",
        "text/plain; charset=utf-8",
        "The weeks ahead, 80 columns",
        Other::ForecastText,
    ),
    (
        "forecast.csv",
        "text/csv; charset=utf-8",
        "The weeks ahead as a table",
        Other::ForecastCsv,
    ),
    (
        "forecast.json",
        "application/json",
        "The same for programs",
        Other::ForecastJson,
    ),
    (
        "forecast.svg",
        "image/svg+xml",
        "The weeks ahead as a chart",
        Other::ForecastSvg,
    ),
    (
        "model.mps",
        "text/plain; charset=utf-8",
        "The model for any solver, MPS",
        Other::Mps,
    ),
    (
        "model.lp",
        "text/plain; charset=utf-8",
        "The same to read, LP",
        Other::Lp,
    ),
];

/// What a form of the plan is for.
fn purpose(format: PlanFormat) -> &'static str {
    match format {
        PlanFormat::Text => "For people, 80 columns",
        PlanFormat::Csv => "Meals as a table",
        PlanFormat::TotalsCsv => "Nutrients of each day as a table",
        PlanFormat::ShoppingCsv => "Shopping list as a table",
        PlanFormat::CookingCsv => "Cooking list as a table",
        PlanFormat::Json => "Everything, for programs",
        PlanFormat::Html => "A page by itself; printed, two sheets",
        PlanFormat::Markdown => "For chats and notes",
        PlanFormat::Xlsx => "A spreadsheet whose totals follow its amounts",
        PlanFormat::Ics => "A calendar with an event a meal",
    }
}

pub(super) fn routes() -> Router<Shared> {
    Router::new().route("/b/{name}/lists/file/{file}", get(file))
}

/// The files to take along; `week` is the week of the brief as it stands, if there is one.
pub(super) fn section(sheet: &Sheet, week: Option<&Week>, asked: &Asked) -> Markup {
    let room = Room::Lists.of(&sheet.name);
    let start = asked
        .get("start")
        .cloned()
        .unwrap_or_else(|| next_monday().to_string());
    let chosen = asked.get("units").map_or("", String::as_str);
    let link = |file: &str, query: &str| format!("{room}/file/{file}{query}");
    let query = format!("?units={}&start={}", escaped(chosen), escaped(&start));
    let stopped = week.is_some_and(|w| w.plan.days.is_empty());
    let rest = |o: Other| match o {
        Other::Leftovers => week.is_some_and(|w| w.plan.planned),
        Other::Mps | Other::Lp => !stopped,
        _ => true,
    };
    html! {
        section.files #files aria-labelledby="files-head" {
            h2 #files-head { "Files" }
            form.row method="get" action={ (room) "#files" } {
                label for="units" { "Masses in" }
                select #units name="units" {
                    @for (v, w) in [("", "the kitchen's units"), ("metric", "grams and kilograms"), ("us", "ounces and pounds")] {
                        option value=(v) selected[v == chosen] { (w) }
                    }
                }
                label for="start" { "The calendar begins on" }
                input #start type="date" name="start" value=(start);
                button #files-set { "Use these" }
            }
            h3 { "The week" }
            @if week.is_none() { p.fine { "The first of these makes the week of the brief as it is now; that takes about a second." } }
            ul.filelist {
                @for f in PlanFormat::ALL.into_iter().filter(|f| !stopped || f.says_why()) {
                    li { a href=(link(f.name(), &query)) download { (f.name()) } " " span.more { (purpose(f)) } }
                }
            }
            h3 { "Besides" }
            ul.filelist {
                @for (file, _, purpose, _) in OTHERS.iter().filter(|o| rest(o.3)) {
                    li { a href=(link(file, "")) download { (file) } " " span.more { (purpose) } }
                }
            }
        }
    }
}

/// A file to save under its name, behind that of the brief.
fn save(name: &str, file: &str, media: &'static str, bytes: Vec<u8>) -> Response {
    // RFC 6266: a plain name for all, and the exact one for those that read it.
    let whole = format!("{name}-{file}");
    let plain: String = whole
        .chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() || "-_. ".contains(c) {
                c
            } else {
                '_'
            }
        })
        .collect();
    let as_file = format!(
        "attachment; filename=\"{plain}\"; filename*=UTF-8''{}",
        escaped(&whole)
    );
    (
        [
            (header::CONTENT_TYPE, media.to_string()),
            (header::CONTENT_DISPOSITION, as_file),
        ],
        bytes,
    )
        .into_response()
}

async fn file(
    State(folder): State<Shared>,
    Path((name, file)): Path<(String, String)>,
    Query(asked): Query<Asked>,
) -> Result<Response, Refusal> {
    if let Some(format) = PlanFormat::ALL.into_iter().find(|f| f.name() == file) {
        let start = match asked.get("start").map_or("", |s| s.trim()) {
            "" => next_monday(),
            text => text
                .parse::<NaiveDate>()
                .map_err(|_| Refusal::Wrong(format!("\"{text}\" is no date; write it as 2026-03-02")))?,
        };
        // A brief that is missing or asks for other units is told before a week is made.
        let sheet = folder.sheet(&name)?;
        units(&folder, &sheet, asked.get("units").map(String::as_str))?;
        let (sheet, week) = folder.planned(&name).await?;
        let bytes = folder
            .ask(move |folder| of_plan(folder, &sheet, &week, format, start, &asked))
            .await??;
        return Ok(save(&name, &file, format.media(), bytes));
    }
    let Some((_, media, _, other)) = OTHERS.iter().find(|o| o.0 == file) else {
        return Ok(nothing_here().await);
    };
    let text = if *other == Other::Leftovers {
        let (_, week) = folder.planned(&name).await?;
        if !week.plan.planned {
            return Err(Refusal::Wrong(
                "there is no plan, and so nothing is left over".into(),
            ));
        }
        report::pantry::toml(&week.plan)
    } else {
        let (other, of) = (*other, name.clone());
        folder
            .ask(move |folder| written(folder, &of, other, &asked))
            .await??
    };
    Ok(save(&name, &file, media, text.into_bytes()))
}

fn of_plan(
    folder: &Folder,
    sheet: &Sheet,
    week: &Week,
    format: PlanFormat,
    start: NaiveDate,
    asked: &Asked,
) -> Result<Vec<u8>, Refusal> {
    let ready = folder.ready(sheet)?;
    let ahead = || brief::parse(&sheet.text).ok().and_then(|(b, _)| weeks_ahead(&b));
    let look = Look {
        units: units(folder, sheet, asked.get("units").map(String::as_str))?,
        style: style(&ready.brief),
        start,
        forecast: (format == PlanFormat::Html).then(ahead).flatten(),
    };
    let stopped = ready.stopped().then_some(Stopped {
        brief: &ready.brief,
        energy: &ready.energy,
        targets: &ready.targets,
    });
    render(format, &week.plan, &look, stopped).map_err(Refusal::Wrong)
}

fn written(folder: &Folder, name: &str, other: Other, asked: &Asked) -> Result<String, Refusal> {
    let sheet = folder.sheet(name)?;
    let mistakes = |problems| Refusal::Mistakes(sheet.text.clone(), problems);
    if other == Other::Brief {
        return Ok(sheet.text);
    }
    if let Other::ForecastText | Other::ForecastCsv | Other::ForecastJson | Other::ForecastSvg = other {
        let (brief, _) = brief::parse(&sheet.text).map_err(mistakes)?;
        let f = crate::forecast::forecast(&brief).map_err(mistakes)?;
        let show = match asked.get("show").map_or("", String::as_str) {
            "fat" => forecast::Show::Fat,
            "lean" => forecast::Show::FatFree,
            "energy" => forecast::Show::Energy,
            _ => forecast::Show::Weight,
        };
        return Ok(match other {
            Other::ForecastCsv => forecast::csv(&f),
            Other::ForecastJson => pretty(&forecast::json(&f)),
            Other::ForecastSvg => forecast::chart(&f, show).svg(),
            _ => forecast::text(&f),
        });
    }
    let ready = folder.ready(&sheet)?;
    let (brief, energy, targets) = (&ready.brief, &ready.energy, &ready.targets);
    match other {
        Other::Targets(false) => {
            return Ok(styled(style(brief), || {
                report::targets::text(brief, energy, targets)
            }));
        }
        Other::Targets(true) => return Ok(pretty(&report::targets::json(brief, energy, targets))),
        _ => {}
    }
    let format = match other {
        Other::Why(true) => WhyFormat::Json,
        _ => WhyFormat::Text,
    };
    if let Some(text) = why::stop(brief, energy, format) {
        return match other {
            Other::Why(_) => Ok(text),
            _ => Err(Refusal::Wrong(
                "a safety rule stops this brief, and so there is no model".into(),
            )),
        };
    }
    let pieces = ready.pieces(&folder.larder).map_err(mistakes)?;
    if let Other::Mps | Other::Lp = other {
        let linear = export(pieces).map_err(mistakes)?;
        return Ok(if other == Other::Lp {
            lp_text(&linear)
        } else {
            mps(&linear)
        });
    }
    let case = Case::new(pieces).map_err(mistakes)?;
    let told = why::told(&case, format);
    told.map(|(text, _)| text)
        .ok_or_else(|| Refusal::Wrong(why::UNSOLVED.into()))
}
