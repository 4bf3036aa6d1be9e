//! `forecast`: a brief in, weeks of weight, fat, lean tissue and expenditure out.

use super::plan::finish;
use super::{draw, files};
use crate::brief;
use crate::report::forecast as report;
use crate::report::json::pretty;
use clap::{Args, ValueEnum};
use std::io::{self, Write};
use std::path::PathBuf;

/// Forms of a forecast.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ForecastFormat {
    /// For people, 80 columns, with a chart
    Text,
    /// A row for each week
    Csv,
    /// Everything
    Json,
    /// A chart for a page
    Svg,
}

/// What an SVG chart shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ShowWord {
    /// Body mass
    Weight,
    /// Fat
    Fat,
    /// Fat-free mass
    Lean,
    /// Energy spent and eaten
    Energy,
}

/// Options of `forecast`.
#[derive(Debug, Args)]
pub struct ForecastOptions {
    /// The brief; `-` reads standard input
    brief: PathBuf,
    /// How to write it
    #[arg(long, value_enum, default_value = "text")]
    format: ForecastFormat,
    /// What an SVG chart shows
    #[arg(long, value_enum, default_value = "weight")]
    show: ShowWord,
    /// File to write; standard output without it
    #[arg(short, long)]
    output: Option<PathBuf>,
}

/// Runs `forecast`.
///
/// # Errors
/// Files that cannot be read or written.
pub fn forecast(options: &ForecastOptions, out: &mut dyn Write) -> io::Result<u8> {
    let whole = files::output(options.output.as_deref())?;
    let text = files::read(&options.brief)?;
    let name = options.brief.display().to_string();
    let (brief, mut problems) = match brief::parse(&text) {
        Ok(read) => read,
        Err(problems) => {
            draw::to_stderr(&name, &text, &problems);
            return Ok(2);
        }
    };
    let forecast = match crate::forecast::forecast(&brief) {
        Ok(forecast) => forecast,
        Err(more) => {
            problems.extend(more);
            draw::to_stderr(&name, &text, &problems);
            return Ok(2);
        }
    };
    draw::to_stderr(&name, &text, &problems);
    let show = match options.show {
        ShowWord::Weight => report::Show::Weight,
        ShowWord::Fat => report::Show::Fat,
        ShowWord::Lean => report::Show::FatFree,
        ShowWord::Energy => report::Show::Energy,
    };
    let result = match options.format {
        ForecastFormat::Text => report::text(&forecast),
        ForecastFormat::Csv => report::csv(&forecast),
        ForecastFormat::Json => pretty(&report::json(&forecast)),
        ForecastFormat::Svg => report::chart(&forecast, show).svg(),
    };
    finish(out, whole, &result)?;
    Ok(u8::from(forecast.stopped()))
}
