//! The answers of a board: a linear program kept solved for each brief that is open, asked again with bounds moved.
//!
//! One thread for each open board owns its program; questions and answers go over channels. What is asked is the
//! text of a brief, so that an answer is that of the brief with the handles written in it: where only bounds differ
//! from the program at hand it is asked from the last basis, else it is built anew.

use super::handle::{Handle, Moves, strictest};
use crate::brief::{Objective, Scope};
use crate::diagnostic::Diagnostic;
use crate::energy::GateAction;
use crate::model::Class;
use crate::model::linear::Linear;
use crate::nutrient::Nutrient;
use crate::page::folder::{Folder, Shared, Sheet};
use crate::plan::Conflict;
use crate::ready::{Ready, ready};
use crate::report::amount::significant;
use crate::solve::bound::{Standing, rank};
use crate::solve::duals::{Lever, Price};
use crate::solve::engine::NoOptimum;
use crate::solve::iis::{Elastic, irreducible};
use crate::solve::simplex::Simplex;
use crate::targets::{Strength, Target};
use crate::why::sweep::target_levers;
use crate::why::{BoundPrice, Case, Lowered, Near, Side, rule_name, spoken};
use itertools::Itertools;
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeSet;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::oneshot;

/// Boards kept open at a time.
const MOST_BOARDS: usize = 8;
/// A board that nobody asks is put away after so long.
const IDLE: Duration = Duration::from_secs(5 * 60);
/// Nobody has asked for so long: time to make ready what may be asked.
const PAUSE: Duration = Duration::from_millis(100);
/// Answers after which the program begins again from its first basis, so that rows taken in do not pile up.
const AFRESH: u32 = 200;

/// What the linear program says of a brief with its handles where they are.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Unit of the objective and of every price; money is a day's.
    pub unit: String,
    /// Objective id.
    pub objective: &'static str,
    /// Days planned.
    pub days: u32,
    /// The optimum of the brief as it is; `None` when it has none.
    pub before: Option<f64>,
    /// What came out.
    pub outcome: Outcome,
}

/// What came out.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// There is an optimum in fractions of servings.
    Best(Best),
    /// The rows cannot hold together.
    Never(Never),
    /// A safety gate stops the phase: why, and what would be acceptable.
    Stopped(String, String),
    /// The handles make no brief.
    Mistakes(Vec<Diagnostic>),
    /// The program was not solved.
    Unknown(String),
}

/// An optimum and what holds it.
#[derive(Clone, Debug, PartialEq)]
pub struct Best {
    /// Its value, of money a day's.
    pub value: f64,
    /// Whether prices recomputed outside the solver prove that no plan goes below it.
    pub proved: bool,
    /// Bounds that bind and cost something, dearest first; ids are those of the handles.
    pub prices: Vec<BoundPrice>,
    /// Names of the bounds that cost nothing.
    pub free: Vec<String>,
    /// Reference floors that food does not reach.
    pub lowered: Vec<Lowered>,
    /// Whether each price was asked for on both sides; else both have the one of the present basis.
    pub both: bool,
}

/// Why there is none.
#[derive(Clone, Debug, PartialEq)]
pub struct Never {
    /// What cannot hold together.
    pub conflict: Vec<Conflict>,
    /// Whether none of it can be spared; else it is what one proof leans on.
    pub irreducible: bool,
    /// For handles that were moved, where the nearest place with a plan is: handle id, place in its unit a day.
    pub back: Vec<(String, f64)>,
}

/// A question: the text of the brief with the handles in it, and which were moved.
struct Question {
    text: String,
    moved: Vec<usize>,
    full: bool,
    reply: oneshot::Sender<Answer>,
}

struct Open {
    name: String,
    digest: String,
    used: Instant,
    door: Sender<Question>,
}

/// The boards that are open.
#[derive(Default)]
pub struct Boards(Mutex<Vec<Open>>);

impl Boards {
    /// The answer to a brief with its handles moved. `full` also tells which conflict cannot be made smaller, and how
    /// far back a handle must go, which takes longer. `None` when the board broke off.
    pub async fn ask(
        &self,
        folder: &Shared,
        sheet: &Sheet,
        text: String,
        moved: Vec<usize>,
        full: bool,
    ) -> Option<Answer> {
        let (reply, answer) = oneshot::channel();
        let question = Question {
            text,
            moved,
            full,
            reply,
        };
        self.door(folder, sheet, question)?;
        answer.await.ok()
    }

