//! Why this plan and why none: every price, conflict, way out and corner against solving anew with another engine.

mod lp;

use platewright::brief::{self, Brief};
use platewright::energy::{self, EnergyBudget};
use platewright::foods::FoodTable;
use platewright::kitchen::Catalogue;
use platewright::model::Class;
use platewright::model::build::{Pieces, serving_amounts};
use platewright::model::linear::Linear;
use platewright::nutrient::Nutrient;
use platewright::plan::{Work, plan};
use platewright::prices::PriceList;
use platewright::solve::bound::Standing;
use platewright::solve::duals::{Lever, entry};
use platewright::solve::engine::{NoOptimum, minimise};
use platewright::solve::parametric::frontier;
use platewright::solve::simplex::Simplex;
use platewright::targets::{self, Target};
use platewright::why::live::{Live, Now};
use platewright::why::sweep::{Question, sweep};
use platewright::why::{Case, Near, Side, no_plan};
use std::sync::OnceLock;

fn table() -> &'static FoodTable {
    static TABLE: OnceLock<FoodTable> = OnceLock::new();
    TABLE.get_or_init(FoodTable::bundled)
}

fn catalogue() -> &'static Catalogue {
    static CATALOGUE: OnceLock<Catalogue> = OnceLock::new();
    CATALOGUE.get_or_init(|| Catalogue::bundled(table()).expect("the bundled catalogue has no problem"))
}

struct World {
    brief: Brief,
    energy: EnergyBudget,
    targets: Vec<Target>,
    prices: PriceList,
}

/// An invented person; `more` are keys of the top of the brief, `below` tables after it.
fn world(more: &str, below: &str) -> World {
    let text = format!(
        "title = \"invented\"\nregion = \"us\"\nobjective = \"cost\"\n{more}\n[person]\nsex = \"female\"\nage = 30\n\
         height = \"168 cm\"\nweight = \"61 kg\"\ntraining = \"novice\"\n[activity]\nlevel = \"active\"\n\
         [[phase]]\nkind = \"gain\"\nsurplus = \"400 kcal\"\nweeks = 12\n{below}"
    );
    let (brief, _) = brief::parse(&text).unwrap_or_else(|e| panic!("{e:?}\n{text}"));
    let energy = energy::budget(&brief).expect("an energy budget");
    let (targets, problems) = targets::derive(&brief, &energy);
    assert!(problems.iter().all(|p| !p.is_error()), "{problems:?}");
    let prices = PriceList::bundled("us", catalogue())
        .expect("sound")
        .expect("a list");
    World {
        brief,
        energy,
        targets,
        prices,
    }
}

/// An example as it stands, over so many days.
fn example(text: &str, days: u32) -> World {
    let (mut brief, _) = brief::parse(text).expect("the example reads");
    brief.days = days;
    let energy = energy::budget(&brief).expect("an energy budget");
    let (targets, _) = targets::derive(&brief, &energy);
    let prices = PriceList::bundled(&brief.region.value, catalogue())
        .expect("sound")
        .expect("a list");
    World {
        brief,
        energy,
        targets,
        prices,
    }
}

const SURPLUS: &str = include_str!("../examples/surplus-on-a-budget/brief.toml");
const VEGAN: &str = include_str!("../examples/vegan-on-a-budget/brief.toml");
const INDIAN: &str = include_str!("../examples/north-indian-vegetarian/brief.toml");

impl World {
    fn pieces(&self) -> Pieces<'_> {
        Pieces {
            brief: &self.brief,
            intake_kcal: self.energy.intake.0,
            targets: &self.targets,
            kitchen: catalogue().kitchen(&self.brief.region.value).expect("a kitchen"),
            catalogue: catalogue(),
            table: table(),
            prices: Some(&self.prices),
        }
    }
}

/// The program with a lever moved.
fn moved(lp: &Linear, lever: &Lever, by: f64) -> Linear {
    let mut lp = lp.clone();
    for &(r, floor, ceiling) in &lever.rows {
        let row = &mut lp.rows[r];
        row.lo = row.lo.map(|b| b + floor * by);
        row.hi = row.hi.map(|b| b + ceiling * by);
    }
    lp
}

