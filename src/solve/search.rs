//! A plan in whole steps: seeded annealing over the model's own rows, with a fixed number of moves.
//!
//! Takes a [`Model`], a seed, a number of moves and guidance from the bound; gives forms and steps.
//! Same model, seed and moves: the same plan on every machine (no clock, no system mathematics:
//! logarithms come from `libm`). A violated row costs its relative violation times a weight that
//! grows while it stays violated, so the search walks along the edge of what is allowed.

use super::bound::Bound;
use super::branch::{gather, lower};
use crate::model::{Choice, Class, Column, Model, Over, Part, Row};
use fastrand::Rng;
use std::collections::HashMap;
use std::num::NonZeroUsize;
use std::panic::resume_unwind;
use std::sync::atomic::{AtomicU32, Ordering};

/// How to search.
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    /// Moves tried in all; as many again are spent on mending when nothing found holds.
    pub moves: u64,
    /// Independent starts that share them.
    pub starts: u32,
    /// Seed.
    pub seed: u64,
    /// Threads that share the starts; what is found does not depend on how many.
    pub threads: NonZeroUsize,
}

/// What the search found.
#[derive(Clone, Debug)]
pub struct Found {
    /// Form of each meal.
    pub forms: Vec<usize>,
    /// Steps of each column.
    pub steps: Vec<u16>,
    /// Moves tried.
    pub moves: u64,
}

#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Must,
    Should,
    Goal,
    /// Fills a block.
    None,
}

struct Edge {
    lo: f64,
    hi: f64,
    inv: f64,
    /// Whole multiples of this; 0 for any amount.
    whole: f64,
    kind: Kind,
}

impl Edge {
    #[inline]
    fn miss(&self, a: f64) -> f64 {
        let d = (self.lo - a).max(a - self.hi);
        if d > 0.0 {
            d * self.inv
        } else if self.whole > 0.0 {
            let q = a / self.whole;
            (q - q.round()).abs()
        } else {
            0.0
        }
    }
}

/// What may be lost by rounding when a move is refused before all of it is weighed.
const SLACK: f64 = 1e-9;
/// Relative violation below which a row counts as met.
const MET: f64 = 1e-9;

/// Rows that are weighed together.
const LANES: usize = 8;
/// Columns whose contents are compared at a time.
const AT_ONCE: usize = 2048;
/// A row over at least one in so many columns is broad.
const BROAD: usize = 3;
/// Figures of [`LANES`] rows.
type Block = [f64; LANES];

/// Columns that the bound eats, with its uses summed up to each.
type Eaten = Vec<(u32, f64)>;

/// A dish that is cooked in whole batches on one day.
struct Pot {
    row: u32,
    item: u32,
    columns: Vec<(u32, f64)>,
    batch: f64,
}

/// A list for each column, one after the other.
struct Lists<T> {
    starts: Vec<u32>,
    all: Vec<T>,
}

impl<T> Default for Lists<T> {
    fn default() -> Self {
        Lists {
            starts: vec![0],
            all: Vec::new(),
        }
    }
}

impl<T: Copy> Lists<T> {
    /// Takes the lists, so that what they held is given back.
    fn of(lists: Vec<Vec<T>>) -> Self {
        let mut all = Lists {
            starts: Vec::with_capacity(lists.len() + 1),
            all: Vec::with_capacity(lists.iter().map(Vec::len).sum()),
        };
        all.starts.push(0);
        for l in &lists {
            all.all.extend(l);
            all.starts.push(all.all.len() as u32);
        }
        all
    }
}

impl<T> std::ops::Index<usize> for Lists<T> {
    type Output = [T];

    #[inline]
    fn index(&self, n: usize) -> &[T] {
        &self.all[self.starts[n] as usize..self.starts[n + 1] as usize]
    }
}

/// What moves ask of a column, close together.
#[derive(Clone, Copy)]
struct Lean {
    choice: u16,
    form: u16,
    part: u16,
    least: u16,
    most: u16,
    /// Where its blocks begin in [`Space::contents`].
    content: u32,
    item: u32,
    cost: f64,
    /// Share of a step in the scaled objective.
    linear: f64,
}

impl Lean {
    fn of(c: &Column) -> Self {
        Lean {
            choice: c.choice as u16,
            form: c.form as u16,
            part: c.part as u16,
            least: c.least,
            most: c.most,
            content: 0,
            item: c.item as u32,
            cost: c.cost,
            linear: 0.0,
        }
    }

    #[inline]
    fn choice(self) -> usize {
        usize::from(self.choice)
    }

    #[inline]
    fn form(self) -> usize {
        usize::from(self.form)
    }

    #[inline]
    fn part(self) -> usize {
        usize::from(self.part)
    }
}

struct Space<'a> {
    model: &'a Model,
    /// First the broad rows, in whole blocks, then the others.
    rows: Vec<Edge>,
    /// Floor, ceiling and 1 / size of the broad rows.
    broad: Vec<[Block; 3]>,
    /// What a step of a column adds to the broad rows; columns of the same contents share them.
    contents: Vec<Block>,
    columns: Vec<Lean>,
    /// For each column: its other rows over amounts.
    amount: Lists<(u32, f64)>,
    using: Lists<(u32, f64)>,
    form: Vec<Vec<Vec<(u32, f64)>>>,
    sets: Lists<u32>,
    set_distinct: Vec<u32>,
    distinct_least: Vec<u32>,
    scale: f64,
    goals: Vec<usize>,
    goal_weight: Vec<f64>,
    largest: f64,
    keep: f64,
    pantry: Lists<(u32, f64)>,
    bill_row: Option<usize>,
    /// For each part of each form of each meal: its columns that the bound eats, with its uses summed up to each.
    pick: Vec<Vec<Vec<Eaten>>>,
    /// For each meal: its forms with the uses that the bound has for them summed up to each.
    shapes: Vec<Vec<f64>>,
    /// Out of 256 picks of a form, how many come as often as the bound eats it.
    guided: u8,
    /// The same of picks of an item.
    favoured: u8,
    /// For each column: the narrowest window of sums over its day, and its coefficient there.
    window: Vec<Option<(u32, f64)>>,
    /// For each column: its place in its part.
    place: Vec<u32>,
    pots: Vec<Pot>,
    /// For each column of a meal that trades: those of the same item in other meals of its day.
    kin: Lists<u32>,
    /// For each meal: those of its day.
    day: Vec<Vec<usize>>,
    /// For each meal: the others of its slot.
    same: Vec<Vec<usize>>,
}

