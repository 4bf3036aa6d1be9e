//! `compare`: two plans, or the plans of two briefs; what differs out.

use super::files;
use super::load::{OwnData, load};
use super::plan::{UnitsWord, finish, prepare, refuse};
use super::takeaway::chosen;
use super::why::stopped;
use crate::plan::Work;
use crate::report::amount::{Style, Units, styled};
use crate::report::compare as report;
use crate::report::form::style;
use crate::report::json::pretty;
use crate::swap::{Side, differences, read_side};
use clap::{Args, ValueEnum};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Forms of a comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum CompareFormat {
    /// For people, 80 columns
    Text,
    /// For chats and notes
    Markdown,
    /// A page by itself
    Html,
    /// For programs
    Json,
}

/// Options of `compare`.
#[derive(Debug, Args)]
pub struct CompareOptions {
    /// The plan before: written by `plan --format json`, or a brief that is planned now
    before: PathBuf,
    /// The plan after, likewise
    after: PathBuf,
    /// How to write it
    #[arg(long, value_enum, default_value = "text")]
    format: CompareFormat,
    /// File to write, whole or not at all; standard output without it
    #[arg(short, long)]
    output: Option<PathBuf>,
    #[command(flatten)]
    own: OwnData,
    /// Seed of the search instead of the briefs'
    #[arg(long)]
    seed: Option<u64>,
    /// Moves the search tries for a brief
    #[arg(long)]
    moves: Option<u64>,
    /// Units of the shopping list; the kitchen's own without it
    #[arg(long, value_enum)]
    units: Option<UnitsWord>,
}

/// A plan to compare, with how its brief wants figures told.
struct Read {
    side: Side,
    told: Option<(Style, Units)>,
}

/// A plan file or a brief; the exit code when it gives no days.
fn side(path: &Path, o: &CompareOptions) -> io::Result<Result<Read, u8>> {
    if path.extension().is_some_and(|e| e.eq_ignore_ascii_case("json")) {
        return match read_side(&files::read(path)?) {
            Ok(side) => Ok(Ok(Read { side, told: None })),
            Err(d) => refuse(&path.display().to_string(), "", &[d]).map(Err),
        };
    }
    let Some(p) = prepare(path, o.seed, None)? else {
        return Ok(Err(2));
    };
    if let Some(text) = stopped(&p) {
        write!(io::stderr().lock(), "{}: {text}", p.path)?;
        return Ok(Err(1));
    }
    let loaded = match load(&o.own)? {
        Ok(l) => l,
        Err(code) => return Ok(Err(code)),
    };
    let pieces = match loaded.pieces(&p)? {
        Ok(pieces) => pieces,
        Err(code) => return Ok(Err(code)),
    };
    let units = chosen(o.units, &p.brief, &pieces.kitchen.units);
    match crate::plan::plan(pieces, &p.energy, Work::of(p.brief.days, o.moves)) {
        Ok(plan) => Ok(Ok(Read {
            side: Side::from(&plan),
            told: Some((style(&p.brief), units)),
        })),
        Err(problems) => refuse(&p.path, &p.text, &problems).map(Err),
    }
}

/// Runs `compare`.
///
/// # Errors
/// Files that cannot be read or written.
pub fn compare(o: &CompareOptions, out: &mut dyn Write) -> io::Result<u8> {
    let whole = files::output(o.output.as_deref())?;
    let before = match side(&o.before, o)? {
        Ok(read) => read,
        Err(code) => return Ok(code),
    };
    let after = match side(&o.after, o)? {
        Ok(read) => read,
        Err(code) => return Ok(code),
    };
    // Figures are told as the second brief wants it, else the first; a plan file does not say.
    let kitchen = if after.side.kitchen == "us" {
        "us"
    } else {
        "metric"
    };
    let (style, units) = after.told.or(before.told).unwrap_or_else(|| {
        let units = match o.units {
            Some(UnitsWord::Metric) => Units::Metric,
            Some(UnitsWord::Us) => Units::Us,
            None if kitchen == "us" => Units::Us,
            None => Units::Metric,
        };
        (Style::default(), units)
    });
    let (a, b) = (&before.side, &after.side);
    let c = differences(a, b);
    let text = match o.format {
        CompareFormat::Text => styled(style, || report::text(a, b, &c, units)),
        CompareFormat::Markdown => styled(style, || report::markdown(a, b, &c, units)),
        CompareFormat::Html => styled(style, || report::html(a, b, &c, units)),
        CompareFormat::Json => pretty(&report::json(a, b, &c)),
    };
    finish(out, whole, &text)?;
    Ok(0)
}
