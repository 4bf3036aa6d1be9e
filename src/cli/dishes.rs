//! `dishes list`, `dishes show` and `dishes check`: what is cooked from raw ingredients.

use super::files;
use super::foods::table_with;
use crate::diagnostic::{Diagnostic, Severity, suggestion};
use crate::foods::FoodTable;
use crate::kitchen::{Catalogue, Item, ROLES, Source};
use crate::prices::PriceList;
use crate::report::dishes::{Shown, list_json, list_text, show_json, show_text};
use clap::{Args, Subcommand, ValueEnum};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Forms of the output.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people, 80 columns
    Text,
    /// For programs, schema 1
    Json,
}

/// Files of your own.
#[derive(Debug, Args)]
pub struct Own {
    /// Foods of your own over the bundled table; may be given more than once
    #[arg(long = "foods", value_name = "FILE")]
    foods: Vec<PathBuf>,
    /// Dishes of your own; may be given more than once
    #[arg(long = "dishes", value_name = "FILE")]
    dishes: Vec<PathBuf>,
}

/// What to do with dishes.
#[derive(Debug, Subcommand)]
pub enum DishesCommand {
    /// List the dishes, or those of a kitchen, a diet, a role, a meal
    List {
        /// Kitchen: us
        #[arg(long)]
        region: Option<String>,
        /// Diet that they fit; may be given more than once
        #[arg(long)]
        diet: Vec<String>,
        /// Role on the plate: legume
        #[arg(long)]
        role: Option<String>,
        /// Meal: lunch
        #[arg(long)]
        slot: Option<String>,
        /// How to write it
        #[arg(long, value_enum, default_value = "text")]
        format: Format,
        /// Files of your own
        #[command(flatten)]
        own: Own,
    },
    /// Show a dish: ingredients, method, what a serving holds and costs, what the cooking took
    Show {
        /// Id or name of the dish
        name: String,
        /// Kitchen whose prices count; the dish's first without it
        #[arg(long)]
        region: Option<String>,
        /// A price list of your own instead of the bundled one
        #[arg(long, value_name = "FILE")]
        prices: Option<PathBuf>,
        /// How to write it
        #[arg(long, value_enum, default_value = "text")]
        format: Format,
        /// Files of your own
        #[command(flatten)]
        own: Own,
    },
    /// Report every mistake of dish files of your own
    Check {
        /// TOML files as docs/dishes.md describes; `-` for standard input
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// Foods of your own over the bundled table; may be given more than once
        #[arg(long = "foods", value_name = "FILE")]
        foods: Vec<PathBuf>,
    },
}

/// Runs a command: the result on `out`, the rest on `err`. Returns 0, or 2 for bad input.
///
/// # Errors
/// Files that cannot be read.
pub fn run(command: DishesCommand, out: &mut dyn Write, err: &mut dyn Write) -> io::Result<u8> {
    match command {
        DishesCommand::List {
            region,
            diet,
            role,
            slot,
            format,
            own,
        } => {
            let Some((table, catalogue)) = open(&own, err)? else {
                return Ok(2);
            };
            let wanted = Wanted {
                region,
                diet,
                role,
                slot,
            };
            list(&table, &catalogue, &wanted, format, out, err)
        }
        DishesCommand::Show {
            name,
            region,
            prices,
            format,
            own,
        } => {
            let Some((table, catalogue)) = open(&own, err)? else {
                return Ok(2);
            };
            let region = region.as_deref();
            show(
                &table,
                &catalogue,
                &name,
                region,
                prices.as_deref(),
                format,
                out,
                err,
            )
        }
        DishesCommand::Check { files, foods } => {
            let Some(table) = table_with(&foods, err)? else {
                return Ok(2);
            };
            let Some(mut catalogue) = bundled(&table, err)? else {
                return Ok(2);
            };
            let had = catalogue.items.len();
            if !add(&mut catalogue, &table, &files, err)? {
                return Ok(2);
            }
            let dishes = catalogue.items.len() - had;
            writeln!(
                out,
                "No mistakes: {dishes} {}.",
                if dishes == 1 { "dish" } else { "dishes" }
            )?;
            Ok(0)
        }
    }
}

fn bundled(table: &FoodTable, err: &mut dyn Write) -> io::Result<Option<Catalogue>> {
    match Catalogue::bundled(table) {
        Ok(c) => Ok(Some(c)),
        Err(problems) => print(&problems, err).map(|()| None),
    }
}

/// The bundled tables with the user's own foods and dishes; `None` when a mistake has been printed.
fn open(own: &Own, err: &mut dyn Write) -> io::Result<Option<(FoodTable, Catalogue)>> {
    let Some(table) = table_with(&own.foods, err)? else {
        return Ok(None);
    };
    let Some(mut catalogue) = bundled(&table, err)? else {
        return Ok(None);
    };
    let good = add(&mut catalogue, &table, &own.dishes, err)?;
    Ok(good.then_some((table, catalogue)))
}

/// Adds dish files to a catalogue and prints every remark; false when one has an error.
///
/// # Errors
/// Files that cannot be read.
pub fn add(
    catalogue: &mut Catalogue,
    table: &FoodTable,
    paths: &[PathBuf],
    err: &mut dyn Write,
) -> io::Result<bool> {
    let mut texts = Vec::new();
    for path in paths {
        texts.push((path.display().to_string(), files::read(path)?));
    }
    let sources: Vec<Source> = texts.iter().map(|(name, text)| Source { name, text }).collect();
    match catalogue.add_dishes(table, &sources) {
        Ok(remarks) => print(&remarks, err).map(|()| true),
        Err(problems) => print(&problems, err).map(|()| false),
    }
}

