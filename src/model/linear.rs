//! The model as a mixed-integer linear program: plain variables and rows, written to MPS or LP text.
//!
//! Takes a [`Model`], gives a [`Linear`]. With `merge` the columns of alike days become one, written as uses
//! at their least and uses at their most: summing
//! the rows of alike days only relaxes, so the optimum of its continuous form bounds every plan,
//! and it is as small as one day.

use super::{Class, Model, Over};
use std::collections::{BTreeMap, HashMap};
use std::fmt::Write as _;
use std::sync::Arc;

/// A variable.
#[derive(Clone, Debug)]
pub struct Variable {
    /// Name without blanks.
    pub name: String,
    /// Least value.
    pub lo: f64,
    /// Most value.
    pub hi: f64,
    /// Objective coefficient.
    pub cost: f64,
    /// Whole numbers only.
    pub integer: bool,
}

/// A row of the program.
#[derive(Clone, Debug)]
pub struct Constraint {
    /// Name without blanks.
    pub name: String,
    /// Group it belongs to, or empty for the structure of meals.
    pub group: String,
    /// Unit and reason.
    pub note: String,
    /// Variable and coefficient.
    pub terms: Vec<(usize, f64)>,
    /// Lowest activity.
    pub lo: Option<f64>,
    /// Highest activity.
    pub hi: Option<f64>,
    /// How strictly; structure is always [`Class::Must`].
    pub class: Class,
    /// Position of the model's row it stands for (the first of its twins).
    pub row: Option<usize>,
}

/// Which rows say "so many different": a solver may treat them together.
#[derive(Clone, Debug)]
pub struct Cover {
    /// The row that counts.
    pub row: usize,
    /// For each set its variable (0 to 1) and the row that holds it under the uses of the set.
    pub sets: Vec<(usize, usize)>,
}

/// A linear program: minimise.
#[derive(Clone, Debug, Default)]
pub struct Linear {
    /// A line for the head of files.
    pub title: String,
    /// Variables.
    pub variables: Vec<Variable>,
    /// Rows.
    pub rows: Vec<Constraint>,
    /// For each model column: its amount in steps, as variables and coefficients.
    pub amount: Vec<Parts>,
    /// For each model column: whether it is in use (how often, when merged), as variables and coefficients.
    pub used: Vec<Parts>,
    /// The rows of variety.
    pub covers: Vec<Cover>,
}

impl Linear {
    /// Adds a variable and returns its position.
    pub fn variable(&mut self, name: impl Into<String>, lo: f64, hi: f64, cost: f64, integer: bool) -> usize {
        self.variables.push(Variable {
            name: name.into(),
            lo,
            hi,
            cost,
            integer,
        });
        self.variables.len() - 1
    }

    /// Adds a row of the meal structure.
    pub fn row(
        &mut self,
        name: impl Into<String>,
        terms: Vec<(usize, f64)>,
        lo: Option<f64>,
        hi: Option<f64>,
    ) {
        self.rows.push(Constraint {
            name: name.into(),
            group: String::new(),
            note: String::new(),
            terms,
            lo,
            hi,
            class: Class::Must,
            row: None,
        });
    }

    /// Value of the objective at a point.
    pub fn value(&self, x: &[f64]) -> f64 {
        self.variables.iter().zip(x).map(|(v, x)| v.cost * x).sum()
    }
}

/// Variables with their coefficients, shared by the columns that are one.
pub type Parts = Arc<[(usize, f64)]>;

/// How amounts are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Detail {
    /// Columns of alike days are one, as uses at their least and at their most.
    Merged,
    /// An amount in whole steps and whether it is in use.
    Amounts,
    /// Whether so many steps are eaten, for each number of steps.
    Steps,
}

/// Writes the model out; `merge` joins alike days.
pub fn expand(model: &Model, merge: bool) -> Linear {
    write_out(model, if merge { Detail::Merged } else { Detail::Amounts })
}