    /// Hands a question to the board of a brief, which is opened when it is not there.
    fn door(&self, folder: &Shared, sheet: &Sheet, question: Question) -> Option<()> {
        let mut boards = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let mine = |b: &Open| b.name == sheet.name && b.digest == sheet.digest;
        let mut question = question;
        if let Some(board) = boards.iter_mut().find(|b| mine(b)) {
            board.used = Instant::now();
            match board.door.send(question) {
                Ok(()) => return Some(()),
                // It was put away in the meantime.
                Err(back) => question = back.0,
            }
        }
        // An older text of the same brief has no use any more; the longest unused gives way to a new one.
        boards.retain(|b| b.name != sheet.name && b.used.elapsed() < IDLE);
        while boards.len() >= MOST_BOARDS {
            let oldest = boards.iter().position_min_by_key(|b| b.used)?;
            boards.remove(oldest);
        }
        let (door, asked) = channel();
        door.send(question).ok()?;
        let (folder, own) = (folder.clone(), sheet.clone());
        std::thread::Builder::new()
            .name("board".into())
            .spawn(move || sit(&folder, &own, &asked))
            .ok()?;
        boards.push(Open {
            name: sheet.name.clone(),
            digest: sheet.digest.clone(),
            used: Instant::now(),
            door,
        });
        Some(())
    }
}

/// Answers until nobody asks any more.
fn sit(folder: &Folder, sheet: &Sheet, asked: &Receiver<Question>) {
    let next = || asked.recv_timeout(IDLE).ok();
    let Ok(own) = ready(&sheet.text, None, None) else {
        return;
    };
    let handles = super::handle::handles(&sheet.text, &own, &folder.larder);
    let mut before = None;
    let mut first = true;
    // The program at hand is that of this brief; one that differs in more than bounds takes its place.
    let mut base = own;
    let mut ended: Option<Near> = None;
    let mut waiting: Option<Question> = None;
    loop {
        if base.stopped() {
            // No program: each question that is not stopped brings its own.
            let Some(q) = waiting.take().or_else(&next) else {
                return;
            };
            match ready(&q.text, None, None) {
                Ok(now) if !now.stopped() => {
                    base = now;
                    waiting = Some(q);
                }
                other => {
                    let outcome = not_solved(other);
                    let _ = q.reply.send(told(&base, folder, before, outcome));
                }
            }
            first = false;
            continue;
        }
        let last = ended.take();
        let case = base.pieces(&folder.larder).and_then(|p| Case::near(p, last));
        let mut program = match case {
            Ok((case, near)) => Program::new(case, near),
            Err(problems) => {
                let Some(q) = waiting.take().or_else(&next) else {
                    return;
                };
                let outcome = Outcome::Mistakes(problems);
                let _ = q.reply.send(told(&base, folder, before, outcome));
                match ready(&sheet.text, None, None) {
                    Ok(own) => base = own,
                    Err(_) => return,
                }
                continue;
            }
        };
        if std::mem::take(&mut first) {
            before = program.value();
        }
        // Questions about this program.
        let other = loop {
            let soon = waiting.take().or_else(|| asked.recv_timeout(PAUSE).ok());
            if soon.is_none() {
                program.near.begin_musts(&program.case);
            }
            let Some(q) = soon.or_else(&next) else {
                return;
            };
            if q.reply.is_closed() {
                continue;
            }
            let now = match ready(&q.text, None, None) {
                Ok(now) if !now.stopped() => now,
                other => {
                    let outcome = not_solved(other);
                    let _ = q.reply.send(told(&base, folder, before, outcome));
                    continue;
                }
            };
            match program.outcome(&now, &handles, &q) {
                Some(outcome) => {
                    let _ = q.reply.send(told(&now, folder, before, outcome));
                }
                None => break (now, q),
            }
        };
        ended = Some(program.near);
        base = other.0;
        waiting = Some(other.1);
    }
}

fn not_solved(ready: Result<Ready, Vec<Diagnostic>>) -> Outcome {
    match ready {
        Err(problems) => Outcome::Mistakes(problems),
        Ok(ready) => {
            let stop = ready.energy.gates.iter().find(|g| g.action == GateAction::Stop);
            let (why, instead) = stop.map_or_else(Default::default, |g| (g.why.clone(), g.instead.clone()));
            Outcome::Stopped(why, instead)
        }
    }
}

