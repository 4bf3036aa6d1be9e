//! What people take away from a plan: one form of it to a file or a pipe, or all of them to a folder.

use super::files::{self, Set, Whole};
use super::plan::{Prepared, UnitsWord, pretty};
use crate::brief::{self, Brief};
use crate::plan::Plan;
use crate::report;
use crate::report::amount::{EnergyUnit, Style, Units, styled};
use chrono::{Datelike, Days, NaiveDate};
use clap::ValueEnum;
use std::io::{self, IsTerminal, Write};
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};

/// Forms of a plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PlanFormat {
    /// For people, 80 columns
    Text,
    /// Meals as a table: day, slot, item, amount, grams, kcal, cost
    Csv,
    /// Nutrients of each day and their mean as a table
    TotalsCsv,
    /// Shopping list as a table
    ShoppingCsv,
    /// Cooking list as a table
    CookingCsv,
    /// Everything, schema 1
    Json,
    /// A page by itself; printed, two sheets: the week and the shopping list
    Html,
    /// For chats and notes
    Markdown,
    /// A spreadsheet whose totals follow its amounts
    Xlsx,
    /// A calendar with an event a meal; the first day is that of --start
    Ics,
}

impl PlanFormat {
    /// Its file in a folder.
    fn name(self) -> &'static str {
        match self {
            PlanFormat::Text => "week.txt",
            PlanFormat::Csv => "plan.csv",
            PlanFormat::TotalsCsv => "totals.csv",
            PlanFormat::ShoppingCsv => "shopping.csv",
            PlanFormat::CookingCsv => "cooking.csv",
            PlanFormat::Json => "plan.json",
            PlanFormat::Html => "week.html",
            PlanFormat::Markdown => "week.md",
            PlanFormat::Xlsx => "week.xlsx",
            PlanFormat::Ics => "week.ics",
        }
    }

    /// Whether it can tell why no meals are planned.
    pub(super) fn says_why(self) -> bool {
        matches!(
            self,
            PlanFormat::Text | PlanFormat::Json | PlanFormat::Html | PlanFormat::Markdown
        )
    }
}

/// The chart of the weeks ahead in a folder.
const FORECAST: &str = "forecast.svg";

/// How a plan is told.
pub(super) struct Look {
    units: Units,
    style: Style,
    start: NaiveDate,
    forecast: Option<String>,
}

impl Look {
    /// By the options, else the kitchen. The weeks ahead are charted when the first phase says how many it has.
    pub(super) fn new(
        p: &Prepared,
        start: NaiveDate,
        units: Option<UnitsWord>,
        kitchen_units: &str,
        charted: bool,
    ) -> Look {
        // As written: a week of the phases has another body than the first.
        let forecast = charted
            .then(|| brief::parse(&p.text).ok())
            .flatten()
            .map(|(brief, _)| brief)
            .filter(|b| b.phases.first().is_some_and(|f| f.weeks.is_some()))
            .and_then(|b| crate::forecast::forecast(&b).ok())
            .filter(|f| !f.stopped())
            .map(|f| {
                styled(style(&p.brief), || {
                    report::forecast::chart(&f, report::forecast::Show::Weight).svg()
                })
            });
        Look {
            units: chosen(units, &p.brief, kitchen_units),
            style: style(&p.brief),
            start,
            forecast,
        }
    }
}

/// How the brief wants figures told.
pub(super) fn style(brief: &Brief) -> Style {
    Style {
        energy: if brief.output.kilojoules {
            EnergyUnit::Kj
        } else {
            EnergyUnit::Kcal
        },
        comma: brief.output.comma,
    }
}

/// The units of masses: the option, else the brief's, else those of the kitchen.
pub(super) fn chosen(option: Option<UnitsWord>, brief: &Brief, kitchen: &str) -> Units {
    let own = brief.output.units.map(|u| match u {
        brief::Units::Us => UnitsWord::Us,
        brief::Units::Metric => UnitsWord::Metric,
    });
    match option.or(own) {
        Some(UnitsWord::Us) => Units::Us,
        Some(UnitsWord::Metric) => Units::Metric,
        None if kitchen == "us" => Units::Us,
        None => Units::Metric,
    }
}

/// The first Monday after today, by the clock of the machine in universal time.
pub(super) fn next_monday() -> NaiveDate {
    let days = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .map_or(0, |d| d.as_secs() / 86_400);
    let today = NaiveDate::from_ymd_opt(1970, 1, 1)
        .and_then(|d| d.checked_add_days(Days::new(days)))
        .unwrap_or_default();
    let ahead = 7 - u64::from(today.weekday().num_days_from_monday());
    today.checked_add_days(Days::new(ahead)).unwrap_or(today)
}

enum Place {
    Pipe,
    File(Whole),
    Folder(Set),
}