impl<'a> Space<'a> {
    fn new(model: &'a Model, uses: &[f64], scale: f64) -> Self {
        let n = model.columns.len();
        let days = model.choices.iter().map(|c| c.day + 1).max().unwrap_or(1);
        let pots = model.rows.iter().any(|r| r.whole.is_some());
        let mut s = Space {
            model,
            rows: Vec::new(),
            broad: Vec::new(),
            contents: Vec::new(),
            columns: Vec::new(),
            amount: Lists::default(),
            using: Lists::default(),
            form: model
                .choices
                .iter()
                .map(|c| vec![Vec::new(); c.forms.len()])
                .collect(),
            sets: Lists::default(),
            set_distinct: Vec::new(),
            distinct_least: Vec::new(),
            scale,
            goals: Vec::new(),
            goal_weight: Vec::new(),
            largest: model.objective.largest / scale,
            keep: model.objective.keep.as_ref().map_or(0.0, |k| k.weight) / scale,
            pantry: Lists::default(),
            bill_row: None,
            pick: Vec::new(),
            shapes: Vec::new(),
            guided: guided(days, FAVOURED_FORM),
            favoured: guided(days, if pots { FAVOURED_WITH_POTS } else { FAVOURED }),
            window: vec![None; n],
            place: vec![0; n],
            pots: Vec::new(),
            kin: Lists::default(),
            day: Vec::new(),
            same: Vec::new(),
        };
        s.columns = model.columns.iter().map(Lean::of).collect();
        for (c, choice) in model.choices.iter().enumerate() {
            let others = |like: &dyn Fn(&Choice) -> bool| {
                (0..model.choices.len())
                    .filter(|&o| like(&model.choices[o]))
                    .collect::<Vec<usize>>()
            };
            s.day.push(others(&|o| o.day == choice.day));
            s.same.push(others(&|o| {
                o.day != choice.day && o.slot == choice.slot && o.forms.len() == choice.forms.len()
            }));
            debug_assert!(!s.same[c].contains(&c));
            for part in choice.forms.iter().flat_map(|f| &f.parts) {
                for (n, &column) in part.columns.iter().enumerate() {
                    s.place[column] = n as u32;
                }
            }
        }
        let mut kin: Vec<Vec<u32>> = vec![Vec::new(); n];
        let mut of_item: HashMap<(usize, usize), Vec<u32>> = HashMap::new();
        for (n, c) in model.columns.iter().enumerate() {
            let day = model.choices[c.choice].day;
            of_item.entry((day, c.item)).or_default().push(n as u32);
        }
        for (n, c) in model.columns.iter().enumerate() {
            let all = &of_item[&(model.choices[c.choice].day, c.item)];
            // Only meals without a like one on another day trade.
            if s.same[c.choice].is_empty() {
                let other = |o: &u32| model.columns[*o as usize].choice != c.choice;
                kin[n].extend(all.iter().copied().filter(other));
            }
        }
        s.kin = Lists::of(kin);
        drop(of_item);
        // The rows of the model in the order of here; nothing fills the last block.
        let is_broad = |r: &&Row| r.over == Over::Amount && r.whole.is_none() && r.terms.len() * BROAD >= n;
        let mut order: Vec<Option<&Row>> = model.rows.iter().filter(is_broad).map(Some).collect();
        let blocks = order.len().div_ceil(LANES);
        order.resize(blocks * LANES, None);
        order.extend(model.rows.iter().filter(|r| !is_broad(r)).map(Some));
        let mut width = vec![f64::INFINITY; n];
        for (id, r) in order.iter().enumerate() {
            let Some(r) = r else { continue };
            let (Some(lo), Some(hi), Over::Amount) = (r.floor, r.ceiling, r.over) else {
                continue;
            };
            let mut meals = r.terms.iter().map(|t| model.columns[t.0].choice);
            let Some(first) = meals.next() else { continue };
            let one_day = |c: usize| model.choices[c].day == model.choices[first].day;
            if hi <= 0.0 || !r.terms.iter().all(|t| one_day(model.columns[t.0].choice)) {
                continue;
            }
            if meals.all(|c| c == first) && s.day[first].len() > 1 {
                continue;
            }
            for &(c, k) in &r.terms {
                if k > 0.0 && (hi - lo) / hi < width[c] {
                    width[c] = (hi - lo) / hi;
                    s.window[c] = Some((id as u32, k));
                }
            }
        }
        let (mut amount, mut using) = (vec![Vec::new(); n], vec![Vec::new(); n]);
        let (mut sets, mut pantry) = (vec![Vec::new(); n], vec![Vec::new(); n]);
        s.content(&order[..blocks * LANES]);
        for (id, r) in order.iter().enumerate() {
            let Some(r) = r else {
                s.rows.push(Edge {
                    lo: f64::NEG_INFINITY,
                    hi: f64::INFINITY,
                    inv: 1.0,
                    whole: 0.0,
                    kind: Kind::None,
                });
                continue;
            };
            let size = r.floor.unwrap_or(0.0).abs().max(r.ceiling.unwrap_or(0.0).abs());
            let size = if size > 0.0 { size } else { 1.0 };
            s.rows.push(Edge {
                lo: r.floor.unwrap_or(f64::NEG_INFINITY),
                hi: r.ceiling.unwrap_or(f64::INFINITY),
                inv: 1.0 / size,
                whole: r.whole.unwrap_or(0.0),
                kind: if r.class == Class::Must {
                    Kind::Must
                } else {
                    Kind::Should
                },
            });
            if let (Some(batch), Some(first)) = (r.whole, r.terms.first()) {
                s.pots.push(Pot {
                    row: id as u32,
                    item: model.columns[first.0].item as u32,
                    columns: r.terms.iter().map(|&(c, k)| (c as u32, k)).collect(),
                    batch,
                });
            }
            for &(i, k) in &r.terms {
                match r.over {
                    Over::Amount if id < blocks * LANES => {}
                    Over::Amount => amount[i].push((id as u32, k)),
                    Over::Use => using[i].push((id as u32, k)),
                    Over::Form => s.form[i / 256][i % 256].push((id as u32, k)),
                }
            }
        }
        s.broad = s.rows[..blocks * LANES]
            .as_chunks::<LANES>()
            .0
            .iter()
            .map(|b| {
                [
                    std::array::from_fn(|l| b[l].lo),
                    std::array::from_fn(|l| b[l].hi),
                    std::array::from_fn(|l| b[l].inv),
                ]
            })
            .collect();
        for d in &model.distinct {
            for set in &d.sets {
                let id = s.set_distinct.len() as u32;
                s.set_distinct.push(s.distinct_least.len() as u32);
                for &c in set {
                    sets[c].push(id);
                }
            }
            s.distinct_least.push(d.least);
        }
        if let Some(b) = model.budget {
            // The bill is followed as a row; what is at home is taken off when it is read.
            s.bill_row = Some(s.rows.len());
            s.rows.push(Edge {
                lo: f64::NEG_INFINITY,
                hi: b,
                inv: 1.0 / b.max(1e-9),
                whole: 0.0,
                kind: Kind::Must,
            });
        }
        for g in &model.objective.goals {
            let id = s.rows.len();
            s.goals.push(id);
            s.goal_weight.push(g.weight / scale);
            s.rows.push(Edge {
                lo: g.centre,
                hi: g.centre,
                inv: 1.0 / g.centre.abs().max(1e-9),
                whole: 0.0,
                kind: Kind::Goal,
            });
            for &(c, k) in &g.terms {
                amount[c].push((id as u32, k));
            }
        }
        for (p, home) in model.pantry.iter().enumerate() {
            for &(c, g) in &home.terms {
                pantry[c].push((p as u32, g));
            }
        }
        for (c, col) in model.columns.iter().enumerate() {
            let own = model.objective.linear.get(c).copied().unwrap_or(0.0);
            let cost = if model.objective.cost { col.cost } else { 0.0 };
            s.columns[c].linear = (own + cost) / scale;
        }
        (s.amount, s.using) = (Lists::of(amount), Lists::of(using));
        (s.sets, s.pantry) = (Lists::of(sets), Lists::of(pantry));
        let often = |c: usize| uses.get(c).copied().unwrap_or(0.0);
        for choice in &model.choices {
            let mut forms = Vec::new();
            let (mut shapes, mut sum) = (Vec::new(), 0.0);
            for form in &choice.forms {
                let eaten = |part: &Part| {
                    let mut sum = 0.0;
                    let columns = part.columns.iter().filter(|&&c| often(c) > 0.0);
                    columns
                        .map(|&c| {
                            sum += often(c);
                            (c as u32, sum)
                        })
                        .collect::<Eaten>()
                };
                let parts: Vec<Eaten> = form.parts.iter().map(eaten).collect();
                // A form is eaten as often as the part that is filled least.
                let filled = form.parts.iter().zip(&parts).filter(|(p, _)| p.least > 0);
                let least = filled
                    .map(|(p, eaten)| eaten.last().map_or(0.0, |e| e.1) / f64::from(p.least))
                    .fold(f64::INFINITY, f64::min);
                sum += if least.is_finite() { least } else { 0.0 };
                shapes.push(sum);
                forms.push(parts);
            }
            s.pick.push(forms);
            s.shapes.push(shapes);
        }
        s
    }