#[test]
fn prices_of_a_day_are_what_solving_anew_gives() {
    let w = world("days = 1", "");
    let case = Case::new(w.pieces()).expect("a case");
    lp::agreed(&case.lp);
    let why = case.why().expect("a reason");
    assert!(why.proved, "the optimum is not proven");
    assert!(why.prices.len() >= 3, "{:?}", why.prices);
    let best = minimise(&case.lp).expect("an optimum").value;
    let levers = platewright::why::sweep::target_levers(&case);
    for p in &why.prices {
        let at = w.targets.iter().position(|t| t.id == p.id).expect("a target");
        let ceiling = p.side == Side::Ceiling;
        let lever = Lever {
            rows: levers[at]
                .rows
                .iter()
                .map(|&(r, k, _)| if ceiling { (r, 0.0, k) } else { (r, k, 0.0) })
                .collect(),
        };
        // On each stated side, by another engine, one ten-thousandth of the bound away.
        let step = 1e-4 * p.bound;
        for (price, by) in [(p.up, step), (p.down, -step)] {
            match (price, minimise(&moved(&case.lp, &lever, by))) {
                (Some(price), Ok(m)) => {
                    let told = price * step;
                    let found = m.value - best;
                    assert!(
                        (told - found).abs() <= 1e-7 + 2e-3 * found.abs(),
                        "{}: {told} against {found}",
                        p.id
                    );
                }
                (None, Err(NoOptimum::Infeasible)) => {}
                (told, found) => panic!("{}: {told:?} against {found:?}", p.id),
            }
        }
        // A floor that rises, or a ceiling that falls, never makes it cheaper.
        let (rise, fall) = (p.up.unwrap_or(0.0), p.down.unwrap_or(0.0));
        assert!(
            if ceiling {
                rise <= 0.0 && fall >= 0.0
            } else {
                rise >= 0.0 && fall <= 0.0
            },
            "{p:?}"
        );
    }
    // A bound that is told to cost nothing does not bind for a small step either way.
    for r in &why.rules {
        assert!(r.price.is_none_or(|p| p >= 0.0), "{r:?}");
    }
}

#[test]
fn rules_cost_what_solving_without_them_saves() {
    let w = world("days = 7", "");
    let case = Case::new(w.pieces()).expect("a case");
    let why = case.why().expect("a reason");
    let best = minimise(&case.lp).expect("an optimum").value;
    for id in [
        "repeats",
        "variety",
        "meal sizes",
        "reference fruit_and_vegetables",
    ] {
        let told = why
            .rules
            .iter()
            .find(|r| r.id == id)
            .expect("the rule")
            .price
            .expect("a price");
        let mut free = case.lp.clone();
        free.rows.retain(|r| r.group != id);
        let found = (best - minimise(&free).expect("an optimum").value) / 7.0;
        assert!((told - found).abs() < 1e-6, "{id}: {told} against {found}");
    }
}

#[test]
fn ranges_hold_and_entries_enter() {
    let w = world("days = 1", "");
    let case = Case::new(w.pieces()).expect("a case");
    let why = case.why().expect("a reason");
    let best = minimise(&case.lp).expect("an optimum").value;
    let servings = |id: &str| -> Vec<(usize, f64)> {
        let mut sum = std::collections::BTreeMap::new();
        for (n, c) in case.built.model.columns.iter().enumerate() {
            if catalogue().items[c.item].id == id {
                for &(v, steps) in case.lp.amount[n].iter() {
                    sum.insert(v, steps * c.servings);
                }
            }
        }
        sum.into_iter().collect()
    };
    // The ends of a range, asked of the other engine.
    for r in why.ranges.iter().take(3) {
        let mut near = case.lp.clone();
        let cost: Vec<(usize, f64)> = near
            .variables
            .iter()
            .map(|v| v.cost)
            .enumerate()
            .filter(|c| c.1 != 0.0)
            .collect();
        near.row("near", cost, None, Some(best * 1.01));
        for (way, told) in [(1.0, r.least), (-1.0, r.most)] {
            for v in &mut near.variables {
                v.cost = 0.0;
            }
            for (v, k) in servings(&r.id) {
                near.variables[v].cost = way * k;
            }
            let found = way * minimise(&near).expect("an end").value;
            assert!((told - found).abs() < 1e-5, "{}: {told} against {found}", r.id);
        }
    }
    // An item just cheaper than told enters, one just dearer does not.
    for l in why.left_out.iter().filter(|l| l.enters > 0.0).take(3) {
        for (factor, enters) in [(0.995, true), (1.005, false)] {
            let mut other = case.lp.clone();
            for (v, k) in servings(&l.id) {
                other.variables[v].cost = l.enters * factor * k;
            }
            let x = minimise(&other).expect("an optimum").x;
            let eaten: f64 = servings(&l.id).iter().map(|&(v, k)| k * x[v]).sum();
            assert_eq!(
                eaten > 1e-6,
                enters,
                "{} at {factor} of {}: {eaten}",
                l.id,
                l.enters
            );
        }
        assert!(
            entry(&case.simplex, &servings(&l.id)).is_some_and(|d| (l.costs - d - l.enters).abs() < 1e-9)
        );
    }
}

