//! How long each stage of a week takes: the table, the catalogue, the model, its bound and its search.

use criterion::{Criterion, criterion_group, criterion_main};
use platewright::foods::{FoodTable, search::find, user};
use platewright::kitchen::Catalogue;
use platewright::model::build::{Pieces, build};
use platewright::prices::PriceList;
use platewright::ready::{Larder, ready};
use platewright::solve::bound::{Standing, give_way, standing};
use platewright::solve::search::{Effort, search};
use platewright::solve::verify::broken;
use platewright::why::Case;
use platewright::why::sweep::{Question, sweep};
use platewright::{brief, energy, targets};
use std::hint::black_box;
use std::num::NonZeroUsize;

/// Moves of a search: a small, fixed part of a plan's.
const MOVES: u64 = 100_000;

fn stages(c: &mut Criterion) {
    let text = include_str!("../examples/surplus-on-a-budget/brief.toml");
    let table = FoodTable::bundled();
    let catalogue = Catalogue::bundled(&table).expect("the bundled catalogue has no problem");
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

    let bytes = include_bytes!("../foods/sr28/sr28.bin");
    c.bench_function("foods/open", |b| {
        b.iter(|| FoodTable::from_packed(black_box(bytes).to_vec()))
    });
    c.bench_function("foods/decode_all", |b| {
        b.iter(|| black_box(&table).iter().count())
    });
    c.bench_function("foods/find", |b| {
        b.iter(|| find(&table, black_box("whole wheat bread"), 10))
    });
    c.bench_function("kitchen/load", |b| {
        b.iter(|| Catalogue::bundled(black_box(&table)))
    });
    c.bench_function("brief/parse", |b| b.iter(|| brief::parse(black_box(text))));
    c.bench_function("energy/budget", |b| b.iter(|| energy::budget(black_box(&brief))));
    c.bench_function("targets/derive", |b| {
        b.iter(|| targets::derive(black_box(&brief), &energy))
    });

    let mut slow = c.benchmark_group("week");
    slow.sample_size(10);
    slow.bench_function("build", |b| b.iter(|| build(black_box(pieces))));
    let mut model = build(pieces).expect("a model").model;
    slow.bench_function("bound", |b| b.iter(|| standing(black_box(&model))));
    let mut first = standing(&model);
    if let Standing::Short(short) = &first {
        give_way(&mut model, short);
        first = standing(&model);
    }
    let Standing::Open(bound) = first else {
        panic!("the example has a plan: {first:?}")
    };
    let scale = bound.value.expect("a bound");
    let effort = Effort {
        moves: MOVES,
        starts: 1,
        seed: 1,
        threads: NonZeroUsize::MIN,
    };
    slow.bench_function("search_100k_moves", |b| {
        b.iter(|| search(black_box(&model), &bound.uses, scale, effort, None))
    });
    let found = search(&model, &bound.uses, scale, effort, None);
    slow.bench_function("verify", |b| {
        b.iter(|| broken(black_box(&model), &found.forms, &found.steps))
    });
    slow.bench_function("why", |b| {
        b.iter(|| Case::new(black_box(pieces)).expect("a case").why())
    });
    slow.finish();

    let mut one = brief.clone();
    one.days = 1;
    let pieces = Pieces {
        brief: &one,
        ..pieces
    };
    let question = Question {
        vary: vec!["protein 1.6..2.6 g/kg".into()],
        against: "cost".into(),
        points: 31,
        whole: 0,
    };
    let mut day = c.benchmark_group("day");
    day.sample_size(10);
    day.bench_function("sweep_of_31_places", |b| {
        b.iter(|| sweep(black_box(pieces), &question).expect("a sweep"))
    });
    day.finish();
}

/// How the cost grows with the days of a plan and with a user's own foods.
fn growth(c: &mut Criterion) {
    let larder = Larder::bundled().expect("the bundled data");
    let text = include_str!("../examples/surplus-on-a-budget/brief.toml");
    let mut grow = c.benchmark_group("growth");
    grow.sample_size(10);
    for days in [1_u32, 7, 28] {
        let text = text.replace("days = 7", &format!("days = {days}"));
        let ready = ready(&text, None, None).expect("the example reads");
        let pieces = ready.pieces(&larder).expect("the pieces");
        grow.bench_function(format!("build_{days}_days"), |b| {
            b.iter(|| build(black_box(pieces)))
        });
        let model = build(pieces).expect("a model").model;
        grow.bench_function(format!("bound_{days}_days"), |b| {
            b.iter(|| standing(black_box(&model)))
        });
    }
    for foods in [50, 500, 8_000] {
        let mut list =
            String::from("id,name,per,energy (kcal),protein (g),fat (g),carbohydrate (g),source\n");
        for n in 0..foods {
            list += &format!("own-{n},Invented food {n},100 g,165,10,5,20,invented\n");
        }
        grow.bench_function(format!("read_{foods}_own_foods"), |b| {
            b.iter(|| user::read(black_box(list.as_bytes())))
        });
        let mut table = FoodTable::bundled();
        table.add(user::read(list.as_bytes()).foods);
        grow.bench_function(format!("find_with_{foods}_own_foods"), |b| {
            b.iter(|| find(&table, black_box("whole wheat bread"), 10))
        });
    }
    grow.finish();
}

criterion_group!(benches, stages, growth);
criterion_main!(benches);