    /// Writes down what a step of each column adds to the broad rows, some columns at a time: most of them
    /// repeat what another has.
    fn content(&mut self, broad: &[Option<&Row>]) {
        let blocks = broad.len() / LANES;
        let mut known: HashMap<Vec<u64>, u32> = HashMap::new();
        let mut own = vec![[0.0; LANES]; blocks * AT_ONCE];
        for (part, columns) in self.columns.chunks_mut(AT_ONCE).enumerate() {
            let first = part * AT_ONCE;
            own.fill([0.0; LANES]);
            for (id, row) in broad.iter().enumerate().filter_map(|(id, r)| Some((id, (*r)?))) {
                for &(i, k) in &row.terms {
                    if (first..first + columns.len()).contains(&i) {
                        own[(i - first) * blocks + id / LANES][id % LANES] += k;
                    }
                }
            }
            for (n, column) in columns.iter_mut().enumerate() {
                let own = &own[n * blocks..(n + 1) * blocks];
                let bits = own.as_flattened().iter().map(|k| k.to_bits()).collect();
                column.content = *known.entry(bits).or_insert_with(|| {
                    self.contents.extend(own);
                    (self.contents.len() - blocks) as u32
                });
            }
        }
    }
}

/// Where the sum of a row would go by the move at hand.
#[derive(Clone, Copy, Default)]
struct Next {
    act: f64,
    miss: f64,
    /// Which move it was written for.
    stamp: u32,
}

struct State<'s, 'm> {
    space: &'s Space<'m>,
    rng: Rng,
    steps: Vec<u16>,
    forms: Vec<usize>,
    used: Vec<Vec<u32>>,
    act: Vec<f64>,
    /// How far each row is outside now.
    miss: Vec<f64>,
    weight: Vec<f64>,
    /// What the broad rows are outside, weighed, by blocks; and all that is weighed.
    weighed: Vec<f64>,
    all_weighed: f64,
    set_count: Vec<u16>,
    distinct: Vec<u32>,
    home: Vec<f64>,
    bill: f64,
    linear: f64,
    broken: u32,
    // scratch
    next: Vec<Next>,
    stamp: u32,
    touched: Vec<u32>,
    change: Vec<(u32, u16)>,
    from_home: Vec<(u32, f64)>,
    /// For each meal that should stay: how many of its columns differ.
    differs: Vec<u16>,
    /// How many meals that should stay do not.
    changed: i64,
}

struct Delta {
    energy: f64,
    /// The part of it that is of rows outside.
    weighed: f64,
    linear: f64,
    bill: f64,
    broken: i64,
    changed: i64,
}

impl Space<'_> {
    /// What a step of a column adds to the broad rows.
    #[inline]
    fn blocks(&self, column: usize) -> &[Block] {
        let at = self.columns[column].content as usize;
        &self.contents[at..at + self.broad.len()]
    }
}

impl<'s, 'm> State<'s, 'm> {
    fn new(space: &'s Space<'m>, seed: u64) -> Self {
        let model = space.model;
        let mut s = State {
            space,
            rng: Rng::with_seed(seed),
            steps: vec![0; model.columns.len()],
            forms: vec![0; model.choices.len()],
            used: vec![Vec::new(); model.choices.len()],
            act: vec![0.0; space.rows.len()],
            miss: vec![0.0; space.rows.len()],
            weight: vec![1.0; space.rows.len() + space.distinct_least.len()],
            weighed: vec![0.0; space.broad.len()],
            all_weighed: 0.0,
            set_count: vec![0; space.set_distinct.len()],
            distinct: vec![0; space.distinct_least.len()],
            home: vec![0.0; model.pantry.len()],
            bill: 0.0,
            linear: 0.0,
            broken: 0,
            next: vec![Next::default(); space.rows.len()],
            stamp: 0,
            touched: Vec::with_capacity(space.rows.len()),
            change: Vec::new(),
            from_home: Vec::new(),
            differs: vec![0; model.choices.len()],
            changed: 0,
        };
        for c in 0..model.choices.len() {
            s.forms[c] = s.pick_form(c);
            for (col, x) in s.fresh_meal(c, s.forms[c]) {
                s.steps[col as usize] = x;
            }
        }
        s.recount();
        s
    }

    /// Recomputes everything that is kept up to date by moves.
    fn recount(&mut self) {
        let sp = self.space;
        self.act.fill(0.0);
        self.set_count.fill(0);
        self.distinct.fill(0);
        self.home.fill(0.0);
        self.linear = 0.0;
        for u in &mut self.used {
            u.clear();
        }
        let mut bill = 0.0;
        for c in 0..self.steps.len() {
            let x = f64::from(self.steps[c]);
            if x == 0.0 {
                continue;
            }
            self.used[sp.columns[c].choice()].push(c as u32);
            for (b, own) in sp.blocks(c).iter().enumerate() {
                for (act, k) in self.act[b * LANES..].iter_mut().zip(own) {
                    *act += k * x;
                }
            }
            for &(r, k) in &sp.amount[c] {
                self.act[r as usize] += k * x;
            }
            for &(r, k) in &sp.using[c] {
                self.act[r as usize] += k;
            }
            for &t in &sp.sets[c] {
                self.set_count[t as usize] += 1;
                if self.set_count[t as usize] == 1 {
                    self.distinct[sp.set_distinct[t as usize] as usize] += 1;
                }
            }
            for &(p, g) in &sp.pantry[c] {
                self.home[p as usize] += g * x;
            }
            self.linear += sp.columns[c].linear * x;
            bill += sp.columns[c].cost * x;
        }
        for (c, &f) in self.forms.iter().enumerate() {
            for &(r, k) in &sp.form[c][f] {
                self.act[r as usize] += k;
            }
        }
        if let Some(keep) = &sp.model.objective.keep {
            self.differs.fill(0);
            for (n, c) in sp.model.columns.iter().enumerate() {
                self.differs[c.choice] += u16::from(self.steps[n] != keep.steps[n] && !keep.free[c.choice]);
            }
            self.changed = self.differs.iter().filter(|&&d| d > 0).count() as i64;
        }
        bill -= self.saved(&self.home);
        self.bill = bill;
        if let Some(r) = sp.bill_row {
            self.act[r] = bill;
        }
        for (miss, (row, &act)) in self.miss.iter_mut().zip(sp.rows.iter().zip(&self.act)) {
            *miss = row.miss(act);
        }
        self.broken = (0..sp.rows.len())
            .filter(|&r| sp.rows[r].kind != Kind::Goal && self.miss[r] > MET)
            .count() as u32;
        self.broken += (0..self.distinct.len())
            .filter(|&d| self.distinct[d] < sp.distinct_least[d])
            .count() as u32;
        self.weigh();
    }