/// Broken briefs: keys, tables below, words that the conflict must hold, the target of a way out.
const BROKEN: [(&str, &str, &str, &str); 5] = [
    ("days = 7\nbudget = \"20 USD/week\"", "", "budget", "budget"),
    (
        "days = 7\ndiet = \"vegan\"",
        "[[target]]\nnutrient = \"protein\"\nfloor = \"3.2 g/kg\"\nscope = \"day\"\n[[target]]\nnutrient = \"sodium\"\nceiling = \"700 mg\"\n",
        "protein",
        "protein_day",
    ),
    (
        "days = 3",
        "[[target]]\nnutrient = \"saturated_fat\"\nceiling = \"1 % energy\"\n",
        "saturated fat",
        "saturated_fat_mean",
    ),
    (
        "days = 7\nbudget = \"30 USD/week\"",
        "[[target]]\nnutrient = \"protein\"\nfloor = \"2.4 g/kg\"\nscope = \"day\"\n",
        "budget",
        "budget",
    ),
    (
        "days = 2",
        "[[target]]\nnutrient = \"protein\"\nfloor = \"25 g\"\nscope = \"meal\"\n[[lock]]\nday = 2\nslot = \"lunch\"\nitems = [ { item = \"banana\", servings = 1 } ]\n",
        "locked lunch of day 2",
        "locked lunch of day 2",
    ),
];

#[test]
fn conflicts_are_irreducible_and_ways_out_open() {
    for (more, below, named, way) in BROKEN {
        let w = world(more, below);
        let case = Case::new(w.pieces()).expect("a case");
        let Standing::Conflict(groups) = &case.standing else {
            panic!("{more} {below}: {:?}", case.standing)
        };
        let mut must = case.lp.clone();
        for r in must.rows.iter_mut().filter(|r| r.class == Class::Should) {
            r.lo = None;
        }
        let only = |kept: &[&String]| {
            let mut part = must.clone();
            part.rows
                .retain(|r| r.group.is_empty() || kept.contains(&&r.group));
            for v in &mut part.variables {
                v.cost = 0.0;
            }
            minimise(&part)
        };
        let all: Vec<&String> = groups.iter().collect();
        assert_eq!(only(&all).unwrap_err(), NoOptimum::Infeasible, "{groups:?}");
        for n in 0..all.len() {
            let mut fewer = all.clone();
            let out = fewer.remove(n);
            assert!(only(&fewer).is_ok(), "{out} of {groups:?} is not needed");
        }
        let told = no_plan(&case).expect("a reason");
        assert!(
            told.conflict
                .iter()
                .any(|c| c.group.to_lowercase().contains(named)),
            "{named} in {:?}",
            told.conflict
        );
        let found = told.ways.iter().find(|o| o.target == way);
        let found = found.unwrap_or_else(|| panic!("{way} in {:?}", told.ways));
        // A bound moved as told opens a plan in parted servings, and by a tenth less does not.
        let (Some(by), false) = (found.by, found.together) else {
            continue;
        };
        for (share, opens) in [(1.001, true), (0.9, false)] {
            let mut eased = must.clone();
            for r in eased.rows.iter_mut().filter(|r| r.group == found.target) {
                let times = if r.group == "budget" {
                    1.0
                } else {
                    r.hi.or(r.lo).unwrap_or(1.0) / found.from.unwrap_or(1.0)
                };
                if found.bound == Some("floor") {
                    r.lo = r.lo.map(|b| b + by * share * times);
                } else {
                    r.hi = r.hi.map(|b| b + by * share * times);
                }
            }
            for v in &mut eased.variables {
                v.cost = 0.0;
            }
            assert_eq!(minimise(&eased).is_ok(), opens, "{found:?} at {share}");
        }
    }
}

#[test]
fn a_sweep_is_what_solving_anew_gives() {
    let w = world("days = 1", "");
    let told = sweep(
        w.pieces(),
        &Question {
            vary: vec!["protein 1.2..3 g/kg".into()],
            against: "cost".into(),
            points: 15,
            whole: 0,
        },
    )
    .expect("a sweep");
    assert!(told.pieces.len() > 1);
    // Pieces join, and the cost of protein never falls with more of it.
    for p in told.pieces.windows(2) {
        assert!((p[0].to - p[1].from).abs() < 1e-9 && p[0].slope <= p[1].slope + 1e-9);
    }
    let mut compared = 0;
    for (at, value) in &told.table {
        let below = format!(
            "[[target]]\nnutrient = \"protein\"\nfloor = \"{} g\"\nscope = \"day\"\n",
            at * 61.0
        );
        let there = world("days = 1", &below);
        let mut case = Case::new(there.pieces()).expect("a case");
        // The other floors of protein step aside in the sweep.
        for r in &mut case.lp.rows {
            if r.group == "protein_mean" {
                r.lo = None;
            }
        }
        if let Standing::Open(_) = case.standing {
            let found = minimise(&case.lp).expect("an optimum").value;
            let value = value.expect("a value");
            assert!((value - found).abs() < 1e-5, "{at}: {value} against {found}");
            compared += 1;
        }
    }
    assert!(compared > 8, "{compared} places compared");
}

