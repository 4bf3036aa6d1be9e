//! The brief: the user's TOML file, typed. Takes text, gives a [`Brief`] or every mistake in it.
//!
//! Knows no file and no terminal. Ids of items and foods are kept as written; whether they exist
//! is checked where the kitchen is known.

pub mod claim;
mod currencies;
pub mod edit;
mod read;
mod screen;
mod starter;
mod table;

pub use read::{energy_per_gram, parse, parse_pantry};
pub use screen::SCREEN_QUESTIONS;
pub use starter::{StarterOptions, starter};

use crate::money::Money;
use crate::nutrient::Nutrient;
use crate::person::{Person, Training};
use crate::units::{Kcal, Kilograms};
use std::ops::Range;

/// A value with the byte range it was read from, for later diagnostics.
#[derive(Clone, Debug, PartialEq)]
pub struct Read<T> {
    /// The value.
    pub value: T,
    /// Where it stands in the brief's text.
    pub span: Range<usize>,
}

/// How energy expenditure is known.
#[derive(Clone, Debug, PartialEq)]
pub enum Activity {
    /// A level in words: PAL classes and EER categories of the published equations.
    Level(ActivityLevel),
    /// A physical activity level, total over resting expenditure.
    Pal(f64),
    /// A measured total expenditure per day.
    Measured(Kcal),
    /// Hours of a day by activity id of the MET table; they sum to 24.
    Hours(Vec<(String, f64)>),
}

/// Activity categories.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ActivityLevel {
    /// Sedentary (IOM 2005) or inactive (NASEM 2023).
    Inactive,
    /// Low active.
    LowActive,
    /// Active.
    Active,
    /// Very active.
    VeryActive,
}

/// Direction of a phase.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PhaseKind {
    /// Energy surplus.
    Gain,
    /// Balance.
    Hold,
    /// Energy deficit.
    Lose,
}

/// How the size of a surplus or deficit is stated.
#[derive(Clone, Debug, PartialEq)]
pub enum PhaseSize {
    /// kcal a day over or under expenditure, positive number; the kind gives the sign.
    Energy(Kcal),
    /// Share of body mass a week, positive number (0.005 is 0.5 % a week).
    Rate(f64),
    /// Body mass to reach at the end of the phase's weeks.
    Goal(Kilograms),
    /// The default of the practice standards for this person.
    Default,
}

/// A stretch of weeks at one energy level.
#[derive(Clone, Debug, PartialEq)]
pub struct Phase {
    /// Gain, hold or lose.
    pub kind: PhaseKind,
    /// How much.
    pub size: PhaseSize,
    /// How long; `None` when the brief does not say.
    pub weeks: Option<u32>,
    /// Resistance training in this phase; `None` is the person's.
    pub training: Option<Training>,
    /// Activity in this phase, a level or a PAL; `None` is that of the brief.
    pub activity: Option<Activity>,
    /// Where the phase stands in the text.
    pub span: Range<usize>,
}

/// What a plan minimises first; cost breaks ties of the others.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Objective {
    /// Money.
    #[default]
    Cost,
    /// Distance from the centre of the targets.
    Closeness,
    /// Distance from the usual week of the brief.
    Usual,
}

/// An amount a person states for a target: absolute, per body mass, or share of energy.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TargetAmount {
    /// In the nutrient's own unit, a day.
    Absolute(f64),
    /// Nutrient units per kg of body mass, a day.
    PerKilogram(f64),
    /// Share of energy intake 0..1 (macronutrients only).
    EnergyShare(f64),
}

/// Over what a target holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Scope {
    /// Each main meal.
    Meal,
    /// Each day.
    Day,
    /// The mean of the days.
    Mean,
}

/// A target the brief states itself; replaces the tool's own for that nutrient and scope.
#[derive(Clone, Debug, PartialEq)]
pub struct TargetOverride {
    /// Which nutrient.
    pub nutrient: Nutrient,
    /// Lowest intake, if stated.
    pub floor: Option<TargetAmount>,
    /// Highest intake, if stated.
    pub ceiling: Option<TargetAmount>,
    /// Over what; `None` keeps the tool's own scope.
    pub scope: Option<Scope>,
    /// `true` drops the tool's target for the nutrient altogether.
    pub off: bool,
    /// Where it stands.
    pub span: Range<usize>,
}

/// An amount of an item or food as people write it.
#[derive(Clone, Debug, PartialEq)]
pub enum Amount {
    /// Servings of the item.
    Servings(f64),
    /// Grams.
    Grams(f64),
}

/// An item or product at home.
#[derive(Clone, Debug, PartialEq)]
pub struct PantryEntry {
    /// Product, item or food id, or its name as written.
    pub what: Read<String>,
    /// How much, grams as purchased.
    pub grams: f64,
    /// Days it still keeps from the first day of the plan; `None` when the brief does not say.
    pub keeps_days: Option<u32>,
}

impl Brief {
    /// Adds what an earlier plan left over, so many days after its end: what keeps is at home from now on,
    /// and what
    /// no longer keeps is given back by name.
    pub fn carry(&mut self, left: Vec<PantryEntry>, days_later: u32) -> Vec<String> {
        let mut gone = Vec::new();
        for mut e in left {
            match e.keeps_days {
                Some(days) if days <= days_later => gone.push(e.what.value),
                days => {
                    e.keeps_days = days.map(|d| d - days_later);
                    self.pantry.push(e);
                }
            }
        }
        gone
    }
}