    /// Whether what moves kept up to date is what it comes to when computed anew.
    fn agrees(&self, (broken, all_weighed, bill): (u32, f64, f64)) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-6 * (1.0 + a.abs());
        // A row at its bound may be told broken one way and met the other.
        broken.abs_diff(self.broken) <= 1 && near(all_weighed, self.all_weighed) && near(bill, self.bill)
    }

    /// How far distinct sets fall short of what is asked, relative.
    fn lacks(&self, d: usize) -> f64 {
        let least = self.space.distinct_least[d];
        f64::from(least.saturating_sub(self.distinct[d])) / f64::from(least.max(1))
    }

    /// Sums up what is outside by the weights of now.
    fn weigh(&mut self) {
        let sp = self.space;
        for (b, sum) in self.weighed.iter_mut().enumerate() {
            *sum = (b * LANES..(b + 1) * LANES)
                .map(|r| self.weight[r] * self.miss[r])
                .sum();
        }
        let others = (sp.broad.len() * LANES..sp.rows.len()).filter(|&r| sp.rows[r].kind != Kind::Goal);
        self.all_weighed = self.weighed.iter().sum::<f64>()
            + others.map(|r| self.weight[r] * self.miss[r]).sum::<f64>()
            + (0..self.distinct.len())
                .map(|d| self.weight[sp.rows.len() + d] * self.lacks(d))
                .sum::<f64>();
    }

    fn saved(&self, home: &[f64]) -> f64 {
        self.space
            .model
            .pantry
            .iter()
            .zip(home)
            .map(|(p, &g)| p.price * p.free.min(g))
            .sum()
    }

    fn largest(&self, read: impl Fn(usize) -> f64) -> f64 {
        if self.space.largest == 0.0 {
            return 0.0;
        }
        self.space
            .goals
            .iter()
            .map(|&r| self.space.rows[r].miss(read(r)))
            .fold(0.0, f64::max)
            * self.space.largest
    }

    /// The scaled objective without penalties.
    fn objective(&self) -> f64 {
        let sp = self.space;
        let mut v = self.linear;
        if sp.model.objective.cost {
            v -= self.saved(&self.home) / sp.scale;
        }
        for (g, &r) in sp.goals.iter().enumerate() {
            v += sp.goal_weight[g] * (self.act[r] - sp.rows[r].lo).abs();
        }
        v + self.largest(|r| self.act[r]) + self.changed as f64 * sp.keep
    }

    /// By how many the columns of each touched meal that differ from the plan to keep would grow.
    fn drift(&self, change: &[(u32, u16)]) -> Vec<(usize, i32)> {
        let mut meals: Vec<(usize, i32)> = Vec::new();
        if let Some(keep) = &self.space.model.objective.keep {
            for &(c, new) in change {
                let c = c as usize;
                let choice = self.space.columns[c].choice();
                let d = i32::from(new != keep.steps[c]) - i32::from(self.steps[c] != keep.steps[c]);
                if d != 0 && !keep.free[choice] {
                    match meals.iter_mut().find(|m| m.0 == choice) {
                        Some(m) => m.1 += d,
                        None => meals.push((choice, d)),
                    }
                }
            }
        }
        meals
    }

    /// Goes to a plan and tells how it stands.
    fn reached(&mut self, forms: Vec<usize>, steps: Vec<u16>) -> Reached {
        self.forms.clone_from(&forms);
        self.steps.clone_from(&steps);
        self.recount();
        let (must, should) = self.misses();
        ((must, should, self.objective(), self.bill), forms, steps)
    }

    /// Sums of relative violation: what must hold, what should.
    fn misses(&self) -> (f64, f64) {
        let (mut must, mut should) = (0.0, 0.0);
        for (e, &a) in self.space.rows.iter().zip(&self.act) {
            match e.kind {
                Kind::Must => must += e.miss(a),
                Kind::Should => should += e.miss(a),
                Kind::Goal | Kind::None => {}
            }
        }
        for (d, &least) in self.space.distinct_least.iter().enumerate() {
            must += f64::from(least.saturating_sub(self.distinct[d])) / f64::from(least.max(1));
        }
        (must, should)
    }

    /// What `self.change` (and a change of form of one meal) would do to the energy; `None` once it is sure to
    /// be more than `most`.
    fn delta(&mut self, form: Option<(usize, usize)>, most: f64) -> Option<Delta> {
        self.stamp = self.stamp.wrapping_add(1);
        self.touched.clear();
        let mut d = Delta {
            energy: 0.0,
            weighed: 0.0,
            linear: 0.0,
            bill: 0.0,
            broken: 0,
            changed: 0,
        };
        let change = std::mem::take(&mut self.change);
        let known = self.weigh_change(&change, form, most, &mut d);
        self.change = change;
        known.then_some(d)
    }

    /// As [`State::delta`]; whether all of it was weighed. What is asked first refuses most moves: the objective, then the
    /// rows over few columns, then the broad ones by blocks.
    fn weigh_change(
        &mut self,
        change: &[(u32, u16)],
        form: Option<(usize, usize)>,
        most: f64,
        d: &mut Delta,
    ) -> bool {
        let most = most + SLACK;
        self.weigh_objective(change, d);
        // At best, all that is outside now comes inside.
        if self.space.goals.is_empty() && d.energy - self.all_weighed > most {
            return false;
        }
        self.weigh_narrow(change, form, d);
        let taken_up = |&(c, new): &(u32, u16)| (new > 0) != (self.steps[c as usize] > 0);
        if !self.distinct.is_empty() && change.iter().any(taken_up) {
            self.weigh_sets(change, d);
        }
        d.energy += d.weighed;
        let mut rest: f64 = self.weighed.iter().sum();
        if d.energy - rest > most {
            return false;
        }
        let (weight, _) = self.weight.as_chunks::<LANES>();
        for (b, edge) in self.space.broad.iter().enumerate() {
            let by = weighed(edge, &self.after(b, change), &weight[b]) - self.weighed[b];
            d.weighed += by;
            d.energy += by;
            rest -= self.weighed[b];
            if d.energy - rest > most {
                return false;
            }
        }
        true
    }

    /// A block of broad rows after a change.
    #[inline]
    fn after(&self, block: usize, change: &[(u32, u16)]) -> Block {
        let (act, _) = self.act.as_chunks::<LANES>();
        let mut at = act[block];
        for &(c, new) in change {
            let dx = f64::from(new) - f64::from(self.steps[c as usize]);
            for (at, k) in at.iter_mut().zip(&self.space.blocks(c as usize)[block]) {
                *at += k * dx;
            }
        }
        at
    }

    fn weigh_objective(&mut self, change: &[(u32, u16)], d: &mut Delta) {
        let sp = self.space;
        let pantry = !sp.model.pantry.is_empty();
        self.from_home.clear();
        for &(c, new) in change {
            let c = c as usize;
            let dx = f64::from(new) - f64::from(self.steps[c]);
            d.linear += sp.columns[c].linear * dx;
            d.bill += sp.columns[c].cost * dx;
            if pantry {
                for &(p, g) in &sp.pantry[c] {
                    match self.from_home.iter_mut().find(|h| h.0 == p) {
                        Some(h) => h.1 += g * dx,
                        None => self.from_home.push((p, g * dx)),
                    }
                }
            }
        }
        for (choice, by) in self.drift(change) {
            let was = i32::from(self.differs[choice]);
            d.changed += i64::from(was + by > 0) - i64::from(was > 0);
        }
        d.energy = d.linear + d.changed as f64 * sp.keep;
        if pantry {
            let mut more = 0.0;
            for &(p, g) in &self.from_home {
                let (at, h) = (&sp.model.pantry[p as usize], self.home[p as usize]);
                more += at.price * (at.free.min(h + g) - at.free.min(h));
            }
            d.bill -= more;
            if sp.model.objective.cost {
                d.energy -= more / sp.scale;
            }
        }
    }

    /// What becomes of the rows over few columns, and of the goals.
    fn weigh_narrow(&mut self, change: &[(u32, u16)], form: Option<(usize, usize)>, d: &mut Delta) {
        let sp = self.space;
        // Slices at hand: the loops below take most of a search.
        let (act, next, stamp) = (self.act.as_slice(), self.next.as_mut_slice(), self.stamp);
        let touched = &mut self.touched;
        let mut add = |r: u32, by: f64| {
            let cell = &mut next[r as usize];
            if cell.stamp != stamp {
                cell.stamp = stamp;
                cell.act = act[r as usize];
                touched.push(r);
            }
            cell.act += by;
        };
        for &(c, new) in change {
            let c = c as usize;
            let old = self.steps[c];
            let dx = f64::from(new) - f64::from(old);
            for &(r, k) in &sp.amount[c] {
                add(r, k * dx);
            }
            let du = i8::from(new > 0) - i8::from(old > 0);
            if du != 0 {
                for &(r, k) in &sp.using[c] {
                    add(r, k * f64::from(du));
                }
            }
        }
        if let Some((choice, to)) = form {
            for &(r, k) in &sp.form[choice][self.forms[choice]] {
                add(r, -k);
            }
            for &(r, k) in &sp.form[choice][to] {
                add(r, k);
            }
        }
        if let Some(r) = sp.bill_row {
            // No column has it.
            self.next[r] = Next {
                act: self.act[r] + d.bill,
                stamp,
                ..Next::default()
            };
            self.touched.push(r as u32);
        }
        let mut goals = false;
        for &r in &self.touched {
            let r = r as usize;
            let e = &sp.rows[r];
            let cell = &mut self.next[r];
            cell.miss = e.miss(cell.act);
            let (before, after) = (self.miss[r], cell.miss);
            if e.kind == Kind::Goal {
                goals = true;
            } else if before != after {
                d.weighed += self.weight[r] * (after - before);
                d.broken += i64::from(after > MET) - i64::from(before > MET);
            }
        }
        if goals {
            for (g, &r) in sp.goals.iter().enumerate() {
                if self.next[r].stamp == self.stamp {
                    let lo = sp.rows[r].lo;
                    d.energy +=
                        sp.goal_weight[g] * ((self.next[r].act - lo).abs() - (self.act[r] - lo).abs());
                }
            }
            let read = |r: usize| {
                if self.next[r].stamp == self.stamp {
                    self.next[r].act
                } else {
                    self.act[r]
                }
            };
            d.energy += self.largest(read) - self.largest(|r| self.act[r]);
        }
    }

    /// What becomes of the numbers of different sets.
    fn weigh_sets(&mut self, change: &[(u32, u16)], d: &mut Delta) {
        let sp = self.space;
        let mut seen = self.distinct.clone();
        for pass in [-1i32, 1] {
            for &(c, new) in change {
                let du = i32::from(new > 0) - i32::from(self.steps[c as usize] > 0);
                if du != pass {
                    continue;
                }
                for &t in &sp.sets[c as usize] {
                    let t = t as usize;
                    let k = sp.set_distinct[t] as usize;
                    if pass < 0 {
                        self.set_count[t] -= 1;
                        seen[k] -= u32::from(self.set_count[t] == 0);
                    } else {
                        self.set_count[t] += 1;
                        seen[k] += u32::from(self.set_count[t] == 1);
                    }
                }
            }
        }
        // Undo the counts: nothing is accepted yet.
        for &(c, new) in change {
            let du = i32::from(new > 0) - i32::from(self.steps[c as usize] > 0);
            for &t in &sp.sets[c as usize] {
                let t = t as usize;
                self.set_count[t] = (i32::from(self.set_count[t]) - du) as u16;
            }
        }
        for (k, &least) in sp.distinct_least.iter().enumerate() {
            if seen[k] != self.distinct[k] {
                let short = |n: u32| f64::from(least.saturating_sub(n)) / f64::from(least.max(1));
                let (before, after) = (short(self.distinct[k]), short(seen[k]));
                d.weighed += self.weight[sp.rows.len() + k] * (after - before);
                d.broken += i64::from(after > 0.0) - i64::from(before > 0.0);
            }
        }
    }

    /// Makes the move that `delta` has just weighed.
    fn apply(&mut self, d: &Delta, form: Option<(usize, usize)>) {
        let sp = self.space;
        for &r in &self.touched {
            let (r, cell) = (r as usize, self.next[r as usize]);
            (self.act[r], self.miss[r]) = (cell.act, cell.miss);
        }
        let mut broken = d.broken;
        for b in 0..sp.broad.len() {
            let at = self.after(b, &self.change);
            for (l, &act) in at.iter().enumerate() {
                let r = b * LANES + l;
                let miss = outside(&sp.broad[b], act, l);
                broken += i64::from(miss > MET) - i64::from(self.miss[r] > MET);
                (self.act[r], self.miss[r]) = (act, miss);
            }
            let (weight, _) = self.weight.as_chunks::<LANES>();
            self.weighed[b] = weighed(&sp.broad[b], &at, &weight[b]);
        }
        self.all_weighed += d.weighed;
        self.linear += d.linear;
        self.changed += d.changed;
        self.bill += d.bill;
        self.broken = (i64::from(self.broken) + broken).max(0) as u32;
        let change = std::mem::take(&mut self.change);
        for (choice, by) in self.drift(&change) {
            self.differs[choice] = (i32::from(self.differs[choice]) + by) as u16;
        }
        for &(c, new) in &change {
            let i = c as usize;
            let old = self.steps[i];
            for &(p, g) in &sp.pantry[i] {
                self.home[p as usize] += g * (f64::from(new) - f64::from(old));
            }
            let choice = sp.columns[i].choice();
            if old == 0 && new > 0 {
                self.used[choice].push(c);
                for &t in &sp.sets[i] {
                    self.set_count[t as usize] += 1;
                    self.distinct[sp.set_distinct[t as usize] as usize] +=
                        u32::from(self.set_count[t as usize] == 1);
                }
            } else if old > 0 && new == 0 {
                self.used[choice].retain(|&u| u != c);
                for &t in &sp.sets[i] {
                    self.set_count[t as usize] -= 1;
                    self.distinct[sp.set_distinct[t as usize] as usize] -=
                        u32::from(self.set_count[t as usize] == 0);
                }
            }
            self.steps[i] = new;
        }
        self.change = change;
        if let Some((c, f)) = form {
            self.forms[c] = f;
        }
    }

    /// A column of a part: mostly one that the bound eats, as often as it does.
    fn pick_column(&mut self, choice: usize, form: usize, part: usize) -> u32 {
        let sp = self.space;
        let eaten = &sp.pick[choice][form][part];
        if let Some(&(last, sum)) = eaten.last()
            && self.rng.u8(..) < sp.favoured
        {
            let at = self.rng.f64() * sum;
            return eaten.iter().find(|e| at < e.1).map_or(last, |e| e.0);
        }
        let all = &sp.model.choices[choice].forms[form].parts[part].columns;
        all[self.rng.usize(0..all.len())] as u32
    }

    /// A form of a meal: one that the bound eats, as often as it does; any where it eats none.
    fn pick_form(&mut self, choice: usize) -> usize {
        let shapes = &self.space.shapes[choice];
        match shapes.last() {
            Some(&sum) if sum > 0.0 => {
                let at = self.rng.f64() * sum;
                let found = shapes.iter().position(|s| at < *s);
                found.unwrap_or(shapes.len() - 1)
            }
            _ => self.rng.usize(0..shapes.len()),
        }
    }

    fn some_steps(&mut self, c: u32) -> u16 {
        let col = &self.space.columns[c as usize];
        if col.most == col.least {
            col.least
        } else {
            self.rng.u16(col.least..=col.most)
        }
    }

    /// Steps of a column that, with what `self.change` does, bring its day's window back to where it
    /// is or to somewhere inside.
    fn fit(&mut self, c: u32) -> u16 {
        let sp = self.space;
        let Some((row, k)) = sp.window[c as usize] else {
            return self.some_steps(c);
        };
        let (e, at) = (&sp.rows[row as usize], self.act[row as usize]);
        let mut without = at - k * f64::from(self.steps[c as usize]);
        for &(o, new) in &self.change {
            if o != c
                && let Some((r, k)) = sp.window[o as usize]
                && r == row
            {
                without += k * (f64::from(new) - f64::from(self.steps[o as usize]));
            }
        }
        let aim = if self.rng.bool() {
            at.clamp(e.lo, e.hi)
        } else {
            e.lo + self.rng.f64() * (e.hi - e.lo)
        };
        let col = &sp.columns[c as usize];
        let x = ((aim - without) / k).round();
        x.clamp(f64::from(col.least), f64::from(col.most)) as u16
    }

    /// Another item of the same day makes up for what `self.change` does to the day.
    fn make_up(&mut self, choice: usize) {
        let day = &self.space.day[choice];
        let other = day[self.rng.usize(0..day.len())];
        let u = &self.used[other];
        if u.is_empty() {
            return;
        }
        let c = u[self.rng.usize(0..u.len())];
        if self.change.iter().any(|m| m.0 == c) {
            return;
        }
        let x = self.fit(c);
        if x != self.steps[c as usize] {
            self.change.push((c, x));
        }
    }

    fn fresh_meal(&mut self, choice: usize, form: usize) -> Vec<(u32, u16)> {
        let model = self.space.model;
        let mut meal: Vec<(u32, u16)> = Vec::new();
        for (p, part) in model.choices[choice].forms[form].parts.iter().enumerate() {
            let n = if part.most > part.least {
                self.rng.u32(part.least..=part.most)
            } else {
                part.least
            };
            self.fill([choice, form, p], n, &mut meal);
        }
        meal
    }

    /// Brings so many more items of a part into a meal; fewer where luck has it, but no fewer than the part asks for.
    fn fill(&mut self, [choice, form, p]: [usize; 3], more: u32, meal: &mut Vec<(u32, u16)>) {
        let model = self.space.model;
        let part = &model.choices[choice].forms[form].parts[p];
        let mut tries = 0;
        let mut have = 0;
        while have < more && tries < 40 {
            tries += 1;
            let c = self.pick_column(choice, form, p);
            if meal.iter().all(|m| m.0 != c) {
                let x = self.some_steps(c);
                meal.push((c, x));
                have += 1;
            }
        }
        // A part that must be full is filled from its list.
        for &c in &part.columns {
            if have >= more.min(part.least) {
                break;
            }
            if meal.iter().all(|m| m.0 != c as u32) {
                meal.push((c as u32, model.columns[c].least));
                have += 1;
            }
        }
    }

    /// Goes on from a plan. What its meals lack of a whole meal comes in: moves keep meals whole, they do not make them so.
    fn go_on(&mut self, from: &Found) {
        self.forms.clone_from(&from.forms);
        self.steps.clone_from(&from.steps);
        let model = self.space.model;
        for (choice, meals) in model.choices.iter().enumerate() {
            let form = self.forms[choice];
            for (p, part) in meals.forms[form].parts.iter().enumerate() {
                let used = part.columns.iter().filter(|&&c| self.steps[c] > 0);
                let mut meal: Vec<(u32, u16)> = used.map(|&c| (c as u32, self.steps[c])).collect();
                let lack = part.least.saturating_sub(meal.len() as u32);
                if lack > 0 {
                    self.fill([choice, form, p], lack, &mut meal);
                    for (c, x) in meal {
                        self.steps[c as usize] = x;
                    }
                }
            }
        }
        self.recount();
    }

    fn count(&self, choice: usize, part: usize) -> u32 {
        self.used[choice]
            .iter()
            .filter(|&&c| self.space.columns[c as usize].part() == part)
            .count() as u32
    }

    /// Proposes a move into `self.change`; returns the change of form, or `None` for no move.
    fn propose(&mut self) -> Option<Option<(usize, usize)>> {
        let model = self.space.model;
        self.change.clear();
        let choice = self.rng.usize(0..model.choices.len());
        let form = self.forms[choice];
        // Back to the meal as it was.
        if let Some(keep) = &model.objective.keep
            && self.differs[choice] > 0
            && self.rng.u8(..) < RETURN
        {
            for &c in &self.used[choice] {
                self.change.push((c, keep.steps[c as usize]));
            }
            let to = keep.forms[choice];
            for &c in model.choices[choice].forms[to]
                .parts
                .iter()
                .flat_map(|p| &p.columns)
            {
                if keep.steps[c] > 0 && self.steps[c] == 0 {
                    self.change.push((c as u32, keep.steps[c]));
                }
            }
            return Some((to != form).then_some((choice, to)));
        }
        match self.rng.u8(0..100) {
            // A step more or less.
            0..=34 => {
                self.step_of(choice)?;
                Some(None)
            }
            // One step up here, one down elsewhere.
            35..=54 => {
                self.step_of(choice)?;
                if self.rng.u8(..) < MAKE_UP_PAIR {
                    self.make_up(choice);
                    return (self.change.len() == 2).then_some(None);
                }
                let other = if self.rng.bool() {
                    choice
                } else {
                    self.rng.usize(0..model.choices.len())
                };
                self.step_of(other)?;
                if self.change.len() == 2 && self.change[0].0 == self.change[1].0 {
                    return None;
                }
                Some(None)
            }
            // Another item of the same part.
            55..=79 => {
                let u = &self.used[choice];
                if u.is_empty() {
                    return None;
                }
                let c = u[self.rng.usize(0..u.len())];
                let part = self.space.columns[c as usize].part();
                let to = self.pick_column(choice, form, part);
                if self.steps[to as usize] > 0 {
                    return None;
                }
                self.change.push((c, 0));
                let x = if self.rng.u8(..) < FIT {
                    self.fit(to)
                } else {
                    self.some_steps(to)
                };
                self.change.push((to, x));
                if self.rng.u8(..) < MAKE_UP_SWAP {
                    self.make_up(choice);
                } else if self.rng.u8(..) < 60 {
                    // ... with a step somewhere else to make up for it.
                    let other = self.rng.usize(0..model.choices.len());
                    let at = self.change.len();
                    self.step_of(other)?;
                    let e = self.change[at].0;
                    if e == c || e == to {
                        return None;
                    }
                }
                Some(None)
            }
            // Add or drop an item where the part allows.
            80..=91 => {
                let parts = &model.choices[choice].forms[form].parts;
                let p = self.rng.usize(0..parts.len());
                let n = self.count(choice, p);
                if self.rng.bool() && n < parts[p].most {
                    let to = self.pick_column(choice, form, p);
                    if self.steps[to as usize] > 0 {
                        return None;
                    }
                    let x = self.some_steps(to);
                    self.change.push((to, x));
                    if self.rng.u8(..) < MAKE_UP_ADD {
                        self.make_up(choice);
                    }
                } else if n > parts[p].least {
                    let c = *self.used[choice]
                        .iter()
                        .filter(|&&c| self.space.columns[c as usize].part() == p)
                        .nth(self.rng.usize(0..n as usize))?;
                    self.change.push((c, 0));
                    if self.rng.u8(..) < MAKE_UP_ADD {
                        self.make_up(choice);
                    }
                } else {
                    return None;
                }
                Some(None)
            }
            // The same slot of two days changes places, whole or one item of it; of one day, two meals trade an item.
            // Pots come and go as a whole.
            92..=95 => {
                if !self.space.pots.is_empty()
                    && self.rng.u8(..) < POT[usize::from(!self.space.same[choice].is_empty())]
                {
                    return if self.rng.bool() {
                        self.cook()
                    } else {
                        self.restock()
                    };
                }
                let same = &self.space.same[choice];
                if same.is_empty() {
                    return self.trade(choice);
                }
                let other = same[self.rng.usize(0..same.len())];
                if self.forms[other] != form {
                    return None;
                }
                if self.rng.u8(..) < ONE_ITEM {
                    return self.exchange(choice, other);
                }
                let a = self.used[choice].clone();
                let b = self.used[other].clone();
                for &c in a.iter().chain(&b) {
                    self.change.push((c, 0));
                }
                for (from, into) in [(&a, other), (&b, choice)] {
                    for &c in from {
                        let item = (model.columns[c as usize].item, model.columns[c as usize].part);
                        let twin = model.choices[into].forms[form]
                            .parts
                            .get(item.1)?
                            .columns
                            .iter()
                            .find(|&&t| model.columns[t].item == item.0)?;
                        let (t, x) = (*twin as u32, self.steps[c as usize]);
                        match self.change.iter_mut().find(|m| m.0 == t) {
                            Some(m) => m.1 = x,
                            None => self.change.push((t, x)),
                        }
                    }
                }
                Some(None)
            }
            // Another form, or the same form anew.
            _ => {
                let forms = model.choices[choice].forms.len();
                let to = if self.rng.u8(..) < self.space.guided {
                    self.pick_form(choice)
                } else {
                    self.rng.usize(0..forms)
                };
                for &c in &self.used[choice] {
                    self.change.push((c, 0));
                }
                for (c, x) in self.fresh_meal(choice, to) {
                    match self.change.iter_mut().find(|m| m.0 == c) {
                        Some(m) => m.1 = x,
                        None => self.change.push((c, x)),
                    }
                }
                for _ in 0..2 {
                    let n = self.rng.usize(0..self.change.len().max(1));
                    if let Some(&(c, x)) = self.change.get(n)
                        && x > 0
                    {
                        let x = self.fit(c);
                        self.change[n].1 = x;
                    }
                }
                Some((to != form).then_some((choice, to)))
            }
        }
    }

    /// A pot is cooked, or one more batch of it: in some meals its dish takes the place of another item of its part.
    fn cook(&mut self) -> Option<Option<(usize, usize)>> {
        let sp = self.space;
        let pot = &sp.pots[self.rng.usize(0..sp.pots.len())];
        let mut left = pot.batch;
        let n = pot.columns.len();
        let from = self.rng.usize(0..n.max(1));
        for i in 0..n {
            let (c, k) = pot.columns[(from + i) % n];
            let col = &sp.columns[c as usize];
            if k <= 0.0
                || self.forms[col.choice()] != col.form()
                || self.steps[c as usize] > 0
                || self.rng.bool()
            {
                continue;
            }
            let steps = (left / k + MET).floor().min(f64::from(col.most)) as u16;
            if steps < col.least {
                continue;
            }
            // What stands in its place.
            let used = self.used[col.choice()].iter();
            let there = used.filter(|&&o| sp.columns[o as usize].part == col.part);
            let out = there.copied().find(|&o| self.change.iter().all(|m| m.0 != o));
            if let Some(out) = out {
                self.change.push((out, 0));
            }
            self.change.push((c, steps));
            left -= k * f64::from(steps);
            if left <= MET {
                return Some(None);
            }
        }
        None
    }

    /// A pot is left out, or another cooked for it: in each meal that eats of it another item takes its place.
    fn restock(&mut self) -> Option<Option<(usize, usize)>> {
        let sp = self.space;
        let pot = &sp.pots[self.rng.usize(0..sp.pots.len())];
        if self.act[pot.row as usize] <= MET {
            return None;
        }
        let other = self.rng.bool().then(|| self.rng.usize(0..sp.pots.len()));
        let other = other.map(|o| sp.pots[o].item).filter(|&o| o != pot.item);
        for &(c, _) in &pot.columns {
            let steps = self.steps[c as usize];
            if steps == 0 {
                continue;
            }
            let own = sp.columns[c as usize];
            self.change.push((c, 0));
            let (to, x) = match other {
                Some(item) => {
                    let part = &sp.model.choices[own.choice()].forms[own.form()].parts[own.part()];
                    let to = *part.columns.iter().find(|&&t| sp.columns[t].item == item)?;
                    let col = &sp.columns[to];
                    (to as u32, steps.clamp(col.least, col.most))
                }
                None => {
                    let to = self.pick_column(own.choice(), own.form(), own.part());
                    (to, self.fit(to))
                }
            };
            if self.steps[to as usize] > 0 || self.change.iter().any(|m| m.0 == to) {
                return None;
            }
            self.change.push((to, x));
        }
        Some(None)
    }

    /// An item moves to another meal of its day, in the place of one there, which comes here if it can.
    fn trade(&mut self, choice: usize) -> Option<Option<(usize, usize)>> {
        let sp = self.space;
        let columns = &sp.columns;
        let n = self.used[choice].len();
        let c = *self.used[choice].get(self.rng.usize(0..n.max(1)))?;
        let kin = &sp.kin[c as usize];
        let there = *kin.get(self.rng.usize(0..kin.len().max(1)))?;
        let at = &columns[there as usize];
        if at.form() != self.forms[at.choice()] || self.steps[there as usize] > 0 {
            return None;
        }
        let own = &columns[c as usize];
        self.change.push((c, 0));
        let part = &sp.model.choices[at.choice()].forms[at.form()].parts[at.part()];
        let mut victim = None;
        let have = self.count(at.choice(), at.part());
        if have > 0 && (have >= part.most || self.rng.bool()) {
            let nth = self.rng.usize(0..have as usize);
            let mut all = self.used[at.choice()]
                .iter()
                .filter(|&&o| columns[o as usize].part == at.part);
            let v = *all.nth(nth)?;
            self.change.push((v, 0));
            victim = Some(v);
        }
        let steps = self.steps[c as usize].clamp(at.least, at.most);
        self.change.push((there, steps));
        // What fills its place.
        let mine = &sp.model.choices[choice].forms[own.form()].parts[own.part()];
        if self.count(choice, own.part()) <= mine.least || victim.is_some() && self.rng.bool() {
            let back = victim.and_then(|v| {
                let here = sp.kin[v as usize].iter();
                let mut here = here.filter(|&&k| {
                    let k = &columns[k as usize];
                    (k.choice(), k.form, k.part) == (choice, own.form, own.part)
                });
                Some((*here.next()?, self.steps[v as usize]))
            });
            let (to, x) = match back {
                Some((to, x)) => {
                    let col = &columns[to as usize];
                    (to, x.clamp(col.least, col.most))
                }
                None => {
                    let to = self.pick_column(choice, own.form(), own.part());
                    (to, self.fit(to))
                }
            };
            if to == c || self.steps[to as usize] > 0 || self.change.iter().any(|m| m.0 == to) {
                return None;
            }
            self.change.push((to, x));
        }
        self.make_up(choice);
        Some(None)
    }

    /// An item of one meal and an item of the same part of another change places.
    fn exchange(&mut self, choice: usize, other: usize) -> Option<Option<(usize, usize)>> {
        let sp = self.space;
        let columns = &sp.columns;
        let pick = |s: &mut Self, c: usize| -> Option<u32> {
            let n = s.used[c].len();
            (n > 0).then(|| s.used[c][s.rng.usize(0..n)])
        };
        let (a, b) = (pick(self, choice)?, pick(self, other)?);
        let (ca, cb) = (&columns[a as usize], &columns[b as usize]);
        if ca.part != cb.part || ca.item == cb.item {
            return None;
        }
        let twin = |of: u32, into: usize| {
            let c = &columns[of as usize];
            let part = sp.model.choices[into].forms[c.form()].parts.get(c.part())?;
            let t = *part.columns.get(sp.place[of as usize] as usize)?;
            (columns[t].item == c.item).then_some(t as u32)
        };
        let (ta, tb) = (twin(a, other)?, twin(b, choice)?);
        if self.steps[ta as usize] > 0 || self.steps[tb as usize] > 0 {
            return None;
        }
        self.change.push((a, 0));
        self.change.push((b, 0));
        self.change.push((ta, self.steps[a as usize]));
        self.change.push((tb, self.steps[b as usize]));
        Some(None)
    }

    fn step_of(&mut self, choice: usize) -> Option<()> {
        let u = &self.used[choice];
        if u.is_empty() {
            return None;
        }
        let c = u[self.rng.usize(0..u.len())];
        let col = &self.space.columns[c as usize];
        let x = self.steps[c as usize];
        let by = if self.rng.u8(..) < 200 { 1 } else { 2 };
        let (more, less) = (x + by <= col.most, x >= col.least + by);
        let up = match (more, less) {
            (true, true) => self.rng.bool(),
            (false, false) => return None,
            _ => more,
        };
        let new = if up { x + by } else { x - by };
        self.change.push((c, new));
        Some(())
    }
}

