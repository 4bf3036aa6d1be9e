//! How long the linear engine takes on a whole, real program, and a week's program after a bound has moved.

use criterion::{Criterion, criterion_group, criterion_main};
use platewright::foods::FoodTable;
use platewright::kitchen::Catalogue;
use platewright::model::build::Pieces;
use platewright::model::diet;
use platewright::prices::PriceList;
use platewright::solve::{engine::minimise, price::shadow_prices};
use platewright::why::live::{Live, Now};
use platewright::{brief, energy, targets};
use std::hint::black_box;
use std::time::Instant;

fn stigler(c: &mut Criterion) {
    let foods = include_str!("../examples/stigler-1945/foods.csv");
    let requirements = include_str!("../examples/stigler-1945/requirements.csv");
    let lp = diet::read(foods, requirements).expect("the published tables read");
    c.bench_function("stigler_1945/read", |b| {
        b.iter(|| diet::read(black_box(foods), black_box(requirements)))
    });
    c.bench_function("stigler_1945/minimise", |b| b.iter(|| minimise(black_box(&lp))));
    c.bench_function("stigler_1945/shadow_prices", |b| {
        b.iter(|| shadow_prices(black_box(&lp)))
    });
}

/// An example's week with handles: each move is 5 % of a bound, up or down, within its range. The median and the
/// worst of 100 moves are printed before the bench, which goes on with the same walk.
fn live(c: &mut Criterion) {
    let table = FoodTable::bundled();
    let catalogue = Catalogue::bundled(&table).expect("the bundled catalogue has no problem");
    let boards = [
        (
            "surplus-on-a-budget",
            include_str!("../examples/surplus-on-a-budget/brief.toml"),
            [
                "protein 60..160 g",
                "budget 25..90 USD/week",
                "sodium ceiling 1200..2300 mg",
                "surplus 200..500 kcal",
            ],
        ),
        (
            "north-indian-vegetarian",
            include_str!("../examples/north-indian-vegetarian/brief.toml"),
            [
                "protein 40..100 g",
                "budget 600..1500 INR/week",
                "sodium ceiling 1200..2300 mg",
                "surplus -150..150 kcal",
            ],
        ),
    ];
    for (name, text, words) in boards {
        let (brief, _) = brief::parse(text).expect("the example reads");
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
        let mut live = Live::new(pieces, &words).expect("a board");
        live.solve().expect("an answer");
        let mut rng = fastrand::Rng::with_seed(1);
        // Energy is told as what is over expenditure: a move is 5 % of what is eaten.
        let eaten = energy.intake.0;
        let mut step = move |live: &mut Live| {
            let h = rng.usize(0..words.len());
            let handle = &live.handles()[h];
            let size = if handle.what.id == "surplus" {
                eaten
            } else {
                handle.at
            };
            let up = if handle.at >= handle.what.to {
                false
            } else {
                handle.at <= handle.what.from || rng.bool()
            };
            let at = handle.at + if up { 0.05 } else { -0.05 } * size;
            live.set(h, at);
            live.solve().expect("an answer")
        };
        let (mut took, mut closed) = (Vec::new(), 0);
        for _ in 0..100 {
            let began = Instant::now();
            let now = step(&mut live);
            took.push(began.elapsed().as_secs_f64() * 1e3);
            closed += usize::from(matches!(now, Now::Closed(_)));
        }
        took.sort_by(f64::total_cmp);
        println!(
            "live/{name}: 100 moves, {closed} without a plan: median {:.1} ms, worst {:.1} ms",
            took[50], took[99]
        );
        c.bench_function(&format!("live/{name}"), |b| b.iter(|| step(&mut live)));
    }
}

criterion_group!(benches, stigler, live);
criterion_main!(benches);
