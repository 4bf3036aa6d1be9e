//! The second solver against our own: optima, prices and bounds of the examples; a plan proven or made better.
#![cfg(feature = "highs")]

use platewright::brief;
use platewright::energy;
use platewright::foods::FoodTable;
use platewright::kitchen::Catalogue;
use platewright::model::build::{Pieces, build};
use platewright::model::diet;
use platewright::model::linear::{Linear, expand};
use platewright::plan::{Plan, Verdict, Work, plan, prove};
use platewright::prices::PriceList;
use platewright::solve::bound::{Standing, give_way, stand};
use platewright::solve::search::{Effort, search};
use platewright::solve::second::{Opinion, found, opinion, point, relaxed};
use platewright::solve::simplex::Simplex;
use platewright::targets;
use std::num::NonZeroUsize;

/// Runs something with the pieces of a brief.
fn with<T>(text: &str, days: u32, what: impl FnOnce(Pieces, &energy::EnergyBudget) -> T) -> T {
    let table = FoodTable::bundled();
    let catalogue = Catalogue::bundled(&table).expect("a sound catalogue");
    let (mut brief, _) = brief::parse(text).expect("the example reads");
    brief.days = days;
    let energy = energy::budget(&brief).expect("an energy budget");
    let (targets, _) = targets::derive(&brief, &energy);
    let kitchen = catalogue.kitchen(&brief.region.value).expect("a kitchen");
    let prices = PriceList::bundled(&kitchen.id, &catalogue).expect("a sound list");
    let pieces = Pieces {
        brief: &brief,
        intake_kcal: energy.intake.0,
        targets: &targets,
        kitchen,
        catalogue: &catalogue,
        table: &table,
        prices: prices.as_ref(),
    };
    what(pieces, &energy)
}

const EXAMPLES: [&str; 5] = [
    include_str!("../examples/close-to-the-centre/brief.toml"),
    include_str!("../examples/losing-with-protein/brief.toml"),
    include_str!("../examples/north-indian-vegetarian/brief.toml"),
    include_str!("../examples/surplus-on-a-budget/brief.toml"),
    include_str!("../examples/vegan-on-a-budget/brief.toml"),
];
const BUDGET: &str = EXAMPLES[3];

/// The merged program of an example, floors out of reach lowered.
fn merged(text: &str, days: u32) -> Linear {
    with(text, days, |pieces, _| {
        let mut model = build(pieces).expect("a model").model;
        if let (Standing::Short(short), _) = stand(&model) {
            give_way(&mut model, &short);
        }
        expand(&model, true)
    })
}

/// Optimum and prices agree: each price where it is the only one, and the value they prove in any case.
fn agree(lp: &Linear) -> usize {
    let mut s = Simplex::new(lp);
    let ours = s.solve().expect("an optimum");
    let (theirs, prices) = relaxed(lp).expect("an optimum");
    let size = ours.abs().max(1e-3);
    assert!(
        (ours - theirs.value).abs() <= 1e-6 * size,
        "{ours}, {}",
        theirs.value
    );
    let mut compared = 0;
    let mine = s.row_prices();
    for (r, row) in lp.rows.iter().enumerate() {
        if row.row.is_none() || row.lo == row.hi || mine[r] == 0.0 && prices[r] == 0.0 {
            continue;
        }
        // A price is the only one when the optimum is as steep on both sides of its bound.
        let step = 1e-5 * row.lo.or(row.hi).unwrap_or(1.0).abs().max(1e-6);
        let side = |way: f64| {
            let mut t = s.clone();
            let by = way * step;
            t.set_row(r, row.lo.map(|b| b + by), row.hi.map(|b| b + by));
            t.solve().ok()?;
            Some(t.row_prices()[r])
        };
        let (Some(up), Some(down)) = (side(1.0), side(-1.0)) else {
            continue;
        };
        let scale = up.abs().max(down.abs());
        // What a price of rounding's size moves cannot be seen in the optimum: it is none.
        let bound = row.lo.or(row.hi).unwrap_or(1.0).abs().max(1.0);
        if scale * bound <= 1e-9 * size || (up - down).abs() > 1e-9 * scale {
            continue;
        }
        let off = (mine[r] - prices[r]).abs();
        assert!(off <= 1e-6 * scale, "{}: {} and {}", row.name, mine[r], prices[r]);
        compared += 1;
    }
    compared
}