/// Writes the model out with a variable for each number of steps of each column, 1 when so many are eaten. It has the
/// whole-number points of `expand(model, false)` and the same optimum in fractions, with fewer rows.
pub fn by_steps(model: &Model) -> Linear {
    write_out(model, Detail::Steps)
}

fn write_out(model: &Model, detail: Detail) -> Linear {
    let merge = detail == Detail::Merged;
    let mut lp = Linear {
        title: model.title.clone(),
        ..Linear::default()
    };
    let key = |own: usize, twin: usize| if merge { twin } else { own };
    // Forms.
    let mut form_var: HashMap<usize, usize> = HashMap::new();
    let mut form_of = HashMap::new();
    let mut own = 0;
    for (c, choice) in model.choices.iter().enumerate() {
        for (f, form) in choice.forms.iter().enumerate() {
            let k = key(own, form.twin);
            own += 1;
            let v = *form_var.entry(k).or_insert_with(|| {
                lp.variables.push(Variable {
                    name: format!("form_{}_{}", choice.name, form.name),
                    lo: 0.0,
                    hi: 0.0,
                    cost: 0.0,
                    integer: !merge,
                });
                lp.variables.len() - 1
            });
            lp.variables[v].hi += choice.stands_for;
            form_of.insert((c, f), v);
        }
    }
    // Columns. A use of a merged column lies between its least and its most, so it is so many uses at
    // the least and so many at the most: two variables and no rows.
    let most = model.columns.iter().map(|c| c.twin + 1).max().unwrap_or(0);
    let mut col_var: Vec<Option<(Parts, Parts)>> = vec![None; most.max(model.columns.len())];
    lp.amount.reserve(model.columns.len());
    lp.used.reserve(model.columns.len());
    for (n, c) in model.columns.iter().enumerate() {
        let linear = model.objective.linear.get(n).copied().unwrap_or(0.0);
        let cost = linear + if model.objective.cost { c.cost } else { 0.0 };
        let (amount, used) = &*col_var[key(n, c.twin)].get_or_insert_with(|| {
            let mut add = |name: String, cost: f64| lp.variable(name, 0.0, 0.0, cost, !merge);
            if merge {
                let ends = [("least", c.least), ("most", c.most)];
                let ends = &ends[usize::from(c.least == c.most)..];
                let vars: Vec<(usize, f64)> = ends
                    .iter()
                    .map(|(end, steps)| {
                        let steps = f64::from(*steps);
                        (add(format!("{end}_{}", c.name), cost * steps), steps)
                    })
                    .collect();
                let used = vars.iter().map(|v| (v.0, 1.0)).collect();
                (vars.into(), used)
            } else if detail == Detail::Steps {
                let vars: Vec<(usize, f64)> = (c.least..=c.most)
                    .map(|k| {
                        (
                            add(format!("x_{}_{k}", c.name), cost * f64::from(k)),
                            f64::from(k),
                        )
                    })
                    .collect();
                let used = vars.iter().map(|v| (v.0, 1.0)).collect();
                (vars.into(), used)
            } else {
                let x = add(format!("x_{}", c.name), cost);
                let u = add(format!("u_{}", c.name), 0.0);
                (Parts::from([(x, 1.0)]), Parts::from([(u, 1.0)]))
            }
        });
        if merge {
            for &(v, _) in used.iter() {
                lp.variables[v].hi += model.choices[c.choice].stands_for;
            }
        } else if detail == Detail::Steps {
            for &(v, _) in used.iter() {
                lp.variables[v].hi = 1.0;
            }
        } else {
            lp.variables[amount[0].0].hi = f64::from(c.most);
            lp.variables[used[0].0].hi = 1.0;
        }
        lp.amount.push(amount.clone());
        lp.used.push(used.clone());
    }
    // Structure: one form a meal; amounts between least and most; parts filled.
    // Of alike meals the one that offers most stands for all: what others offer is part of it.
    let mut done = std::collections::HashSet::new();
    let mut order: Vec<usize> = (0..model.choices.len()).collect();
    let mut meals_of: HashMap<usize, f64> = HashMap::new();
    if merge {
        let offers = |c: usize| -> usize {
            model.choices[c]
                .forms
                .iter()
                .map(|f| 1 + f.parts.iter().map(|p| p.columns.len()).sum::<usize>())
                .sum()
        };
        order.sort_by_key(|&c| std::cmp::Reverse(offers(c)));
        let mut home: HashMap<usize, usize> = HashMap::new();
        for &c in &order {
            let first = *home.get(&form_of[&(c, 0)]).unwrap_or(&c);
            for f in 0..model.choices[c].forms.len() {
                home.entry(form_of[&(c, f)]).or_insert(first);
            }
            *meals_of.entry(first).or_default() += model.choices[c].stands_for;
        }
    }
    for c in order {
        let choice = &model.choices[c];
        let vars: Vec<(usize, f64)> = (0..choice.forms.len()).map(|f| (form_of[&(c, f)], 1.0)).collect();
        if vars.iter().any(|(v, _)| !done.insert(*v)) {
            continue;
        }
        let meals = meals_of.get(&c).copied().unwrap_or(1.0);
        lp.row(
            format!("one_form_{}", choice.name),
            vars,
            Some(meals),
            Some(meals),
        );
        for (f, form) in choice.forms.iter().enumerate() {
            let z = form_of[&(c, f)];
            for (p, part) in form.parts.iter().enumerate() {
                let name = format!("{}_{}_{p}", choice.name, form.name);
                let mut terms: Vec<(usize, f64)> = part
                    .columns
                    .iter()
                    .flat_map(|&n| lp.used[n].iter().copied())
                    .collect();
                for &n in &part.columns {
                    let col = &model.columns[n];
                    if detail == Detail::Amounts {
                        let (x, u) = (lp.amount[n][0].0, lp.used[n][0].0);
                        lp.row(
                            format!("most_{}", col.name),
                            vec![(x, 1.0), (u, -f64::from(col.most))],
                            None,
                            Some(0.0),
                        );
                        lp.row(
                            format!("least_{}", col.name),
                            vec![(x, 1.0), (u, -f64::from(col.least))],
                            Some(0.0),
                            None,
                        );
                    }
                    if part.most > 1 {
                        let mut terms = lp.used[n].to_vec();
                        terms.push((z, -1.0));
                        lp.row(format!("in_form_{}", col.name), terms, None, Some(0.0));
                    }
                }
                if part.least == part.most {
                    terms.push((z, -f64::from(part.least)));
                    lp.row(format!("part_{name}"), terms, Some(0.0), Some(0.0));
                } else {
                    if part.least > 0 {
                        let mut t = terms.clone();
                        t.push((z, -f64::from(part.least)));
                        lp.row(format!("part_least_{name}"), t, Some(0.0), None);
                    }
                    terms.push((z, -f64::from(part.most)));
                    lp.row(format!("part_most_{name}"), terms, None, Some(0.0));
                }
            }
        }
    }
    // Rows, twins summed. One list of sums serves all rows, emptied by each.
    let mut sum: Vec<Option<f64>> = Vec::new();
    let mut seen: HashMap<usize, (usize, usize)> = HashMap::new();
    for (r, row) in model.rows.iter().enumerate() {
        if merge {
            // Batches of days that are joined need not be whole: leaving the row out permits more.
            let Some(twin) = row.twin.filter(|_| row.whole.is_none()) else {
                continue;
            };
            if let Some((at, terms)) = seen.get_mut(&twin) {
                let have: &mut Constraint = &mut lp.rows[*at];
                // A day that offers other things brings its terms along.
                if row.terms.len() != *terms && row.over == Over::Amount {
                    *terms = row.terms.len().max(*terms);
                    let known: std::collections::HashSet<usize> = have.terms.iter().map(|t| t.0).collect();
                    let parts = |&(i, k): &(usize, f64)| lp.amount[i].iter().map(move |&(v, by)| (v, k * by));
                    let more: BTreeMap<usize, f64> = row.terms.iter().flat_map(parts).collect();
                    have.terms
                        .extend(more.into_iter().filter(|t| !known.contains(&t.0)));
                }
                have.lo = have.lo.zip(row.floor).map(|(a, b)| a + row.stands_for * b);
                have.hi = have.hi.zip(row.ceiling).map(|(a, b)| a + row.stands_for * b);
                continue;
            }
            seen.insert(twin, (lp.rows.len(), row.terms.len()));
        }
        sum.resize(lp.variables.len(), None);
        let mut touched: Vec<usize> = Vec::with_capacity(2 * row.terms.len());
        for &(i, k) in &row.terms {
            let form;
            let parts = match row.over {
                Over::Amount => &lp.amount[i],
                Over::Use => &lp.used[i],
                Over::Form => {
                    form = Parts::from([(form_of[&(i / 256, i % 256)], 1.0)]);
                    &form
                }
            };
            for &(v, by) in parts.iter() {
                // Within one row a merged variable takes the coefficient once: its twins stand for other
                // days.
                let had = if merge { 0.0 } else { sum[v].unwrap_or(0.0) };
                if sum[v].is_none() {
                    touched.push(v);
                }
                sum[v] = Some(k * by + had);
            }
        }
        touched.sort_unstable();
        let mut terms: Vec<(usize, f64)> = touched
            .into_iter()
            .filter_map(|v| Some((v, sum[v].take()?)))
            .collect();
        let [mut lo, mut hi] = [row.floor, row.ceiling].map(|b| b.map(|b| b * row.stands_for));
        if let Some(whole) = row.whole {
            let most: f64 = terms
                .iter()
                .map(|&(v, k)| (k * lp.variables[v].hi).max(0.0))
                .sum();
            let batches = (most / whole + 1e-9).floor();
            let v = lp.variable(format!("batches_{}", row.name), 0.0, batches, 0.0, true);
            terms.push((v, -whole));
            (lo, hi) = (Some(0.0), Some(0.0));
        }
        lp.rows.push(Constraint {
            name: row.name.clone(),
            group: row.group.clone(),
            note: format!("{}; {}", row.unit, row.reason),
            terms,
            lo,
            hi,
            class: row.class,
            row: Some(r),
        });
    }
    // Variety.
    for d in &model.distinct {
        let mut total = Vec::new();
        let mut sets = Vec::new();
        for (s, set) in d.sets.iter().enumerate() {
            let w = lp.variable(format!("w_{}_{s}", d.name), 0.0, 1.0, 0.0, !merge);
            let mut members: Vec<usize> = set.iter().flat_map(|&n| lp.used[n].iter()).map(|u| u.0).collect();
            members.sort_unstable();
            members.dedup();
            let mut terms = vec![(w, 1.0)];
            terms.extend(members.into_iter().map(|u| (u, -1.0)));
            lp.row(format!("seen_{}_{s}", d.name), terms, None, Some(0.0));
            sets.push((w, lp.rows.len() - 1));
            total.push((w, 1.0));
        }
        lp.row(
            format!("variety_{}", d.name),
            total,
            Some(f64::from(d.least)),
            None,
        );
        lp.covers.push(Cover {
            row: lp.rows.len() - 1,
            sets,
        });
        if let Some(last) = lp.rows.last_mut() {
            last.group = d.group.clone();
            last.note = d.reason.clone();
        }
    }
    // Money.
    let mut bill: BTreeMap<usize, f64> = BTreeMap::new();
    if model.budget.is_some() || (model.objective.cost && !model.pantry.is_empty()) {
        for (n, c) in model.columns.iter().enumerate() {
            for &(v, steps) in lp.amount[n].iter() {
                bill.insert(v, c.cost * steps);
            }
        }
        for p in &model.pantry {
            let cost = if model.objective.cost { -p.price } else { 0.0 };
            let v = lp.variable(format!("home_{}", p.name), 0.0, p.free, cost, false);
            let mut use_: BTreeMap<usize, f64> = BTreeMap::new();
            for &(c, g) in &p.terms {
                for &(v, steps) in lp.amount[c].iter() {
                    use_.insert(v, -g * steps);
                }
            }
            let mut terms = vec![(v, 1.0)];
            terms.extend(use_);
            lp.row(format!("eaten_from_home_{}", p.name), terms, None, Some(0.0));
            bill.insert(v, -p.price);
        }
    }
    if let Some(budget) = model.budget {
        lp.row("budget", bill.into_iter().collect(), None, Some(budget));
        if let Some(last) = lp.rows.last_mut() {
            last.group = "budget".into();
            last.note = format!("{}; the brief's budget", model.currency);
        }
    }
    // Goals.
    let largest = (model.objective.largest > 0.0)
        .then(|| lp.variable("largest_deviation", 0.0, 1e3, model.objective.largest, false));
    for g in &model.objective.goals {
        let reach = 100.0 * g.centre.abs().max(1.0);
        let under = lp.variable(format!("under_{}", g.name), 0.0, reach, g.weight, false);
        let over = lp.variable(format!("over_{}", g.name), 0.0, reach, g.weight, false);
        let mut sum: BTreeMap<usize, f64> = BTreeMap::new();
        for &(c, k) in &g.terms {
            for &(v, steps) in lp.amount[c].iter() {
                sum.insert(v, k * steps);
            }
        }
        let mut terms: Vec<(usize, f64)> = sum.into_iter().collect();
        terms.push((under, 1.0));
        terms.push((over, -1.0));
        lp.row(format!("goal_{}", g.name), terms, Some(g.centre), Some(g.centre));
        if let Some(v) = largest {
            lp.row(
                format!("largest_{}", g.name),
                vec![(under, 1.0), (over, 1.0), (v, -g.centre.abs().max(1e-9))],
                None,
                Some(0.0),
            );
        }
    }
    lp
}

