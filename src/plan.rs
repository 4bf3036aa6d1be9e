//! The plan: days, meals, servings, totals and the shopping list.
//!
//! Takes what the model is built from and an effort, gives a [`Plan`]. All totals are recomputed
//! here from the food table; whether a target is met is judged from those, not from the solver.

use crate::brief::{Brief, Scope};
use crate::diagnostic::Diagnostic;
use crate::energy::{EnergyBudget, GateAction};
use crate::foods::{FoodId, FoodTable};
use crate::household::seat;
use crate::kitchen::retention::{Cooking, add, held};
use crate::kitchen::{Catalogue, Item};
use crate::model::build::{
    Built, FRUIT_AND_VEGETABLES_G, Pieces, at_home, bought, build, fruit_and_vegetables, like_row,
    liked_times, pot, product,
};
use crate::model::linear::{Linear, expand};
use crate::model::{Class, Model, Objective, Over, Row};
use crate::money::Currency;
use crate::nutrient::Nutrient;
use crate::prices::PriceList;
use crate::solve::bound::{Bound, Standing, give_way, standing};
use crate::solve::search::{Effort, Found, search, search_and_gather};
use crate::solve::verify::{Broken, broken};
use crate::targets::{Strength, Target};
use itertools::Itertools;
use rust_decimal::Decimal;
use std::collections::{BTreeMap, BTreeSet};
use std::num::NonZeroUsize;

/// A food counted in a plan.
#[derive(Clone, Debug, PartialEq)]
pub struct FoodGrams {
    /// Row of the nutrient table.
    pub food: FoodId,
    /// Plain name.
    pub name: String,
    /// Edible grams counted: as eaten, or raw where it is cooked in a dish.
    pub grams: f64,
    /// How it is cooked from raw; `None` for a food counted as eaten.
    pub cooking: Option<Cooking>,
}

/// An item on a plate.
#[derive(Clone, Debug, PartialEq)]
pub struct Eaten {
    /// Item id.
    pub id: String,
    /// Name.
    pub name: String,
    /// How many servings.
    pub servings: f64,
    /// The household amount of one serving.
    pub serving: String,
    /// Mass as eaten.
    pub grams: f64,
    /// Energy.
    pub kcal: f64,
    /// Amount of each nutrient, in the order of [`Nutrient::all`]; unknown counts as nothing.
    pub amounts: Vec<f64>,
    /// Its place on the plate: the first role of the item.
    pub role: String,
    /// Rows of the table that were counted.
    pub foods: Vec<FoodGrams>,
    /// Cost, when all of it has a price.
    pub cost: Option<Decimal>,
    /// Day on which it was cooked, when that was an earlier one: it is reheated.
    pub pot: Option<u32>,
}

/// The items of one slot of one day.
#[derive(Clone, Debug, PartialEq)]
pub struct Meal {
    /// Slot id.
    pub slot: String,
    /// Slot name.
    pub slot_name: String,
    /// Name of the meal's form.
    pub form: String,
    /// What is eaten.
    pub items: Vec<Eaten>,
}

/// A day of the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Day {
    /// From 1.
    pub day: u32,
    /// Meals in the order of the day.
    pub meals: Vec<Meal>,
    /// Amount of each nutrient, in the order of [`Nutrient::all`].
    pub totals: Vec<f64>,
    /// What is eaten costs this much; `None` without prices.
    pub cost: Option<Decimal>,
}

/// A line of the shopping list.
#[derive(Clone, Debug, PartialEq)]
pub struct Purchase {
    /// Product id.
    pub product: String,
    /// Name on the list.
    pub name: String,
    /// Shop section.
    pub section: String,
    /// Grams as bought that the plan uses.
    pub needed_grams: f64,
    /// Of these, grams that are at home.
    pub home_grams: f64,
    /// Packs to buy; `None` for loose goods.
    pub packs: Option<u32>,
    /// Grams in a pack.
    pub pack_grams: Option<f64>,
    /// Grams to buy.
    pub buy_grams: f64,
    /// Grams of one piece, for goods counted in pieces.
    pub piece_grams: Option<f64>,
    /// What it costs at the till.
    pub cost: Option<Decimal>,
    /// Grams left over afterwards.
    pub left_over_grams: f64,
    /// Whether the price was invented.
    pub invented: bool,
    /// Rows of the table it stands for.
    pub foods: Vec<FoodId>,
    /// Days it keeps at home.
    pub keeps_days: u32,
    /// The first day it is eaten, from 1.
    pub first_day: u32,
}

/// How a dish of the plan is cooked.
#[derive(Clone, Debug, PartialEq)]
pub struct Recipe {
    /// Item id.
    pub id: String,
    /// Name.
    pub name: String,
    /// Servings the recipe makes.
    pub servings: f64,
    /// The household amount of one serving.
    pub serving: String,
    /// Servings eaten over the days.
    pub eaten: f64,
    /// Hands-on minutes.
    pub minutes: f64,
    /// Minutes from start to table.
    pub total_minutes: f64,
    /// Days it keeps cooked.
    pub keeps_days: u32,
    /// Plain name and raw grams of what goes in.
    pub ingredients: Vec<(String, f64)>,
    /// Water added, g.
    pub water: f64,
    /// Steps in the order of work.
    pub method: Vec<String>,
}

/// How a target came out.
#[derive(Clone, Debug, PartialEq)]
pub struct Standings {
    /// The target.
    pub target: Target,
    /// Mean of the days.
    pub mean: f64,
    /// Lowest and highest day (or meal, by the target's scope).
    pub range: (f64, f64),
    /// How far the floor is missed at worst, in the nutrient's unit; 0 when met.
    pub shortfall: f64,
    /// How far the ceiling is passed at worst; 0 when kept.
    pub excess: f64,
    /// Share of the eaten mass for which the table knows the nutrient.
    pub known: f64,
}

impl Standings {
    /// Whether floor and ceiling hold.
    pub fn met(&self) -> bool {
        self.shortfall == 0.0 && self.excess == 0.0
    }
}

/// What the search says of itself.
#[derive(Clone, Debug, PartialEq)]
pub struct SearchReport {
    /// Objective id.
    pub objective: &'static str,
    /// Its unit.
    pub unit: String,
    /// Its value.
    pub value: f64,
    /// No plan has a lower value, proven by linear programming; `None` without a proof.
    pub bound: Option<f64>,
    /// (value - bound) / value.
    pub gap: Option<f64>,
    /// Whether the value is proven to be the lowest.
    pub proved: bool,
    /// Moves tried.
    pub moves: u64,
    /// Seed.
    pub seed: u64,
    /// What a second solver said, when it was asked.
    pub second: Option<Second>,
    /// Rows of the model that should hold and do not.
    pub missed: Vec<String>,
}

/// What a second solver made of the same model in whole servings.
#[derive(Clone, Debug, PartialEq)]
pub struct Second {
    /// Its name.
    pub solver: &'static str,
    /// Seconds it was given.
    pub seconds: f64,
    /// No plan has a lower value, proven by it; `None` without a proof.
    pub bound: Option<f64>,
    /// What came of it.
    pub verdict: Verdict,
}

