//! The model as a mixed-integer linear program: plain variables and rows, written to MPS or LP text.
//!
//! Takes a [`Model`], gives a [`Linear`]. With `merge` the columns of alike days become one: summing
//! the rows of alike days only relaxes, so the optimum of its continuous form bounds every plan,
//! and it is as small as one day.

use super::{Class, Model, Over};
use std::collections::{BTreeMap, HashMap};
use std::fmt::Write as _;

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

/// A linear program: minimise.
#[derive(Clone, Debug, Default)]
pub struct Linear {
    /// A line for the head of files.
    pub title: String,
    /// Variables.
    pub variables: Vec<Variable>,
    /// Rows.
    pub rows: Vec<Constraint>,
    /// For each model column: its amount variable.
    pub amount: Vec<usize>,
    /// For each model column: its use variable.
    pub used: Vec<usize>,
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

/// Writes the model out; `merge` joins alike days.
pub fn expand(model: &Model, merge: bool) -> Linear {
    let mut lp = Linear {
        title: model.title.clone(),
        ..Linear::default()
    };
    let key = |own: usize, twin: usize| if merge { twin } else { own };
    // Forms.
    let mut form_var: BTreeMap<usize, usize> = BTreeMap::new();
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
            lp.variables[v].hi += 1.0;
            form_of.insert((c, f), v);
        }
    }
    // Columns.
    let mut col_var: BTreeMap<usize, (usize, usize)> = BTreeMap::new();
    for (n, c) in model.columns.iter().enumerate() {
        let linear = model.objective.linear.get(n).copied().unwrap_or(0.0);
        let cost = linear + if model.objective.cost { c.cost } else { 0.0 };
        let k = key(n, c.twin);
        let (x, u) = *col_var.entry(k).or_insert_with(|| {
            lp.variables.push(Variable {
                name: format!("x_{}", c.name),
                lo: 0.0,
                hi: 0.0,
                cost,
                integer: !merge,
            });
            lp.variables.push(Variable {
                name: format!("u_{}", c.name),
                lo: 0.0,
                hi: 0.0,
                cost: 0.0,
                integer: !merge,
            });
            (lp.variables.len() - 2, lp.variables.len() - 1)
        });
        lp.variables[x].hi += f64::from(c.most);
        lp.variables[u].hi += 1.0;
        lp.amount.push(x);
        lp.used.push(u);
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
            *meals_of.entry(first).or_default() += 1.0;
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
                let mut terms: Vec<(usize, f64)> = part.columns.iter().map(|&n| (lp.used[n], 1.0)).collect();
                for &n in &part.columns {
                    let (x, u) = (lp.amount[n], lp.used[n]);
                    let col = &model.columns[n];
                    lp.row(
                        format!("most_{}", col.name),
                        vec![(x, 1.0), (u, -f64::from(col.most))],
                        None,
                        Some(0.0),
                    );
                    if !(merge && col.least == 1 && col.most > 8) {
                        lp.row(
                            format!("least_{}", col.name),
                            vec![(x, 1.0), (u, -f64::from(col.least))],
                            Some(0.0),
                            None,
                        );
                    }
                    if part.most > 1 {
                        lp.row(
                            format!("in_form_{}", col.name),
                            vec![(u, 1.0), (z, -1.0)],
                            None,
                            Some(0.0),
                        );
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
    // Rows, twins summed.
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
                    let more = row.terms.iter().map(|&(i, k)| (lp.amount[i], k));
                    have.terms.extend(more.filter(|t| !known.contains(&t.0)));
                }
                have.lo = have.lo.zip(row.floor).map(|(a, b)| a + b);
                have.hi = have.hi.zip(row.ceiling).map(|(a, b)| a + b);
                continue;
            }
            seen.insert(twin, (lp.rows.len(), row.terms.len()));
        }
        let mut sum: BTreeMap<usize, f64> = BTreeMap::new();
        for &(i, k) in &row.terms {
            let v = match row.over {
                Over::Amount => lp.amount[i],
                Over::Use => lp.used[i],
                Over::Form => form_of[&(i / 256, i % 256)],
            };
            // Within one row a merged variable takes the coefficient once: its twins stand for other days.
            if merge {
                sum.insert(v, k)
            } else {
                sum.insert(v, k + sum.get(&v).copied().unwrap_or(0.0))
            };
        }
        let mut terms: Vec<(usize, f64)> = sum.into_iter().collect();
        let (mut lo, mut hi) = (row.floor, row.ceiling);
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
        for (s, set) in d.sets.iter().enumerate() {
            let w = lp.variable(format!("w_{}_{s}", d.name), 0.0, 1.0, 0.0, !merge);
            let mut members: Vec<usize> = set.iter().map(|&n| lp.used[n]).collect();
            members.sort_unstable();
            members.dedup();
            let mut terms = vec![(w, 1.0)];
            terms.extend(members.into_iter().map(|u| (u, -1.0)));
            lp.row(format!("seen_{}_{s}", d.name), terms, None, Some(0.0));
            total.push((w, 1.0));
        }
        lp.row(
            format!("variety_{}", d.name),
            total,
            Some(f64::from(d.least)),
            None,
        );
        if let Some(last) = lp.rows.last_mut() {
            last.group = d.group.clone();
            last.note = d.reason.clone();
        }
    }
    // Money.
    let mut bill: BTreeMap<usize, f64> = BTreeMap::new();
    if model.budget.is_some() || (model.objective.cost && !model.pantry.is_empty()) {
        for (n, c) in model.columns.iter().enumerate() {
            bill.insert(lp.amount[n], c.cost);
        }
        for p in &model.pantry {
            let cost = if model.objective.cost { -p.price } else { 0.0 };
            let v = lp.variable(format!("home_{}", p.name), 0.0, p.free, cost, false);
            let mut use_: BTreeMap<usize, f64> = BTreeMap::new();
            for &(c, g) in &p.terms {
                use_.insert(lp.amount[c], -g);
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
            sum.insert(lp.amount[c], k);
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
        let _ = writeln!(out, " {} objective {}", var.name, var.cost);
        for &(n, k) in &by_var[v] {
            let _ = writeln!(out, " {} {} {k}", var.name, lp.rows[n].name);
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
            let _ = writeln!(out, " rhs {} {b}", r.name);
        }
    }
    let _ = writeln!(out, "RANGES");
    for r in &lp.rows {
        if let (Some(a), Some(b)) = (r.lo, r.hi)
            && a != b
        {
            let _ = writeln!(out, " rng {} {}", r.name, b - a);
        }
    }
    let _ = writeln!(out, "BOUNDS");
    for v in &lp.variables {
        let _ = writeln!(out, " LO bnd {} {}\n UP bnd {} {}", v.name, v.lo, v.name, v.hi);
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
                k.abs(),
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
                let _ = writeln!(out, " {}:{} = {a}", r.name, sum(&r.terms));
            }
            (Some(a), Some(b)) => {
                let _ = writeln!(
                    out,
                    " {}:{} >= {a}\n {}_ceiling:{} <= {b}",
                    r.name,
                    sum(&r.terms),
                    r.name,
                    sum(&r.terms)
                );
            }
            (Some(a), None) => {
                let _ = writeln!(out, " {}:{} >= {a}", r.name, sum(&r.terms));
            }
            (None, Some(b)) => {
                let _ = writeln!(out, " {}:{} <= {b}", r.name, sum(&r.terms));
            }
            (None, None) => {}
        }
    }
    let _ = writeln!(out, "Bounds");
    for v in &lp.variables {
        let _ = writeln!(out, " {} <= {} <= {}", v.lo, v.name, v.hi);
    }
    let _ = writeln!(out, "General");
    for v in lp.variables.iter().filter(|v| v.integer) {
        let _ = writeln!(out, " {}", v.name);
    }
    out.push_str("End\n");
    out
}