/// A number of ten significant digits: finer than any datum, and files of half the size.
fn short(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    format!("{value:.9e}").parse().unwrap_or(value)
}

/// Text fit for a comment: on one line.
fn one_line(text: &str) -> String {
    text.replace(['\n', '\r'], " ")
}

/// The program in free MPS, which every solver reads. Units and reasons stand in comment lines.
pub fn mps(lp: &Linear) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "* {}\n* minimise; free MPS; one comment line a named row: group; unit; reason",
        one_line(&lp.title)
    );
    for r in lp.rows.iter().filter(|r| !r.note.is_empty()) {
        let _ = writeln!(out, "* {}: {}; {}", r.name, r.group, one_line(&r.note));
    }
    let _ = writeln!(out, "NAME platewright\nROWS\n N objective");
    for r in &lp.rows {
        let kind = match (r.lo, r.hi) {
            (Some(a), Some(b)) if a == b => 'E',
            (Some(_), _) => 'G',
            (None, Some(_)) => 'L',
            (None, None) => 'N',
        };
        let _ = writeln!(out, " {kind} {}", r.name);
    }
    let mut by_var: Vec<Vec<(usize, f64)>> = vec![Vec::new(); lp.variables.len()];
    for (n, r) in lp.rows.iter().enumerate() {
        for &(v, k) in &r.terms {
            by_var[v].push((n, k));
        }
    }
    let _ = writeln!(out, "COLUMNS");
    let mut integer = false;
    for (v, var) in lp.variables.iter().enumerate() {
        if var.integer != integer {
            let _ = writeln!(
                out,
                " M{v} 'MARKER' '{}'",
                if var.integer { "INTORG" } else { "INTEND" }
            );
            integer = var.integer;
        }
        let _ = writeln!(out, " {} objective {}", var.name, short(var.cost));
        for &(n, k) in &by_var[v] {
            let _ = writeln!(out, " {} {} {}", var.name, lp.rows[n].name, short(k));
        }
    }
    if integer {
        let _ = writeln!(out, " MEND 'MARKER' 'INTEND'");
    }
    let _ = writeln!(out, "RHS");
    for r in &lp.rows {
        if let Some(b) = r.lo.or(r.hi)
            && b != 0.0
        {
            let _ = writeln!(out, " rhs {} {}", r.name, short(b));
        }
    }
    let _ = writeln!(out, "RANGES");
    for r in &lp.rows {
        if let (Some(a), Some(b)) = (r.lo, r.hi)
            && a != b
        {
            let _ = writeln!(out, " rng {} {}", r.name, short(b - a));
        }
    }
    let _ = writeln!(out, "BOUNDS");
    for v in &lp.variables {
        let _ = writeln!(
            out,
            " LO bnd {} {}\n UP bnd {} {}",
            v.name,
            short(v.lo),
            v.name,
            short(v.hi)
        );
    }
    out.push_str("ENDATA\n");
    out
}