/// How far a broad row is outside, relative.
#[inline]
fn outside([lo, hi, inv]: &[Block; 3], act: f64, l: usize) -> f64 {
    let (under, over) = (lo[l] - act, act - hi[l]);
    let by = if under > over { under } else { over };
    (if by > 0.0 { by } else { 0.0 }) * inv[l]
}

/// What a block of broad rows is outside, weighed.
#[inline]
fn weighed(edge: &[Block; 3], act: &Block, weight: &Block) -> f64 {
    let sum: Block = std::array::from_fn(|l| outside(edge, act[l], l) * weight[l]);
    let half: [f64; 4] = std::array::from_fn(|l| sum[l] + sum[l + 4]);
    (half[0] + half[2]) + (half[1] + half[3])
}

/// How good a state is: what must hold, what should, the objective, then cost.
type Key = (f64, f64, f64, f64);
/// A state found: how good it is, its forms and its steps.
type Reached = (Key, Vec<usize>, Vec<u16>);

fn better(a: Key, b: Key) -> bool {
    let near = |x: f64, y: f64| (x - y).abs() <= 1e-9;
    if !near(a.0, b.0) {
        return a.0 < b.0;
    }
    if !near(a.1, b.1) {
        return a.1 < b.1;
    }
    if !near(a.2, b.2) {
        return a.2 < b.2;
    }
    a.3 < b.3 - 1e-9
}