/// Where a plan goes, opened before the work.
pub(super) struct Takeaway {
    place: Place,
    format: Option<PlanFormat>,
}

impl Takeaway {
    /// Opens the file, or all files of the folder.
    ///
    /// # Errors
    /// A place that cannot be written, and a spreadsheet on a terminal.
    pub(super) fn open(path: Option<&Path>, format: Option<PlanFormat>) -> io::Result<Takeaway> {
        let place = match path {
            Some(folder) if files::is_folder(folder) => {
                let names: Vec<&str> = match format {
                    Some(f) => vec![f.name()],
                    None => PlanFormat::value_variants()
                        .iter()
                        .map(|f| f.name())
                        .chain([FORECAST])
                        .collect(),
                };
                Place::Folder(Set::create(folder, &names)?)
            }
            other => files::output(other)?.map_or(Place::Pipe, Place::File),
        };
        if matches!(place, Place::Pipe) && format == Some(PlanFormat::Xlsx) && io::stdout().is_terminal() {
            return Err(io::Error::other(
                "a spreadsheet is not for a terminal; add --output week.xlsx, or send it on with `>`",
            ));
        }
        Ok(Takeaway { place, format })
    }

    /// Whether the chart of the weeks ahead stands in it.
    pub(super) fn charted(&self) -> bool {
        self.format == Some(PlanFormat::Html)
            || self.format.is_none() && matches!(self.place, Place::Folder(_))
    }

    /// Writes the plan; `stopped` is the brief when a safety rule stopped it and there are no meals.
    ///
    /// # Errors
    /// What cannot be written, and dates that leave the calendar.
    pub(super) fn write(
        self,
        plan: &Plan,
        look: &Look,
        stopped: Option<&Prepared>,
        out: &mut dyn Write,
    ) -> io::Result<()> {
        let format = self.format.unwrap_or(PlanFormat::Text);
        match self.place {
            Place::Pipe => out.write_all(&render(format, plan, look, stopped)?),
            Place::File(file) => file.write(&render(format, plan, look, stopped)?),
            Place::Folder(set) => {
                let mut contents = Vec::new();
                for f in PlanFormat::value_variants() {
                    // A list of nothing is left out of the whole set; asked for by name it is written.
                    let wanted = *f != PlanFormat::CookingCsv
                        || !plan.cooking.is_empty()
                        || self.format == Some(PlanFormat::CookingCsv);
                    if wanted && set.names().any(|n| n == f.name()) {
                        contents.push((f.name().to_string(), render(*f, plan, look, stopped)?));
                    }
                }
                if let Some(svg) = look.forecast.as_ref().filter(|_| self.format.is_none()) {
                    contents.push((FORECAST.to_string(), svg.clone().into_bytes()));
                }
                set.write(&contents)
            }
        }
    }
}

/// A form of the plan as the bytes of its file. Only what people read follows the style; the forms for programs
/// do not ask for it.
fn render(format: PlanFormat, plan: &Plan, look: &Look, stopped: Option<&Prepared>) -> io::Result<Vec<u8>> {
    let style = match format {
        PlanFormat::Text | PlanFormat::Html | PlanFormat::Markdown | PlanFormat::Ics => look.style,
        _ => Style::default(),
    };
    styled(style, || write_form(format, plan, look, stopped))
}

fn write_form(
    format: PlanFormat,
    plan: &Plan,
    look: &Look,
    stopped: Option<&Prepared>,
) -> io::Result<Vec<u8>> {
    let text = match (format, stopped) {
        (PlanFormat::Text, Some(p)) => format!(
            "No meals are planned: a safety rule stops this phase (see \"Gates\" below for why,\nand for what would be acceptable instead).\n\n{}",
            report::targets::text(&p.brief, &p.energy, &p.targets)
        ),
        (PlanFormat::Text, None) => report::text::plan(plan, look.units),
        (PlanFormat::Html, _) => report::html::plan(plan, look.units, look.forecast.as_deref()),
        (PlanFormat::Markdown, _) => report::markdown::plan(plan, look.units),
        (PlanFormat::Csv, _) => report::csv::plan(plan),
        (PlanFormat::TotalsCsv, _) => report::csv::totals(plan),
        (PlanFormat::ShoppingCsv, _) => report::csv::shopping(plan),
        (PlanFormat::CookingCsv, _) => report::csv::cooking(plan),
        (PlanFormat::Json, _) => pretty(&report::json::plan(plan)),
        (PlanFormat::Ics, _) => report::calendar::plan(plan, look.start)
            .ok_or_else(|| io::Error::other("--start: the days leave the calendar; name an earlier date"))?,
        (PlanFormat::Xlsx, _) => {
            return report::sheet::plan(plan)
                .map_err(|e| io::Error::other(format!("the spreadsheet cannot be made: {e}")));
        }
    };
    Ok(text.into_bytes())
}
