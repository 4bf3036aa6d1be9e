//! `targets` and `plan`: a brief in, floors and ceilings or the days of meals out.

use super::{draw, files};
use crate::brief::{self, Brief};
use crate::diagnostic::{Diagnostic, any_error, suggestion};
use crate::energy::{self, EnergyBudget, GateAction};
use crate::kitchen::{Catalogue, Source};
use crate::model::build::{Pieces, product};
use crate::model::linear::{lp_text, mps};
use crate::plan::{export, moves};
use crate::prices::PriceList;
use crate::report::{self, amount::Units};
use crate::targets;
use crate::why::{Case, no_plan};
use clap::{Args, ValueEnum};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

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

/// Forms of the targets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum TargetsFormat {
    /// For people, 80 columns
    Text,
    /// For programs
    Json,
}

/// Units of a shopping list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum UnitsWord {
    /// Grams and kilograms
    Metric,
    /// Ounces and pounds
    Us,
}

/// Options of `targets`.
#[derive(Debug, Args)]
pub struct TargetsOptions {
    /// The brief; `-` reads standard input
    brief: PathBuf,
    /// How to write it
    #[arg(long, value_enum, default_value = "text")]
    format: TargetsFormat,
    /// For this week of the phases, with the body expected then; the first without it
    #[arg(long, value_name = "NUMBER")]
    week: Option<u32>,
    /// File to write; standard output without it
    #[arg(short, long)]
    output: Option<PathBuf>,
}

/// Options of `plan`.
#[derive(Debug, Args)]
pub struct PlanOptions {
    /// The brief; `-` reads standard input
    brief: PathBuf,
    /// How to write it
    #[arg(long, value_enum, default_value = "text")]
    format: PlanFormat,
    /// File to write, whole or not at all; standard output without it
    #[arg(short, long)]
    output: Option<PathBuf>,
    /// Also write the model for any solver: a name ending in .mps or .lp
    #[arg(long, value_name = "FILE")]
    model: Option<PathBuf>,
    /// A price list of your own instead of the bundled one
    #[arg(long, value_name = "FILE")]
    prices: Option<PathBuf>,
    /// Foods of your own over the bundled table; may be given more than once
    #[arg(long = "foods", value_name = "FILE")]
    own: Vec<PathBuf>,
    /// Plan this week of the phases, for the body expected then; the first without it
    #[arg(long, value_name = "NUMBER")]
    week: Option<u32>,
    /// Dishes of your own beside the bundled ones; may be given more than once
    #[arg(long = "dishes", value_name = "FILE")]
    dishes: Vec<PathBuf>,
    /// Seed of the search instead of the brief's
    #[arg(long)]
    seed: Option<u64>,
    /// Moves the search tries; without it as many as the days need, a second's worth for a week
    #[arg(long)]
    moves: Option<u64>,
    /// Also have HiGHS prove or improve the plan for so many seconds (needs a build with `--features highs`)
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    prove: Option<f64>,
    /// Units of the shopping list; the kitchen's own without it
    #[arg(long, value_enum)]
    units: Option<UnitsWord>,
    /// What is at home besides the brief's own: a list that --leftovers wrote
    #[arg(long, value_name = "FILE")]
    pantry: Option<PathBuf>,
    /// Days between the end of the plan that wrote --pantry and the first day of this one
    #[arg(long, value_name = "DAYS", default_value_t = 0, requires = "pantry")]
    days_later: u32,
    /// Also write what is left over, for --pantry of the next plan
    #[arg(long, value_name = "FILE")]
    leftovers: Option<PathBuf>,
}

/// Seconds of `--prove`.
fn seconds(text: &str) -> Result<f64, String> {
    if cfg!(not(feature = "highs")) {
        return Err(
            "this build has no second solver; build one with `cargo install --path . --features highs` (needs cmake, a C++ compiler and libclang)".into(),
        );
    }
    text.parse()
        .ok()
        .filter(|s: &f64| (0.1..=1e6).contains(s))
        .ok_or_else(|| "give seconds, 0.1 to 1000000".into())
}

/// Adds a list of what is at home to a brief; `false` when its mistakes have been shown.
fn add_pantry(brief: &mut Brief, path: &Path, days_later: u32, catalogue: &Catalogue) -> io::Result<bool> {
    let text = files::read(path)?;
    let name = path.display().to_string();
    let entries = match brief::parse_pantry(&text) {
        Ok((entries, _)) => entries,
        Err(problems) => {
            draw::to_stderr(&name, &text, &problems);
            return Ok(false);
        }
    };
    let unknown: Vec<Diagnostic> = entries
        .iter()
        .filter(|e| product(catalogue, &e.what.value).is_none())
        .map(|e| {
            let near = suggestion(&e.what.value, catalogue.products.keys().map(String::as_str));
            Diagnostic::error("pantry-unknown-id", format!("`{}` is no product", e.what.value))
                .at(e.what.span.clone(), "unknown")
                .help(
                    near.map_or("use the product ids of a shopping list".to_string(), |n| {
                        format!("did you mean `{n}`?")
                    }),
                )
        })
        .collect();
    if !unknown.is_empty() {
        draw::to_stderr(&name, &text, &unknown);
        return Ok(false);
    }
    let gone = brief.carry(entries, days_later);
    if !gone.is_empty() {
        writeln!(
            io::stderr().lock(),
            "note: past their days and left out of what is at home: {}",
            gone.join(", ")
        )?;
    }
    Ok(true)
}

