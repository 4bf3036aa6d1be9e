//! What people take away from a plan: one form of it to a file or a pipe, or all of them to a folder.

use super::files::{self, Set, Whole};
use super::plan::{Prepared, UnitsWord};
use crate::brief::{self, Brief};
use crate::plan::Plan;
use crate::report::amount::Units;
use crate::report::form::{Look, PlanFormat, Stopped, render, style, units, weeks_ahead};
use chrono::{Datelike, Days, NaiveDate};
use std::io::{self, IsTerminal, Write};
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};

/// The chart of the weeks ahead in a folder.
const FORECAST: &str = "forecast.svg";

/// How a plan is told: by the options, else the brief, else the kitchen.
pub(super) fn look(
    p: &Prepared,
    start: NaiveDate,
    units: Option<UnitsWord>,
    kitchen_units: &str,
    charted: bool,
) -> Look {
    // As written: a week of the phases has another body than the first.
    let written = || brief::parse(&p.text).ok().map(|(brief, _)| brief);
    Look {
        units: chosen(units, &p.brief, kitchen_units),
        style: style(&p.brief),
        start,
        forecast: charted.then(written).flatten().and_then(|b| weeks_ahead(&b)),
    }
}

/// The units of masses: the option, else the brief's, else those of the kitchen.
pub(super) fn chosen(option: Option<UnitsWord>, brief: &Brief, kitchen: &str) -> Units {
    match option {
        Some(UnitsWord::Us) => Units::Us,
        Some(UnitsWord::Metric) => Units::Metric,
        None => units(brief, kitchen),
    }
}

/// The first Monday after today, by the clock of the machine in universal time.
pub(crate) fn next_monday() -> NaiveDate {
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
                    None => PlanFormat::ALL
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
            Place::Pipe => out.write_all(&form(format, plan, look, stopped)?),
            Place::File(file) => file.write(&form(format, plan, look, stopped)?),
            Place::Folder(set) => {
                let mut contents = Vec::new();
                for f in &PlanFormat::ALL {
                    // A list of nothing is left out of the whole set; asked for by name it is written.
                    let wanted = *f != PlanFormat::CookingCsv
                        || !plan.cooking.is_empty()
                        || self.format == Some(PlanFormat::CookingCsv);
                    if wanted && set.names().any(|n| n == f.name()) {
                        contents.push((f.name().to_string(), form(*f, plan, look, stopped)?));
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

/// A form of the plan as the bytes of its file.
fn form(format: PlanFormat, plan: &Plan, look: &Look, stopped: Option<&Prepared>) -> io::Result<Vec<u8>> {
    let stopped = stopped.map(|p| Stopped {
        brief: &p.brief,
        energy: &p.energy,
        targets: &p.targets,
    });
    render(format, plan, look, stopped).map_err(io::Error::other)
}
