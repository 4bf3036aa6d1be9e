//! The log of weigh-ins: `NAME.log.csv` beside the brief, one line a day, written whole or not at all.

use super::{Field, Here, Said, value};
use crate::brief::Units;
use crate::brief::edit::Document;
use crate::cli::files::{MOST_BYTES, Whole};
use crate::diagnostic::{Diagnostic, Severity};
use crate::page::folder::{Folder, Refusal, Sheet, digest};
use crate::page::frame::{Room, messages};
use crate::review::log::edit::{Book, Cells, Row};
use crate::review::log::{self, Day, Log, date, reads_as_pounds};
use crate::units::Kilograms;
use maud::{Markup, html};
use std::fs;
use std::sync::{Mutex, PoisonError};

/// Lines shown without unfolding.
const LATEST: usize = 7;

/// One change of a log at a time.
static WRITING: Mutex<()> = Mutex::new(());

/// What reading a log gives: its days with remarks, or every mistake in it.
pub(super) type Read = Result<(Log, Vec<Diagnostic>), Vec<Diagnostic>>;

/// A log as it was when it was read.
pub(super) struct Kept {
    /// Its text; empty when there is none yet.
    pub text: String,
    /// Stands for the text.
    pub digest: String,
}

impl Kept {
    /// The log's days, or every mistake in it; `None` when there is no line yet.
    pub(super) fn log(&self, about: Kilograms) -> Option<Read> {
        let begun = Book::read(&self.text).map_or(true, |book| !book.rows().is_empty());
        begun.then(|| log::read(&self.text, about))
    }
}

/// The log of a brief.
pub(super) fn kept(folder: &Folder, name: &str) -> Result<Kept, Refusal> {
    let path = folder.beside(name, "log.csv")?;
    let file = format!("{name}.log.csv");
    let text = match fs::symlink_metadata(&path) {
        Err(_) => String::new(),
        Ok(m) if !m.is_file() => return Err(Refusal::File(format!("{file} is no plain file"))),
        Ok(m) if m.len() > MOST_BYTES => {
            return Err(Refusal::File(format!(
                "{file} is larger than any log of weigh-ins"
            )));
        }
        // With its byte-order mark, so that it stays.
        Ok(_) => {
            fs::read_to_string(&path).map_err(|e| Refusal::File(format!("{file} cannot be read: {e}")))?
        }
    };
    Ok(Kept {
        digest: digest(&text),
        text,
    })
}

/// The day of a brief's next review, from its log; `None` before the first weigh-in and after the last phase.
pub fn next_review(folder: &Folder, sheet: &Sheet) -> Option<Day> {
    let (brief, _) = crate::brief::parse(&sheet.text).ok()?;
    let kept = kept(folder, &sheet.name).ok()?;
    let (log, _) = kept.log(brief.person.weight)?.ok()?;
    crate::review::next_review(&brief, &sheet.text, &log, super::today())
}

/// The log is not as it was when the page was drawn.
pub(super) fn changed(name: &str) -> Refusal {
    Refusal::Wrong(format!(
        "{name}.log.csv was changed elsewhere since this page was drawn, and nothing was written over it; go back, load \
         the page again and repeat the change"
    ))
}

/// What was done, to be read out.
pub(super) fn done(word: &str) -> Option<&'static str> {
    match word {
        "added" => Some("The day was added to the log."),
        "corrected" => Some("The line of the log was corrected."),
        "taken" => Some("The line was taken out of the log."),
        _ => None,
    }
}

/// The form of a day as it stands: for a new line, or one to correct, with what is wrong.
#[derive(Default)]
pub(super) struct Entered {
    /// Line to correct; `None` adds one.
    line: Option<usize>,
    cells: Cells,
    unit: String,
    wrong: Vec<Diagnostic>,
}