/// A brief that has been read, with its text for messages.
pub(super) struct Prepared {
    pub(super) path: String,
    pub(super) text: String,
    pub(super) brief: Brief,
    pub(super) energy: EnergyBudget,
    pub(super) targets: Vec<targets::Target>,
}

/// Reads a brief and derives energy and targets; `None` when its mistakes have been shown.
pub(super) fn prepare(path: &Path, seed: Option<u64>, week: Option<u32>) -> io::Result<Option<Prepared>> {
    let text = files::read(path)?;
    let name = path.display().to_string();
    let (mut brief, warnings) = match brief::parse(&text) {
        Ok(read) => read,
        Err(problems) => {
            draw::to_stderr(&name, &text, &problems);
            return Ok(None);
        }
    };
    if let Some(seed) = seed {
        brief.seed = seed;
    }
    let mut all = warnings;
    let then = match week {
        None => energy::budget(&brief).map(|energy| (brief.clone(), energy)),
        Some(week) => energy::course(&brief).and_then(|course| course.week(&brief, week)),
    };
    let (brief, energy) = match then {
        Ok(then) => then,
        Err(problems) => {
            all.extend(problems);
            draw::to_stderr(&name, &text, &all);
            return Ok(None);
        }
    };
    let (targets, more) = targets::derive(&brief, &energy);
    all.extend(more);
    draw::to_stderr(&name, &text, &all);
    Ok((!any_error(&all)).then_some(Prepared {
        path: name,
        text,
        brief,
        energy,
        targets,
    }))
}

pub(super) fn finish(out: &mut dyn Write, whole: Option<files::Whole>, text: &str) -> io::Result<()> {
    match whole {
        Some(file) => file.write(text.as_bytes()),
        None => out.write_all(text.as_bytes()),
    }
}

pub(super) fn pretty(value: &serde_json::Value) -> String {
    let mut text = serde_json::to_string_pretty(value).unwrap_or_default();
    text.push('\n');
    text
}

/// Runs `targets`.
///
/// # Errors
/// Files that cannot be read or written.
pub fn targets(options: &TargetsOptions, out: &mut dyn Write) -> io::Result<u8> {
    let whole = options.output.as_deref().map(files::Whole::create).transpose()?;
    let Some(p) = prepare(&options.brief, None, options.week)? else {
        return Ok(2);
    };
    let text = match options.format {
        TargetsFormat::Text => report::targets::text(&p.brief, &p.energy, &p.targets),
        TargetsFormat::Json => pretty(&report::targets::json(&p.brief, &p.energy, &p.targets)),
    };
    finish(out, whole, &text)?;
    Ok(u8::from(
        p.energy.gates.iter().any(|g| g.action == GateAction::Stop),
    ))
}