#[test]
fn a_frontier_of_the_least_is_where_it_closes() {
    let w = world("days = 1", "");
    let told = sweep(
        w.pieces(),
        &Question {
            vary: vec!["budget 1..12 USD/day".into()],
            against: "protein:max".into(),
            points: 12,
            whole: 2,
        },
    )
    .expect("a sweep");
    let cheapest = Case::new(w.pieces())
        .expect("a case")
        .why()
        .expect("a reason")
        .value;
    let closed = told.closed_below.expect("too little money for a plan");
    assert!((closed - cheapest).abs() < 1e-3, "{closed} against {cheapest}");
    // More money never brings less protein, and each further dollar brings less than the one before.
    assert!(told.pieces.iter().all(|p| p.slope >= -1e-9));
    assert!(told.pieces.windows(2).all(|p| p[0].slope >= p[1].slope - 1e-9));
    let best = |x: f64| {
        told.pieces
            .iter()
            .find(|p| x <= p.to + 1e-9)
            .map(|p| p.value_from + p.slope * (x - p.from))
    };
    for (x, y) in &told.whole {
        assert!(y.is_none_or(|y| y <= best(*x).expect("inside") + 1e-6));
    }
}

#[test]
fn a_map_falls_along_looser_bounds() {
    let w = world("days = 1", "");
    let told = sweep(
        w.pieces(),
        &Question {
            vary: vec!["protein 1.2..2.4 g/kg".into(), "sodium 1200..2300 mg".into()],
            against: "cost".into(),
            points: 4,
            whole: 0,
        },
    )
    .expect("a map");
    assert_eq!((told.cells.len(), told.cells[0].len()), (4, 4));
    for row in &told.cells {
        assert!(
            row.windows(2)
                .all(|c| c[0].zip(c[1]).is_none_or(|(a, b)| a <= b + 1e-9)),
            "{row:?}"
        );
    }
    for y in 1..4 {
        for x in 0..4 {
            let (low, high) = (told.cells[y - 1][x], told.cells[y][x]);
            assert!(low.zip(high).is_none_or(|(a, b)| b <= a + 1e-9));
        }
    }
}

#[test]
fn wrong_questions_are_told_with_what_to_write() {
    let w = world("days = 1", "");
    let ask = |vary: &str, against: &str| {
        let question = Question {
            vary: vec![vary.into()],
            against: against.into(),
            points: 5,
            whole: 0,
        };
        sweep(w.pieces(), &question).expect_err(vary).to_string()
    };
    for (vary, against, holds) in [
        ("protien 1.2..2.6 g/kg", "cost", "did you mean `protein`?"),
        ("protein 2.6..1.2 g/kg", "cost", "is empty"),
        ("protein 1.2 g/kg", "cost", "has no range"),
        ("protein 1.2..2.6 mmol", "cost", "no unit of protein"),
        ("budget 40..70 EUR/week", "cost", "USD/week"),
        ("energy 2000..3000 kcal", "cost", "`intake` or `surplus`"),
        ("protein 60..90 g", "fiber", "did you mean `fibre`?"),
        ("protein 60..90 g", "cost:least", "neither `min` nor `max`"),
        ("surplus 100..300 kcal", "closeness", "against cost or a nutrient"),
        ("protein -5..90 g", "cost", "cannot be under 0"),
    ] {
        let told = ask(vary, against);
        assert!(told.contains(holds), "{vary}: {told}");
        assert!(told.contains("help: "), "{told}");
    }
}

#[test]
fn a_bound_on_what_no_food_has_is_refused() {
    let w = world("days = 1", "");
    let case = Case::new(w.pieces()).expect("a case");
    let items: std::collections::BTreeSet<usize> = case.built.model.columns.iter().map(|c| c.item).collect();
    let amounts: Vec<Vec<f64>> = items
        .iter()
        .map(|&i| serving_amounts(table(), &catalogue().items[i]).to_vec())
        .collect();
    let nowhere = Nutrient::all()
        .find(|n| amounts.iter().all(|a| a[n.index()] == 0.0))
        .expect("a nutrient without data");
    for (vary, against) in [
        (format!("{} 1..2", nowhere.id()), "cost".to_string()),
        ("protein 60..90 g".into(), format!("{}:max", nowhere.id())),
    ] {
        let question = Question {
            vary: vec![vary.clone()],
            against,
            points: 5,
            whole: 0,
        };
        let told = sweep(w.pieces(), &question).expect_err(&vary).to_string();
        let what = format!("the food table has no amount of {}", nowhere.name());
        assert!(told.contains(&what) && told.contains("help: "), "{told}");
    }
}