impl Entered {
    /// The form at first: today, or the line that is asked for.
    pub(super) fn asked(kept: &Kept, asked: &Said, today: Day) -> Entered {
        let rows = Book::read(&kept.text).map_or_else(|_| Vec::new(), |b| b.rows());
        let line: Option<usize> = value(asked, "line").parse().ok();
        match rows.into_iter().find(|r| Some(r.line) == line) {
            Some(row) => Entered {
                line,
                cells: Cells {
                    // A date field knows no other form.
                    date: row.day.map_or(row.cells.date.clone(), date),
                    ..row.cells
                },
                ..Entered::default()
            },
            None => Entered {
                cells: Cells {
                    date: date(today),
                    ..Cells::default()
                },
                ..Entered::default()
            },
        }
    }
}

/// Which field a message is about.
fn field(d: &Diagnostic) -> &'static str {
    let of = |word: &str| d.code.contains(word) || d.message.starts_with(&format!("the {word}"));
    ["weight", "intake", "adherence", "date", "day"]
        .into_iter()
        .find(|w| of(w))
        .map_or("", |w| if w == "day" { "date" } else { w })
}

/// The line without its number: the form shows which it is.
fn beside(mut d: Diagnostic) -> Diagnostic {
    d.line = None;
    d
}

fn errors(text: &str, about: Kilograms) -> Vec<Diagnostic> {
    let told = match log::read(text, about) {
        Ok((_, told)) | Err(told) => told,
    };
    told.into_iter()
        .filter(|d| d.severity == Severity::Error)
        .collect()
}

fn write(folder: &Folder, name: &str, text: &str) -> Result<(), Refusal> {
    let path = folder.beside(name, "log.csv")?;
    Whole::create(&path)
        .and_then(|file| file.write(text.as_bytes()))
        .map_err(|e| Refusal::File(e.to_string()))
}

/// A number with the unit chosen beside it; a unit that was typed stays.
fn with_unit(typed: &str, unit: &str) -> String {
    let bare = !typed.is_empty() && !typed.contains(char::is_alphabetic);
    if bare && ["kg", "lb"].contains(&unit) {
        format!("{typed} {unit}")
    } else {
        typed.to_string()
    }
}

/// Adds a day or corrects a line; what was done, or the form with its mistakes.
pub(super) fn enter(
    folder: &Folder,
    here: &Here,
    said: &Said,
    today: Day,
) -> Result<Result<&'static str, Entered>, Refusal> {
    let _mine = WRITING.lock().unwrap_or_else(PoisonError::into_inner);
    let name = &here.sheet.name;
    let about = here.brief.person.weight;
    let kept = kept(folder, name)?;
    if kept.digest != value(said, "seen") {
        return Err(changed(name));
    }
    let mut entered = Entered {
        line: value(said, "line").parse().ok(),
        cells: Cells {
            date: value(said, "date").into(),
            weight: value(said, "weight").into(),
            intake: value(said, "intake").into(),
            adherence: value(said, "adherence").into(),
        },
        unit: value(said, "unit").into(),
        wrong: Vec::new(),
    };
    let typed = Cells {
        weight: with_unit(&entered.cells.weight, &entered.unit),
        ..entered.cells.clone()
    };
    let mut book = match Book::read(&kept.text) {
        Ok(book) => book,
        Err(d) => {
            entered.wrong.push(d);
            return Ok(Err(entered));
        }
    };
    let day = log::day(&typed.date);
    let other = |r: &&Row| r.day.is_some() && r.day == day && Some(r.line) != entered.line;
    if let Some(there) = book.rows().iter().find(other) {
        entered.wrong.push(
            Diagnostic::error(
                "log-day-twice",
                format!("{} stands in line {} already", typed.date, there.line),
            )
            .help("correct that line instead"),
        );
    }
    // A day ahead of this machine's clock may have begun elsewhere.
    if day.is_some_and(|d| d > today + 1) {
        entered.wrong.push(
            Diagnostic::error("log-date-ahead", format!("{} has not come yet", typed.date))
                .help("check the year"),
        );
    }
    if [&typed.weight, &typed.intake, &typed.adherence]
        .iter()
        .all(|t| t.is_empty())
    {
        entered.wrong.push(
            Diagnostic::error("log-weight-missing", "nothing is said of the day")
                .help("write a weight, or what was eaten"),
        );
    }
    let before = errors(&kept.text, about).len();
    let line = match entered.line {
        Some(line) => book.correct(line, &typed).map(|()| line),
        None => book.add(&typed),
    };
    let text = book.text();
    match line {
        Err(d) => entered.wrong.push(d),
        Ok(line) => {
            let after = errors(&text, about);
            let own = |d: &&Diagnostic| d.line == Some(line);
            entered
                .wrong
                .extend(after.iter().filter(own).cloned().map(beside));
            // A line that another part of the table then contradicts.
            if entered.wrong.is_empty() && after.len() > before && !kept.text.is_empty() {
                entered.wrong.extend(after);
            }
            // Days without a weigh-in may come first; any other mistake of a new log is of this line.
            let first = |d: &Diagnostic| d.code == "log-no-weights";
            entered.wrong.retain(|d| !first(d));
        }
    }
    if !entered.wrong.is_empty() {
        return Ok(Err(entered));
    }
    write(folder, name, &text)?;
    Ok(Ok(if entered.line.is_some() {
        "corrected"
    } else {
        "added"
    }))
}