/// What a second solver found out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// The plan that was is the lowest.
    Proved,
    /// A lower plan, and no other is lower.
    ImprovedAndProved,
    /// A lower plan; a lower one still may exist.
    Improved,
    /// Nothing lower in its time.
    NothingLower,
    /// No plan in whole servings exists.
    NoPlan,
    /// It gave no answer, or one that broke a row when recomputed.
    NoAnswer,
}

/// A caution printed with the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Caution {
    /// Stable code.
    pub code: String,
    /// What to know.
    pub text: String,
}

/// Why not everything holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Conflict {
    /// Group of rows, as a person names it.
    pub group: String,
    /// Why it is there.
    pub reason: String,
}

/// A change that would open a plan, or one of a set that would together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Way {
    /// Id of the target, `budget`, the group of a rule, `dislike eggs`, `diet vegan` or `locked lunch of day
    /// 1`.
    pub target: String,
    /// The same as a person names it.
    pub name: String,
    /// `floor` or `ceiling`; `None` for a rule that would be left out.
    pub bound: Option<&'static str>,
    /// The bound as it is, a day (a budget for all days), in `unit`.
    pub from: Option<f64>,
    /// The bound that opens a plan.
    pub to: Option<f64>,
    /// `to` less `from`.
    pub by: Option<f64>,
    /// Unit of the bound.
    pub unit: String,
    /// `to` as a share of the energy eaten, for what gives energy.
    pub energy_share: Option<f64>,
    /// Cost of the cheapest plan then, in parted servings, all days.
    pub cost: Option<f64>,
    /// `cost` less the budget, where there is one.
    pub cost_change: Option<f64>,
    /// Whether it opens a plan only together with the others marked so.
    pub together: bool,
    /// For information, not a suggestion: a diet is the person's own affair.
    pub information: bool,
}

/// How far the nearest plan misses a rule.
#[derive(Clone, Debug, PartialEq)]
pub struct Miss {
    /// Name of the row.
    pub row: String,
    /// Group.
    pub group: String,
    /// Relative size of the miss.
    pub share: f64,
    /// What it came to.
    pub activity: f64,
}

/// A week of meals, or the nearest to one.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Title of the brief.
    pub title: String,
    /// Kitchen id.
    pub kitchen: String,
    /// Kitchen name.
    pub kitchen_name: String,
    /// Whether everything that must hold does.
    pub planned: bool,
    /// The days.
    pub days: Vec<Day>,
    /// Mean of the days.
    pub mean: Vec<f64>,
    /// Share of the eaten mass with a known value, for each nutrient.
    pub coverage: Vec<f64>,
    /// Targets and how they came out.
    pub standings: Vec<Standings>,
    /// Cost of what is eaten, after what was at home.
    pub cost: Option<Decimal>,
    /// Cost at the till, in whole packs.
    pub till: Option<Decimal>,
    /// Currency.
    pub currency: Option<Currency>,
    /// Budget for the days planned.
    pub budget: Option<Decimal>,
    /// Shopping list by section, in each what does not keep first.
    pub shopping: Vec<Purchase>,
    /// The dishes of the plan, each once, in the order they are first eaten.
    pub recipes: Vec<Recipe>,
    /// The search.
    pub search: SearchReport,
    /// Energy and gates.
    pub energy: EnergyBudget,
    /// Cautions.
    pub cautions: Vec<Caution>,
    /// An irreducible set of rules that cannot hold together, when that is proven.
    pub conflict: Vec<Conflict>,
    /// Changes that would open a plan; filled by `why`.
    pub ways: Vec<Way>,
    /// Rules that the nearest plan misses.
    pub misses: Vec<Miss>,
    /// What the ingredients of the finished plan break of the brief's diets and allergies: none, or it is no
    /// plan.
    pub breaches: Vec<Breach>,
    /// What to cook on which day, when the brief says on which days there is time.
    pub cooking: Vec<Cooked>,
    /// What is left of what was bought and of what was at home, after the last day.
    pub left: Vec<Left>,
    /// Who else eats these meals. Meals, totals and the costs of items and days are the person's; the cost, the
    /// till, the budget and the lists of shopping and cooking are for everybody.
    pub household: Vec<Eater>,
}

/// Someone who eats the same meals in their own portions.
#[derive(Clone, Debug, PartialEq)]
pub struct Eater {
    /// How they are called.
    pub title: String,
    /// Share of each amount on the plates; 0 when a safety gate stops them.
    pub portion: f64,
    /// Energy they should eat. \[kcal a day\]
    pub intake_kcal: f64,
    /// Their own targets, against the days in their portions.
    pub standings: Vec<Standings>,
    /// Their share of [`Plan::cost`].
    pub cost: Option<Decimal>,
    /// Why nothing is planned for them, and what would be acceptable instead; empty when it is.
    pub stopped: Vec<String>,
}

impl Plan {
    /// How many portions are bought and cooked for: the person's own is 1.
    pub fn portions(&self) -> f64 {
        1.0 + self.household.iter().map(|e| e.portion).sum::<f64>()
    }
}

/// A dish to cook: one line of the cooking list.
#[derive(Clone, Debug, PartialEq)]
pub struct Cooked {
    /// Day, from 1.
    pub day: u32,
    /// Item id of the dish.
    pub dish: String,
    /// Its name.
    pub name: String,
    /// How many times the recipe, halves included.
    pub batches: f64,
    /// Servings that come of it.
    pub servings: f64,
    /// Hands-on minutes.
    pub minutes: f64,
    /// Minutes from start to table.
    pub total_minutes: f64,
    /// Last day on which it is good.
    pub keep_until: u32,
    /// Meals it serves: day, slot and servings.
    pub meals: Vec<(u32, String, f64)>,
}

/// Something left over after the last day.
#[derive(Clone, Debug, PartialEq)]
pub struct Left {
    /// Product id.
    pub product: String,
    /// Its name.
    pub name: String,
    /// Grams as bought.
    pub grams: f64,
    /// Days it still keeps after the last day; 0 or less is past it.
    pub keeps_days: i64,
}

/// Something on a plate that a diet or an allergy refuses.
#[derive(Clone, Debug, PartialEq)]
pub struct Breach {
    /// Day, from 1.
    pub day: u32,
    /// Slot id.
    pub slot: String,
    /// Name of the item, or of the two that may not stand together.
    pub item: String,
    /// `diet` or `allergy`, with its id.
    pub rule: String,
    /// What was found.
    pub why: String,
}

/// Sections of a shop in walking order.
pub const SECTIONS: [&str; 14] = [
    "produce", "bakery", "dairy", "eggs", "meat", "fish", "grains", "legumes", "nuts", "oils", "spices",
    "tins", "frozen", "drinks",
];

