//! What every answer needs, made ready: the data loaded once, and a brief with its energy and targets.
//!
//! The command line, a roster and the page all begin here, so that the same brief gets the same answer in each.

use crate::brief::{self, Brief};
use crate::diagnostic::{Diagnostic, any_error, suggestion};
use crate::energy::{self, EnergyBudget, GateAction};
use crate::foods::FoodTable;
use crate::household;
use crate::kitchen::{Catalogue, Kitchen};
use crate::model::build::Pieces;
use crate::plan::{self, Plan, Work};
use crate::prices::PriceList;
use crate::targets::{self, Target};
use crate::why::{Case, no_plan};
use std::collections::BTreeMap;
use std::sync::OnceLock;

type Listed = Result<Option<PriceList>, Vec<Diagnostic>>;

/// Foods, dishes, kitchens and prices, loaded once for any number of briefs and threads.
#[derive(Debug)]
pub struct Larder {
    /// Nutrients of the foods.
    pub table: FoodTable,
    /// Items, products and kitchens.
    pub catalogue: Catalogue,
    /// A price list for whatever kitchen a brief names.
    own_prices: Option<PriceList>,
    /// The bundled lists by kitchen, read when first asked for.
    bundled_prices: BTreeMap<String, OnceLock<Listed>>,
}

impl Larder {
    /// The bundled data.
    ///
    /// # Errors
    /// Mistakes of the bundled catalogue.
    pub fn bundled() -> Result<Larder, Vec<Diagnostic>> {
        let table = FoodTable::bundled();
        let catalogue = Catalogue::bundled(&table)?;
        Ok(Larder::new(table, catalogue, None))
    }

    /// Data already loaded, with a price list that takes the place of the bundled ones.
    pub fn new(table: FoodTable, catalogue: Catalogue, own_prices: Option<PriceList>) -> Larder {
        let ids = catalogue.kitchens.iter().map(|k| k.id.clone());
        Larder {
            bundled_prices: ids.map(|id| (id, OnceLock::new())).collect(),
            table,
            catalogue,
            own_prices,
        }
    }

    /// The kitchen of a brief.
    ///
    /// # Errors
    /// `brief-unknown-region` at the word in the brief, with the nearest kitchen there is.
    pub fn kitchen(&self, brief: &Brief) -> Result<&Kitchen, Diagnostic> {
        let word = &brief.region.value;
        if let Some(kitchen) = self.catalogue.kitchen(word) {
            return Ok(kitchen);
        }
        let kitchens = &self.catalogue.kitchens;
        let ids = || kitchens.iter().map(|k| k.id.as_str());
        let all: Vec<String> = ids().map(|id| format!("`{id}`")).collect();
        let near = suggestion(word, ids())
            .or_else(|| {
                let lower = word.to_lowercase();
                let named = kitchens.iter().find(|k| k.name.to_lowercase().contains(&lower));
                named.map(|k| k.id.as_str())
            })
            .map_or_else(String::new, |id| format!("did you mean `{id}`? "));
        Err(
            Diagnostic::error("brief-unknown-region", format!("there is no kitchen `{word}`"))
                .at(brief.region.span.clone(), "unknown kitchen")
                .help(format!("{near}Kitchens: {}", all.join(", "))),
        )
    }

    /// The prices for a kitchen: the own list, else the bundled one; `None` when there is none.
    ///
    /// # Errors
    /// Mistakes of the bundled list.
    pub fn prices(&self, kitchen: &str) -> Result<Option<&PriceList>, Vec<Diagnostic>> {
        if let Some(own) = &self.own_prices {
            return Ok(Some(own));
        }
        let Some(kept) = self.bundled_prices.get(kitchen) else {
            return Ok(None);
        };
        kept.get_or_init(|| PriceList::bundled(kitchen, &self.catalogue))
            .as_ref()
            .map(Option::as_ref)
            .map_err(Clone::clone)
    }