/// Takes a line out of the log.
pub(super) fn take(folder: &Folder, name: &str, said: &Said) -> Result<(), Refusal> {
    let _mine = WRITING.lock().unwrap_or_else(PoisonError::into_inner);
    let kept = kept(folder, name)?;
    if kept.digest != value(said, "seen") {
        return Err(changed(name));
    }
    let told = |d: Diagnostic| Refusal::Wrong(d.message);
    let mut book = Book::read(&kept.text).map_err(told)?;
    let line = value(said, "line").parse().unwrap_or(0);
    book.take(line).map_err(told)?;
    write(folder, name, &book.text())
}

/// The unit in which a weight is meant where the heading states none: that of the numbers there are, else that of the
/// brief.
fn usual_unit(here: &Here, rows: &[Row]) -> &'static str {
    let mut bare: Vec<f64> = rows
        .iter()
        .filter_map(|r| r.cells.weight.replace(',', ".").parse().ok())
        .collect();
    bare.sort_by(f64::total_cmp);
    let pounds = match bare.get(bare.len() / 2) {
        Some(middle) => reads_as_pounds(*middle, here.brief.person.weight),
        None => {
            let doc = Document::read(&here.sheet.text).ok();
            let own = doc.and_then(|d| d.typed("person.weight"));
            here.brief.output.units == Some(Units::Us)
                || own.is_some_and(|w| w.trim_end_matches('s').ends_with("lb"))
        }
    };
    if pounds { "lb" } else { "kg" }
}

pub(super) fn section(here: &Here, kept: &Kept, entry: &Entered, today: Day) -> Markup {
    let (rows, weight, intake, broken) = match Book::read(&kept.text) {
        Ok(book) => (book.rows(), book.weight_unit(), book.intake_unit(), None),
        Err(d) => (Vec::new(), None, "kcal", Some(d)),
    };
    let problems = match kept.log(here.brief.person.weight) {
        Some(Ok((_, told)) | Err(told)) => told,
        None => broken.into_iter().collect(),
    };
    let unit = weight.unwrap_or_else(|| usual_unit(here, &rows));
    let mut latest: Vec<&Row> = rows.iter().collect();
    latest.sort_by_key(|r| std::cmp::Reverse((r.day, r.line)));
    let (new, old) = latest.split_at(latest.len().min(LATEST));
    html! {
        section aria-labelledby="log" {
            h2 #log { "Weigh-ins" }
            (form(here, kept, entry, unit, intake, today))
            @if !problems.is_empty() {
                p { "Of " code { (here.sheet.name) ".log.csv" } ":" }
                (messages("", &problems))
            }
            @if rows.is_empty() {
                p { "No day is written down yet. Weigh in the morning, before breakfast, on at least four days of each week; the first day begins the first phase." }
            } @else {
                (table(here, kept, new, weight, intake))
                @if !old.is_empty() {
                    details { summary { "The " (old.len()) " days before" } (table(here, kept, old, weight, intake)) }
                }
            }
        }
    }
}

