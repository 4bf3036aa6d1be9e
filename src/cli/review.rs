//! `review`: a brief and a log in, how it goes and the week that follows out.

use super::plan::finish;
use super::{draw, files};
use crate::brief;
use crate::diagnostic::Diagnostic;
use crate::report::json::pretty;
use crate::report::review as report;
use crate::review::log;
use clap::{Args, ValueEnum};
use std::io::{self, Write};
use std::path::PathBuf;

/// Forms of a review.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ReviewFormat {
    /// For people, 80 columns, with a chart
    Text,
    /// For programs
    Json,
    /// The weigh-ins with their trend, for a page
    Svg,
}

/// Options of `review`.
#[derive(Debug, Args)]
pub struct ReviewOptions {
    /// The brief that was followed; `-` reads standard input
    brief: PathBuf,
    /// The log, a CSV file: date, weight, intake or adherence
    log: PathBuf,
    /// First day of the brief's first phase, as 2026-03-01; without it the day after the weigh-ins that the brief was
    /// brought up to date from, else the first day of the log
    #[arg(long, value_name = "DATE")]
    start: Option<String>,
    /// Write the brief brought up to date to this new file; never overwrites one
    #[arg(long, value_name = "FILE")]
    write: Option<PathBuf>,
    /// How to write the review
    #[arg(long, value_enum, default_value = "text")]
    format: ReviewFormat,
    /// File to write the review to; standard output without it
    #[arg(short, long)]
    output: Option<PathBuf>,
}

/// Runs `review`.
///
/// # Errors
/// Files that cannot be read or written.
pub fn review(options: &ReviewOptions, out: &mut dyn Write) -> io::Result<u8> {
    if let Some(path) = options.write.as_deref().filter(|p| p.exists()) {
        return Err(io::Error::other(format!(
            "{} exists already; name another file or remove it first",
            path.display()
        )));
    }
    let whole = files::output(options.output.as_deref())?;
    let text = files::read(&options.brief)?;
    let name = options.brief.display().to_string();
    let (brief, problems) = match brief::parse(&text) {
        Ok(read) => read,
        Err(problems) => {
            draw::to_stderr(&name, &text, &problems);
            return Ok(2);
        }
    };
    draw::to_stderr(&name, &text, &problems);
    let log_text = files::read(&options.log)?;
    let log_name = options.log.display().to_string();
    let (log, remarks) = match log::read(&log_text, brief.person.weight) {
        Ok(read) => read,
        Err(problems) => {
            draw::to_stderr(&log_name, "", &problems);
            return Ok(2);
        }
    };
    draw::to_stderr(&log_name, "", &remarks);
    let start = match options.start.as_deref().map(|d| (d, log::day(d))) {
        Some((word, None)) => {
            let d = Diagnostic::error("review-start", format!("--start: \"{word}\" is no date"))
                .help("write it as 2026-03-01");
            draw::to_stderr("the options", "", &[d]);
            return Ok(2);
        }
        Some((_, day)) => day,
        None => None,
    };
    let review = match crate::review::review(&brief, &text, &log, start) {
        Ok(review) => review,
        Err(problems) => {
            draw::to_stderr(&name, &text, &problems);
            return Ok(2);
        }
    };
    let result = match options.format {
        ReviewFormat::Text => report::text(&review),
        ReviewFormat::Json => pretty(&report::json(&review)),
        ReviewFormat::Svg => report::chart(&review).svg(),
    };
    finish(out, whole, &result)?;
    match (&options.write, &review.next) {
        (Some(path), Some(next)) => files::Whole::create(path)?.write(next.brief.as_bytes())?,
        (Some(path), None) => writeln!(
            io::stderr(),
            "{} is not written: there is no next week to write (see the review)",
            path.display()
        )?,
        _ => {}
    }
    Ok(u8::from(review.next.is_none()))
}