/// The default number of moves for a week, half from each of two starts: a second or less on two cores, each busy
/// with one.
pub const MOVES: u64 = 8_000_000;
/// The same for one or two days: each of their moves takes less, and there are no other days to make up for one.
const MOVES_OF_A_DAY: u64 = 2 * MOVES;
/// Days that are searched from many short starts, not from few long ones.
const FEW_DAYS: u32 = 2;
/// The most starts of a week, and the least moves of each: two short ones are worth less than a long one.
const STARTS: (u32, u64) = (2, MOVES / 2);
/// The same for one or two days.
const STARTS_OF_A_DAY: (u32, u64) = (20, MOVES_OF_A_DAY / 20);

/// Multiplications, about, of putting plans together for each move of a day: up to two fifths of the time.
const GATHER: u64 = 120;

/// How much a brief is searched.
#[derive(Clone, Copy, Debug)]
pub struct Work {
    /// Moves of the search in all.
    pub moves: u64,
    /// Threads that share its starts. The plan does not depend on how many.
    pub threads: NonZeroUsize,
}

impl Work {
    /// The moves asked for, else those that the days need ([`moves`]), on every core there is.
    pub fn of(days: u32, asked: Option<u64>) -> Self {
        Work {
            moves: asked.unwrap_or_else(|| moves(days)),
            threads: std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN),
        }
    }

    /// The same on one thread, for whoever plans many briefs side by side.
    #[must_use]
    pub fn alone(self) -> Self {
        Work {
            threads: NonZeroUsize::MIN,
            ..self
        }
    }

    /// What the search is told of it.
    pub(crate) fn effort(self, brief: &Brief) -> Effort {
        let (most, least) = if brief.days <= FEW_DAYS {
            STARTS_OF_A_DAY
        } else {
            STARTS
        };
        Effort {
            moves: self.moves,
            starts: (self.moves / least).clamp(1, u64::from(most)) as u32,
            seed: brief.seed,
            threads: self.threads,
        }
    }

    /// Multiplications, about, for putting together what the starts found ([`search_and_gather`]): none for more days
    /// than [`FEW_DAYS`], where two starts have little to put together.
    fn gathering(self, brief: &Brief) -> u64 {
        if brief.days <= FEW_DAYS {
            self.moves * GATHER
        } else {
            0
        }
    }

    /// The same for going on from a plan: one start, with half of the moves where a plan has several.
    pub(crate) fn going_on(self, brief: &Brief) -> Effort {
        let anew = self.effort(brief);
        Effort {
            moves: anew.moves / u64::from(anew.starts.min(2)),
            starts: 1,
            ..anew
        }
    }
}

/// A search on one thread with one part in so many of the moves of [`Work::going_on`].
pub(crate) fn short_of(brief: &Brief, of: u64) -> Effort {
    let all = Work::of(brief.days, None).alone();
    Work {
        moves: all.going_on(brief).moves / of,
        ..all
    }
    .effort(brief)
}

/// The moves that a number of days needs: [`MOVES`] up to a week, then growing with its square, since
/// each meal needs as many moves and meals also depend on one another; twice as many for one or two days.
pub fn moves(days: u32) -> u64 {
    if days <= FEW_DAYS {
        return MOVES_OF_A_DAY;
    }
    let weeks = f64::from(days.max(7)) / 7.0;
    (MOVES as f64 * weeks * weeks) as u64
}

/// The share of the moves, as a divisor, spent on the nearest to a plan when none exists.
const NEAREST: u64 = 10;

/// The exported model of a brief: every day written out, floors out of reach already lowered.
///
/// # Errors
/// As [`plan`].
pub fn export(pieces: Pieces) -> Result<Linear, Vec<Diagnostic>> {
    let mut built = build(pieces)?;
    if let Standing::Short(short) = standing(&built.model) {
        give_way(&mut built.model, &short);
    }
    Ok(expand(&built.model, false))
}

/// Plans the days of a brief.
///
/// # Errors
/// Mistakes of the brief that only show against the kitchen.
pub fn plan(pieces: Pieces, energy: &EnergyBudget, work: Work) -> Result<Plan, Vec<Diagnostic>> {
    with_opinion(pieces, energy, work, &|_, _| None)
}

/// As [`plan`]; a second solver then proves or improves it for at most so many seconds.
///
/// # Errors
/// As [`plan`].
#[cfg(feature = "highs")]
pub fn prove(
    pieces: Pieces,
    energy: &EnergyBudget,
    work: Work,
    seconds: f64,
) -> Result<Plan, Vec<Diagnostic>> {
    use crate::solve::second::{GAP, Opinion, SOLVER, found, opinion, point};
    with_opinion(pieces, energy, work, &|model, ours| {
        let lp = expand(model, false);
        let good = |f: &Found| broken(model, &f.forms, &f.steps).is_empty();
        let begin = good(ours).then(|| point(model, &lp, ours));
        let have = begin.is_some().then(|| model.value(&ours.steps));
        let (mut bound, mut verdict, mut better) = (None, Verdict::NoAnswer, None);
        match opinion(&lp, begin.as_deref(), seconds) {
            Ok(Opinion::None) if begin.is_none() => verdict = Verdict::NoPlan,
            Ok(Opinion::Some {
                bound: least,
                point,
                ended,
            }) => {
                bound = least;
                let other = point.and_then(|x| found(model, &lp, &x)).filter(good);
                let other = other.map(|f| (model.value(&f.steps), f));
                let lower = |v: f64| have.is_none_or(|h| v < h - GAP * h.abs().max(1e-3));
                better = other.filter(|(v, _)| lower(*v)).map(|(_, f)| f);
                let value = better.as_ref().map(|f| model.value(&f.steps)).or(have);
                let proved = ended
                    && value
                        .zip(least)
                        .is_some_and(|(v, b)| v - b <= 2.0 * GAP * v.abs().max(1e-3));
                verdict = match (better.is_some(), proved) {
                    (true, true) => Verdict::ImprovedAndProved,
                    (true, false) => Verdict::Improved,
                    (false, true) => Verdict::Proved,
                    (false, false) if ended => Verdict::NoAnswer,
                    (false, false) => Verdict::NothingLower,
                };
            }
            _ => {}
        }
        let said = Second {
            solver: SOLVER,
            seconds,
            bound,
            verdict,
        };
        Some((said, better))
    })
}

/// Asked of a model and the plan found for it: what a second solver says, and its plan when that is lower.
type Ask<'a> = &'a dyn Fn(&Model, &Found) -> Option<(Second, Option<Found>)>;

