//! The best plan that can be put together from what several found: branch and bound over few columns.
//!
//! Takes a [`Model`] with some of its columns, a value to get under and an amount of work; gives the lowest plan it
//! came to. A node is the program in fractions with some forms, items and steps decided, solved again from the basis
//! of another (Land and Doig, "An automatic method of solving discrete programming problems", Econometrica 28:497,
//! 1960). The next decision is the one that moves the bound most, by what was seen of it so far, or by looking ahead
//! while too little was seen (Achterberg, Koch and Martin, "Branching rules revisited", Operations Research Letters
//! 33:42, 2005). When nothing is left among the columns, more come in, those first that the bound minds least
//! (Angelelli, Mansini and Speranza, "Kernel search", Computers and Operations Research 37:2017, 2010).
//!
//! Same model, same work: the same plan on any number of threads. They work in rounds, and what one finds the others
//! know in the next. What is not found is no proof that it is not there.

use super::search::Found;
use super::simplex::Simplex;
use crate::model::Model;
use crate::model::few::Few;
use crate::model::linear::{Linear, by_steps};
use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::num::NonZeroUsize;
use std::panic::resume_unwind;

/// A value this near to a whole number is one.
const WHOLE: f64 = 1e-6;
/// Nodes that are begun side by side.
const ROUND: usize = 4;
/// Nodes that are solved from each in a round.
const DIVE: u64 = 16;
/// From this fraction on a decision is first tried upwards.
const UP: f64 = 0.4;
/// Share of the greater of the two gains in the weight of a decision; the smaller has the rest.
const GREATER: f64 = 1.0 / 6.0;
/// Decisions that are looked at ahead in a node, of those of the greatest weight.
const LOOK: usize = 8;
/// How often each way of a decision is seen before its gain is taken for known.
const KNOWN: u32 = 4;
/// A further plan is worth having from this share of the value on.
const STEP: f64 = 1e-3;
/// Solving a node counts as so many exchanges besides those it takes.
const NODE: usize = 4;
/// How many times as many columns there are each time that more come in.
const MORE: f64 = 1.5;

/// One decision.
#[derive(Clone, Copy, Debug)]
enum Rule {
    /// Bounds of a whole-number variable of no column: a form, batches of a dish.
    Variable(usize, f64, f64),
    /// Whether a column is in use.
    Use(usize, bool),
    /// Steps of a column, if it is in use.
    Steps(usize, u16, u16),
}

/// A step of a decision, for what is learned of it.
#[derive(Clone, Copy, Debug)]
struct Lesson {
    /// Which decision.
    key: usize,
    up: bool,
    /// How far the fraction had to move.
    far: f64,
}

/// What was seen of decisions.
#[derive(Clone)]
struct Lore {
    /// By how much the bound rose for a whole step of each, down and up: sum and number.
    gains: Vec<[(f64, u32); 2]>,
    /// The mean of those seen, for one that was not.
    mean: [f64; 2],
}

impl Lore {
    /// Of so many decisions, none seen.
    fn new(decisions: usize) -> Self {
        Lore {
            gains: vec![[(0.0, 0); 2]; decisions],
            mean: [1.0; 2],
        }
    }

    fn learn(&mut self, lesson: Lesson, rise: f64) {
        let known = &mut self.gains[lesson.key][usize::from(lesson.up)];
        *known = (known.0 + rise / lesson.far, known.1 + 1);
    }

    /// Takes the means anew.
    fn renew(&mut self) {
        for way in 0..2 {
            let seen = self.gains.iter().map(|g| g[way]).filter(|g| g.1 > 0);
            let (sum, number) = seen.fold((0.0, 0), |(s, n), g| (s + g.0 / f64::from(g.1), n + 1));
            if number > 0 {
                self.mean[way] = sum / f64::from(number);
            }
        }
    }

    fn known(&self, key: usize, up: bool) -> bool {
        self.gains[key][usize::from(up)].1 >= KNOWN
    }