fn form(here: &Here, kept: &Kept, entry: &Entered, unit: &str, intake: &str, today: Day) -> Markup {
    let action = format!("{}/log", Room::Months.of(&here.sheet.name));
    let wrong = |name: &str| -> Vec<Diagnostic> {
        entry.wrong.iter().filter(|d| field(d) == name).cloned().collect()
    };
    let (on_date, on_weight, on_intake, on_adherence, other) = (
        wrong("date"),
        wrong("weight"),
        wrong("intake"),
        wrong("adherence"),
        wrong(""),
    );
    let chosen = if entry.unit.is_empty() { unit } else { &entry.unit };
    let hint = format!("Optional: what was eaten, in {intake} or with its unit.");
    let latest = date(today + 1);
    html! {
        form.entry #entry method="post" action=(action) hx-post=(action) hx-target="#tracking" hx-select="#tracking" hx-swap="outerHTML" hx-select-oob="#said" {
            input type="hidden" name="seen" value=(kept.digest);
            @if let Some(line) = entry.line { input type="hidden" name="line" value=(line); }
            h3 { @match entry.line { Some(line) => { "Correct line " (line) }, None => "Add a day" } }
            @if !other.is_empty() { (messages("", &other)) }
            div.fields {
                (Field { id: "entry-date", name: "date", label: "Day", kind: "date", value: &entry.cells.date, hint: "", wrong: &on_date }.draw(html! {}))
                (Field { id: "entry-weight", name: "weight", label: "Weight", kind: "text", value: &entry.cells.weight, hint: "As the scale shows it; 134.5 lb is read too.", wrong: &on_weight }.draw(html! {
                    label.unseen for="entry-unit" { "Unit of the weight" }
                    select #entry-unit name="unit" { @for u in ["kg", "lb"] { option selected[u == chosen] { (u) } } }
                }))
                (Field { id: "entry-intake", name: "intake", label: "Eaten", kind: "text", value: &entry.cells.intake, hint: &hint, wrong: &on_intake }.draw(html! {}))
                (Field { id: "entry-adherence", name: "adherence", label: "Plan followed", kind: "text", value: &entry.cells.adherence, hint: "Optional, instead of a figure: yes, no or 90 %.", wrong: &on_adherence }.draw(html! {}))
            }
            p.row {
                button.main #entry-send { @if entry.line.is_some() { "Write the correction" } @else { "Add to the log" } }
                @if entry.line.is_some() { a href={ (Room::Months.of(&here.sheet.name)) "#log" } { "Leave it as it is" } }
                span.fine { "Today is " (date(today)) " here; a day after " (latest) " is refused." }
            }
        }
    }
}

fn table(here: &Here, kept: &Kept, rows: &[&Row], weight: Option<&str>, intake: &str) -> Markup {
    let room = Room::Months.of(&here.sheet.name);
    let take = format!("{room}/log/take");
    let followed = rows.iter().any(|r| !r.cells.adherence.is_empty());
    html! {
        table.days {
            thead { tr {
                th scope="col" { "Day" }
                th.n scope="col" { "Weight" @if let Some(u) = weight { ", " (u) } }
                th.n scope="col" { "Eaten, " (intake) }
                @if followed { th.n scope="col" { "Followed" } }
                th scope="col" { span.unseen { "Change" } }
            } }
            tbody {
                @for r in rows {
                    tr {
                        th scope="row" { @match r.day { Some(day) => (date(day)), None => (r.cells.date) } }
                        @for cell in [&r.cells.weight, &r.cells.intake, &r.cells.adherence].into_iter().take(2 + usize::from(followed)) {
                            td.n { @if cell.is_empty() { span.soft aria-label="none" { "–" } } @else { (cell) } }
                        }
                        td.change {
                            a href={ (room) "?line=" (r.line) "#entry" } id={ "correct-" (r.line) } aria-label={ "Correct " (r.cells.date) } { "Correct" }
                            form method="post" action=(take) hx-post=(take) hx-target="#tracking" hx-select="#tracking" hx-swap="outerHTML" hx-select-oob="#said" {
                                input type="hidden" name="seen" value=(kept.digest);
                                input type="hidden" name="line" value=(r.line);
                                button.plain id={ "take-" (r.line) } aria-label={ "Take " (r.cells.date) " away" } { "Take away" }
                            }
                        }
                    }
                }
            }
        }
    }
}
