//! `swap`: a brief and a wish in, what changes in its plan out.

use super::load::{OwnData, load};
use super::plan::{Prepared, UnitsWord, finish, prepare, refuse};
use super::takeaway::chosen;
use super::{draw, files};
use crate::brief;
use crate::diagnostic::{Diagnostic, any_error};
use crate::energy::{self, GateAction};
use crate::plan::Work;
use crate::report::form::style;
use crate::report::json::pretty;
use crate::report::{self, amount::styled};
use crate::swap::{self, Swapped, Wish};
use crate::targets;
use clap::{ArgGroup, Args, ValueEnum};
use std::io::{self, Write};
use std::path::PathBuf;

/// Forms of a swap.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum SwapFormat {
    /// For people: what changed, then the plan
    Text,
    /// For programs: before, after, changes
    Json,
}

/// Options of `swap`.
#[derive(Debug, Args)]
#[command(group(ArgGroup::new("wish").required(true).args(["staple", "item", "without", "region"])))]
pub struct SwapOptions {
    /// The brief; `-` reads standard input
    brief: PathBuf,
    /// A staple for another, "rice=chapati"; without `=` offers are made
    #[arg(long, value_name = "A[=B]")]
    staple: Option<String>,
    /// An item for another, "paneer curry=egg curry"; without `=` offers are made
    #[arg(long, value_name = "A[=B]")]
    item: Option<String>,
    /// Without an allergen, product or item; may be given more than once
    #[arg(long, value_name = "WORD")]
    without: Vec<String>,
    /// Another kitchen
    #[arg(long, value_name = "KITCHEN")]
    region: Option<String>,
    /// The plan that was, written by `plan --format json`; made again from the brief without it
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    /// Also write the changed brief
    #[arg(long, value_name = "FILE")]
    write: Option<PathBuf>,
    /// How to write it
    #[arg(long, value_enum, default_value = "text")]
    format: SwapFormat,
    /// File to write, whole or not at all; standard output without it
    #[arg(short, long)]
    output: Option<PathBuf>,
    #[command(flatten)]
    own: OwnData,
    /// Seed of the search instead of the brief's
    #[arg(long)]
    seed: Option<u64>,
    /// Moves of a plan's search; a swap takes fewer
    #[arg(long)]
    moves: Option<u64>,
    /// Units of the shopping list; the kitchen's own without it
    #[arg(long, value_enum)]
    units: Option<UnitsWord>,
}

fn wish(o: &SwapOptions) -> Wish {
    let pair = |text: &str| match text.split_once('=') {
        Some((a, b)) => (
            a.trim().to_string(),
            Some(b.trim().to_string()).filter(|b| !b.is_empty()),
        ),
        None => (text.trim().to_string(), None),
    };
    match (&o.staple, &o.item, &o.region) {
        (Some(s), ..) => {
            let (from, to) = pair(s);
            Wish::Staple(from, to)
        }
        (_, Some(i), _) => {
            let (from, to) = pair(i);
            Wish::Item(from, to)
        }
        (.., Some(region)) => Wish::Region(region.clone()),
        _ => Wish::Without(o.without.clone()),
    }
}

/// Runs `swap`.
///
/// # Errors
/// Files that cannot be read or written.
pub fn swap(o: &SwapOptions, out: &mut dyn Write) -> io::Result<u8> {
    let whole = files::output(o.output.as_deref())?;
    let new_brief = o.write.as_deref().map(files::Whole::create).transpose()?;
    let Some(p) = prepare(&o.brief, o.seed, None)? else {
        return Ok(2);
    };
    if p.energy.gates.iter().any(|g| g.action == GateAction::Stop) {
        let text = styled(style(&p.brief), || {
            format!(
                "No meals are planned: a safety rule stops this phase.\n\n{}",
                report::targets::text(&p.brief, &p.energy, &p.targets)
            )
        });
        finish(out, whole, &text)?;
        return Ok(1);
    }
    let loaded = match load(&o.own)? {
        Ok(l) => l,
        Err(code) => return Ok(code),
    };
    let pieces = match loaded.pieces(&p)? {
        Ok(pieces) => pieces,
        Err(code) => return Ok(code),
    };
    let kitchen = pieces.kitchen;
    let work = Work::of(p.brief.days, o.moves);
    let before = match &o.plan {
        None => crate::plan::plan(pieces, &p.energy, work),
        Some(path) => match swap::read_plan(&files::read(path)?) {
            Ok(days) => swap::remake(pieces, &p.energy, &days),
            Err(d) => return refuse(&path.display().to_string(), "", &[d]),
        },
    };
    let before = match before {
        Ok(plan) => plan,
        Err(problems) => return refuse(&p.path, &p.text, &problems),
    };
    let units = |kitchen_units: &str| chosen(o.units, &p.brief, kitchen_units);
    if !before.planned {
        let text = styled(style(&p.brief), || {
            format!(
                "There is no plan to swap in: the brief has none as it stands.\n\n{}",
                report::text::plan(&before, units(&kitchen.units))
            )
        });
        finish(out, whole, &text)?;
        return Ok(1);
    }
    let u = match swap::understand(&wish(o), pieces, &before) {
        Ok(u) => u,
        Err(problems) => return said(&p, &problems),
    };
    let mut err = io::stderr().lock();
    for d in &u.notes {
        writeln!(err, "warning[{}]: {}", d.code, d.message)?;
    }
    drop(err);
    let energy = match energy::budget(&u.brief) {
        Ok(energy) => energy,
        Err(problems) => return said(&p, &problems),
    };
    let (targets, problems) = targets::derive(&u.brief, &energy);
    if any_error(&problems) {
        return said(&p, &problems);
    }
    let pieces = match loaded.larder().pieces(&u.brief, &energy, &targets) {
        Ok(pieces) => pieces,
        Err(problems) => return said(&p, &problems),
    };
    let after_kitchen = pieces.kitchen;
    let mut result = Swapped {
        said: u.said.clone(),
        before,
        after: None,
        changes: None,
        offers: Vec::new(),
    };
    if u.offers {
        match swap::offers(pieces, &result.before, &u) {
            Ok(offers) => result.offers = offers,
            Err(problems) => return said(&p, &problems),
        }
    } else {
        match swap::swap(pieces, &energy, &result.before, &u, work) {
            Ok(after) => {
                result.changes = Some(swap::changes(&result.before, &after));
                result.after = Some(after);
            }
            Err(problems) => return said(&p, &problems),
        }
    }
    if let Some(file) = new_brief {
        let text = swap::rewrite(&p.text, &p.brief, &u.edits);
        if let Err(problems) = brief::parse(&text) {
            draw::to_stderr("the changed brief", &text, &problems);
            return Ok(2);
        }
        file.write(text.as_bytes())?;
    }
    let text = match o.format {
        SwapFormat::Text => styled(style(&p.brief), || {
            report::swap::text(&result, units(&after_kitchen.units))
        }),
        SwapFormat::Json => pretty(&report::swap::json(&result)),
    };
    finish(out, whole, &text)?;
    Ok(u8::from(result.after.as_ref().is_some_and(|a| !a.planned)))
}

/// Mistakes with their place in the brief where they have one.
fn said(p: &Prepared, problems: &[Diagnostic]) -> io::Result<u8> {
    let placed = problems.iter().any(|d| !d.spans.is_empty());
    refuse(
        if placed { &p.path } else { "swap" },
        if placed { &p.text } else { "" },
        problems,
    )
}
