//! `targets` and `plan`: a brief in, floors and ceilings or the days of meals out.

use super::load::{OwnData, load};
use super::roster::{Asked, RosterOptions, roster};
use super::takeaway::{Takeaway, look, next_monday};
use super::why::stopped;
use super::{draw, files};
use crate::brief::{self, Brief};
use crate::diagnostic::{Diagnostic, suggestion};
use crate::energy::{EnergyBudget, GateAction};
use crate::kitchen::Catalogue;
use crate::model::build::product;
use crate::model::linear::{lp_text, mps};
use crate::plan::{Work, export};
use crate::ready::{ready, with_ways};
use crate::report::form::{PlanFormat, style};
use crate::report::json::pretty;
use crate::report::{self, amount::styled};
use crate::roster::Defaults;
use crate::targets;
use chrono::NaiveDate;
use clap::{Args, ValueEnum};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

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
    #[arg(required_unless_present = "roster")]
    brief: Option<PathBuf>,
    #[command(flatten)]
    many: RosterOptions,
    /// How to write it; text without it, and in a folder all of them
    #[arg(long, value_enum)]
    format: Option<PlanFormat>,
    /// File or folder to write, whole or not at all; a folder exists or ends in `/`. Standard output without it
    #[arg(short, long)]
    output: Option<PathBuf>,
    /// First day of the calendar, YYYY-MM-DD; the next Monday without it
    #[arg(long, value_name = "DATE")]
    start: Option<NaiveDate>,
    /// Also write the model for any solver: a name ending in .mps or .lp
    #[arg(long, value_name = "FILE")]
    model: Option<PathBuf>,
    #[command(flatten)]
    own: OwnData,
    /// Plan this week of the phases, for the body expected then; the first without it
    #[arg(long, value_name = "NUMBER")]
    week: Option<u32>,
    /// Seed of the search instead of the brief's
    #[arg(long)]
    seed: Option<u64>,
    /// Moves the search tries; without it as many as the days need, a second's worth for a week on two cores
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
    match ready(&text, seed, week) {
        Ok(ready) => {
            draw::to_stderr(&name, &text, &ready.remarks);
            Ok(Some(Prepared {
                path: name,
                text,
                brief: ready.brief,
                energy: ready.energy,
                targets: ready.targets,
            }))
        }
        Err(problems) => {
            draw::to_stderr(&name, &text, &problems);
            Ok(None)
        }
    }
}

pub(super) fn finish(out: &mut dyn Write, whole: Option<files::Whole>, text: &str) -> io::Result<()> {
    match whole {
        Some(file) => file.write(text.as_bytes()),
        None => out.write_all(text.as_bytes()),
    }
}

/// Runs `targets`.
///
/// # Errors
/// Files that cannot be read or written.
pub fn targets(options: &TargetsOptions, out: &mut dyn Write) -> io::Result<u8> {
    let whole = files::output(options.output.as_deref())?;
    let Some(p) = prepare(&options.brief, None, options.week)? else {
        return Ok(2);
    };
    let text = match options.format {
        TargetsFormat::Text => styled(style(&p.brief), || {
            report::targets::text(&p.brief, &p.energy, &p.targets)
        }),
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
    if options.many.roster.is_none() && options.many.jobs.is_some() {
        return Err(io::Error::other(
            "--jobs goes with --roster; one brief is planned on one core",
        ));
    }
    let path = match (&options.many.roster, &options.brief) {
        (Some(from), _) => {
            let asked = Asked {
                from,
                jobs: options.many.jobs,
                own: &options.own,
                output: options.output.as_deref(),
                defaults: Defaults {
                    week: options.week,
                    seed: options.seed,
                    moves: options.moves,
                },
            };
            return roster(&asked, out);
        }
        (None, Some(path)) => path,
        (None, None) => return Err(io::Error::other("name a brief, or a roster with --roster")),
    };
    let takeaway = Takeaway::open(options.output.as_deref(), options.format)?;
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
    let Some(mut p) = prepare(path, options.seed, options.week)? else {
        return Ok(2);
    };
    let start = options.start.unwrap_or_else(next_monday);
    if let Some(text) = stopped(&p) {
        let plan = crate::plan::stopped(&p.brief, &p.energy, &p.targets);
        let look = look(&p, start, options.units, "", takeaway.charted());
        takeaway.write(&plan, &look, Some(&p), out)?;
        if options.format.is_some_and(|f| !f.says_why()) {
            write!(io::stderr().lock(), "{text}")?;
        }
        return Ok(1);
    }
    let loaded = match load(&options.own)? {
        Ok(l) => l,
        Err(code) => return Ok(code),
    };
    if let Some(path) = &options.pantry
        && !add_pantry(&mut p.brief, path, options.days_later, &loaded.larder().catalogue)?
    {
        return Ok(2);
    }
    let pieces = match loaded.pieces(&p)? {
        Ok(pieces) => pieces,
        Err(code) => return Ok(code),
    };
    let work = Work::of(p.brief.days, options.moves);
    let made = match options.prove {
        #[cfg(feature = "highs")]
        Some(seconds) => crate::plan::prove(pieces, &p.energy, work, seconds),
        _ => crate::plan::plan(pieces, &p.energy, work),
    };
    let plan = match made {
        Ok(plan) => with_ways(plan, pieces),
        Err(problems) => return refuse(&p.path, &p.text, &problems),
    };
    if let Some(file) = model_file {
        match export(pieces) {
            Ok(linear) => file.write(if as_lp { lp_text(&linear) } else { mps(&linear) }.as_bytes())?,
            Err(problems) => return refuse(&p.path, &p.text, &problems),
        }
    }
    if let Some(file) = leftovers.filter(|_| plan.planned) {
        file.write(report::pantry::toml(&plan).as_bytes())?;
    }
    let look = look(
        &p,
        start,
        options.units,
        &pieces.kitchen.units,
        takeaway.charted(),
    );
    takeaway.write(&plan, &look, None, out)?;
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