    fn weigh(&self, open: &mut Open) {
        let gain = |way: usize| match self.gains[open.key][way] {
            (_, 0) => self.mean[way],
            (sum, number) => sum / f64::from(number),
        };
        let (down, up) = (gain(0) * open.fraction, gain(1) * (1.0 - open.fraction));
        open.weight = (1.0 - GREATER) * down.min(up) + GREATER * down.max(up);
    }
}

/// A decision that is open in a node.
#[derive(Clone, Copy, Debug)]
struct Open {
    weight: f64,
    key: usize,
    fraction: f64,
    /// The rule for each way, down and up.
    ways: [Rule; 2],
}

impl Open {
    fn lesson(&self, up: bool) -> Lesson {
        Lesson {
            key: self.key,
            up,
            far: if up { 1.0 - self.fraction } else { self.fraction },
        }
    }
}

#[derive(Clone, Debug)]
struct Node {
    /// No plan of it is lower.
    bound: f64,
    number: u64,
    rules: Vec<Rule>,
    lesson: Option<Lesson>,
}

impl PartialEq for Node {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Node {}

impl PartialOrd for Node {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Node {
    /// The lowest bound is the greatest; of equals the one with most decided, then the youngest.
    fn cmp(&self, other: &Self) -> Ordering {
        let lower = other.bound.total_cmp(&self.bound);
        let decided = self.rules.len().cmp(&other.rules.len());
        lower.then(decided).then(self.number.cmp(&other.number))
    }
}

/// What rules leave.
#[derive(Clone)]
struct Bounds {
    /// Of each variable.
    variables: Vec<(f64, f64)>,
    /// For each column whether it must be in use.
    on: Vec<bool>,
}

/// The program and where its parts stand.
struct Tree<'a> {
    model: &'a Model,
    lp: Linear,
    /// For each meal the variable of its first form; the others follow.
    form: Vec<usize>,
    /// For each column the row that counts its uses.
    used: Vec<usize>,
    /// Whole-number variables of no column.
    others: Vec<usize>,
}

impl<'a> Tree<'a> {
    /// Of the plans that eat at least one of the `new` columns, or of all when there are none.
    fn new(model: &'a Model, new: &[usize]) -> Self {
        let mut lp = by_steps(model);
        if !new.is_empty() {
            let uses = new.iter().flat_map(|&c| lp.used[c].iter().copied()).collect();
            lp.row("new", uses, Some(1.0), None);
        }
        let mut form = Vec::with_capacity(model.choices.len());
        let mut next = 0;
        for c in &model.choices {
            form.push(next);
            next += c.forms.len();
        }
        let mut used = Vec::with_capacity(model.columns.len());
        for (c, column) in model.columns.iter().enumerate() {
            used.push(lp.rows.len());
            // A floor that is no floor: a bound that goes away would leave its price without one.
            lp.row(
                format!("used_{}", column.name),
                lp.used[c].to_vec(),
                Some(0.0),
                Some(1.0),
            );
        }
        let of_columns = lp.used.iter().flat_map(|p| p.iter()).map(|u| u.0);
        let of_covers = lp.covers.iter().flat_map(|c| &c.sets).map(|s| s.0);
        let mut own = vec![false; lp.variables.len()];
        for v in of_columns.chain(of_covers) {
            own[v] = true;
        }
        let others = (0..own.len())
            .filter(|&v| lp.variables[v].integer && !own[v])
            .collect();
        Tree {
            model,
            lp,
            form,
            used,
            others,
        }
    }

    /// Decisions that can be learned about: those of variables, of uses, of steps.
    fn keys(&self) -> usize {
        self.lp.variables.len() + 2 * self.model.columns.len()
    }