/// The program as LP text (the format many solvers share), with the reason of each row as a comment.
pub fn lp_text(lp: &Linear) -> String {
    let mut out = String::new();
    let sum = |terms: &[(usize, f64)]| {
        let mut s = String::new();
        // The format has no empty sum.
        if let (true, Some(first)) = (terms.is_empty(), lp.variables.first()) {
            let _ = write!(s, " 0 {}", first.name);
        }
        for (n, &(v, k)) in terms.iter().enumerate() {
            if n % 6 == 5 {
                s.push_str("\n  ");
            }
            let _ = write!(
                s,
                " {} {} {}",
                if k < 0.0 { '-' } else { '+' },
                short(k.abs()),
                lp.variables[v].name
            );
        }
        s
    };
    let objective: Vec<(usize, f64)> = lp
        .variables
        .iter()
        .enumerate()
        .filter(|(_, v)| v.cost != 0.0)
        .map(|(n, v)| (n, v.cost))
        .collect();
    let _ = writeln!(
        out,
        "\\ {}\nMinimize\n objective:{}\nSubject To",
        one_line(&lp.title),
        sum(&objective)
    );
    for r in &lp.rows {
        if !r.note.is_empty() {
            let _ = writeln!(out, "\\ {}; {}", r.group, one_line(&r.note));
        }
        match (r.lo, r.hi) {
            (Some(a), Some(b)) if a == b => {
                let _ = writeln!(out, " {}:{} = {}", r.name, sum(&r.terms), short(a));
            }
            (Some(a), Some(b)) => {
                let _ = writeln!(
                    out,
                    " {}:{} >= {}\n {}_ceiling:{} <= {}",
                    r.name,
                    sum(&r.terms),
                    short(a),
                    r.name,
                    sum(&r.terms),
                    short(b)
                );
            }
            (Some(a), None) => {
                let _ = writeln!(out, " {}:{} >= {}", r.name, sum(&r.terms), short(a));
            }
            (None, Some(b)) => {
                let _ = writeln!(out, " {}:{} <= {}", r.name, sum(&r.terms), short(b));
            }
            (None, None) => {}
        }
    }
    let _ = writeln!(out, "Bounds");
    for v in &lp.variables {
        let _ = writeln!(out, " {} <= {} <= {}", short(v.lo), v.name, short(v.hi));
    }
    let _ = writeln!(out, "General");
    for v in lp.variables.iter().filter(|v| v.integer) {
        let _ = writeln!(out, " {}", v.name);
    }
    out.push_str("End\n");
    out
}