fn told(ready: &Ready, folder: &Folder, before: Option<f64>, outcome: Outcome) -> Answer {
    let currency = || {
        let kitchen = folder.larder.kitchen(&ready.brief).ok()?;
        let prices = folder.larder.prices(&kitchen.id).ok()??;
        Some(prices.currency.to_string())
    };
    let (objective, unit) = match ready.brief.objective {
        Objective::Cost => ("cost", format!("{} a day", currency().unwrap_or_default())),
        Objective::Closeness => ("closeness", "share of the centre".into()),
        Objective::Usual => ("usual", "energy moved, share of the week's".into()),
    };
    Answer {
        unit,
        objective,
        days: ready.brief.days,
        before,
        outcome,
    }
}

/// Targets of one nutrient and scope, in their order.
fn of_key(targets: &[Target], key: (Nutrient, Scope)) -> impl Iterator<Item = &Target> {
    targets.iter().filter(move |t| (t.nutrient, t.scope) == key)
}

/// The handles that a question has moved.
fn own_of(handles: &[Handle], q: &Question) -> BTreeSet<String> {
    q.moved
        .iter()
        .filter_map(|&m| Some(handles.get(m)?.id.clone()))
        .collect()
}

/// What closeness is measured from: the first centre of each nutrient.
fn centres(targets: &[Target]) -> Vec<(Nutrient, f64)> {
    targets
        .iter()
        .filter(|t| t.scope != Scope::Meal)
        .filter_map(|t| Some((t.nutrient, t.centre?)))
        .unique_by(|c| c.0)
        .collect()
}

/// The rows of one nutrient and scope: for each target there its merged rows with how many times the daily bound they
/// hold. All of them have the same terms.
struct Rows {
    key: (Nutrient, Scope),
    of: Vec<Vec<(usize, f64)>>,
}

/// A bound as it is held: handle id, target, side, bound, lever.
type Held<'t> = (String, &'t Target, Side, f64, Lever);

/// A program kept solved.
struct Program<'a> {
    case: Case<'a>,
    /// The program with the bounds as last asked.
    near: Near,
    rows: Vec<Rows>,
    budget: Option<usize>,
    /// Not asked anything yet: the answer of the case itself still holds.
    fresh: bool,
    since: u32,
}