/// First temperature as a share of the objective's scale: one meal of a plan moves it by about as much.
fn hot(meals: usize) -> f64 {
    (1.05 / meals.max(1) as f64).min(0.3)
}
/// Last temperature.
const COLD: f64 = 0.000_1;
/// Out of 256 picks, how many follow the bound: it eats a little of much, which days can only share out among them when
/// they are several.
fn guided(days: usize, [one, week]: [usize; 2]) -> u8 {
    let more = days.max(1) - 1;
    ((one * (6 - more.min(6)) + week * more.min(6)) / 6) as u8
}
/// Least weight of a row that holds.
const LIGHT: f64 = 0.02;
/// Most weight of a row that stays broken while the search is hot: heavier ones would freeze it.
const HEAVY: f64 = 5.0;
/// Most weight of a row times the temperature, once that is more than [`HEAVY`].
const HOLD: f64 = 0.02;
/// Out of 256 steps for a step elsewhere, how many are made up for in the same day.
const MAKE_UP_PAIR: u8 = 180;
/// The same for another item, and for an item more or less.
const MAKE_UP_SWAP: u8 = 120;
/// See [`MAKE_UP_SWAP`].
const MAKE_UP_ADD: u8 = 160;
/// Out of 256 other items, how many come in the amount that keeps the day's window.
const FIT: u8 = 200;
/// Out of 256 exchanges, how many are of a pot where there are pots: on one day, and where pots serve several.
const POT: [u8; 2] = [40, 128];
/// Out of 256 exchanges between days, how many are of one item.
const ONE_ITEM: u8 = 128;
/// First temperature when a plan that breaks what must hold is mended without regard to the objective.
const MEND: f64 = 0.02;
/// The objective counts one part in so many while a plan is mended.
const REGARDLESS: f64 = 1e4;
/// Out of 256 picks of an item, how many come from those the bound eats: for one day, and for seven and more.
const FAVOURED: [usize; 2] = [150, 220];
/// The same where dishes are cooked in whole batches, of which the bound, with its parts of batches, knows less.
const FAVOURED_WITH_POTS: [usize; 2] = [150, 170];
/// The same of picks of a form, which come as often as the bound eats it.
const FAVOURED_FORM: [usize; 2] = [48, 245];
/// Out of 256 proposals for a meal that differs from the plan to keep, how many go back to it.
const RETURN: u8 = 64;
/// First temperature when a plan is continued.
const WARM: f64 = 0.003;