#[test]
fn optima_and_prices_of_the_examples_agree() {
    let compared: usize = EXAMPLES.iter().map(|text| agree(&merged(text, 1))).sum();
    assert!(compared >= 10, "only {compared} prices were the only ones");
}

#[test]
fn the_diet_problem_of_1945_agrees() {
    let lp = diet::read(
        include_str!("../examples/stigler-1945/foods.csv"),
        include_str!("../examples/stigler-1945/requirements.csv"),
    )
    .expect("the example reads");
    let mut s = Simplex::new(&lp);
    let ours = s.solve().expect("an optimum");
    let (theirs, prices) = relaxed(&lp).expect("an optimum");
    assert!((ours - theirs.value).abs() <= 1e-9 * ours);
    for (row, (a, b)) in lp.rows.iter().zip(s.row_prices().iter().zip(&prices)) {
        assert!(
            (a - b).abs() <= 1e-6 * a.abs().max(1e-9),
            "{}: {a} and {b}",
            row.name
        );
    }
}

#[test]
fn a_plan_is_a_point_of_the_program_and_comes_back() {
    with(BUDGET, 1, |pieces, _| {
        let model = build(pieces).expect("a model").model;
        let effort = Effort {
            moves: 200_000,
            starts: 4,
            seed: 1,
            threads: NonZeroUsize::MIN,
        };
        let ours = search(&model, &[], 4.0, effort, None);
        let lp = expand(&model, false);
        let x = point(&model, &lp, &ours);
        let back = found(&model, &lp, &x).expect("a form for each meal");
        assert_eq!((&back.forms, &back.steps), (&ours.forms, &ours.steps));
        assert!((lp.value(&x) - model.value(&ours.steps)).abs() < 1e-9);
        for row in lp.rows.iter().filter(|r| r.row.is_none()) {
            let a: f64 = row.terms.iter().map(|&(v, k)| k * x[v]).sum();
            assert!(row.lo.is_none_or(|b| a >= b - 1e-9), "{}: {a}", row.name);
            assert!(
                row.hi.is_none_or(|b| a <= b + 1e-9) || row.group == "budget",
                "{}: {a}",
                row.name
            );
        }
    });
}

#[test]
fn a_day_is_proven_or_made_better() {
    let (before, after): (Plan, Plan) = with(BUDGET, 1, |pieces, energy| {
        (
            plan(pieces, energy, Work::of(1, Some(60_000))).expect("a plan"),
            prove(pieces, energy, Work::of(1, Some(60_000)), 20.0).expect("a plan"),
        )
    });
    assert!(before.planned && after.planned);
    let said = after.search.second.as_ref().expect("an opinion");
    let (was, is) = (before.search.value, after.search.value);
    match said.verdict {
        Verdict::Proved => assert!(after.search.proved && is == was),
        Verdict::ImprovedAndProved => assert!(after.search.proved && is < was),
        Verdict::Improved => assert!(is < was),
        Verdict::NothingLower => assert!(is == was && !after.search.proved),
        other => panic!("{other:?}"),
    }
    // What whole servings prove is never under what fractions do.
    let (ours, both) = (before.search.bound, after.search.bound);
    let (ours, both) = (ours.expect("a bound"), both.expect("a bound"));
    assert!(both >= ours - 1e-9 && both <= is + 1e-9, "{ours}, {both}, {is}");
    if after.search.proved {
        let theirs = said.bound.expect("a bound of its own");
        assert!(theirs >= ours - 1e-6 * ours, "{theirs} under {ours}");
    }
}

#[test]
fn what_cannot_be_is_said() {
    let mut lp = Linear::default();
    let x = lp.variable("x", 0.0, 3.0, 1.0, true);
    lp.row("between", vec![(x, 1.0)], Some(1.2), Some(1.8));
    assert_eq!(opinion(&lp, None, 5.0), Ok(Opinion::None));
    let (fractions, prices) = relaxed(&lp).expect("fractions can");
    assert!((fractions.value - 1.2).abs() < 1e-9 && (prices[0] - 1.0).abs() < 1e-9);
}