fn print(problems: &[Diagnostic], err: &mut dyn Write) -> io::Result<()> {
    for d in problems {
        let word = match d.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
            Severity::Note => "note",
        };
        // The message begins with the file's name.
        let text = match (d.line, d.message.split_once(": ")) {
            (Some(line), Some((file, rest))) => format!("{file}:{line}: {rest}"),
            _ => d.message.clone(),
        };
        writeln!(err, "{word}[{}]: {text}", d.code)?;
        if let Some(help) = &d.help {
            writeln!(err, "  help: {help}")?;
        }
    }
    Ok(())
}

/// What a list keeps.
struct Wanted {
    region: Option<String>,
    diet: Vec<String>,
    role: Option<String>,
    slot: Option<String>,
}

/// Says that a word is none of the known ones.
fn unknown(what: &str, word: &str, known: &[&str], err: &mut dyn Write) -> io::Result<()> {
    write!(err, "error: there is no {what} `{word}`")?;
    match suggestion(word, known.iter().copied()) {
        Some(near) => writeln!(err, "; did you mean `{near}`?"),
        None if known.len() > 40 => writeln!(err, "; see `dishes list`"),
        None => writeln!(err, "; expected one of {}", known.join(", ")),
    }
}

fn list(
    table: &FoodTable,
    catalogue: &Catalogue,
    wanted: &Wanted,
    format: Format,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> io::Result<u8> {
    let kitchens: Vec<&str> = catalogue.kitchens.iter().map(|k| k.id.as_str()).collect();
    let mut slots: Vec<&str> = catalogue
        .kitchens
        .iter()
        .flat_map(|k| k.slots.iter().map(|s| s.id.as_str()))
        .collect();
    slots.sort_unstable();
    slots.dedup();
    let diets: Vec<&str> = catalogue.diets.iter().map(|d| d.id.as_str()).collect();
    let mut good = true;
    let asked = [
        ("kitchen", &wanted.region, &kitchens[..]),
        ("role", &wanted.role, &ROLES[..]),
        ("meal", &wanted.slot, &slots[..]),
    ];
    let words = asked
        .iter()
        .filter_map(|(what, word, known)| Some((*what, word.as_ref()?, *known)));
    let diet_words = wanted.diet.iter().map(|d| ("diet", d, &diets[..]));
    for (what, word, known) in words.chain(diet_words) {
        if !known.contains(&word.as_str()) {
            unknown(what, word, known, err)?;
            good = false;
        }
    }
    if !good {
        return Ok(2);
    }
    let has = |list: &[String], word: &Option<String>| word.as_ref().is_none_or(|w| list.contains(w));
    let fits = |i: &Item| {
        let own = catalogue.fits(i);
        wanted.diet.iter().all(|d| own.iter().any(|r| r.id == *d))
    };
    let dishes: Vec<&Item> = catalogue
        .items
        .iter()
        .filter(|i| i.dish.is_some())
        .filter(|i| {
            has(&i.regions, &wanted.region) && has(&i.roles, &wanted.role) && has(&i.slots, &wanted.slot)
        })
        .filter(|i| fits(i))
        .collect();
    match format {
        Format::Text if dishes.is_empty() => writeln!(err, "No dish is like that.")?,
        Format::Text => out.write_all(list_text(table, &dishes).as_bytes())?,
        Format::Json => writeln!(out, "{:#}", list_json(table, &dishes))?,
    }
    Ok(0)
}

#[allow(clippy::too_many_arguments)]
fn show(
    table: &FoodTable,
    catalogue: &Catalogue,
    name: &str,
    region: Option<&str>,
    prices: Option<&Path>,
    format: Format,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> io::Result<u8> {
    let dishes: Vec<&Item> = catalogue.items.iter().filter(|i| i.dish.is_some()).collect();
    let found = dishes
        .iter()
        .find(|i| i.id == name)
        .or_else(|| dishes.iter().find(|i| i.name.eq_ignore_ascii_case(name)));
    let Some(item) = found else {
        if catalogue.find_item(name).is_some() {
            writeln!(
                err,
                "error: `{name}` is eaten as it is or counted cooked, and has no recipe; see `dishes list`"
            )?;
            return Ok(2);
        }
        let known: Vec<&str> = dishes
            .iter()
            .flat_map(|i| [i.id.as_str(), i.name.as_str()])
            .collect();
        unknown("dish", name, &known, err)?;
        return Ok(2);
    };
    let Some(dish) = &item.dish else { return Ok(2) };
    let kitchens: Vec<&str> = catalogue.kitchens.iter().map(|k| k.id.as_str()).collect();
    if let Some(r) = region.filter(|r| !kitchens.contains(r)) {
        unknown("kitchen", r, &kitchens, err)?;
        return Ok(2);
    }
    let list = match prices {
        Some(path) => {
            let text = files::read(path)?;
            let name = path.display().to_string();
            let source = Source {
                name: &name,
                text: &text,
            };
            PriceList::read(&source, catalogue).map(Some)
        }
        None => match region.or(item.regions.first().map(String::as_str)) {
            Some(r) => PriceList::bundled(r, catalogue),
            None => Ok(None),
        },
    };
    let list = match list {
        Ok(list) => list,
        Err(problems) => return print(&problems, err).map(|()| 2),
    };
    let shown = Shown {
        item,
        dish,
        catalogue,
        table,
        prices: list.as_ref(),
    };
    match format {
        Format::Text => out.write_all(show_text(&shown).as_bytes())?,
        Format::Json => writeln!(out, "{:#}", show_json(&shown))?,
    }
    Ok(0)
}
