//! The forms of a plan that people take away, each by its name and the bytes of its file.

use super::amount::{EnergyUnit, Style, Units, styled};
use crate::brief::{self, Brief};
use crate::energy::EnergyBudget;
use crate::plan::Plan;
use crate::targets::Target;
use chrono::NaiveDate;

/// Forms of a plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
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
    /// All of them.
    pub const ALL: [PlanFormat; 10] = [
        PlanFormat::Text,
        PlanFormat::Csv,
        PlanFormat::TotalsCsv,
        PlanFormat::ShoppingCsv,
        PlanFormat::CookingCsv,
        PlanFormat::Json,
        PlanFormat::Html,
        PlanFormat::Markdown,
        PlanFormat::Xlsx,
        PlanFormat::Ics,
    ];

    /// Its file in a folder.
    pub fn name(self) -> &'static str {
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

    /// Media type of its file (RFC 6838 names).
    pub fn media(self) -> &'static str {
        match self {
            PlanFormat::Text => "text/plain; charset=utf-8",
            PlanFormat::Csv | PlanFormat::TotalsCsv | PlanFormat::ShoppingCsv | PlanFormat::CookingCsv => {
                "text/csv; charset=utf-8"
            }
            PlanFormat::Json => "application/json",
            PlanFormat::Html => "text/html; charset=utf-8",
            PlanFormat::Markdown => "text/markdown; charset=utf-8",
            PlanFormat::Xlsx => "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
            PlanFormat::Ics => "text/calendar; charset=utf-8",
        }
    }

    /// Whether it can tell why no meals are planned.
    pub fn says_why(self) -> bool {
        matches!(
            self,
            PlanFormat::Text | PlanFormat::Json | PlanFormat::Html | PlanFormat::Markdown
        )
    }
}

/// How a plan is told.
#[derive(Clone, Debug)]
pub struct Look {
    /// How masses are told.
    pub units: Units,
    /// How energy and decimals are told.
    pub style: Style,
    /// First day of the calendar.
    pub start: NaiveDate,
    /// SVG chart of the weeks ahead, for the page.
    pub forecast: Option<String>,
}

/// A brief that a safety gate stopped, for the forms that tell it.
#[derive(Clone, Copy, Debug)]
pub struct Stopped<'a> {
    /// The brief.
    pub brief: &'a Brief,
    /// Its energy, with the gates.
    pub energy: &'a EnergyBudget,
    /// What would be its targets.
    pub targets: &'a [Target],
}

/// How the brief wants figures told.
pub fn style(brief: &Brief) -> Style {
    Style {
        energy: if brief.output.kilojoules {
            EnergyUnit::Kj
        } else {
            EnergyUnit::Kcal
        },
        comma: brief.output.comma,
    }
}

/// The units of masses: the brief's own, else those of the kitchen ("us" or "metric").
pub fn units(brief: &Brief, kitchen: &str) -> Units {
    match brief.output.units {
        Some(brief::Units::Us) => Units::Us,
        Some(brief::Units::Metric) => Units::Metric,
        None if kitchen == "us" => Units::Us,
        None => Units::Metric,
    }
}

/// The chart of the weeks ahead of a brief as written, told in its style; `None` when its first phase does not say
/// how many weeks it has, and when a gate stops it.
pub fn weeks_ahead(brief: &Brief) -> Option<String> {
    brief.phases.first()?.weeks?;
    let forecast = crate::forecast::forecast(brief).ok().filter(|f| !f.stopped())?;
    Some(styled(style(brief), || {
        super::forecast::chart(&forecast, super::forecast::Show::Weight).svg()
    }))
}

/// A form of the plan as the bytes of its file; `stopped` is the brief when a safety gate left no meals. Only what
/// people read follows the style; the forms for programs do not ask for it.
///
/// # Errors
/// Days that leave the calendar, and a spreadsheet that cannot be made, in words.
pub fn render(
    format: PlanFormat,
    plan: &Plan,
    look: &Look,
    stopped: Option<Stopped>,
) -> Result<Vec<u8>, String> {
    let style = match format {
        PlanFormat::Text | PlanFormat::Html | PlanFormat::Markdown | PlanFormat::Ics => look.style,
        _ => Style::default(),
    };
    styled(style, || written(format, plan, look, stopped))
}

fn written(
    format: PlanFormat,
    plan: &Plan,
    look: &Look,
    stopped: Option<Stopped>,
) -> Result<Vec<u8>, String> {
    let text = match (format, stopped) {
        (PlanFormat::Text, Some(s)) => format!(
            "No meals are planned: a safety rule stops this phase (see \"Gates\" below for why,\nand for what would be acceptable instead).\n\n{}",
            super::targets::text(s.brief, s.energy, s.targets)
        ),
        (PlanFormat::Text, None) => super::text::plan(plan, look.units),
        (PlanFormat::Html, _) => super::html::plan(plan, look.units, look.forecast.as_deref()),
        (PlanFormat::Markdown, _) => super::markdown::plan(plan, look.units),
        (PlanFormat::Csv, _) => super::csv::plan(plan),
        (PlanFormat::TotalsCsv, _) => super::csv::totals(plan),
        (PlanFormat::ShoppingCsv, _) => super::csv::shopping(plan),
        (PlanFormat::CookingCsv, _) => super::csv::cooking(plan),
        (PlanFormat::Json, _) => super::json::pretty(&super::json::plan(plan)),
        (PlanFormat::Ics, _) => {
            return super::calendar::plan(plan, look.start)
                .map(String::into_bytes)
                .ok_or_else(|| "--start: the days leave the calendar; name an earlier date".to_string());
        }
        (PlanFormat::Xlsx, _) => {
            return super::sheet::plan(plan).map_err(|e| format!("the spreadsheet cannot be made: {e}"));
        }
    };
    Ok(text.into_bytes())
}