/// Runs `plan`.
///
/// # Errors
/// Files that cannot be read or written.
pub fn plan(options: &PlanOptions, out: &mut dyn Write) -> io::Result<u8> {
    let whole = options.output.as_deref().map(files::Whole::create).transpose()?;
    let model_file = options.model.as_deref().map(files::Whole::create).transpose()?;
    let as_lp = match options
        .model
        .as_deref()
        .and_then(|m| m.extension())
        .and_then(|e| e.to_str())
    {
        Some("lp") => true,
        Some("mps") => false,
        _ if options.model.is_none() => false,
        _ => return Err(io::Error::other("--model: the name must end in .mps or .lp")),
    };
    let leftovers = options
        .leftovers
        .as_deref()
        .map(files::Whole::create)
        .transpose()?;
    let Some(mut p) = prepare(&options.brief, options.seed, options.week)? else {
        return Ok(2);
    };
    if p.energy.gates.iter().any(|g| g.action == GateAction::Stop) {
        let text = match options.format {
            PlanFormat::Json => pretty(&report::json::plan(&crate::plan::stopped(
                &p.brief, &p.energy, &p.targets,
            ))),
            PlanFormat::Html => report::html::plan(
                &crate::plan::stopped(&p.brief, &p.energy, &p.targets),
                Units::Metric,
                None,
            ),
            _ => format!(
                "No meals are planned: a safety rule stops this phase (see \"Gates\" below for why,\nand for what would be acceptable instead).\n\n{}",
                report::targets::text(&p.brief, &p.energy, &p.targets)
            ),
        };
        finish(out, whole, &text)?;
        return Ok(1);
    }
    let Some(table) = super::foods::table_with(&options.own, &mut io::stderr().lock())? else {
        return Ok(2);
    };
    let mut catalogue = match Catalogue::bundled(&table) {
        Ok(c) => c,
        Err(problems) => return refuse("the bundled catalogue", "", &problems),
    };
    if !super::dishes::add(&mut catalogue, &table, &options.dishes, &mut io::stderr().lock())? {
        return Ok(2);
    }
    if let Some(path) = &options.pantry
        && !add_pantry(&mut p.brief, path, options.days_later, &catalogue)?
    {
        return Ok(2);
    }
    let Some(kitchen) = catalogue.kitchen(&p.brief.region.value) else {
        let names = catalogue
            .kitchens
            .iter()
            .map(|k| format!("`{}`", k.id))
            .collect::<Vec<_>>()
            .join(", ");
        let d = Diagnostic::error(
            "brief-unknown-region",
            format!("there is no kitchen `{}`", p.brief.region.value),
        )
        .at(p.brief.region.span.clone(), "unknown kitchen")
        .help(format!("kitchens: {names}"));
        return refuse(&p.path, &p.text, &[d]);
    };
    let prices = match &options.prices {
        Some(path) => {
            let text = files::read(path)?;
            let name = path.display().to_string();
            match PriceList::read(
                &Source {
                    name: &name,
                    text: &text,
                },
                &catalogue,
            ) {
                Ok(list) => Some(list),
                Err(problems) => return refuse(&name, "", &problems),
            }
        }
        None => match PriceList::bundled(&kitchen.id, &catalogue) {
            Ok(list) => list,
            Err(problems) => return refuse("the bundled prices", "", &problems),
        },
    };
    let pieces = Pieces {
        brief: &p.brief,
        intake_kcal: p.energy.intake.0,
        targets: &p.targets,
        kitchen,
        catalogue: &catalogue,
        table: &table,
        prices: prices.as_ref(),
    };
    let effort = options.moves.unwrap_or_else(|| moves(p.brief.days));
    let made = match options.prove {
        #[cfg(feature = "highs")]
        Some(seconds) => crate::plan::prove(pieces, &p.energy, effort, seconds),
        _ => crate::plan::plan(pieces, &p.energy, effort),
    };
    let mut plan = match made {
        Ok(plan) => plan,
        Err(problems) => return refuse(&p.path, &p.text, &problems),
    };
    if !plan.conflict.is_empty()
        && let Some(why) = Case::new(pieces).ok().and_then(|c| no_plan(&c))
    {
        (plan.conflict, plan.ways) = (why.conflict, why.ways);
    }
    if let Some(file) = model_file {
        match export(pieces) {
            Ok(linear) => file.write(if as_lp { lp_text(&linear) } else { mps(&linear) }.as_bytes())?,
            Err(problems) => return refuse(&p.path, &p.text, &problems),
        }
    }
    if let Some(file) = leftovers.filter(|_| plan.planned) {
        file.write(report::pantry::toml(&plan).as_bytes())?;
    }
    let units = match options.units {
        Some(UnitsWord::Us) => Units::Us,
        Some(UnitsWord::Metric) => Units::Metric,
        None if kitchen.units == "us" => Units::Us,
        None => Units::Metric,
    };
    let text = match options.format {
        PlanFormat::Text => report::text::plan(&plan, units),
        PlanFormat::Csv => report::csv::plan(&plan),
        PlanFormat::TotalsCsv => report::csv::totals(&plan),
        PlanFormat::ShoppingCsv => report::csv::shopping(&plan),
        PlanFormat::CookingCsv => report::csv::cooking(&plan),
        PlanFormat::Json => pretty(&report::json::plan(&plan)),
        PlanFormat::Html => report::html::plan(&plan, units, None),
        PlanFormat::Markdown => report::markdown::plan(&plan, units),
        PlanFormat::Xlsx | PlanFormat::Ics => String::new(),
    };
    finish(out, whole, &text)?;
    Ok(u8::from(!plan.planned))
}

pub(super) fn refuse(path: &str, text: &str, problems: &[Diagnostic]) -> io::Result<u8> {
    if text.is_empty() {
        let mut err = io::stderr().lock();
        for d in problems {
            let line = d.line.map(|l| format!(" line {l}")).unwrap_or_default();
            writeln!(err, "error[{}]: {path}{line}: {}", d.code, d.message)?;
            if let Some(help) = &d.help {
                writeln!(err, "  help: {help}")?;
            }
        }
    } else {
        draw::to_stderr(path, text, problems);
    }
    Ok(2)
}
