//! What every command with meals needs: foods, dishes, kitchens and prices, from the bundled data and the
//! user's own files. The one place where they are loaded.

use super::plan::{Prepared, refuse};
use super::{dishes, files, foods};
use crate::diagnostic::{Diagnostic, suggestion};
use crate::foods::FoodTable;
use crate::kitchen::{Catalogue, Kitchen, Source};
use crate::model::build::Pieces;
use crate::prices::PriceList;
use clap::Args;
use std::io;
use std::path::PathBuf;

/// Options that name the user's own data.
#[derive(Debug, Args)]
pub struct OwnData {
    /// A price list of your own instead of the bundled one of the kitchen
    #[arg(long, value_name = "FILE")]
    prices: Option<PathBuf>,
    /// Foods of your own over the bundled table; may be given more than once
    #[arg(long = "foods", value_name = "FILE")]
    foods: Vec<PathBuf>,
    /// Dishes of your own beside the bundled ones; may be given more than once
    #[arg(long = "dishes", value_name = "FILE")]
    dishes: Vec<PathBuf>,
}

/// What a model is built from, loaded.
pub(super) struct Loaded {
    /// Nutrients of the foods.
    pub(super) table: FoodTable,
    /// Items, products and kitchens.
    pub(super) catalogue: Catalogue,
    /// Prices of the brief's kitchen.
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
pub(super) fn load(p: &Prepared, own: &OwnData) -> io::Result<Result<Loaded, u8>> {
    let Some(table) = foods::table_with(&own.foods, &mut io::stderr().lock())? else {
        return Ok(Err(2));
    };
    let mut catalogue = match Catalogue::bundled(&table) {
        Ok(c) => c,
        Err(problems) => return refuse("the bundled catalogue", "", &problems).map(Err),
    };
    if !dishes::add(&mut catalogue, &table, &own.dishes, &mut io::stderr().lock())? {
        return Ok(Err(2));
    }
    let id = &p.brief.region.value;
    let Some(kitchen) = catalogue.kitchens.iter().position(|k| &k.id == id) else {
        return no_kitchen(p, &catalogue).map(Err);
    };
    let prices = match prices(own, id, &catalogue)? {
        Ok(list) => list,
        Err(code) => return Ok(Err(code)),
    };
    Ok(Ok(Loaded {
        table,
        catalogue,
        prices,
        kitchen,
    }))
}

/// The price list of a kitchen: the user's own, else the bundled one; the exit code when it cannot be read.
pub(super) fn prices(
    own: &OwnData,
    kitchen: &str,
    catalogue: &Catalogue,
) -> io::Result<Result<Option<PriceList>, u8>> {
    let Some(path) = &own.prices else {
        return match PriceList::bundled(kitchen, catalogue) {
            Ok(list) => Ok(Ok(list)),
            Err(problems) => refuse("the bundled prices", "", &problems).map(Err),
        };
    };
    let text = files::read(path)?;
    let name = path.display().to_string();
    let source = Source {
        name: &name,
        text: &text,
    };
    match PriceList::read(&source, catalogue) {
        Ok(list) => Ok(Ok(Some(list))),
        Err(problems) => refuse(&name, "", &problems).map(Err),
    }
}

/// Says that the brief's region is no kitchen, with the nearest there is; the exit code.
pub(super) fn no_kitchen(p: &Prepared, catalogue: &Catalogue) -> io::Result<u8> {
    let word = &p.brief.region.value;
    let ids = || catalogue.kitchens.iter().map(|k| k.id.as_str());
    let all: Vec<String> = ids().map(|id| format!("`{id}`")).collect();
    let near = suggestion(word, ids())
        .or_else(|| {
            let named = catalogue
                .kitchens
                .iter()
                .find(|k| k.name.to_lowercase().contains(&word.to_lowercase()));
            named.map(|k| k.id.as_str())
        })
        .map_or_else(String::new, |id| format!("did you mean `{id}`? "));
    let d = Diagnostic::error("brief-unknown-region", format!("there is no kitchen `{word}`"))
        .at(p.brief.region.span.clone(), "unknown kitchen")
        .help(format!("{near}Kitchens: {}", all.join(", ")));
    refuse(&p.path, &p.text, &[d])
}
