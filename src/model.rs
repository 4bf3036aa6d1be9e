//! The model: what may be eaten when, and what must hold, as named columns, rows and choices.
//!
//! [`build`] takes items, slots, targets and prices and gives a [`Model`]; [`linear`] writes it out
//! as a mixed-integer linear program. A solver reads only what stands here.

pub mod build;
pub mod diet;
pub mod few;
pub mod linear;

/// Whether a row must hold, or gives way when the brief or the foods leave no other choice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// Must hold in every plan.
    Must,
    /// Holds whenever it can; otherwise the shortfall is named.
    Should,
}

/// An amount of one item in one form of one meal, in whole steps: 0, or `least` to `most`.
#[derive(Clone, Debug)]
pub struct Column {
    /// Readable name, unique.
    pub name: String,
    /// Which meal (position in [`Model::choices`]).
    pub choice: usize,
    /// Which form of that meal.
    pub form: usize,
    /// Which part of that form.
    pub part: usize,
    /// Which item (a number the builder gave it).
    pub item: usize,
    /// Least steps when eaten at all.
    pub least: u16,
    /// Most steps.
    pub most: u16,
    /// Servings in one step.
    pub servings: f64,
    /// Columns of alike days carry the same number.
    pub twin: usize,
    /// Price of one step, in the currency of the model.
    pub cost: f64,
}

/// A part of a form: how many of its columns are eaten.
#[derive(Clone, Debug)]
pub struct Part {
    /// Least columns in use.
    pub least: u32,
    /// Most columns in use.
    pub most: u32,
    /// Its columns.
    pub columns: Vec<usize>,
}

/// One shape a meal can take.
#[derive(Clone, Debug)]
pub struct Form {
    /// Readable name, unique in its meal.
    pub name: String,
    /// Form of the kitchen that it is a shape of, `locked` for a meal that the brief fixes.
    pub of: String,
    /// Forms of alike days carry the same number.
    pub twin: usize,
    /// Its parts.
    pub parts: Vec<Part>,
}

/// A meal: exactly one of its forms is eaten.
#[derive(Clone, Debug)]
pub struct Choice {
    /// Readable name, `d1_breakfast`.
    pub name: String,
    /// Day, from 0.
    pub day: usize,
    /// Position of the slot in the day.
    pub slot: usize,
    /// Meals that it stands for: 1, or as many as there are days alike in a model of [`build::alike`].
    pub stands_for: f64,
    /// Its forms.
    pub forms: Vec<Form>,
}

/// What the terms of a row multiply.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Over {
    /// Steps of columns.
    Amount,
    /// Columns in use, 0 or 1.
    Use,
    /// Forms chosen, 0 or 1; a term's index is `choice * 256 + form`.
    Form,
}

/// A linear row: `floor <= sum of terms <= ceiling`.
#[derive(Clone, Debug)]
pub struct Row {
    /// Readable name, unique.
    pub name: String,
    /// The target or rule it belongs to; conflicts are told in groups.
    pub group: String,
    /// What the terms multiply.
    pub over: Over,
    /// Index and coefficient.
    pub terms: Vec<(usize, f64)>,
    /// Lowest activity.
    pub floor: Option<f64>,
    /// Highest activity.
    pub ceiling: Option<f64>,
    /// Unit of the activity.
    pub unit: String,
    /// Why.
    pub reason: String,
    /// How strictly.
    pub class: Class,
    /// Whether the user set it.
    pub from_brief: bool,
    /// Rows of alike days carry the same number; `None` leaves the row out of the merged bound.
    pub twin: Option<usize>,
    /// Rows that it stands for: 1, or as many as there are days alike in a model of [`build::alike`].
    pub stands_for: f64,
    /// The activity must be a whole multiple of this: batches of a dish. `None` for any amount. Such a row
    /// has
    /// neither floor nor ceiling.
    pub whole: Option<f64>,
}

impl Row {
    /// How far an activity is outside, relative to the bound it breaks or to its whole part; 0 when inside.
    pub fn miss(&self, activity: f64) -> f64 {
        let short = self.floor.map_or(0.0, |f| (f - activity) / f.abs().max(1e-9));
        let over = self.ceiling.map_or(0.0, |c| (activity - c) / c.abs().max(1e-9));
        let apart = self
            .whole
            .map_or(0.0, |w| (activity / w - (activity / w).round()).abs());
        short.max(over).max(apart).max(0.0)
    }
}

/// At least so many of these sets have a column in use.
#[derive(Clone, Debug)]
pub struct Distinct {
    /// Readable name.
    pub name: String,
    /// Group for conflicts.
    pub group: String,
    /// Sets of columns.
    pub sets: Vec<Vec<usize>>,
    /// Least sets in use.
    pub least: u32,
    /// Why.
    pub reason: String,
}