fn with_opinion(
    pieces: Pieces,
    energy: &EnergyBudget,
    work: Work,
    ask: Ask,
) -> Result<Plan, Vec<Diagnostic>> {
    let mut built = build(pieces)?;
    let mut conflict = Vec::new();
    let mut first = standing(&built.model);
    if let Standing::Short(short) = &first {
        give_way(&mut built.model, short);
        first = standing(&built.model);
    }
    let guide = match first {
        Standing::Open(b) => b,
        Standing::Conflict(groups) => {
            conflict = groups
                .into_iter()
                .map(|group| Conflict {
                    reason: reason_of(&built, &group),
                    group: spoken(pieces, &group),
                })
                .collect();
            Bound::default()
        }
        Standing::Short(_) | Standing::Unknown(_) => Bound::default(),
    };
    let bound = guide.value;
    // A bound next to nothing says nothing of the size of a distance; weighed by it, the rows would count for
    // nothing.
    let least = if built.model.objective.cost {
        0.0
    } else {
        CLOSE_ENOUGH
    };
    let scale = bound
        .filter(|b| *b > 0.0)
        .unwrap_or_else(|| default_scale(&built))
        .max(least);
    // The nearest to a plan that is proven not to exist needs no long search.
    let moves = if conflict.is_empty() {
        work.moves
    } else {
        work.moves / NEAREST
    };
    let work = Work { moves, ..work };
    let effort = work.effort(pieces.brief);
    let mut found = search_and_gather(&built.model, &guide, scale, effort, work.gathering(pieces.brief));
    let mut second = None;
    if conflict.is_empty()
        && let Some((said, better)) = ask(&built.model, &found)
    {
        second = Some(said);
        if let Some(better) = better {
            found = Found {
                moves: found.moves,
                ..better
            };
        }
    }
    if !built.model.objective.cost
        && pieces.prices.is_some()
        && broken(&built.model, &found.forms, &found.steps).is_empty()
    {
        let cheap = cheapest_as_good(&built.model, &found);
        let scale = built.model.cost(&found.steps);
        let all = work.going_on(pieces.brief);
        let effort = Effort {
            moves: all.moves / 2,
            ..all
        };
        let cheaper = search(&cheap, &guide.uses, scale, effort, Some(&found));
        if broken(&cheap, &cheaper.forms, &cheaper.steps).is_empty() {
            found = Found {
                moves: found.moves + cheaper.moves,
                ..cheaper
            };
        }
    }
    let value = built.model.value(&found.steps);
    // The bound is that of plans that hold every row. A plan that misses a reference may lie under it: then it says
    // nothing of this plan. What misses more is no plan, and the bound stays.
    let missed = broken(&built.model, &found.forms, &found.steps);
    let (whole, under) = (missed.is_empty(), |b: f64| !missed.is_empty() && value < b);
    let no_plan = missed.iter().any(|b| b.class == Class::Must);
    let bound = bound.filter(|b| no_plan || !under(*b));
    let bound = [bound, second.as_ref().and_then(|s| s.bound)]
        .into_iter()
        .flatten()
        .map(|b| b.max(0.0))
        .reduce(f64::max)
        .map(|b| {
            if second.is_some() {
                b.min(value.max(0.0))
            } else {
                b
            }
        });
    let by_second = second
        .as_ref()
        .is_some_and(|s| matches!(s.verdict, Verdict::Proved | Verdict::ImprovedAndProved));
    let gap = bound
        .filter(|b| value > 1e-12 && *b > 1e-9 && !under(*b))
        .map(|b| ((value - b) / value).max(0.0));
    let report = SearchReport {
        objective: built.model.objective.id,
        unit: built.model.objective.unit.clone(),
        value,
        bound,
        gap,
        proved: whole
            && (gap.is_some_and(|g| g < 1e-9)
                || by_second && bound.is_some_and(|b| value - b <= PROVED * value.abs().max(1e-3))),
        moves: found.moves,
        seed: pieces.brief.seed,
        second,
        missed: Vec::new(),
    };
    Ok(assemble(pieces, &built, &found, energy, report, conflict))
}

/// Relative distance from the bound under which a value that a second solver calls the lowest is: its own tolerance and its rounding.
const PROVED: f64 = 1e-5;

/// A deviation of this share of a goal's centre counts as none: the food table is no finer. A design choice.
pub const CLOSE_ENOUGH: f64 = 0.02;

/// The model whose plans are as good as the one found, with the cost as its objective: each deviation
/// no larger than now (or than [`CLOSE_ENOUGH`]). Objectives come one after the other, not mixed.
pub fn cheapest_as_good(model: &Model, found: &Found) -> Model {
    let mut cheap = model.clone();
    let at = |terms: &[(usize, f64)]| {
        terms
            .iter()
            .map(|&(c, k)| k * f64::from(found.steps[c]))
            .sum::<f64>()
    };
    let mut hold = |name: String, terms: Vec<(usize, f64)>, floor: Option<f64>, ceiling: Option<f64>| {
        cheap.rows.push(Row {
            name,
            group: "objective".into(),
            over: Over::Amount,
            terms,
            floor,
            ceiling,
            unit: model.objective.unit.clone(),
            reason: "as good as the plan found".into(),
            class: Class::Must,
            from_brief: false,
            twin: None,
            stands_for: 1.0,
            whole: None,
        });
    };
    for g in &model.objective.goals {
        let room = (at(&g.terms) - g.centre).abs().max(CLOSE_ENOUGH * g.centre.abs());
        hold(
            format!("goal_{}", g.name),
            g.terms.clone(),
            Some(g.centre - room),
            Some(g.centre + room),
        );
    }
    let linear: Vec<(usize, f64)> = model
        .objective
        .linear
        .iter()
        .copied()
        .enumerate()
        .filter(|t| t.1 != 0.0)
        .collect();
    if !linear.is_empty() {
        let ceiling = at(&linear);
        hold("objective".into(), linear, None, Some(ceiling.max(CLOSE_ENOUGH)));
    }
    cheap.objective = Objective {
        id: "cost",
        unit: model.currency.clone(),
        cost: true,
        linear: Vec::new(),
        goals: Vec::new(),
        largest: 0.0,
        keep: None,
    };
    cheap
}

/// The empty plan of a brief that a safety gate stops: why, and what would be acceptable instead.
pub fn stopped(brief: &Brief, energy: &EnergyBudget, targets: &[Target]) -> Plan {
    let zero = vec![0.0; Nutrient::COUNT];
    let gates = energy.gates.iter().filter(|g| g.action == GateAction::Stop);
    Plan {
        title: brief.title.clone(),
        kitchen: brief.region.value.clone(),
        kitchen_name: brief.region.value.clone(),
        planned: false,
        days: Vec::new(),
        mean: zero.clone(),
        coverage: zero,
        standings: targets
            .iter()
            .map(|t| Standings {
                target: t.clone(),
                mean: 0.0,
                range: (0.0, 0.0),
                shortfall: 0.0,
                excess: 0.0,
                known: 0.0,
            })
            .collect(),
        cost: None,
        till: None,
        currency: None,
        budget: brief.budget.as_ref().map(|b| b.amount),
        shopping: Vec::new(),
        recipes: Vec::new(),
        search: SearchReport {
            objective: "none",
            unit: String::new(),
            value: 0.0,
            bound: None,
            gap: None,
            proved: false,
            moves: 0,
            seed: brief.seed,
            second: None,
            missed: Vec::new(),
        },
        energy: energy.clone(),
        cautions: gate_cautions(energy),
        conflict: gates
            .map(|g| Conflict {
                group: format!("safety {}", g.code),
                reason: format!("{} Instead: {} ({})", g.why, g.instead, g.source),
            })
            .collect(),
        ways: Vec::new(),
        misses: Vec::new(),
        breaches: Vec::new(),
        cooking: Vec::new(),
        left: Vec::new(),
        household: Vec::new(),
    }
}