#[test]
fn energy_moves_every_bound_that_follows_it() {
    let w = world("days = 1", "");
    let told = sweep(
        w.pieces(),
        &Question {
            vary: vec!["surplus 200..400 kcal".into()],
            against: "cost".into(),
            points: 3,
            whole: 0,
        },
    )
    .expect("a sweep");
    // At the brief's own surplus it is the brief's own optimum.
    let own = Case::new(w.pieces())
        .expect("a case")
        .why()
        .expect("a reason")
        .value;
    let (at, value) = told.table[2];
    assert!(
        (at - 400.0).abs() < 1e-9 && (value.expect("a value") - own).abs() < 1e-5,
        "{value:?} against {own}"
    );
    assert!(told.table[0].1 < told.table[2].1, "less food costs less");
}

#[test]
fn a_frontier_of_nothing_is_empty() {
    let w = world("days = 1\nbudget = \"1 USD/week\"", "");
    let case = Case::new(w.pieces()).expect("a case");
    let row = case
        .lp
        .rows
        .iter()
        .position(|r| r.name == "protein_mean")
        .unwrap_or(0);
    let lever = Lever {
        rows: vec![(row, 1.0, 0.0)],
    };
    let line = frontier(&case.lp, &lever, 0.0, 1.0).expect("an answer");
    assert!(line.points.is_empty());
}

/// Writes the merged program of every example with its prices for `tests/cross/duals.py`.
#[test]
#[ignore = "writes files for a comparison by hand"]
fn written_for_another_solver() {
    use platewright::model::linear::mps;
    use std::fmt::Write as _;
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let out = root.join("target/cross");
    std::fs::create_dir_all(&out).expect("a folder");
    for entry in std::fs::read_dir(root.join("examples")).expect("examples") {
        let folder = entry.expect("an entry").path();
        let Ok(text) = std::fs::read_to_string(folder.join("brief.toml")) else {
            continue;
        };
        let (brief, _) = brief::parse(&text).expect("a brief");
        let energy = energy::budget(&brief).expect("an energy budget");
        let (targets, _) = targets::derive(&brief, &energy);
        let Some(kitchen) = catalogue().kitchen(&brief.region.value) else {
            continue;
        };
        let prices = PriceList::bundled(&kitchen.id, catalogue()).expect("sound");
        let case = Case::new(Pieces {
            brief: &brief,
            intake_kcal: energy.intake.0,
            targets: &targets,
            kitchen,
            catalogue: catalogue(),
            table: table(),
            prices: prices.as_ref(),
        })
        .expect("a case");
        let mut lines = format!("{}\n", case.simplex.value());
        let x = lp::with_sets(&case.lp, &case.simplex);
        for (r, row) in case
            .lp
            .rows
            .iter()
            .enumerate()
            .filter(|(_, r)| !r.group.is_empty() && r.group != "repeats")
        {
            if row.lo == row.hi {
                continue;
            }
            for lever in [(r, 1.0, 0.0), (r, 0.0, 1.0)].map(|l| Lever { rows: vec![l] }) {
                if lever.binds(&case.lp, &x) {
                    let p = lever.price(&case.simplex, &case.lp);
                    let told = |p: Option<f64>| p.map_or("none".to_string(), |p| p.to_string());
                    let _ = writeln!(lines, "{}\t{}\t{}", row.name, told(p.up), told(p.down));
                }
            }
        }
        let name = folder.file_name().expect("a name").to_string_lossy().to_string();
        std::fs::write(out.join(format!("{name}.mps")), mps(&case.lp)).expect("written");
        std::fs::write(out.join(format!("{name}.prices")), lines).expect("written");
    }
}

