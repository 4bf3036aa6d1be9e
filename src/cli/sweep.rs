//! `sweep`: a brief and one bound or two that move; a frontier or a map out. Also reads diet problems.

use super::files;
use super::load::{OwnData, load};
use super::plan::{finish, prepare};
use super::why::stopped;
use crate::model::diet;
use crate::model::linear::Linear;
use crate::report;
use crate::report::json::pretty;
use crate::why::sweep::{Question, Wrong};
use clap::{Args, ValueEnum};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Forms of a sweep.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum SweepFormat {
    /// For people, 80 columns, with a chart
    Text,
    /// A table
    Csv,
    /// Everything, schema 1
    Json,
    /// A chart, or a map for two quantities
    Svg,
}

/// Options of `sweep`.
#[derive(Debug, Args)]
pub struct SweepOptions {
    /// The brief; `-` reads standard input. Or a diet problem: a .toml with `foods` and `requirements`
    brief: PathBuf,
    /// What moves, "NAME FROM..TO UNIT": a target's floor or ceiling, budget, surplus or intake. Once or twice
    #[arg(long, value_name = "WORDS", num_args = 1..=4, action = clap::ArgAction::Append, required = true, allow_negative_numbers = true)]
    vary: Vec<String>,
    /// What is looked at: cost, closeness, or a nutrient with :min or :max
    #[arg(long, default_value = "cost")]
    against: String,
    /// Places of the table; along each side of a map without it 7
    #[arg(long)]
    points: Option<usize>,
    /// Also search plans in whole servings at so many places
    #[arg(long, default_value_t = 0, value_name = "N")]
    whole: usize,
    /// How to write it
    #[arg(long, value_enum, default_value = "text")]
    format: SweepFormat,
    /// File to write, whole or not at all; standard output without it
    #[arg(short, long)]
    output: Option<PathBuf>,
    #[command(flatten)]
    own: OwnData,
}

/// Joins the words of each `--vary`: `--vary protein 1.2..2.6 g/kg` comes as three. One more begins after
/// the unit of the one before, which is told by a name with a range after it.
fn questions(words: &[String]) -> Vec<String> {
    let mut out: Vec<Vec<&str>> = Vec::new();
    let all: Vec<&str> = words.iter().flat_map(|w| w.split_whitespace()).collect();
    let mut seen_range = false;
    for (n, w) in all.iter().enumerate() {
        let range = |w: &&str| w.contains("..");
        // After a range comes at most one unit; a word followed by a range, or by a side and a range, is a name.
        let name = !range(w)
            && (all.get(n + 1).is_some_and(range)
                || matches!(all.get(n + 1), Some(&"floor" | &"ceiling"))
                    && all.get(n + 2).is_some_and(range))
            && !matches!(*w, "floor" | "ceiling");
        if out.is_empty() || seen_range && name {
            out.push(Vec::new());
            seen_range = false;
        }
        seen_range |= range(w);
        if let Some(last) = out.last_mut() {
            last.push(w);
        }
    }
    out.into_iter().map(|w| w.join(" ")).collect()
}

/// A diet problem named by a file: its title and program; `None` when the file is no diet problem.
pub(super) fn diet_problem(path: &Path) -> io::Result<Option<Result<(String, Linear), u8>>> {
    if path == Path::new("-") {
        return Ok(None);
    }
    let text = files::read(path)?;
    let Ok(table) = text.parse::<toml::Table>() else {
        return Ok(None);
    };
    let (Some(foods), Some(needs)) = (
        table.get("foods").and_then(toml::Value::as_str),
        table.get("requirements").and_then(toml::Value::as_str),
    ) else {
        return Ok(None);
    };
    let beside = |name: &str| path.parent().unwrap_or(Path::new("")).join(name);
    let (foods, needs) = (files::read(&beside(foods))?, files::read(&beside(needs))?);
    let title = table
        .get("title")
        .and_then(toml::Value::as_str)
        .unwrap_or("Diet problem");
    match diet::read(&foods, &needs) {
        Ok(lp) => Ok(Some(Ok((title.to_string(), lp)))),
        Err(problems) => {
            super::plan::refuse(&path.display().to_string(), "", &problems).map(|c| Some(Err(c)))
        }
    }
}

/// Runs `sweep`.
///
/// # Errors
/// Files that cannot be read or written.
pub fn sweep(options: &SweepOptions, out: &mut dyn Write) -> io::Result<u8> {
    let whole = files::output(options.output.as_deref())?;
    let vary = questions(&options.vary);
    let question = Question {
        points: options.points.unwrap_or(if vary.len() > 1 { 7 } else { 31 }),
        vary,
        against: options.against.clone(),
        whole: options.whole,
    };
    let answer = match diet_problem(&options.brief)? {
        Some(Err(code)) => return Ok(code),
        Some(Ok((title, lp))) => crate::why::sweep::diet(&title, &lp, &question),
        None => {
            let Some(p) = prepare(&options.brief, None, None)? else {
                return Ok(2);
            };
            if let Some(text) = stopped(&p) {
                finish(out, whole, &text)?;
                return Ok(1);
            }
            let loaded = match load(&options.own)? {
                Ok(l) => l,
                Err(code) => return Ok(code),
            };
            match loaded.pieces(&p)? {
                Ok(pieces) => crate::why::sweep::sweep(pieces, &question),
                Err(code) => return Ok(code),
            }
        }
    };
    let answer = match answer {
        Ok(a) => a,
        Err(Wrong { what, help }) => {
            writeln!(io::stderr(), "error[sweep-question]: {what}\n  help: {help}")?;
            return Ok(2);
        }
    };
    let text = match options.format {
        SweepFormat::Text => report::sweep::text(&answer),
        SweepFormat::Csv => report::sweep::csv(&answer),
        SweepFormat::Json => pretty(&report::sweep::json(&answer)),
        SweepFormat::Svg => report::sweep::svg(&answer),
    };
    finish(out, whole, &text)?;
    let none = answer.pieces.is_empty() && answer.cells.iter().flatten().all(Option::is_none);
    Ok(u8::from(none))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_questions_are_joined() {
        let split = |t: &str| questions(&t.split(' ').map(str::to_string).collect::<Vec<_>>());
        assert_eq!(split("protein 1.2..2.6 g/kg"), ["protein 1.2..2.6 g/kg"]);
        assert_eq!(
            split("protein floor 1.2..2.6 g/kg budget 40..70"),
            ["protein floor 1.2..2.6 g/kg", "budget 40..70"]
        );
        assert_eq!(
            split("fat 20..35 % of energy fibre ceiling 1..2"),
            ["fat 20..35 % of energy", "fibre ceiling 1..2"]
        );
        assert_eq!(split("surplus -300..300 kcal"), ["surplus -300..300 kcal"]);
    }
}
