//! `why`: a brief in, what each bound and rule costs, or why there is no plan.

use super::files;
use super::load::{OwnData, load};
use super::plan::{Prepared, finish, prepare, refuse};
use crate::brief::Brief;
use crate::energy::{EnergyBudget, GateAction};
use crate::report;
use crate::report::json::pretty;
use crate::why::{Case, no_plan};
use clap::{Args, ValueEnum};
use std::io::{self, Write};
use std::path::PathBuf;

/// Forms of an explanation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum WhyFormat {
    /// For people, 80 columns
    Text,
    /// Everything, schema 1
    Json,
}

/// Options of `why`.
#[derive(Debug, Args)]
pub struct WhyOptions {
    /// The brief; `-` reads standard input. Or a diet problem: a .toml with `foods` and `requirements`
    brief: PathBuf,
    /// How to write it
    #[arg(long, value_enum, default_value = "text")]
    format: WhyFormat,
    /// File to write, whole or not at all; standard output without it
    #[arg(short, long)]
    output: Option<PathBuf>,
    #[command(flatten)]
    own: OwnData,
}

/// Writes that a safety gate stops the brief.
pub(super) fn stopped(p: &Prepared) -> Option<String> {
    stop(&p.brief, &p.energy, WhyFormat::Text)
}

/// What there is to say when a linear program is not solved.
pub(crate) const UNSOLVED: &str =
    "the linear program was not solved, so nothing can be said for certain; `plan` still searches for a plan";

/// What is said of a brief that a safety gate stops; `None` when none does.
pub(crate) fn stop(brief: &Brief, energy: &EnergyBudget, format: WhyFormat) -> Option<String> {
    let stop = energy.gates.iter().find(|g| g.action == GateAction::Stop)?;
    Some(match format {
        WhyFormat::Text => format!(
            "A safety rule stops this phase before any meal is planned: {} Instead: {} ({})\n",
            stop.why, stop.instead, stop.source
        ),
        WhyFormat::Json => pretty(&serde_json::json!({
            "schema": report::json::SCHEMA, "outcome": "infeasible", "title": brief.title,
            "conflict": energy.gates.iter().filter(|g| g.action == GateAction::Stop).map(|g| serde_json::json!({ "group": format!("safety {}", g.code), "reason": format!("{} Instead: {} ({})", g.why, g.instead, g.source) })).collect::<Vec<_>>(),
            "relaxations": [],
        })),
    })
}

/// What is said of a case, and the exit code: 0 for a plan, 1 for none. `None` when its linear program is not solved.
pub(crate) fn told(case: &Case, format: WhyFormat) -> Option<(String, u8)> {
    if let Some(why) = case.why() {
        return Some(match format {
            WhyFormat::Text => (report::why::text(&why), 0),
            WhyFormat::Json => (pretty(&report::why::json(&why)), 0),
        });
    }
    no_plan(case).map(|no| match format {
        WhyFormat::Text => (report::why::no_plan_text(&no), 1),
        WhyFormat::Json => (pretty(&report::why::no_plan_json(&no)), 1),
    })
}

/// Runs `why`.
///
/// # Errors
/// Files that cannot be read or written.
pub fn why(options: &WhyOptions, out: &mut dyn Write) -> io::Result<u8> {
    let whole = files::output(options.output.as_deref())?;
    if let Some(problem) = super::sweep::diet_problem(&options.brief)? {
        let (title, lp) = match problem {
            Ok(read) => read,
            Err(code) => return Ok(code),
        };
        let diet = crate::why::diet::explain(&title, &lp).map_err(io::Error::other)?;
        let text = match options.format {
            WhyFormat::Text => report::why::diet_text(&diet),
            WhyFormat::Json => pretty(&report::why::diet_json(&diet)),
        };
        finish(out, whole, &text)?;
        return Ok(u8::from(!diet.conflict.is_empty()));
    }
    let Some(p) = prepare(&options.brief, None, None)? else {
        return Ok(2);
    };
    if let Some(text) = stop(&p.brief, &p.energy, options.format) {
        finish(out, whole, &text)?;
        return Ok(1);
    }
    let loaded = match load(&options.own)? {
        Ok(l) => l,
        Err(code) => return Ok(code),
    };
    let pieces = match loaded.pieces(&p)? {
        Ok(pieces) => pieces,
        Err(code) => return Ok(code),
    };
    let case = match Case::new(pieces) {
        Ok(case) => case,
        Err(problems) => return refuse(&p.path, &p.text, &problems),
    };
    let (text, code) = told(&case, options.format).ok_or_else(|| io::Error::other(UNSOLVED))?;
    finish(out, whole, &text)?;
    Ok(code)
}