#[test]
fn a_frontier_of_a_day_is_what_solving_anew_gives_at_200_places() {
    // Each range goes from where the floor costs nothing to where it closes, or far into what it costs.
    for (text, share, corners) in [
        (SURPLUS, (0.7, 1.7), 30),
        (VEGAN, (0.7, 1.7), 60),
        (INDIAN, (1.0, 3.0), 3),
    ] {
        let w = example(text, 1);
        let mut lp = Case::new(w.pieces()).expect("a case").lp;
        let mut lever = Lever::default();
        for (r, row) in lp.rows.iter_mut().enumerate() {
            match row.group.as_str() {
                "protein_mean" => row.lo = None,
                "protein_day" => {
                    lever.rows.push((r, row.lo.expect("a floor"), 0.0));
                    row.lo = Some(0.0);
                }
                _ => {}
            }
        }
        assert!(!lever.rows.is_empty());
        let line = frontier(&lp, &lever, share.0, share.1).expect("a frontier");
        assert!(line.points.len() >= corners, "{} corners", line.points.len());
        // The other way of solving goes from place to place; now and then it begins from nothing, and another
        // engine is asked as well.
        let mut s = Simplex::new(&lp);
        for n in 0..200 {
            let at = share.0 + (share.1 - share.0) * f64::from(n) / 199.0;
            lever.set(&mut s, &lp, at);
            let anew = s.solve();
            let (Some(told), Ok(found)) = (line.value(at), &anew) else {
                let closed = line.closed_above && at > line.points.last().expect("a point").at - 1e-6;
                assert!(
                    closed && line.value(at).is_none() && anew == Err(NoOptimum::Infeasible),
                    "at {at}"
                );
                continue;
            };
            assert!(
                (told - found).abs() <= 1e-7 * found.abs(),
                "at {at}: {told}, anew {found}"
            );
            if n % 66 == 1 {
                let there = moved(&lp, &lever, at);
                let fresh = Simplex::new(&there).solve().expect("an optimum");
                assert!(
                    (told - fresh).abs() <= 1e-7 * fresh.abs(),
                    "at {at}: {told}, from nothing {fresh}"
                );
                let other = minimise(&there).expect("an optimum").value;
                assert!(
                    (told - other).abs() <= 1e-6 * other.abs(),
                    "at {at}: {told}, other {other}"
                );
            }
        }
        // Prices give the slope on both sides of every corner.
        for (n, slope) in line.slopes.iter().enumerate() {
            let (a, b) = (&line.points[n], &line.points[n + 1]);
            assert!((lever.slope(&a.prices) - slope).abs() <= 1e-9 * slope.abs().max(1e-6));
            assert!((a.value + slope * (b.at - a.at) - b.value).abs() <= 1e-7 * b.value.abs());
            assert!(n == 0 || line.slopes[n - 1] < *slope, "no corner at {}", a.at);
        }
    }
}

#[test]
fn a_board_tells_after_each_move_what_solving_anew_gives() {
    for (text, words) in [
        (
            SURPLUS,
            [
                "protein 60..400 g",
                "sodium ceiling 1000..2300 mg",
                "budget 20..90 USD/week",
                "surplus 200..500 kcal",
            ],
        ),
        (
            INDIAN,
            [
                "protein 40..400 g",
                "fat ceiling 20..35 % of energy",
                "budget 300..1500 INR/week",
                "fibre 20..70 g",
            ],
        ),
    ] {
        let w = example(text, 7);
        let mut live = Live::new(w.pieces(), &words).expect("a board");
        // Where the brief has its bounds it is the brief's own optimum.
        let own = Case::new(w.pieces()).expect("a case").simplex.value() / 7.0;
        let Now::Open(first) = live.solve().expect("an answer") else {
            panic!("the brief is open")
        };
        assert!(
            (first.value - own).abs() <= 1e-6 * own,
            "{} against {own}",
            first.value
        );
        let mut rng = fastrand::Rng::with_seed(3);
        let (mut open, mut closed) = (0, 0);
        for n in 0..60 {
            // The first goes to its end, where protein and fibre are out of reach; each has its turn otherwise.
            let h = if n % 12 > 9 { 0 } else { rng.usize(0..words.len()) };
            let (from, to) = (live.handles()[h].what.from, live.handles()[h].what.to);
            // Mostly a small move; now and then to an end, and back to where weeks are open.
            let at = match n % 12 {
                10 => to,
                _ if live.handles()[h].at >= to => from + (to - from) / 5.0,
                _ => live.handles()[h].at + (to - from) * (rng.f64() - 0.5) * 0.1,
            };
            assert_eq!(live.set(h, at), Some(at.clamp(from, to)));
            let now = live.solve().expect("an answer");
            if n % 4 != 1 && n % 12 != 10 {
                continue;
            }
            let there = live.there();
            match (now, Simplex::new(&there).solve()) {
                (Now::Open(now), Ok(found)) => {
                    open += 1;
                    assert!(
                        (now.value * 7.0 - found).abs() <= 1e-7 * found.abs(),
                        "{} against {found}",
                        now.value
                    );
                    // Its point costs that, and what it eats is in the catalogue.
                    let cost: f64 = there
                        .variables
                        .iter()
                        .zip(&now.point)
                        .map(|(v, x)| v.cost * x)
                        .sum();
                    assert!((cost - found).abs() <= 1e-7 * found.abs());
                    assert!(
                        live.servings(&now.point)
                            .iter()
                            .all(|s| s.0 < catalogue().items.len() && s.1 > 0.0)
                    );
                }
                (Now::Closed(now), Err(NoOptimum::Infeasible)) => {
                    closed += 1;
                    assert!(!now.names.is_empty(), "{now:?}");
                    if closed <= 2 {
                        // The rows named, with the structure of meals that they count on, cannot hold.
                        let mut only = there.clone();
                        for v in &mut only.variables {
                            v.cost = 0.0;
                        }
                        only.covers.clear();
                        only.rows = (0..there.rows.len())
                            .filter(|r| now.rows.contains(r) || there.rows[*r].group.is_empty())
                            .map(|r| there.rows[r].clone())
                            .collect();
                        assert_eq!(
                            minimise(&only).unwrap_err(),
                            NoOptimum::Infeasible,
                            "{:?}",
                            now.names
                        );
                    }
                }
                (now, found) => panic!("{now:?} against {found:?}"),
            }
        }
        assert!(open >= 5 && closed >= 4, "{open} open, {closed} closed");
    }
}