impl<'a> Program<'a> {
    fn new(case: Case<'a>, near: Near) -> Program<'a> {
        let mut rows: Vec<Rows> = Vec::new();
        for (t, lever) in case.pieces.targets.iter().zip(target_levers(&case)) {
            let own = lever.rows.iter().map(|&(r, k, _)| (r, k)).collect();
            let key = (t.nutrient, t.scope);
            match rows.iter_mut().find(|r| r.key == key) {
                Some(r) => r.of.push(own),
                None => rows.push(Rows { key, of: vec![own] }),
            }
        }
        let budget = case.lp.rows.iter().position(|r| r.group == "budget");
        Program {
            near,
            case,
            rows,
            budget,
            fresh: true,
            since: 0,
        }
    }

    fn share(&self) -> f64 {
        if self.case.built.model.objective.cost {
            f64::from(self.case.pieces.brief.days)
        } else {
            1.0
        }
    }

    /// The optimum of the case, of money a day's.
    fn value(&mut self) -> Option<f64> {
        let value = match self.case.standing {
            Standing::Open(_) => self.case.simplex.value(),
            Standing::Short(_) => self.near.solve(&self.case).ok()?,
            _ => return None,
        };
        Some(value / self.share())
    }

    /// Whether a brief differs from the one at hand in nothing.
    fn same(&self, now: &Ready) -> bool {
        let p = self.case.pieces;
        p.targets == now.targets && p.brief.budget == now.brief.budget && p.intake_kcal == now.energy.intake.0
    }

    /// Whether a brief differs from the one at hand in bounds only.
    fn fits(&self, now: &Ready) -> bool {
        let p = self.case.pieces;
        let rooms =
            |key: (Nutrient, Scope)| self.rows.iter().find(|r| r.key == key).map_or(0, |r| r.of.len());
        let known = |t: &Target| {
            let key = (t.nutrient, t.scope);
            of_key(&now.targets, key).count() <= rooms(key)
        };
        // The objective is the same: its goals are the centres, where it has any.
        (p.brief.objective != Objective::Closeness || centres(p.targets) == centres(&now.targets))
            && p.intake_kcal == now.energy.intake.0
            && now.targets.iter().all(known)
            && p.brief.budget.is_some() == now.brief.budget.is_some()
            && (self.budget.is_some() || now.brief.budget.is_none())
    }

    /// Moves the bounds to those of a brief that fits: its targets of one nutrient and scope take the rows there in
    /// their order, and rows left over hold nothing.
    fn place(&mut self, now: &Ready) {
        // What gave way to the last question is asked for again.
        for (row, own) in self.near.lp.rows.iter_mut().zip(&self.case.lp.rows) {
            row.lo = own.lo;
        }
        for group in 0..self.rows.len() {
            let key = self.rows[group].key;
            let targets: Vec<&Target> = of_key(&now.targets, key).collect();
            for (m, rows) in self.rows[group].of.clone().iter().enumerate() {
                let target = targets.get(m);
                for &(r, k) in rows {
                    let row = &mut self.near.lp.rows[r];
                    row.lo = target.and_then(|t| t.floor).map(|f| f * k);
                    row.hi = target.and_then(|t| t.ceiling).map(|c| c * k);
                    row.class = match target.map(|t| t.strength) {
                        Some(Strength::Should) => Class::Should,
                        _ => Class::Must,
                    };
                }
            }
        }
        if let Some(r) = self.budget {
            self.near.lp.rows[r].hi = now.brief.budget.as_ref().and_then(|b| b.amount.to_f64());
        }
    }

    /// The answer to a brief; `None` when it takes a program of its own.
    fn outcome(&mut self, now: &Ready, handles: &[Handle], q: &Question) -> Option<Outcome> {
        let same = self.same(now);
        if std::mem::take(&mut self.fresh) && same && matches!(self.case.standing, Standing::Open(_)) {
            let value = self.near.simplex.value();
            return Some(Outcome::Best(self.best(value, now, q.full)));
        }
        if !same && !self.fits(now) {
            return None;
        }
        self.since += 1;
        if self.since >= AFRESH {
            self.restart();
        }
        self.place(now);
        let mut solved = self.near.solve(&self.case);
        if matches!(solved, Err(NoOptimum::Failed(_) | NoOptimum::Unbounded)) {
            self.restart();
            self.place(now);
            solved = self.near.solve(&self.case);
        }
        match solved {
            Ok(value) => Some(Outcome::Best(self.best(value, now, q.full))),
            Err(NoOptimum::Infeasible) => match self.never(now, handles, q) {
                Some(never) => Some(Outcome::Never(never)),
                None => same.then(|| Outcome::Unknown("two answers on whether the rows can hold".into())),
            },
            Err(e) => same.then(|| Outcome::Unknown(e.to_string())),
        }
    }

    fn restart(&mut self) {
        self.since = 0;
        self.near = self.case.afresh();
    }

    /// The bounds of a brief, the strictest of each kind, with the rows that they move.
    fn bounds<'t>(&self, now: &'t Ready) -> Vec<Held<'t>> {
        let mut out = Vec::new();
        for Rows { key: (n, over), of } in &self.rows {
            for side in [Side::Floor, Side::Ceiling] {
                let Some((bound, target)) = strictest(&now.targets, *n, *over, side) else {
                    continue;
                };
                let own = of_key(&now.targets, (*n, *over)).position(|t| t.id == target.id);
                let rows = own
                    .and_then(|m| of.get(m))
                    .into_iter()
                    .flatten()
                    .map(|&(r, k)| match side {
                        Side::Floor => (r, k, 0.0),
                        Side::Ceiling => (r, 0.0, k),
                    })
                    .collect();
                let id = super::handle::id(*n, *over, side);
                out.push((id, target, side, bound, Lever { rows }));
            }
        }
        out
    }

    fn best(&self, value: f64, now: &Ready, both: bool) -> Best {
        let share = self.share();
        let (x, rows) = (self.near.simplex.point(), self.near.simplex.row_prices());
        let mut prices: Vec<BoundPrice> = Vec::new();
        let mut idle: Vec<(Nutrient, String)> = Vec::new();
        let dear = |p: Option<f64>| p.is_none_or(|p| p.abs() > 1e-9 / share);
        for (id, target, side, bound, lever) in self.bounds(now) {
            let named = format!("{} ({})", spoken(target), side.id());
            if !lever.binds(&self.near.lp, &x) {
                idle.push((target.nutrient, named));
                continue;
            }
            let p = self.price(&lever, &rows, both);
            let corner = p.corner();
            let (up, down) = (p.up.map(|v| v / share), p.down.map(|v| v / share));
            if !dear(up) && !dear(down) {
                idle.push((target.nutrient, named));
                continue;
            }
            prices.push(BoundPrice {
                id,
                name: spoken(target),
                side,
                bound,
                unit: target.nutrient.unit().symbol().into(),
                up,
                down,
                corner,
                without: None,
                from_brief: target.from_brief,
                reason: target.reason.clone(),
            });
        }
        // Told by nutrient where none of its bounds costs anything, else by bound.
        let costly: Vec<Nutrient> = self
            .bounds(now)
            .iter()
            .filter(|b| prices.iter().any(|p| p.id == b.0))
            .map(|b| b.1.nutrient)
            .collect();
        let mut free: Vec<String> = idle
            .into_iter()
            .map(|(n, named)| {
                if costly.contains(&n) {
                    named
                } else {
                    n.name().to_string()
                }
            })
            .unique()
            .collect();
        if let Some(row) = self.budget {
            match self.budget_price(row, &x, now, &rows, both) {
                Some(p) => prices.push(p),
                None => free.push("budget".into()),
            }
        }
        let size =
            |p: &BoundPrice| p.up.unwrap_or(0.0).abs().max(p.down.unwrap_or(0.0).abs()) * p.bound.abs();
        prices.sort_by(|a, b| size(b).total_cmp(&size(a)));
        let bound = self.near.simplex.bound();
        Best {
            value: value / share,
            proved: bound >= value - 1e-6 * value.abs().max(1e-3),
            prices,
            free,
            lowered: self.lowered(now),
            both,
        }
    }

    /// The price of a bound on both sides, or while a handle moves that of the present basis for both.
    fn price(&self, lever: &Lever, rows: &[f64], both: bool) -> Price {
        if both {
            return lever.price(&self.near.simplex, &self.near.lp);
        }
        let slope = lever.slope(rows);
        Price {
            up: Some(slope),
            down: Some(-slope),
        }
    }

    /// The price of the budget in the unit of its handle; `None` when it costs nothing.
    fn budget_price(
        &self,
        row: usize,
        x: &[f64],
        now: &Ready,
        rows: &[f64],
        both: bool,
    ) -> Option<BoundPrice> {
        let budget = now.brief.budget.as_ref()?;
        let total = budget.amount.to_f64()?;
        let days = f64::from(now.brief.days);
        let lever = Lever {
            rows: vec![(row, 0.0, days)],
        };
        if !lever.binds(&self.near.lp, x) {
            return None;
        }
        let p = self.price(&lever, rows, both);
        let share = self.share();
        let (up, down) = (p.up.map(|v| v / share), p.down.map(|v| v / share));
        let dear = |p: Option<f64>| p.is_none_or(|p| p.abs() > 1e-9 / share);
        (dear(up) || dear(down)).then(|| BoundPrice {
            id: "budget".into(),
            name: "budget, a day".into(),
            side: Side::Ceiling,
            bound: total / days,
            unit: budget.currency.to_string(),
            up,
            down,
            corner: p.corner(),
            without: None,
            from_brief: true,
            reason: "the budget of the brief".into(),
        })
    }

    fn lowered(&self, now: &Ready) -> Vec<Lowered> {
        let mut out = Vec::new();
        for (_, target, side, bound, lever) in self.bounds(now) {
            let Some(&(r, k, _)) = lever.rows.first().filter(|_| side == Side::Floor) else {
                continue;
            };
            let taken = self.near.lp.rows[r].lo.unwrap_or(0.0) / k.max(1e-12);
            if taken < bound - 1e-9 * bound.abs().max(1e-6) {
                out.push(Lowered {
                    id: target.id.clone(),
                    name: spoken(target),
                    asked: bound,
                    taken,
                    unit: target.nutrient.unit().symbol().into(),
                });
            }
        }
        out
    }

    /// Why the rows cannot hold; `None` when they can once reference floors give way.
    fn never(&mut self, now: &Ready, handles: &[Handle], q: &Question) -> Option<Never> {
        let proof = self.near.contradiction(&self.case)?;
        let must = q.full.then(|| self.near.musts()).flatten();
        let own = own_of(handles, q);
        let bounds = self.bounds(now);
        let moved = |group: &str| {
            bounds
                .iter()
                .filter(|b| own.contains(&b.0))
                .any(|b| b.4.rows.iter().any(|r| self.near.lp.rows[r.0].group == group))
        };
        let model = &self.case.built.model;
        let weight = |group: &str| if moved(group) { 3 } else { rank(model, group) };
        let least = must
            .as_ref()
            .and_then(|(must, _)| irreducible(must, &weight).ok().flatten());
        let exact = least.is_some();
        let mut groups = least.unwrap_or(proof);
        if !exact {
            groups.sort_by_key(|g| (std::cmp::Reverse(weight(g)), g.clone()));
        }
        let conflict = groups
            .iter()
            .flat_map(|g| self.member(g, &bounds, now, &own))
            .collect();
        let back = match &must {
            Some((must, simplex)) => q
                .moved
                .iter()
                .filter_map(|&m| self.back(&handles[m], &bounds, must, simplex, now))
                .collect(),
            _ => Vec::new(),
        };
        Some(Never {
            conflict,
            irreducible: exact,
            back,
        })
    }

    /// A group of rows as a person names it: a line for each bound that it holds.
    fn member(&self, group: &str, bounds: &[Held], now: &Ready, own: &BTreeSet<String>) -> Vec<Conflict> {
        if group == "budget" {
            let most = now.brief.budget.as_ref().map_or_else(String::new, |b| {
                format!(", at most {} {} for all days", b.amount, b.currency)
            });
            return vec![Conflict {
                group: format!("budget{most}"),
                reason: String::new(),
            }];
        }
        let named: Vec<Conflict> = bounds
            .iter()
            .filter(|b| b.4.rows.iter().any(|r| self.near.lp.rows[r.0].group == group))
            .map(|(id, target, side, bound, _)| {
                let word = if *side == Side::Floor {
                    "at least"
                } else {
                    "at most"
                };
                Conflict {
                    group: format!(
                        "{}: {word} {} {}",
                        spoken(target),
                        crate::report::amount::figure(*bound),
                        target.nutrient.unit().label()
                    ),
                    reason: if own.contains(id) {
                        "where the handle is".into()
                    } else {
                        target.reason.clone()
                    },
                }
            })
            .collect();
        if named.is_empty() {
            vec![Conflict {
                group: rule_name(group),
                reason: String::new(),
            }]
        } else {
            named
        }
    }

    /// How far one handle alone must go back for a plan to exist.
    fn back(
        &self,
        handle: &Handle,
        bounds: &[Held],
        must: &Linear,
        simplex: &Simplex,
        now: &Ready,
    ) -> Option<(String, f64)> {
        let days = f64::from(now.brief.days);
        let (lever, at, floor) = match handle.moves {
            Moves::Bound(_, _, side) => {
                let found = bounds.iter().find(|b| b.0 == handle.id)?;
                (found.4.clone(), found.3, side == Side::Floor)
            }
            Moves::Budget => {
                let row = self.budget?;
                let total = now.brief.budget.as_ref()?.amount.to_f64()?;
                let lever = Lever {
                    rows: vec![(row, 0.0, days)],
                };
                (lever, total / days, false)
            }
            Moves::Intake => return None,
        };
        let most = if floor { at } else { 100.0 * at.abs() + 1e3 };
        let mut elastic = Elastic::of(simplex.clone(), must, &[lever]);
        let by = elastic.least(&[Some(1.0)], &[most]).ok()??;
        let to = if floor { at - by[0] } else { at + by[0] };
        // Rounded to the side that opens a plan.
        let size = libm::exp10(3.0 - libm::log10(to.abs().max(1e-9)).floor());
        let inside = if floor {
            (to * size + 1e-6).floor() / size
        } else {
            (to * size - 1e-6).ceil() / size
        };
        Some((handle.id.clone(), significant(inside, 8)))
    }
}