/// A sum that should come as near as possible to its centre.
#[derive(Clone, Debug)]
pub struct Goal {
    /// Readable name.
    pub name: String,
    /// Column and coefficient per step.
    pub terms: Vec<(usize, f64)>,
    /// Where it should be.
    pub centre: f64,
    /// Weight of its absolute deviation in the objective.
    pub weight: f64,
}

/// Money saved by what is at home: the first `free` grams of a product cost nothing.
#[derive(Clone, Debug)]
pub struct Pantry {
    /// Product id.
    pub name: String,
    /// Column and grams as bought per step.
    pub terms: Vec<(usize, f64)>,
    /// Grams at home.
    pub free: f64,
    /// Price of a gram.
    pub price: f64,
}

/// What is minimised.
#[derive(Clone, Debug)]
pub struct Objective {
    /// `cost`, `closeness` or `usual`.
    pub id: &'static str,
    /// Unit of its value.
    pub unit: String,
    /// Whether the cost is the objective (else it only breaks ties).
    pub cost: bool,
    /// Per step of a column, besides cost.
    pub linear: Vec<f64>,
    /// Deviations.
    pub goals: Vec<Goal>,
    /// Weight of the largest relative deviation.
    pub largest: f64,
    /// Meals that should stay as they were: each that does not counts its weight. Not written to files.
    pub keep: Option<Keep>,
}

/// A plan to stay close to.
#[derive(Clone, Debug)]
pub struct Keep {
    /// Form of each meal.
    pub forms: Vec<usize>,
    /// Steps of each column.
    pub steps: Vec<u16>,
    /// Meals that cannot stay and are not counted.
    pub free: Vec<bool>,
    /// What a meal that changed counts in the objective.
    pub weight: f64,
}

/// The whole model.
#[derive(Clone, Debug)]
pub struct Model {
    /// A line for the head of exported files.
    pub title: String,
    /// Currency of the costs, or `none`.
    pub currency: String,
    /// Amounts.
    pub columns: Vec<Column>,
    /// Meals.
    pub choices: Vec<Choice>,
    /// Rows.
    pub rows: Vec<Row>,
    /// Variety.
    pub distinct: Vec<Distinct>,
    /// What is at home.
    pub pantry: Vec<Pantry>,
    /// Most money.
    pub budget: Option<f64>,
    /// What is minimised.
    pub objective: Objective,
}

impl Model {
    /// Cost of amounts in steps, after what is at home. [currency of the model]
    pub fn cost(&self, steps: &[u16]) -> f64 {
        let all: f64 = self
            .columns
            .iter()
            .zip(steps)
            .map(|(c, &x)| c.cost * f64::from(x))
            .sum();
        let saved: f64 = self
            .pantry
            .iter()
            .map(|p| {
                p.price
                    * p.free
                        .min(p.terms.iter().map(|&(c, g)| g * f64::from(steps[c])).sum())
            })
            .sum();
        all - saved
    }

    /// How many meals differ from the plan to stay close to; 0 without one.
    pub fn changed(&self, steps: &[u16]) -> usize {
        let Some(keep) = &self.objective.keep else {
            return 0;
        };
        let mut differs = vec![false; self.choices.len()];
        for (n, c) in self.columns.iter().enumerate() {
            differs[c.choice] |= steps[n] != keep.steps[n];
        }
        differs
            .iter()
            .zip(&keep.free)
            .filter(|(d, free)| **d && !**free)
            .count()
    }

    /// The objective's value for amounts in steps.
    pub fn value(&self, steps: &[u16]) -> f64 {
        let mut v = if self.objective.cost {
            self.cost(steps)
        } else {
            0.0
        };
        v += self
            .objective
            .linear
            .iter()
            .zip(steps)
            .map(|(c, &x)| c * f64::from(x))
            .sum::<f64>();
        let mut largest = 0.0f64;
        for g in &self.objective.goals {
            let a: f64 = g.terms.iter().map(|&(c, k)| k * f64::from(steps[c])).sum();
            let d = (a - g.centre).abs();
            v += g.weight * d;
            largest = largest.max(d / g.centre.abs().max(1e-9));
        }
        let keep = self.objective.keep.as_ref().map_or(0.0, |k| k.weight);
        v + self.objective.largest * largest + keep * self.changed(steps) as f64
    }
}

/// Weight of the largest deviation against the mean of the deviations in `closeness`: the largest
/// counts first. Extended goal programming, Gerdessen and de Vries, Eur J Clin Nutr 69:1272, 2015;
/// the figure is a design choice.
pub const LARGEST_FIRST: f64 = 0.9;