#[test]
fn a_board_refuses_what_it_cannot_move() {
    let w = world("days = 1", "");
    let told = |words: &[&str]| match Live::new(w.pieces(), words) {
        Ok(_) => panic!("{words:?} is taken"),
        Err(e) => e.to_string(),
    };
    assert!(told(&["protein 60..90 g", "protein 70..80 g"]).contains("comes twice"));
    assert!(told(&["protien 60..90 g"]).contains("did you mean `protein`?"));
    let mut live = Live::new(w.pieces(), &["protein 60..120 g"]).expect("a board");
    assert_eq!(live.set(1, 70.0), None);
    assert_eq!(live.set(0, f64::NAN), None);
    assert_eq!(live.set(0, 500.0), Some(120.0));
}

#[test]
fn what_is_varied_by_itself_does_not_follow_energy() {
    let w = world("days = 1", "");
    let ask = |vary: &[&str]| {
        let question = Question {
            vary: vary.iter().map(|v| v.to_string()).collect(),
            against: "cost".into(),
            points: 2,
            whole: 0,
        };
        sweep(w.pieces(), &question).expect("a sweep")
    };
    // A map's rows are the lines of one quantity with the other where it stands, in whichever order they are asked.
    let one = ask(&["fat ceiling 25..35 % of energy"]);
    let map = ask(&["fat ceiling 25..35 % of energy", "surplus 399..400 kcal"]);
    let turned = ask(&["surplus 399..400 kcal", "fat ceiling 25..35 % of energy"]);
    for x in 0..2 {
        let at = |v: Option<f64>| v.expect("a plan");
        let (own, first, second) = (at(one.table[x].1), at(map.cells[1][x]), at(turned.cells[x][1]));
        assert!(
            (own - first).abs() < 1e-5 && (first - second).abs() < 1e-9,
            "{own}, {first}, {second}"
        );
    }
}

/// Briefs one after another, each solved from where the last ended: other energy, another floor more, a locked meal,
/// another diet. Each has the optimum of its program begun anew.
#[test]
fn a_brief_nearby_begins_where_the_last_ended() {
    let protein = "[[target]]\nnutrient = \"protein\"\nfloor = \"15 g\"\nscope = \"meal\"";
    let lock =
        "[[lock]]\ndays = [2]\nslot = \"breakfast\"\nitems = [ { item = \"oatmeal_water\", servings = 2 } ]";
    let mut briefs: Vec<(f64, &str, &str)> = (0..12)
        .map(|n| (2300.0 + 90.0 * f64::from(n), "days = 7", ""))
        .collect();
    briefs.extend([
        (2700.0, "days = 7", protein),
        (2750.0, "days = 7", lock),
        (2700.0, "days = 7\ndiet = [\"vegan\"]", ""),
        (2700.0, "days = 5", ""),
        (2740.0, "days = 5", ""),
    ]);
    let mut last: Option<Near> = None;
    for (kcal, more, below) in briefs {
        let w = world(more, below);
        let pieces = Pieces {
            intake_kcal: kcal,
            ..w.pieces()
        };
        let (case, near) = Case::near(pieces, last.take()).expect("a case");
        let anew = Simplex::new(&case.lp).solve();
        match (&case.standing, anew) {
            (Standing::Open(_), Ok(best)) => {
                let found = case.simplex.value();
                assert!(
                    (found - best).abs() <= 1e-7 * best.abs(),
                    "{kcal} kcal, {more}, {below}: {found}, anew {best}"
                );
                let (bound, value) = (case.simplex.bound(), case.simplex.value());
                assert!(
                    bound >= value - 1e-6 * value.abs(),
                    "{kcal}: {bound} under {value}"
                );
            }
            (Standing::Open(_), Err(e)) => panic!("{kcal} kcal, {more}, {below}: {e} when begun anew"),
            (other, Ok(best)) => panic!("{kcal} kcal, {more}, {below}: {other:?}, anew {best}"),
            (_, Err(_)) => {}
        }
        last = Some(near);
    }
}

/// By how much the floors of a program lie under those of another that they gave way from, each as a share of itself.
fn given(asked: &Linear, taken: &Linear) -> f64 {
    let lower = asked.rows.iter().zip(&taken.rows);
    lower
        .filter_map(|(a, t)| {
            let (a, t) = (a.lo?, t.lo?);
            // Whole servings are asked for 92 % of what is reached.
            (t < a * (1.0 - 1e-9)).then(|| (a - t / 0.92) / a)
        })
        .sum()
}