    /// The bounds that rules leave; `None` when they contradict one another.
    fn bounds(&self, rules: &[Rule]) -> Option<Bounds> {
        let columns = &self.model.columns;
        let mut variables: Vec<(f64, f64)> = self.lp.variables.iter().map(|v| (v.lo, v.hi)).collect();
        let mut steps: Vec<(u16, u16)> = columns.iter().map(|c| (c.least, c.most)).collect();
        let (mut may, mut on) = (vec![true; columns.len()], vec![false; columns.len()]);
        for rule in rules {
            match *rule {
                Rule::Variable(v, lo, hi) => {
                    let b = &mut variables[v];
                    *b = (b.0.max(lo), b.1.min(hi));
                }
                Rule::Use(c, true) => on[c] = true,
                Rule::Use(c, false) => may[c] = false,
                Rule::Steps(c, lo, hi) => {
                    let s = &mut steps[c];
                    *s = (s.0.max(lo), s.1.min(hi));
                }
            }
        }
        // A column in use brings its form along, and where a part holds one item it is that one.
        for (c, column) in columns.iter().enumerate().filter(|(c, _)| on[*c]) {
            variables[self.form[column.choice] + column.form].0 = 1.0;
            let part = &self.model.choices[column.choice].forms[column.form].parts[column.part];
            if part.most == 1 {
                for &other in part.columns.iter().filter(|&&o| o != c) {
                    may[other] = false;
                }
            }
        }
        for (choice, &first) in self.model.choices.iter().zip(&self.form) {
            let all = first..first + choice.forms.len();
            if let Some(one) = all.clone().find(|&v| variables[v].0 > 0.5) {
                for v in all.filter(|&v| v != one) {
                    variables[v].1 = 0.0;
                }
            }
        }
        for (c, column) in columns.iter().enumerate() {
            let open = may[c] && variables[self.form[column.choice] + column.form].1 > 0.5;
            let (lo, hi) = steps[c];
            if on[c] && (!open || lo > hi) {
                return None;
            }
            // What lies between the least and the most steps is a mixture of the two.
            for &(v, k) in self.lp.amount[c].iter() {
                let end = k == f64::from(lo) || k == f64::from(hi);
                variables[v].1 = f64::from(u8::from(open && end));
            }
        }
        let crossed = variables.iter().any(|b| b.0 > b.1);
        (!crossed).then_some(Bounds { variables, on })
    }

    /// The decisions that a point leaves open.
    fn open(&self, x: &[f64]) -> Vec<Open> {
        let mut all = Vec::new();
        let mut ask = |key: usize, value: f64, ways: &dyn Fn(f64, f64) -> [Rule; 2]| {
            let fraction = value - value.floor();
            let open = fraction > WHOLE && fraction < 1.0 - WHOLE;
            if open {
                let ways = ways(value.floor(), value.ceil());
                let weight = 0.0;
                all.push(Open {
                    weight,
                    key,
                    fraction,
                    ways,
                });
            }
            open
        };
        for &v in &self.others {
            ask(v, x[v], &|lo, hi| {
                [
                    Rule::Variable(v, f64::NEG_INFINITY, lo),
                    Rule::Variable(v, hi, f64::INFINITY),
                ]
            });
        }
        let (variables, columns) = (self.lp.variables.len(), self.model.columns.len());
        for c in 0..columns {
            let used: f64 = self.lp.used[c].iter().map(|&(v, _)| x[v]).sum();
            if !ask(variables + c, used, &|_, _| {
                [Rule::Use(c, false), Rule::Use(c, true)]
            }) && used > 0.5
            {
                let steps: f64 = self.lp.amount[c].iter().map(|&(v, k)| k * x[v]).sum();
                ask(variables + columns + c, steps, &|lo, hi| {
                    [Rule::Steps(c, 0, lo as u16), Rule::Steps(c, hi as u16, u16::MAX)]
                });
            }
        }
        all
    }

