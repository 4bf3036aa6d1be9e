//! `appraise`: a claim in, what the figures say of it out.

use super::plan::finish;
use super::{draw, files};
use crate::brief::claim;
use crate::report::appraise as report;
use crate::report::json::pretty;
use clap::{Args, ValueEnum};
use std::io::{self, Write};
use std::path::PathBuf;

/// Forms of an appraisal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum AppraiseFormat {
    /// For people, 80 columns
    Text,
    /// For programs
    Json,
}

/// Options of `appraise`.
#[derive(Debug, Args)]
pub struct AppraiseOptions {
    /// The claim, a TOML file; `-` reads standard input
    #[arg(required_unless_present = "new")]
    claim: Option<PathBuf>,
    /// Write a commented claim to fill in instead
    #[arg(long, conflicts_with = "claim")]
    new: bool,
    /// How to write it
    #[arg(long, value_enum, default_value = "text")]
    format: AppraiseFormat,
    /// File to write; standard output without it
    #[arg(short, long)]
    output: Option<PathBuf>,
}

/// Runs `appraise`.
///
/// # Errors
/// Files that cannot be read or written.
pub fn appraise(options: &AppraiseOptions, out: &mut dyn Write) -> io::Result<u8> {
    let whole = files::output(options.output.as_deref())?;
    let Some(path) = options.claim.as_deref().filter(|_| !options.new) else {
        finish(out, whole, claim::STARTER)?;
        return Ok(0);
    };
    let text = files::read(path)?;
    let name = path.display().to_string();
    let (claim, mut problems) = match claim::parse(&text) {
        Ok(read) => read,
        Err(problems) => {
            draw::to_stderr(&name, &text, &problems);
            return Ok(2);
        }
    };
    let appraisal = match crate::appraise::appraise(&claim) {
        Ok(appraisal) => appraisal,
        Err(more) => {
            problems.extend(more);
            draw::to_stderr(&name, &text, &problems);
            return Ok(2);
        }
    };
    draw::to_stderr(&name, &text, &problems);
    let result = match options.format {
        AppraiseFormat::Text => report::text(&appraisal),
        AppraiseFormat::Json => pretty(&report::json(&appraisal)),
    };
    finish(out, whole, &result)?;
    Ok(0)
}