/// A budget pulled down in steps and jumps and up again, through where reference floors give way to where nothing can
/// be bought: each answer is that of the brief with that budget, from nothing.
#[test]
fn floors_give_way_to_a_budget_that_is_pulled() {
    let of = |budget: f64| world(&format!("days = 7\nbudget = \"{budget:.2} USD\""), "");
    let home = of(60.0);
    let (case, mut near) = Case::near(home.pieces(), None).expect("a case");
    let row = case
        .lp
        .rows
        .iter()
        .position(|r| r.group == "budget")
        .expect("a budget");
    let (mut open, mut short, mut closed) = (0, 0, 0);
    let budgets = [
        60.0, 33.0, 31.5, 31.0, 30.5, 30.0, 29.5, 29.0, 20.0, 29.2, 30.2, 31.2, 34.0, 28.6, 31.1, 5.0, 50.0,
    ];
    for budget in budgets {
        for (now, own) in near.lp.rows.iter_mut().zip(&case.lp.rows) {
            now.lo = own.lo;
        }
        near.lp.rows[row].hi = Some(budget);
        let asked = near.lp.clone();
        let solved = near.solve(&case);
        let w = of(budget);
        let anew = Case::new(w.pieces()).expect("a case");
        match (&anew.standing, solved) {
            (Standing::Conflict(_), Err(NoOptimum::Infeasible)) => {
                closed += 1;
                assert!(
                    near.contradiction(&case)
                        .is_some_and(|g| g.contains(&"budget".to_string())),
                    "{budget}"
                );
            }
            (Standing::Open(_), Ok(value)) => {
                let (ours, theirs) = (given(&asked, &near.lp), given(&asked, &anew.lp));
                assert!(
                    (ours - theirs).abs() <= 1e-6,
                    "{budget}: {ours} of the floors gave way, anew {theirs}"
                );
                if ours > 0.0 {
                    short += 1;
                } else {
                    open += 1;
                    let best = anew.simplex.value();
                    assert!(
                        (value - best).abs() <= 1e-7 * best,
                        "{budget}: {value}, anew {best}"
                    );
                }
            }
            (standing, solved) => panic!("{budget}: {solved:?}, anew {standing:?}"),
        }
    }
    assert!(
        open > 2 && short > 2 && closed > 1,
        "{open} open, {short} short, {closed} closed"
    );
}

/// More is liked than one breakfast holds: each that does not come is named, and no other.
#[test]
fn what_is_liked_and_does_not_come_is_named() {
    let liked = ["oatmeal_water", "oatmeal_instant", "granola_bowl", "banana"];
    let w = world(&format!("days = 1\nlikes = {liked:?}"), "");
    let made = plan(w.pieces(), &w.energy, Work::of(w.brief.days, Some(200_000))).expect("a plan");
    let eaten: Vec<&str> = made
        .days
        .iter()
        .flat_map(|d| &d.meals)
        .flat_map(|m| &m.items)
        .map(|i| i.id.as_str())
        .collect();
    let name = |id: &str| {
        catalogue()
            .items
            .iter()
            .find(|i| i.id == id)
            .expect("an item")
            .name
            .clone()
    };
    let told: Vec<&str> = made
        .cautions
        .iter()
        .filter(|c| c.code == "like-missed")
        .map(|c| c.text.as_str())
        .collect();
    for id in liked {
        let named = told
            .iter()
            .any(|t| t.starts_with(&format!("{} is liked", name(id))));
        assert_eq!(named, !eaten.contains(&id), "{id}: {told:?}, eaten {eaten:?}");
    }
    assert!(!told.is_empty() && told.len() < liked.len(), "{told:?}");
    // The rows that the plan misses are told by name; each like among them is one that does not come.
    let likes = made.search.missed.iter().filter_map(|m| m.strip_prefix("like_"));
    assert!(
        likes.clone().all(|id| !eaten.contains(&id)),
        "{:?}, eaten {eaten:?}",
        made.search.missed
    );
}

/// What a search of a few moves misses is not called out of the foods' reach where the program holds all of it.
#[test]
fn what_is_missed_for_want_of_search_is_said_to_be() {
    let w = world("days = 7", "");
    let case = Case::new(w.pieces()).expect("a case");
    assert!(matches!(case.standing, Standing::Open(_)));
    let made = plan(w.pieces(), &w.energy, Work::of(w.brief.days, Some(40))).expect("a plan");
    let told: Vec<&str> = made
        .cautions
        .iter()
        .filter(|c| c.code == "shortfall")
        .map(|c| c.text.as_str())
        .collect();
    assert!(!told.is_empty());
    for text in told {
        assert!(text.contains("no plan was found that reaches it"), "{text}");
    }
}