    /// Forms and steps at a point that leaves nothing open.
    fn plan(&self, x: &[f64]) -> (Vec<usize>, Vec<u16>) {
        let forms = self.model.choices.iter().zip(&self.form).map(|(c, &first)| {
            let on = |f: &usize| x[first + f] > 0.5;
            (0..c.forms.len()).find(on).unwrap_or(0)
        });
        let steps = |p: &[(usize, f64)]| p.iter().map(|&(v, k)| k * x[v]).sum::<f64>().round() as u16;
        (forms.collect(), self.lp.amount.iter().map(|p| steps(p)).collect())
    }
}

/// A plan with its value.
type Planned = (f64, Vec<usize>, Vec<u16>);

/// What came of a node.
#[derive(Default)]
struct Dive {
    open: Vec<Node>,
    best: Option<Planned>,
    lessons: Vec<(Lesson, f64)>,
    nodes: u64,
    work: u64,
}

/// A solver with the bounds it has now.
#[derive(Clone)]
struct Worker {
    simplex: Simplex,
    now: Bounds,
}

impl Worker {
    /// The bound of some rules, or `None` when it is not under a value; adds to the work.
    fn solve(&mut self, tree: &Tree, to: Bounds, under: f64, work: &mut u64) -> Option<f64> {
        let (old, new) = (&self.now, &to);
        let variables = (0..new.variables.len())
            .filter(|&v| old.variables[v] != new.variables[v])
            .map(|v| (v, new.variables[v].0, new.variables[v].1));
        let rows = (0..new.on.len())
            .filter(|&c| old.on[c] != new.on[c])
            .map(|c| (tree.used[c], f64::from(u8::from(new.on[c])), 1.0));
        let before = self.simplex.pivots;
        let value = self.simplex.solve_under(under, variables, rows).ok();
        self.now = to;
        let (rows, exchanges) = (self.simplex.at_work(), self.simplex.pivots - before);
        *work += ((exchanges + NODE) * rows * rows) as u64;
        value.filter(|v| *v < under)
    }

    /// From a node down, the most promising way first, for some nodes.
    fn dive(&mut self, tree: &Tree, from: Node, mut under: f64, mut lore: Lore) -> Dive {
        let mut dive = Dive::default();
        let mut next = Some(from);
        loop {
            // When a way ends, the best of those left open on it.
            let best = (0..dive.open.len()).max_by(|&a, &b| dive.open[a].cmp(&dive.open[b]));
            let Some(node) = next.take().or_else(|| Some(dive.open.swap_remove(best?))) else {
                return dive;
            };
            if dive.nodes >= DIVE {
                dive.open.push(node);
                return dive;
            }
            if node.bound >= under {
                continue;
            }
            let Some(bounds) = tree.bounds(&node.rules) else {
                continue;
            };
            dive.nodes += 1;
            let Some(value) = self.solve(tree, bounds, under, &mut dive.work) else {
                continue;
            };
            if let Some(lesson) = node.lesson {
                dive.lessons.push((lesson, (value - node.bound).max(0.0)));
            }
            let x = self.simplex.point();
            let mut open = tree.open(&x);
            if open.is_empty() {
                let (forms, steps) = tree.plan(&x);
                dive.best = Some((value, forms, steps));
                under = lower(value);
                continue;
            }
            let mut rules = node.rules;
            let child = |rules: Vec<Rule>, lesson: Option<Lesson>| Node {
                bound: value,
                number: 0,
                rules,
                lesson,
            };
            if let Some(only) = self.look(tree, &mut rules, &mut open, (value, under), &mut lore, &mut dive) {
                rules.push(only);
                next = Some(child(rules, None));
                continue;
            }
            self.settled(tree, &x, under - value, &mut rules);
            let heavier = |a: Open, b: Open| if b.weight > a.weight { b } else { a };
            let Some(o) = open.into_iter().reduce(heavier) else {
                continue;
            };
            let way = |up: bool| {
                let rules = rules.iter().copied().chain([o.ways[usize::from(up)]]);
                child(rules.collect(), Some(o.lesson(up)))
            };
            let up = o.fraction >= UP;
            dive.open.push(way(!up));
            next = Some(way(up));
        }
    }

