//! Ticks of the lists: kept on this machine beside the week, for the lists they were made on and no others.

use super::Said;
use crate::page::folder::{Folder, Refusal, digest};
use crate::plan::{Cooked, Plan, Purchase};
use crate::report::amount::decimals;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::sync::{Mutex, PoisonError};

/// The file that the page keeps them in.
const KEPT: &str = "ticks.json";

/// One change at a time.
static WRITING: Mutex<()> = Mutex::new(());

/// What stands for a line of the shopping list.
pub(super) fn buy(p: &Purchase) -> String {
    format!("buy.{}", p.product)
}

/// What stands for a line of the cooking list.
pub(super) fn cook(c: &Cooked) -> String {
    format!("cook.{}.{}", c.day, c.dish)
}

/// The ticks of the lists of a week.
#[derive(Clone, Debug, Default)]
pub(super) struct Ticks {
    /// Stands for the lists: what is bought and cooked and how much.
    list: String,
    /// All lines.
    lines: Vec<String>,
    on: BTreeSet<String>,
}

impl Ticks {
    /// Those kept for a week; none when they were made on other lists.
    pub(super) fn of(folder: &Folder, name: &str, plan: &Plan) -> Ticks {
        let lines: Vec<String> = plan
            .shopping
            .iter()
            .map(buy)
            .chain(plan.cooking.iter().map(cook))
            .collect();
        // In whole grams, so that a week made again from its amounts is the same.
        let bought = plan
            .shopping
            .iter()
            .map(|p| format!("{} {}\n", buy(p), decimals(p.buy_grams, 0)));
        let cooked = plan
            .cooking
            .iter()
            .map(|c| format!("{} {}\n", cook(c), decimals(c.servings, 1)));
        let list = digest(&bought.chain(cooked).collect::<String>());
        let kept: Value = folder
            .recall(name, KEPT)
            .and_then(|text| serde_json::from_str(&text).ok())
            .unwrap_or_default();
        let on = match kept["ticked"]
            .as_array()
            .filter(|_| kept["list"] == list.as_str())
        {
            Some(ticked) => ticked
                .iter()
                .filter_map(Value::as_str)
                .map(String::from)
                .collect(),
            None => BTreeSet::new(),
        };
        Ticks { list, lines, on }
    }

    /// Whether a line is ticked.
    pub(super) fn has(&self, line: &str) -> bool {
        self.on.contains(line)
    }

    /// The place of a line, for an id that is the same each time the lists are drawn.
    pub(super) fn place(&self, line: &str) -> usize {
        self.lines.iter().position(|l| l == line).unwrap_or(0)
    }

    /// Stands for the lists.
    pub(super) fn list(&self) -> &str {
        &self.list
    }

    /// All that are on, as a form carries them.
    pub(super) fn all(&self) -> String {
        self.on.iter().map(String::as_str).collect::<Vec<_>>().join(" ")
    }

    /// Changes with the lists and with each tick.
    pub(super) fn version(&self) -> String {
        digest(&format!("{} {}", self.list, self.all()))
    }
}

/// Writes what a form says; whether it says one line (`id`) or all of them.
pub(super) fn write(folder: &Folder, name: &str, plan: &Plan, said: &Said) -> Result<bool, Refusal> {
    let _mine = WRITING.lock().unwrap_or_else(PoisonError::into_inner);
    let mut ticks = Ticks::of(folder, name, plan);
    let first = |name: &str| said.iter().find(|(n, _)| n == name).map(|(_, v)| v.as_str());
    if first("list") != Some(ticks.list()) {
        return Err(Refusal::Wrong(
            "these are the lists of another week by now, and nothing was ticked; load the page again".into(),
        ));
    }
    let on: BTreeSet<&str> = said
        .iter()
        .filter(|(n, _)| n == "tick")
        .map(|(_, v)| v.as_str())
        .collect();
    let one = first("id");
    // Without scripts all boxes come at once: only what changed since they were drawn is meant.
    let was: BTreeSet<&str> = first("was").unwrap_or("").split(' ').collect();
    for line in &ticks.lines {
        let (line, now) = (line.as_str(), on.contains(line.as_str()));
        let meant = one.map_or(now != was.contains(line), |id| id == line);
        if meant && now {
            ticks.on.insert(line.to_string());
        } else if meant {
            ticks.on.remove(line);
        }
    }
    folder.keep(
        name,
        KEPT,
        &json!({ "list": ticks.list, "ticked": ticks.on }).to_string(),
    )?;
    Ok(one.is_some())
}
