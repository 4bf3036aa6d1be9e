//! Recomputes every row of a model for given steps, outside any solver.
//!
//! Takes a [`Model`] and steps, gives what is broken. Nothing is shown that has not passed here.

use crate::model::{Class, Model, Over};

/// A row or rule that does not hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Broken {
    /// Name of the row.
    pub name: String,
    /// Its group.
    pub group: String,
    /// How strictly it was meant.
    pub class: Class,
    /// How far it is missed, relative to its bound.
    pub miss: f64,
    /// What it came to.
    pub activity: f64,
}

/// Relative violation that is still counted as met: rounding of sums of doubles.
pub const TOLERANCE: f64 = 1e-7;

/// Everything that the steps break, in the order of the model; empty when all holds.
pub fn broken(model: &Model, forms: &[usize], steps: &[u16]) -> Vec<Broken> {
    let mut out = Vec::new();
    let mut say = |name: &str, group: &str, class, miss: f64, activity| {
        if miss > TOLERANCE {
            out.push(Broken {
                name: name.to_string(),
                group: group.to_string(),
                class,
                miss,
                activity,
            });
        }
    };
    for (n, c) in model.columns.iter().enumerate() {
        let x = steps[n];
        if x > 0 && (x < c.least || x > c.most || forms[c.choice] != c.form) {
            say(&c.name, "portions", Class::Must, 1.0, f64::from(x));
        }
    }
    for (c, choice) in model.choices.iter().enumerate() {
        for part in &choice.forms[forms[c]].parts {
            let used = part.columns.iter().filter(|&&n| steps[n] > 0).count() as u32;
            if used < part.least || used > part.most {
                say(&choice.name, "meal shape", Class::Must, 1.0, f64::from(used));
            }
        }
    }
    for r in &model.rows {
        let a: f64 = r
            .terms
            .iter()
            .map(|&(i, k)| match r.over {
                Over::Amount => k * f64::from(steps[i]),
                Over::Use => k * f64::from(u8::from(steps[i] > 0)),
                Over::Form => k * f64::from(u8::from(forms[i / 256] == i % 256)),
            })
            .sum();
        say(&r.name, &r.group, r.class, r.miss(a), a);
    }
    for d in &model.distinct {
        let seen = d.sets.iter().filter(|s| s.iter().any(|&n| steps[n] > 0)).count() as u32;
        let miss = f64::from(d.least.saturating_sub(seen)) / f64::from(d.least.max(1));
        say(&d.name, &d.group, Class::Must, miss, f64::from(seen));
    }
    if let Some(b) = model.budget {
        let cost = model.cost(steps);
        say("budget", "budget", Class::Must, (cost - b) / b.max(1e-9), cost);
    }
    out
}