/// Gates as cautions.
fn gate_cautions(energy: &EnergyBudget) -> Vec<Caution> {
    let word = |a| {
        if a == GateAction::Stop {
            "Stop"
        } else {
            "Take care"
        }
    };
    energy
        .gates
        .iter()
        .map(|g| Caution {
            code: g.code.into(),
            text: format!(
                "{}: {} Instead: {} ({})",
                word(g.action),
                g.why,
                g.instead,
                g.source
            ),
        })
        .collect()
}

fn default_scale(built: &Built) -> f64 {
    let model = &built.model;
    if !model.objective.cost {
        return 0.1;
    }
    model.budget.unwrap_or_else(|| {
        let mean = model
            .columns
            .iter()
            .map(|c| c.cost * f64::from(c.most))
            .sum::<f64>()
            / model.columns.len().max(1) as f64;
        mean * 3.0 * model.choices.len() as f64
    })
}

/// A group of rows as a person names it.
pub fn spoken(p: Pieces, group: &str) -> String {
    let id = group.strip_prefix("reference ").unwrap_or(group);
    let Some(t) = p.targets.iter().find(|t| t.id == id) else {
        return id.replace('_', " ");
    };
    let over = match t.scope {
        Scope::Meal => "each main meal",
        Scope::Day => "each day",
        Scope::Mean => "mean of the days",
    };
    let unit = t.nutrient.unit().label();
    let bound = match (t.floor, t.ceiling) {
        (Some(a), Some(b)) => format!("{a:.0} to {b:.0} {unit}"),
        (Some(a), None) => format!("at least {a:.0} {unit}"),
        (None, Some(b)) => format!("at most {b:.0} {unit}"),
        (None, None) => String::new(),
    };
    format!("{}, {over}, {bound}", t.nutrient.name())
}

/// Why a group of rows is there.
pub(crate) fn reason_of(built: &Built, group: &str) -> String {
    if group == "budget" {
        return "the budget of the brief".into();
    }
    built
        .model
        .rows
        .iter()
        .find(|r| r.group == group)
        .map(|r| r.reason.clone())
        .or_else(|| {
            built
                .model
                .distinct
                .iter()
                .find(|d| d.group == group)
                .map(|d| d.reason.clone())
        })
        .unwrap_or_default()
}

/// The foods of so many servings of an item, with the grams counted.
fn foods(catalogue: &Catalogue, item: &Item, servings: f64) -> Vec<FoodGrams> {
    item.foods
        .iter()
        .map(|c| {
            let food = FoodId::new(c.food.as_str());
            let name = catalogue
                .ingredients
                .get(&food)
                .map_or_else(|| c.food.clone(), |i| i.short.clone());
            FoodGrams {
                food,
                name,
                grams: c.grams * servings,
                cooking: c.cooking.clone(),
            }
        })
        .collect()
}

fn item_cost(catalogue: &Catalogue, list: Option<&PriceList>, item: &Item, servings: f64) -> Option<Decimal> {
    let list = list?;
    bought(catalogue, item)
        .iter()
        .map(|(p, g)| list.prices.get(p).map(|x| x.cost(g * servings)))
        .sum()
}

/// Sums of nutrients over foods: what is counted, and how much of the mass is known.
fn totals(table: &FoodTable, foods: &[&FoodGrams]) -> (Vec<f64>, Vec<f64>) {
    let mut sum = vec![0.0; Nutrient::COUNT];
    let mut known = vec![0.0; Nutrient::COUNT];
    let mut mass = 0.0;
    for f in foods {
        let Some(amounts) = held(table, &f.food, f.grams, f.cooking.as_ref()) else {
            continue;
        };
        mass += f.grams;
        add(&mut sum, &amounts);
        for (k, _) in known.iter_mut().zip(&amounts).filter(|(_, a)| a.is_some()) {
            *k += f.grams;
        }
    }
    for k in &mut known {
        *k = if mass > 0.0 { *k / mass } else { 0.0 };
    }
    (sum, known)
}