    /// The pieces of a model.
    ///
    /// # Errors
    /// An unknown kitchen, and mistakes of its price list.
    pub fn pieces<'a>(
        &'a self,
        brief: &'a Brief,
        energy: &EnergyBudget,
        targets: &'a [Target],
    ) -> Result<Pieces<'a>, Vec<Diagnostic>> {
        let kitchen = self.kitchen(brief).map_err(|d| vec![d])?;
        Ok(Pieces {
            brief,
            intake_kcal: energy.intake.0,
            targets,
            kitchen,
            catalogue: &self.catalogue,
            table: &self.table,
            prices: self.prices(&kitchen.id)?,
        })
    }
}

/// A brief that has been read, with its energy and targets.
#[derive(Clone, Debug)]
pub struct Ready {
    /// The brief, with the portions of its household settled; of a later week, with the body expected then.
    pub brief: Brief,
    /// Energy to eat, and what stands against it.
    pub energy: EnergyBudget,
    /// Floors and ceilings.
    pub targets: Vec<Target>,
    /// Warnings and notes.
    pub remarks: Vec<Diagnostic>,
}

impl Ready {
    /// Whether a safety gate stops the phase before any meal is planned.
    pub fn stopped(&self) -> bool {
        self.energy.gates.iter().any(|g| g.action == GateAction::Stop)
    }

    /// The pieces of its model.
    ///
    /// # Errors
    /// As [`Larder::pieces`].
    pub fn pieces<'a>(&'a self, larder: &'a Larder) -> Result<Pieces<'a>, Vec<Diagnostic>> {
        larder.pieces(&self.brief, &self.energy, &self.targets)
    }
}

/// Reads a brief and derives its energy and targets, for the given week of its phases or the first, with another
/// seed when one is given.
///
/// # Errors
/// All mistakes of the stage that fails, with the warnings so far.
pub fn ready(text: &str, seed: Option<u64>, week: Option<u32>) -> Result<Ready, Vec<Diagnostic>> {
    let (mut brief, mut remarks) = brief::parse(text)?;
    if let Some(seed) = seed {
        brief.seed = seed;
    }
    let then = match week {
        None => energy::budget(&brief).map(|energy| (brief, energy)),
        Some(week) => energy::course(&brief).and_then(|course| course.week(&brief, week)),
    };
    let settled =
        then.and_then(|(mut brief, energy)| household::settle(&mut brief, &energy).map(|()| (brief, energy)));
    let (brief, energy) = match settled {
        Ok(then) => then,
        Err(problems) => {
            remarks.extend(problems);
            return Err(remarks);
        }
    };
    let (targets, more) = targets::derive(&brief, &energy);
    remarks.extend(more);
    if any_error(&remarks) {
        return Err(remarks);
    }
    Ok(Ready {
        brief,
        energy,
        targets,
        remarks,
    })
}

/// The answer to a brief: its plan, or a plan without meals that says which safety gate stops it, or which targets
/// and rules cannot hold together and what would open one.
///
/// `work` is how much to search.
///
/// # Errors
/// Mistakes of the brief that only show against the kitchen.
pub fn answer(larder: &Larder, ready: &Ready, work: Work) -> Result<Plan, Vec<Diagnostic>> {
    if ready.stopped() {
        return Ok(plan::stopped(&ready.brief, &ready.energy, &ready.targets));
    }
    let pieces = ready.pieces(larder)?;
    plan::plan(pieces, &ready.energy, work).map(|plan| with_ways(plan, pieces))
}

/// A plan as it is; one that cannot exist with an irreducible conflict and the ways out of it.
pub fn with_ways(mut plan: Plan, pieces: Pieces) -> Plan {
    if !plan.conflict.is_empty()
        && let Some(why) = Case::new(pieces).ok().and_then(|c| no_plan(&c))
    {
        (plan.conflict, plan.ways) = (why.conflict, why.ways);
    }
    plan
}
