//! How long the linear engine takes on a whole, real program.

use criterion::{Criterion, criterion_group, criterion_main};
use platewright::model::diet;
use platewright::solve::{engine::minimise, price::shadow_prices};
use std::hint::black_box;

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

criterion_group!(benches, stigler);
criterion_main!(benches);