/// The plan of forms and steps that were found: every row checked, every total summed again from the foods.
pub fn assemble(
    p: Pieces,
    built: &Built,
    found: &Found,
    energy: &EnergyBudget,
    search: SearchReport,
    conflict: Vec<Conflict>,
) -> Plan {
    let model = &built.model;
    let (forms, steps) = (&found.forms, &found.steps);
    let faults: Vec<Broken> = broken(model, forms, steps);
    let mut days: Vec<Day> = Vec::new();
    for (c, choice) in model.choices.iter().enumerate() {
        let slot = &p.kitchen.slots[choice.slot];
        let form = &choice.forms[forms[c]];
        let title = p
            .kitchen
            .forms
            .iter()
            .find(|f| f.id == form.of && f.slot == slot.id)
            .map_or_else(|| "As fixed in the brief".to_string(), |f| f.name.clone());
        let mut items = Vec::new();
        for &n in form
            .parts
            .iter()
            .flat_map(|q| &q.columns)
            .filter(|&&n| steps[n] > 0)
        {
            let column = &model.columns[n];
            let item = &p.catalogue.items[column.item];
            let servings = column.servings * f64::from(steps[n]);
            let counted = foods(p.catalogue, item, servings);
            let amounts = totals(p.table, &counted.iter().collect_vec()).0;
            items.push(Eaten {
                id: item.id.clone(),
                name: item.name.clone(),
                servings,
                serving: item.serving.clone(),
                grams: item.serving_grams() * servings,
                kcal: amounts[Nutrient::ENERGY.index()],
                amounts,
                role: item.roles.first().cloned().unwrap_or_default(),
                foods: counted,
                cost: item_cost(p.catalogue, p.prices, item, servings),
                pot: pot(p.brief, item, choice.day)
                    .filter(|&k| k < choice.day && form.of != "locked")
                    .map(|k| k as u32 + 1),
            });
        }
        let meal = Meal {
            slot: slot.id.clone(),
            slot_name: slot.name.clone(),
            form: title,
            items,
        };
        match days.last_mut().filter(|d| d.day == choice.day as u32 + 1) {
            Some(d) => d.meals.push(meal),
            None => days.push(Day {
                day: choice.day as u32 + 1,
                meals: vec![meal],
                totals: Vec::new(),
                cost: None,
            }),
        }
    }
    for d in &mut days {
        let eaten: Vec<&FoodGrams> = d
            .meals
            .iter()
            .flat_map(|m| &m.items)
            .flat_map(|i| &i.foods)
            .collect();
        d.totals = totals(p.table, &eaten).0;
        d.cost = d.meals.iter().flat_map(|m| &m.items).map(|i| i.cost).sum();
    }
    let all: Vec<&FoodGrams> = days
        .iter()
        .flat_map(|d| &d.meals)
        .flat_map(|m| &m.items)
        .flat_map(|i| &i.foods)
        .collect();
    let (sum, coverage) = totals(p.table, &all);
    let mean: Vec<f64> = sum.iter().map(|v| v / days.len().max(1) as f64).collect();
    let standings: Vec<Standings> = p
        .targets
        .iter()
        .map(|t| stand(p, t, &days, &mean, &coverage, 1.0))
        .collect();
    let shopping = shop(p, &days);
    let till: Option<Decimal> = p.prices.and_then(|_| shopping.iter().map(|l| l.cost).sum());
    let saved: Decimal = shopping
        .iter()
        .filter_map(|l| p.prices?.prices.get(&l.product).map(|x| x.cost(l.home_grams)))
        .sum();
    let cost = days
        .iter()
        .map(|d| d.cost)
        .sum::<Option<Decimal>>()
        .map(|c| times(c, p.brief.portions()) - saved);
    let household = eaters(p, &days, &mean, &coverage, cost);
    let misses: Vec<Miss> = faults
        .iter()
        .filter(|b| b.class == Class::Must)
        .map(|b| Miss {
            row: b.name.clone(),
            group: b.group.clone(),
            share: b.miss,
            activity: b.activity,
        })
        .collect();
    let breaches = breaches(p.brief, p.catalogue, &days);
    let cooking = cooking_list(p, &days);
    let left = left_over(p, &shopping);
    let planned = misses.is_empty()
        && breaches.is_empty()
        && standings
            .iter()
            .all(|s| s.met() || s.target.strength == Strength::Should);
    let mut cautions = cautions(built, energy, &standings, &shopping, &faults);
    cautions.extend(household_cautions(p));
    for d in p
        .brief
        .diets
        .iter()
        .filter(|d| matches!(d.value.as_str(), "kosher" | "halal"))
    {
        let text = format!(
            "The diet `{}` is kept by ingredient only{}: slaughter, certification, vessels and the hours between meals are not checked. Ask your own authority.",
            d.value,
            if d.value == "kosher" {
                ", with meat and milk apart in each meal"
            } else {
                ""
            }
        );
        cautions.push(Caution {
            code: "diet-by-ingredient".into(),
            text,
        });
    }
    let plants: f64 = days
        .iter()
        .flat_map(|d| &d.meals)
        .flat_map(|m| &m.items)
        .filter_map(|i| {
            let item = p.catalogue.items.iter().find(|x| x.id == i.id)?;
            Some(fruit_and_vegetables(p.table, item) * i.servings)
        })
        .sum::<f64>()
        / days.len().max(1) as f64;
    if plants < FRUIT_AND_VEGETABLES_G * (1.0 - crate::solve::verify::TOLERANCE) {
        let text = format!(
            "Fruit and vegetables come to {plants:.0} g a day; the advice is {FRUIT_AND_VEGETABLES_G:.0} g (WHO, Healthy diet, fact sheet, 2020)."
        );
        cautions.push(Caution {
            code: "fruit-and-vegetables".into(),
            text,
        });
    }
    cautions.extend(likes_missed(p, built, &days));
    let should = faults.iter().filter(|b| b.class == Class::Should);
    let search = SearchReport {
        missed: should.map(|b| b.name.clone()).collect(),
        ..search
    };
    Plan {
        title: p.brief.title.clone(),
        kitchen: p.kitchen.id.clone(),
        kitchen_name: p.kitchen.name.clone(),
        planned,
        mean,
        coverage,
        standings,
        cost,
        till,
        currency: p.prices.map(|l| l.currency),
        budget: p.brief.budget.as_ref().map(|b| b.amount),
        recipes: recipes(p, &days),
        days,
        shopping,
        search,
        energy: energy.clone(),
        cautions,
        conflict,
        ways: Vec::new(),
        misses,
        breaches,
        cooking,
        left,
        household,
    }
}

/// What is liked and comes less often than it should. What the model leaves out has its own warning.
fn likes_missed(p: Pieces, built: &Built, days: &[Day]) -> Vec<Caution> {
    let items = days.iter().flat_map(|d| &d.meals).flat_map(|m| &m.items);
    let eaten = items.map(|i| i.id.as_str()).counts();
    let liked = p
        .brief
        .likes
        .iter()
        .filter_map(|l| p.catalogue.item_of(&l.value, &p.kitchen.id));
    liked
        .unique()
        .filter_map(|i| {
            let item = &p.catalogue.items[i];
            let (comes, wanted) = (eaten.get(item.id.as_str()).copied().unwrap_or(0), liked_times(p.brief, item));
            let asked = built.model.rows.iter().any(|r| r.name == like_row(item));
            (asked && (comes as f64) < wanted).then(|| Caution {
                code: "like-missed".into(),
                text: format!(
                    "{} is liked; it comes {comes} times of {wanted:.0} in these days. Likes give way to what must hold.",
                    item.name
                ),
            })
        })
        .collect()
}

/// An amount of money so many times, exact where the number is a plain decimal.
fn times(amount: Decimal, number: f64) -> Decimal {
    if number == 1.0 {
        return amount;
    }
    Decimal::try_from(number).map_or(amount, |n| (amount * n).round_dp(6).normalize())
}

/// The household against the days: each member's own targets on the amounts in their portions.
fn eaters(p: Pieces, days: &[Day], mean: &[f64], coverage: &[f64], cost: Option<Decimal>) -> Vec<Eater> {
    let all = p.brief.portions();
    p.brief
        .household
        .iter()
        .filter_map(|m| Some((m.title.clone(), m.portion?, seat(p.brief, m).ok()?)))
        .map(|(title, portion, s)| Eater {
            title,
            portion,
            intake_kcal: s.energy.intake.0,
            standings: if s.stopped() {
                Vec::new()
            } else {
                s.targets
                    .iter()
                    .map(|t| stand(p, t, days, mean, coverage, portion))
                    .collect()
            },
            cost: cost.map(|c| times(c, portion / all)),
            stopped: s
                .energy
                .gates
                .iter()
                .filter(|g| g.action == GateAction::Stop)
                .map(|g| format!("{} Instead: {} ({})", g.why, g.instead, g.source))
                .collect(),
        })
        .collect()
}

/// What the safety rules say of the members, each by name.
fn household_cautions(p: Pieces) -> Vec<Caution> {
    let seats = p.brief.household.iter().filter_map(|m| seat(p.brief, m).ok());
    seats
        .flat_map(|s| {
            gate_cautions(&s.energy).into_iter().map(move |c| Caution {
                text: format!("{}: {}", s.title, c.text),
                ..c
            })
        })
        .collect()
}

