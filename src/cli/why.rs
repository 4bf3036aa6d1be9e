//! `why`: a brief in, what each bound and rule costs, or why there is no plan.

use super::files;
use super::plan::{Prepared, finish, prepare, pretty, refuse};
use crate::diagnostic::Diagnostic;
use crate::energy::GateAction;
use crate::foods::FoodTable;
use crate::kitchen::{Catalogue, Kitchen, Source};
use crate::model::build::Pieces;
use crate::prices::PriceList;
use crate::report;
use crate::why::{Case, no_plan};
use clap::{Args, ValueEnum};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

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
    /// A price list of your own instead of the bundled one
    #[arg(long, value_name = "FILE")]
    prices: Option<PathBuf>,
    /// Foods of your own over the bundled table; may be given more than once
    #[arg(long = "foods", value_name = "FILE")]
    own: Vec<PathBuf>,
}

/// What a model is built from, loaded.
pub(super) struct Loaded {
    pub(super) table: FoodTable,
    pub(super) catalogue: Catalogue,
    pub(super) prices: Option<PriceList>,
    kitchen: usize,
}

impl Loaded {
    /// The kitchen of the brief.
    pub(super) fn kitchen(&self) -> &Kitchen {
        &self.catalogue.kitchens[self.kitchen]
    }

    /// The pieces of a model for a prepared brief.
    pub(super) fn pieces<'a>(&'a self, p: &'a Prepared) -> Pieces<'a> {
        Pieces {
            brief: &p.brief,
            intake_kcal: p.energy.intake.0,
            targets: &p.targets,
            kitchen: self.kitchen(),
            catalogue: &self.catalogue,
            table: &self.table,
            prices: self.prices.as_ref(),
        }
    }
}

/// Loads the foods, catalogue and prices of a brief; the exit code when they cannot be.
pub(super) fn load(p: &Prepared, prices: Option<&Path>, own: &[PathBuf]) -> io::Result<Result<Loaded, u8>> {
    let Some(table) = super::foods::table_with(own, &mut io::stderr().lock())? else {
        return Ok(Err(2));
    };
    let catalogue = match Catalogue::bundled(&table) {
        Ok(c) => c,
        Err(problems) => return refuse("the bundled catalogue", "", &problems).map(Err),
    };
    let Some(kitchen) = catalogue
        .kitchens
        .iter()
        .position(|k| k.id == p.brief.region.value)
    else {
        let names: Vec<String> = catalogue.kitchens.iter().map(|k| format!("`{}`", k.id)).collect();
        let d = Diagnostic::error(
            "brief-unknown-region",
            format!("there is no kitchen `{}`", p.brief.region.value),
        )
        .at(p.brief.region.span.clone(), "unknown kitchen")
        .help(format!("kitchens: {}", names.join(", ")));
        return refuse(&p.path, &p.text, &[d]).map(Err);
    };
    let list = match prices {
        Some(path) => {
            let text = files::read(path)?;
            let name = path.display().to_string();
            let source = Source {
                name: &name,
                text: &text,
            };
            match PriceList::read(&source, &catalogue) {
                Ok(list) => Some(list),
                Err(problems) => return refuse(&name, "", &problems).map(Err),
            }
        }
        None => match PriceList::bundled(&catalogue.kitchens[kitchen].id, &catalogue) {
            Ok(list) => list,
            Err(problems) => return refuse("the bundled prices", "", &problems).map(Err),
        },
    };
    Ok(Ok(Loaded {
        table,
        catalogue,
        prices: list,
        kitchen,
    }))
}

/// Writes that a safety gate stops the brief; the exit code.
pub(super) fn stopped(p: &Prepared) -> Option<String> {
    let stop = p.energy.gates.iter().find(|g| g.action == GateAction::Stop)?;
    Some(format!(
        "A safety rule stops this phase before any meal is planned: {} Instead: {} ({})\n",
        stop.why, stop.instead, stop.source
    ))
}

/// Runs `why`.
///
/// # Errors
/// Files that cannot be read or written.
pub fn why(options: &WhyOptions, out: &mut dyn Write) -> io::Result<u8> {
    let whole = options.output.as_deref().map(files::Whole::create).transpose()?;
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
    if let Some(text) = stopped(&p) {
        let text = match options.format {
            WhyFormat::Text => text,
            WhyFormat::Json => pretty(&serde_json::json!({
                "schema": report::json::SCHEMA, "outcome": "infeasible", "title": p.brief.title,
                "conflict": p.energy.gates.iter().filter(|g| g.action == GateAction::Stop).map(|g| serde_json::json!({ "group": format!("safety {}", g.code), "reason": format!("{} Instead: {} ({})", g.why, g.instead, g.source) })).collect::<Vec<_>>(),
                "relaxations": [],
            })),
        };
        finish(out, whole, &text)?;
        return Ok(1);
    }
    let loaded = match load(&p, options.prices.as_deref(), &options.own)? {
        Ok(l) => l,
        Err(code) => return Ok(code),
    };
    let case = match Case::new(loaded.pieces(&p)) {
        Ok(case) => case,
        Err(problems) => return refuse(&p.path, &p.text, &problems),
    };
    let (text, code) = if let Some(why) = case.why() {
        let code = 0;
        match options.format {
            WhyFormat::Text => (report::why::text(&why), code),
            WhyFormat::Json => (pretty(&report::why::json(&why)), code),
        }
    } else if let Some(no) = no_plan(&case) {
        match options.format {
            WhyFormat::Text => (report::why::no_plan_text(&no), 1),
            WhyFormat::Json => (pretty(&report::why::no_plan_json(&no)), 1),
        }
    } else {
        return Err(io::Error::other(
            "the linear program was not solved, so nothing can be said for certain; `plan` still searches for a plan",
        ));
    };
    finish(out, whole, &text)?;
    Ok(code)
}