    /// Weighs the open decisions of a node, and tries those out that little is known of; gives the other way of one
    /// that is closed on one side.
    fn look(
        &self,
        tree: &Tree,
        rules: &mut Vec<Rule>,
        open: &mut [Open],
        (value, under): (f64, f64),
        lore: &mut Lore,
        dive: &mut Dive,
    ) -> Option<Rule> {
        for o in open.iter_mut() {
            lore.weigh(o);
        }
        open.sort_by(|a, b| b.weight.total_cmp(&a.weight));
        for o in open.iter_mut().take(LOOK) {
            for up in [false, true] {
                if lore.known(o.key, up) {
                    continue;
                }
                rules.push(o.ways[usize::from(up)]);
                let bounds = tree.bounds(rules);
                rules.pop();
                let after = bounds.and_then(|b| self.clone().solve(tree, b, under, &mut dive.work));
                let Some(after) = after else {
                    return Some(o.ways[usize::from(!up)]);
                };
                let seen = (o.lesson(up), (after - value).max(0.0));
                lore.learn(seen.0, seen.1);
                dive.lessons.push(seen);
            }
            lore.weigh(o);
        }
        None
    }

    /// Adds as rules what would cost more than the room there is if it were otherwise.
    fn settled(&self, tree: &Tree, x: &[f64], room: f64, rules: &mut Vec<Rule>) {
        let by = self.simplex.reduced_costs();
        for &v in &tree.others {
            let (lo, hi) = self.now.variables[v];
            if lo == hi {
                continue;
            }
            if by[v] > room && x[v] < lo + WHOLE {
                rules.push(Rule::Variable(v, lo, lo));
            } else if -by[v] > room && x[v] > hi - WHOLE {
                rules.push(Rule::Variable(v, hi, hi));
            }
        }
        for (c, used) in tree.lp.used.iter().enumerate().filter(|(c, _)| !self.now.on[*c]) {
            let mut open = used
                .iter()
                .map(|u| u.0)
                .filter(|&v| self.now.variables[v].1 > 0.5)
                .peekable();
            if open.peek().is_some() && open.all(|v| by[v] > room && x[v] < WHOLE) {
                rules.push(Rule::Use(c, false));
            }
        }
    }
}

/// What a plan must lie under to be worth having beside one of this value.
pub(super) fn lower(value: f64) -> f64 {
    value - STEP * value.abs()
}

/// What branching came to.
struct Branched {
    best: Option<Planned>,
    work: u64,
    /// Whether nothing was left.
    ended: bool,
}

/// The lowest plan under a value that so much work comes to, of those that [`Tree::new`] has.
fn branch(model: &Model, new: &[usize], mut under: f64, most: u64, threads: NonZeroUsize) -> Branched {
    let tree = Tree::new(model, new);
    let first = Worker {
        simplex: Simplex::new(&tree.lp),
        now: Bounds {
            variables: tree.lp.variables.iter().map(|v| (v.lo, v.hi)).collect(),
            on: vec![false; model.columns.len()],
        },
    };
    let mut workers = vec![first];
    let mut lore = Lore::new(tree.keys());
    let mut number = 0;
    let mut heap = BinaryHeap::from([Node {
        bound: f64::NEG_INFINITY,
        number,
        rules: Vec::new(),
        lesson: None,
    }]);
    let mut out = Branched {
        best: None,
        work: 0,
        ended: false,
    };
    while out.work < most {
        let mut round: Vec<Node> = Vec::with_capacity(ROUND);
        while round.len() < ROUND
            && let Some(node) = heap.pop().filter(|n| n.bound < under)
        {
            round.push(node);
        }
        if round.is_empty() {
            out.ended = true;
            break;
        }
        while workers.len() < round.len() {
            workers.push(workers[0].clone());
        }
        let mut tasks: Vec<(&mut Worker, Node, Dive)> = workers
            .iter_mut()
            .zip(round)
            .map(|(w, n)| (w, n, Dive::default()))
            .collect();
        let work = |tasks: &mut [(&mut Worker, Node, Dive)]| {
            for (worker, node, dive) in tasks {
                *dive = worker.dive(&tree, node.clone(), under, lore.clone());
            }
        };
        let share = tasks.len().div_ceil(threads.get());
        std::thread::scope(|scope| {
            let mut parts = tasks.chunks_mut(share);
            let own = parts.next();
            let others: Vec<_> = parts.map(|part| scope.spawn(|| work(part))).collect();
            own.map(work);
            for other in others {
                other.join().unwrap_or_else(|e| resume_unwind(e));
            }
        });
        let dives: Vec<Dive> = tasks.into_iter().map(|t| t.2).collect();
        for dive in dives {
            out.work += dive.work;
            for (lesson, rise) in dive.lessons {
                lore.learn(lesson, rise);
            }
            if let Some(best) = dive.best.filter(|b| b.0 < under) {
                under = lower(best.0);
                out.best = Some(best);
            }
            for node in dive.open {
                number += 1;
                heap.push(Node { number, ..node });
            }
        }
        lore.renew();
    }
    out
}

/// Puts a plan together from the columns of several, and of more of the model's where there is work left.
///
/// `plans` are steps of the model's columns. `under` is the value that a plan must lie under. `dear` is by how much
/// the bound rises at least when a column is eaten ([`super::bound::Bound::dear`]), and `room` the distance from the
/// bound to the value: what costs more than that is left out. `work` is the most multiplications, about. Gives
/// nothing when no lower plan is found; what it gives holds in the program, and is to be weighed anew by the caller.
pub fn gather<'p>(
    model: &Model,
    plans: impl Iterator<Item = &'p [u16]>,
    under: f64,
    (dear, room): (&[f64], f64),
    work: u64,
    threads: NonZeroUsize,
) -> Option<Found> {
    let mut stay = vec![false; model.columns.len()];
    for steps in plans {
        for (s, n) in stay.iter_mut().zip(steps) {
            *s |= *n > 0;
        }
    }
    let mut more: Vec<usize> = (0..dear.len()).filter(|&c| !stay[c] && dear[c] <= room).collect();
    more.sort_by(|&a, &b| dear[b].total_cmp(&dear[a]).then(b.cmp(&a)));
    let (mut under, mut left) = (under, work);
    let mut best = None;
    // Columns of which all plans were looked at: none at first.
    let mut seen: Option<Vec<bool>> = None;
    loop {
        let Some(few) = Few::of(model, &stay) else {
            return best;
        };
        let unseen = |c: &usize| seen.as_ref().is_some_and(|s| !s[few.columns[*c]]);
        let new: Vec<usize> = (0..few.columns.len()).filter(unseen).collect();
        if seen.is_some() && new.is_empty() {
            return best;
        }
        let found = branch(&few.model, &new, under, left, threads);
        left -= left.min(found.work);
        if let Some((value, forms, steps)) = found.best {
            under = lower(value);
            let (forms, steps) = few.back(model, &forms, &steps);
            best = Some(Found {
                forms,
                steps,
                moves: 0,
            });
        }
        if !found.ended || more.is_empty() {
            return best;
        }
        let seen = seen.get_or_insert_with(|| vec![false; stay.len()]);
        for &c in &few.columns {
            seen[c] = true;
        }
        // Forms that are not filled yet take nothing in, so it goes on until enough is.
        let enough = (few.columns.len() as f64 * MORE) as usize;
        let mut come = enough - few.columns.len();
        while come > 0 && !more.is_empty() {
            for c in more.split_off(more.len().saturating_sub(come.max(1))) {
                stay[c] = true;
            }
            come = enough.saturating_sub(Few::size(model, &stay));
        }
    }
}