/// What to cook when: dishes by the day they are cooked on, each with the meals it serves.
fn cooking_list(p: Pieces, days: &[Day]) -> Vec<Cooked> {
    if p.brief.cooking.is_none() {
        return Vec::new();
    }
    let mut list: BTreeMap<(u32, &str), Cooked> = BTreeMap::new();
    for (day, meal, eaten) in days.iter().flat_map(|d| {
        d.meals
            .iter()
            .flat_map(move |m| m.items.iter().map(move |e| (d.day, m, e)))
    }) {
        let Some(item) = p.catalogue.items.iter().find(|i| i.id == eaten.id) else {
            continue;
        };
        let Some(dish) = &item.dish else { continue };
        let on = eaten.pot.unwrap_or(day);
        let line = list.entry((on, item.id.as_str())).or_insert_with(|| Cooked {
            day: on,
            dish: item.id.clone(),
            name: item.name.clone(),
            batches: 0.0,
            servings: 0.0,
            minutes: item.minutes,
            total_minutes: dish.total_minutes,
            keep_until: on + dish.keeps_days,
            meals: Vec::new(),
        });
        let servings = eaten.servings * p.brief.portions();
        line.servings += servings;
        line.batches = line.servings / dish.servings;
        line.meals.push((day, meal.slot.clone(), servings));
    }
    list.into_values().collect()
}

/// What is left after the last day: of what was bought, and of what was at home. What the brief says of how
/// long
/// something keeps counts, else the product's own days from the first day of the plan.
fn left_over(p: Pieces, shopping: &[Purchase]) -> Vec<Left> {
    let days = i64::from(p.brief.days);
    let mut left: BTreeMap<String, Left> = BTreeMap::new();
    let mut add = |id: &str, grams: f64, keeps: Option<i64>| {
        let Some(x) = p.catalogue.products.get(id).filter(|_| grams > LEAST_LEFT_G) else {
            return;
        };
        let keeps_days = keeps.unwrap_or(i64::from(x.keeps_days)) - days;
        let e = left.entry(id.to_string()).or_insert_with(|| Left {
            product: id.to_string(),
            name: x.name.clone(),
            grams: 0.0,
            keeps_days,
        });
        e.grams += grams;
        e.keeps_days = e.keeps_days.min(keeps_days);
    };
    for l in shopping {
        add(&l.product, l.left_over_grams, None);
    }
    for (id, grams) in at_home(p.brief, p.catalogue) {
        let used = shopping
            .iter()
            .find(|l| l.product == id)
            .map_or(0.0, |l| l.home_grams);
        let entries = p
            .brief
            .pantry
            .iter()
            .filter(|e| product(p.catalogue, &e.what.value).as_ref() == Some(&id));
        let keeps = entries.filter_map(|e| e.keeps_days).min().map(i64::from);
        add(&id, grams - used, keeps);
    }
    left.into_values().collect()
}

/// Less than this is not worth writing down. A design choice. \[g\]
const LEAST_LEFT_G: f64 = 1.0;

/// Checks what is on the plates against the diets and allergies of the brief, from the ingredients alone: it
/// asks neither the model nor the items' own lists. A food whose contents are not on record breaks every
/// rule.
pub fn breaches(brief: &Brief, catalogue: &Catalogue, days: &[Day]) -> Vec<Breach> {
    let rules = brief.diets.iter().map(|d| ("diet", d, &catalogue.diets)).chain(
        brief
            .allergies
            .iter()
            .map(|a| ("allergy", a, &catalogue.allergens)),
    );
    let mut out = Vec::new();
    for (what, id, known) in rules {
        let rule = known.iter().find(|r| r.id == id.value);
        for (day, meal) in days.iter().flat_map(|d| d.meals.iter().map(move |m| (d.day, m))) {
            let mut say = |item: &str, why: String| {
                out.push(Breach {
                    day,
                    slot: meal.slot.clone(),
                    item: item.to_string(),
                    rule: format!("{what} {}", id.value),
                    why,
                });
            };
            // Every flag on the plate, with the item and the food that carries it.
            let mut found: Vec<(String, &Eaten, String)> = Vec::new();
            for eaten in &meal.items {
                let own = catalogue.items.iter().find(|i| i.id == eaten.id);
                for flag in own.into_iter().flat_map(|i| &i.contains) {
                    found.push((flag.clone(), eaten, eaten.name.clone()));
                }
                for f in &eaten.foods {
                    match catalogue.ingredients.get(&f.food) {
                        Some(i) => found.extend(
                            i.contains
                                .iter()
                                .map(|flag| (flag.clone(), eaten, i.short.clone())),
                        ),
                        None => say(
                            &eaten.name,
                            format!("the contents of {} are not on record", f.food),
                        ),
                    }
                }
                if own.is_none() || eaten.foods.is_empty() {
                    say(&eaten.name, "what it is made of is not on record".into());
                }
            }
            let Some(rule) = rule else {
                say("", "no such rule is on record".into());
                continue;
            };
            for (flag, eaten, food) in found.iter().filter(|f| rule.excludes.contains(&f.0)) {
                say(&eaten.name, format!("{food} holds {}", flag.replace('_', " ")));
            }
            if let [one, other] = rule.apart.as_slice() {
                let first = |group: &[String]| found.iter().find(|f| group.contains(&f.0));
                if let (Some(a), Some(b)) = (first(one), first(other)) {
                    let both = if a.1.id == b.1.id {
                        a.1.name.clone()
                    } else {
                        format!("{} and {}", a.1.name, b.1.name)
                    };
                    say(
                        &both,
                        format!("{} ({}) and {} ({}) in one meal", a.2, a.0, b.2, b.0),
                    );
                }
            }
        }
    }
    out
}

/// A target against totals recomputed from the food table.
/// Each amount is taken so many times as `portion` says.
fn stand(p: Pieces, t: &Target, days: &[Day], mean: &[f64], coverage: &[f64], portion: f64) -> Standings {
    let n = t.nutrient.index();
    let mut values: Vec<f64> = match t.scope {
        Scope::Mean => vec![mean[n]],
        Scope::Day => days.iter().map(|d| d.totals[n]).collect(),
        Scope::Meal => {
            let main: BTreeSet<&str> = p
                .kitchen
                .slots
                .iter()
                .filter(|s| s.main)
                .map(|s| s.id.as_str())
                .collect();
            days.iter()
                .flat_map(|d| &d.meals)
                .filter(|m| main.contains(m.slot.as_str()))
                .map(|m| totals(p.table, &m.items.iter().flat_map(|i| &i.foods).collect_vec()).0[n])
                .collect()
        }
    };
    values.iter_mut().for_each(|v| *v *= portion);
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let rounding = |bound: f64| bound.abs() * crate::solve::verify::TOLERANCE;
    let shortfall = t
        .floor
        .filter(|f| low < f - rounding(*f))
        .map_or(0.0, |f| f - low);
    let excess = t
        .ceiling
        .filter(|c| high > c + rounding(*c))
        .map_or(0.0, |c| high - c);
    Standings {
        target: t.clone(),
        mean: mean[n] * portion,
        range: (low, high),
        shortfall,
        excess,
        known: coverage[n],
    }
}