/// Searches for the best plan. `scale` is the size of the objective (the bound's value serves). `uses` is how often
/// the bound eats each column ([`super::bound::Bound::uses`]), or empty for no guidance.
///
/// `from` continues a plan already found instead of starting anew; meals that lack something are made whole first.
pub fn search(model: &Model, uses: &[f64], scale: f64, effort: Effort, from: Option<&Found>) -> Found {
    sought(model, uses, scale, effort, from, None)
}

/// As [`search`] from nothing, and then the best plan that so much work puts together from those of all starts
/// ([`gather`]).
pub fn search_and_gather(model: &Model, bound: &Bound, scale: f64, effort: Effort, work: u64) -> Found {
    sought(model, &bound.uses, scale, effort, None, Some((bound, work)))
}

fn sought(
    model: &Model,
    uses: &[f64],
    scale: f64,
    effort: Effort,
    from: Option<&Found>,
    together: Option<(&Bound, u64)>,
) -> Found {
    let scale = if scale.is_finite() && scale.abs() > 1e-9 {
        scale.abs()
    } else {
        1.0
    };
    let space = Space::new(model, uses, scale);
    let starts = effort.starts.max(1);
    let each = effort.moves / u64::from(starts);
    let begin = |start: u32| {
        let seed = effort.seed.wrapping_mul(0x9E37_79B9_7F4A_7C15);
        let mut s = State::new(&space, seed.wrapping_add(u64::from(start)));
        let mut hot = hot(model.choices.len());
        if let Some(f) = from {
            s.go_on(f);
            hot = WARM;
        }
        let mut best = None;
        anneal(&mut s, each, hot, &mut best);
        best
    };
    // Which thread takes which start is chance; what each finds is not, and they are compared in their order.
    let next = AtomicU32::new(0);
    let take = || {
        let mut found = Vec::new();
        loop {
            let start = next.fetch_add(1, Ordering::Relaxed);
            if start >= starts {
                break found;
            }
            found.extend(begin(start).map(|f| (start, f)));
        }
    };
    let mut found = std::thread::scope(|scope| {
        let others = effort.threads.get().min(starts as usize) - 1;
        let others: Vec<_> = (0..others).map(|_| scope.spawn(take)).collect();
        let mut found = take();
        for other in others {
            found.extend(other.join().unwrap_or_else(|e| resume_unwind(e)));
        }
        found
    });
    found.sort_by_key(|(start, _)| *start);
    let mut best: Option<Reached> = None;
    for (_, f) in &found {
        if best.as_ref().is_none_or(|b| better(f.0, b.0)) {
            best = Some(f.clone());
        }
    }
    let mut moves = each * u64::from(starts);
    let broken = |b: &Option<Reached>| b.as_ref().is_some_and(|b| b.0.0 > MET || b.0.1 > MET);
    if let Some((bound, work)) = together.filter(|t| t.1 > 0)
        && let Some(b) = best.as_mut().filter(|b| b.0.0 <= MET && b.0.1 <= MET)
    {
        let value = model.value(&b.2);
        let room = value - bound.value.unwrap_or(f64::NEG_INFINITY);
        let plans = found.iter().map(|f| f.1.2.as_slice());
        let dear = (bound.dear.as_slice(), room);
        if let Some(f) = gather(model, plans, lower(value), dear, work, effort.threads) {
            let mut s = State::new(&space, effort.seed);
            let lower = s.reached(f.forms, f.steps);
            if better(lower.0, b.0) {
                *b = lower;
            }
        }
    }
    // Nothing that holds: mend the nearest regardless of the objective, then mind the objective again.
    if from.is_none() && broken(&best) {
        let mending = Space::new(model, uses, scale * REGARDLESS);
        for (space, hot) in [(&mending, MEND), (&space, WARM)] {
            let Some((_, forms, steps)) = best.take() else {
                break;
            };
            let mut s = State::new(space, effort.seed);
            best = Some(s.reached(forms, steps));
            anneal(&mut s, effort.moves / 2, hot, &mut best);
            moves += effort.moves / 2;
        }
    }
    let (_, forms, steps) = best.unwrap_or_else(|| {
        let s = State::new(&space, effort.seed);
        ((0.0, 0.0, 0.0, 0.0), s.forms.clone(), s.steps.clone())
    });
    Found { forms, steps, moves }
}