/// Hands-on minutes for a meal on a day without cooking, where the brief does not say. A design choice:
/// bread, salad and something warmed up fit in, a curry from the start does not.
pub const QUICK_MINUTES: f64 = 20.0;

/// On which days there is time to cook; dishes that keep are then cooked in whole batches.
#[derive(Clone, Debug, PartialEq)]
pub struct Cooking {
    /// Days with time to cook, 1-based, in order.
    pub days: Vec<u32>,
    /// Hands-on minutes that a meal may take on the other days.
    pub quick_minutes: f64,
}

/// An eating occasion as the brief overrides it.
#[derive(Clone, Debug, PartialEq)]
pub struct SlotShare {
    /// Slot id of the region's meal pattern.
    pub slot: Read<String>,
    /// Share of the day's energy 0..1; `Some(0)` drops the slot.
    pub share: f64,
}

/// A meal, or part of one, that the user has fixed.
#[derive(Clone, Debug, PartialEq)]
pub struct Lock {
    /// Days it holds, 1-based.
    pub days: Vec<u32>,
    /// Slot id.
    pub slot: Read<String>,
    /// What is eaten: nothing else stands in that meal, unless `others`.
    pub items: Vec<(Read<String>, Amount)>,
    /// Whether other items may stand beside them, chosen as in any meal.
    pub others: bool,
    /// Where it stands.
    pub span: Range<usize>,
}

/// An item of the usual week.
#[derive(Clone, Debug, PartialEq)]
pub struct UsualEntry {
    /// Item id or name.
    pub item: Read<String>,
    /// Times in a week.
    pub times: f64,
    /// Amount each time.
    pub amount: Amount,
}

/// Answers to the referral questions that were answered yes, by id (science 3.5).
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Screen {
    /// Ids of the questions answered yes, with their place.
    pub yes: Vec<Read<String>>,
}

/// Someone who eats the same meals as the person of the brief.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    /// How the output calls them.
    pub title: String,
    /// Who.
    pub person: Person,
    /// How active.
    pub activity: Activity,
    /// Their own phase; to hold when the brief does not say.
    pub phase: Phase,
    /// Their answers to the referral questions.
    pub screen: Screen,
    /// How much of each amount on the plates they eat: 0.8 is four fifths. `None` is not known yet: it follows
    /// from the intakes (`household::settle`). 0 for a member who is not planned for.
    pub portion: Option<f64>,
    /// Where the member stands in the text.
    pub span: Range<usize>,
}

/// How masses of bodies and of the shop are told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Units {
    /// Kilogram and gram.
    Metric,
    /// Pound and ounce.
    Us,
}

/// How figures are told to people. CSV, JSON and spreadsheets do not follow it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Output {
    /// Energy in kJ instead of kcal.
    pub kilojoules: bool,
    /// A decimal comma instead of a point.
    pub comma: bool,
    /// Units of masses; `None` takes the kitchen's.
    pub units: Option<Units>,
}

impl Brief {
    /// How many portions are cooked and bought for: 1 for the person, and those of the household.
    pub fn portions(&self) -> f64 {
        1.0 + self.household.iter().filter_map(|m| m.portion).sum::<f64>()
    }
}

/// The whole brief.
#[derive(Clone, Debug, PartialEq)]
pub struct Brief {
    /// A title for the output; never a person's name in our examples.
    pub title: String,
    /// Who.
    pub person: Person,
    /// Answers to the referral questions.
    pub screen: Screen,
    /// How active.
    pub activity: Activity,
    /// Equation id for resting energy or EER; `None` takes the default.
    pub equation: Option<Read<String>>,
    /// The phases in order; at least one.
    pub phases: Vec<Phase>,
    /// Kitchen id, such as `us`.
    pub region: Read<String>,
    /// Diet ids, such as `vegetarian`; empty means everything.
    pub diets: Vec<Read<String>>,
    /// Allergen ids.
    pub allergies: Vec<Read<String>>,
    /// Item ids or names wanted more often.
    pub likes: Vec<Read<String>>,
    /// Item or product ids or names never wanted.
    pub dislikes: Vec<Read<String>>,
    /// What is at home.
    pub pantry: Vec<PantryEntry>,
    /// Days with time to cook; `None` when every day has.
    pub cooking: Option<Cooking>,
    /// Changed slot shares; empty keeps the region's pattern.
    pub slots: Vec<SlotShare>,
    /// Most money for the days planned (already scaled from a week to `days`); `None` is no limit.
    pub budget: Option<Money>,
    /// What to minimise.
    pub objective: Objective,
    /// The usual week, for [`Objective::Usual`].
    pub usual: Vec<UsualEntry>,
    /// Targets set by the brief.
    pub targets: Vec<TargetOverride>,
    /// Fixed meals.
    pub locks: Vec<Lock>,
    /// How many days, 1 to 28.
    pub days: u32,
    /// Seed of the search.
    pub seed: u64,
    /// Who else eats these meals.
    pub household: Vec<Member>,
    /// How figures are told.
    pub output: Output,
}