/// The dishes eaten, each once.
fn recipes(p: Pieces, days: &[Day]) -> Vec<Recipe> {
    let items = || days.iter().flat_map(|d| &d.meals).flat_map(|m| &m.items);
    items()
        .unique_by(|i| &i.id)
        .filter_map(|i| {
            let item = p.catalogue.items.iter().find(|x| x.id == i.id)?;
            let dish = item.dish.as_ref()?;
            Some(Recipe {
                id: i.id.clone(),
                name: i.name.clone(),
                servings: dish.servings,
                serving: i.serving.clone(),
                eaten: items()
                    .filter(|x| x.id == i.id)
                    .map(|x| x.servings * p.brief.portions())
                    .sum(),
                minutes: item.minutes,
                total_minutes: dish.total_minutes,
                keeps_days: dish.keeps_days,
                ingredients: dish
                    .ingredients
                    .iter()
                    .map(|r| {
                        let known = p.catalogue.ingredients.get(&r.food);
                        (
                            known.map_or_else(|| r.food.to_string(), |k| k.short.clone()),
                            r.grams,
                        )
                    })
                    .collect(),
                water: dish.water,
                method: dish.method.clone(),
            })
        })
        .collect()
}

/// The shopping list: gross for net, raw for cooked, whole packs, what is at home first.
fn shop(p: Pieces, days: &[Day]) -> Vec<Purchase> {
    let portions = p.brief.portions();
    let mut need: BTreeMap<String, (f64, BTreeSet<FoodId>, u32)> = BTreeMap::new();
    for (day, f) in days.iter().flat_map(|d| {
        let items = d.meals.iter().flat_map(|m| &m.items);
        items.flat_map(|i| &i.foods).map(|f| (d.day, f))
    }) {
        if let Some(i) = p.catalogue.ingredients.get(&f.food) {
            let refuse = p.catalogue.products.get(&i.product).map_or(0.0, |x| x.refuse);
            let e = need
                .entry(i.product.clone())
                .or_insert((0.0, BTreeSet::new(), day));
            e.0 += f.grams * portions / i.yield_factor / (1.0 - refuse);
            e.1.insert(f.food.clone());
        }
    }
    let home = at_home(p.brief, p.catalogue);
    let mut list = Vec::new();
    for (id, (grams, foods, first_day)) in need {
        let Some(product) = p.catalogue.products.get(&id) else {
            continue;
        };
        let home = home.get(&id).copied().unwrap_or(0.0);
        let home_grams = home.min(grams);
        let missing = grams - home_grams;
        let price = p.prices.and_then(|l| l.prices.get(&id));
        let (packs, buy) = match price {
            Some(x) if x.pack && missing > 1e-6 => {
                let n = (missing / x.grams - 1e-9).ceil().max(1.0);
                (Some(n as u32), n * x.grams)
            }
            Some(x) if x.pack => (Some(0), 0.0 * x.grams),
            _ => match product.piece_g {
                Some(g) => (None, (missing / g - 1e-9).ceil().max(0.0) * g),
                None => (None, missing),
            },
        };
        let cost = price.map(|x| match packs {
            Some(n) => x.price * Decimal::from(n),
            None => x.cost(buy),
        });
        list.push(Purchase {
            product: id,
            name: product.name.clone(),
            section: product.section.clone(),
            needed_grams: grams,
            home_grams,
            packs,
            pack_grams: price.filter(|x| x.pack).map(|x| x.grams),
            buy_grams: buy,
            piece_grams: product.piece_g,
            cost: cost.map(|c| c.round_dp(2)),
            left_over_grams: (buy - missing).max(0.0),
            invented: price.is_some_and(crate::prices::Price::invented),
            foods: foods.into_iter().collect(),
            keeps_days: product.keeps_days,
            first_day,
        });
    }
    let place = |s: &str| SECTIONS.iter().position(|x| *x == s).unwrap_or(SECTIONS.len());
    let span = days.len() as u32;
    list.sort_by(|a, b| {
        (place(&a.section), urgency(a, span), &a.name).cmp(&(place(&b.section), urgency(b, span), &b.name))
    });
    list
}

/// Order within a shop section: what does not keep as long as the plan comes first, by the first day it is
/// eaten and then by how long it keeps; the rest stands after it.
fn urgency(p: &Purchase, days: u32) -> (bool, u32, u32) {
    if p.keeps_days < days {
        (false, p.first_day, p.keeps_days)
    } else {
        (true, 0, 0)
    }
}

fn cautions(
    built: &Built,
    energy: &EnergyBudget,
    standings: &[Standings],
    shopping: &[Purchase],
    faults: &[Broken],
) -> Vec<Caution> {
    let mut out = gate_cautions(energy);
    let mut say = |code: &str, text: String| {
        out.push(Caution {
            code: code.into(),
            text,
        })
    };
    for (n, s) in standings
        .iter()
        .enumerate()
        .filter(|(_, s)| s.shortfall > 0.0 && s.target.strength == Strength::Should)
    {
        let floor = s.target.floor.unwrap_or(0.0);
        // What food does not reach was lowered to what it does; a row that is missed all the same was not found.
        let rows = built.target_rows.get(n).into_iter().flatten();
        let missed = rows
            .map(|&r| &built.model.rows[r].name)
            .any(|row| faults.iter().any(|f| f.name == *row));
        let why = if missed {
            "no plan was found that reaches it; another seed or more moves may"
        } else {
            "the foods allowed by this brief do not reach it"
        };
        say(
            "shortfall",
            format!(
                "{} comes to {:.0} % of its floor: {why}. Ask about a fortified food or a supplement.",
                s.target.nutrient.name(),
                100.0 * (floor - s.shortfall) / floor,
            ),
        );
    }
    for s in standings
        .iter()
        .filter(|s| s.target.ceiling.is_some() && s.known < 0.8)
    {
        say(
            "unknown-content",
            format!(
                "{}: the table knows it for {:.0} % of what is eaten, so its ceiling is checked on that part only.",
                s.target.nutrient.name(),
                s.known * 100.0
            ),
        );
    }
    if !built.without_price.is_empty() {
        say(
            "no-price",
            format!(
                "Left out for want of a price: {}.",
                built.without_price.join(", ")
            ),
        );
    }
    let invented = shopping.iter().filter(|l| l.invented).count();
    if invented > 0 {
        say(
            "invented-prices",
            format!(
                "{invented} of {} prices on the list are invented, since no published one was found; replace them with your own list.",
                shopping.len()
            ),
        );
    }
    for w in &built.warnings {
        say(w.code, w.message.clone());
    }
    say("general", "General education for healthy adults, not medical advice; see a licensed practitioner for an illness, medicines, pregnancy or an eating disorder.".into());
    say("allergy", "Check every label for allergens; tags here come from ordinary ingredients. Follow your local food-safety rules for storing, heating and cooling.".into());
    say("estimate", "Energy needs differ between people of the same size: the range of the expenditure stands beside it. Let the scale decide after three to four weeks.".into());
    out
}