fn anneal(s: &mut State, moves: u64, first_hot: f64, best: &mut Option<Reached>) {
    let cooling = libm::log(COLD / first_hot);
    let mut hot = first_hot;
    let mut low = f64::INFINITY;
    let mut low_broken = u32::MAX;
    let round = (moves / 400).max(50);
    for n in 0..moves {
        if n % round == 0 {
            hot = first_hot * libm::exp(cooling * n as f64 / moves as f64);
            if n % (round * 16) == 0 {
                let kept = (s.broken, s.all_weighed, s.bill);
                s.recount();
                debug_assert!(n == 0 || s.agrees(kept), "{kept:?} was kept up");
            }
            let most = (HOLD / hot).clamp(HEAVY, 1e3);
            // Rows that stay broken grow dearer, rows that hold slowly cheaper.
            for r in 0..s.space.rows.len() {
                if matches!(s.space.rows[r].kind, Kind::Goal | Kind::None) {
                    continue;
                }
                let w = &mut s.weight[r];
                *w = if s.miss[r] > MET {
                    (*w * 1.25).min(most)
                } else {
                    (*w * 0.97).max(LIGHT)
                };
            }
            let rows = s.space.rows.len();
            for (d, &least) in s.space.distinct_least.iter().enumerate() {
                let w = &mut s.weight[rows + d];
                *w = if s.distinct[d] < least {
                    (*w * 1.25).min(most)
                } else {
                    (*w * 0.97).max(LIGHT)
                };
            }
            s.weigh();
        }
        let Some(form) = s.propose() else { continue };
        let most = -hot * libm::log(s.rng.f64().max(1e-300));
        let Some(d) = s.delta(form, most) else { continue };
        if d.energy > most {
            continue;
        }
        s.apply(&d, form);
        let first = low_broken == u32::MAX;
        if s.broken <= low_broken && (s.broken > 0 || first || low_broken > 0 || s.objective() < low + 1e-9) {
            let (must, should) = if s.broken == 0 { (0.0, 0.0) } else { s.misses() };
            let key = (must, should, s.objective(), s.bill);
            if s.broken < low_broken {
                low = f64::INFINITY;
            }
            low_broken = low_broken.min(s.broken);
            low = low.min(key.2);
            if best.as_ref().is_none_or(|b| better(key, b.0)) {
                *best = Some((key, s.forms.clone(), s.steps.clone()));
            }
        }
    }
}
