//! A model of some of its columns: the same meals and rows with less to choose from.
//!
//! Takes a [`Model`] and which columns stay, gives the smaller model and the way back. Every plan of the
//! smaller one is a plan of the whole.

use super::{Distinct, Form, Goal, Model, Over, Pantry, Part};

/// Some columns of a model.
#[derive(Clone, Debug)]
pub struct Few {
    /// The smaller model.
    pub model: Model,
    /// For each of its columns the column of the whole model.
    pub columns: Vec<usize>,
    /// For each of its meals the forms of the whole model.
    pub forms: Vec<Vec<usize>>,
}

/// Whether every part of a form has as many columns that stay as it needs.
fn filled(form: &Form, stay: &[bool]) -> bool {
    let enough = |p: &Part| p.columns.iter().filter(|&&c| stay[c]).count() >= p.least as usize;
    form.parts.iter().all(enough)
}

impl Few {
    /// The model of the columns that `stay`; forms that they do not fill go. `None` when a meal has no form left, or
    /// the objective holds to another plan ([`super::Objective::keep`]).
    pub fn of(model: &Model, stay: &[bool]) -> Option<Few> {
        if model.objective.keep.is_some() {
            return None;
        }
        let mut forms = Vec::with_capacity(model.choices.len());
        let mut form_to: Vec<Vec<Option<usize>>> = Vec::with_capacity(model.choices.len());
        for choice in &model.choices {
            let left: Vec<usize> = (0..choice.forms.len())
                .filter(|&f| filled(&choice.forms[f], stay))
                .collect();
            if left.is_empty() {
                return None;
            }
            let to = |f: usize| left.iter().position(|&l| l == f);
            form_to.push((0..choice.forms.len()).map(to).collect());
            forms.push(left);
        }
        let stays = |&c: &usize| stay[c] && form_to[model.columns[c].choice][model.columns[c].form].is_some();
        let columns: Vec<usize> = (0..model.columns.len()).filter(stays).collect();
        let mut to = vec![None; model.columns.len()];
        for (n, &c) in columns.iter().enumerate() {
            to[c] = Some(n);
        }
        let some = |all: &[usize]| -> Vec<usize> { all.iter().filter_map(|&c| to[c]).collect() };
        let terms = |all: &[(usize, f64)]| -> Vec<(usize, f64)> {
            all.iter().filter_map(|&(c, k)| Some((to[c]?, k))).collect()
        };
        let mut small = Model {
            title: model.title.clone(),
            currency: model.currency.clone(),
            columns: columns.iter().map(|&c| model.columns[c].clone()).collect(),
            choices: model.choices.clone(),
            rows: model.rows.clone(),
            distinct: Vec::new(),
            pantry: Vec::new(),
            budget: model.budget,
            objective: model.objective.clone(),
        };
        for c in &mut small.columns {
            c.form = form_to[c.choice][c.form].unwrap_or(0);
        }
        for (choice, left) in small.choices.iter_mut().zip(&forms) {
            choice.forms = left.iter().map(|&f| choice.forms[f].clone()).collect();
            for part in choice.forms.iter_mut().flat_map(|f| &mut f.parts) {
                part.columns = some(&part.columns);
            }
        }
        for row in &mut small.rows {
            row.terms = match row.over {
                Over::Amount | Over::Use => terms(&row.terms),
                Over::Form => row
                    .terms
                    .iter()
                    .filter_map(|&(i, k)| Some((i / 256 * 256 + form_to[i / 256][i % 256]?, k)))
                    .collect(),
            };
        }
        small.distinct = model
            .distinct
            .iter()
            .map(|d| Distinct {
                sets: d.sets.iter().map(|s| some(s)).filter(|s| !s.is_empty()).collect(),
                ..d.clone()
            })
            .collect();
        small.pantry = model
            .pantry
            .iter()
            .map(|p| Pantry {
                terms: terms(&p.terms),
                ..p.clone()
            })
            .collect();
        let goal = |g: &Goal| Goal {
            terms: terms(&g.terms),
            ..g.clone()
        };
        small.objective.goals = model.objective.goals.iter().map(goal).collect();
        let linear = |&c: &usize| model.objective.linear.get(c).copied().unwrap_or(0.0);
        small.objective.linear = columns.iter().map(linear).collect();
        Some(Few {
            model: small,
            columns,
            forms,
        })
    }

    /// How many columns [`Few::of`] would keep.
    pub fn size(model: &Model, stay: &[bool]) -> usize {
        let forms = model.choices.iter().flat_map(|c| &c.forms);
        let columns = forms
            .filter(|f| filled(f, stay))
            .flat_map(|f| &f.parts)
            .flat_map(|p| &p.columns);
        columns.filter(|&&c| stay[c]).count()
    }

    /// Forms and steps of the whole model for those of this one.
    pub fn back(&self, whole: &Model, forms: &[usize], steps: &[u16]) -> (Vec<usize>, Vec<u16>) {
        let forms = forms.iter().zip(&self.forms).map(|(&f, all)| all[f]).collect();
        let mut all = vec![0; whole.columns.len()];
        for (&c, &s) in self.columns.iter().zip(steps) {
            all[c] = s;
        }
        (forms, all)
    }
}
