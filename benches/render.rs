//! How long each form of a report takes beyond planning. 50 ms are the most that is asked for.

#[path = "../tests/sample/mod.rs"]
mod sample;

use chrono::NaiveDate;
use criterion::{Criterion, criterion_group, criterion_main};
use platewright::report::amount::Units;
use platewright::report::{calendar, html, json, markdown, sheet, text};
use std::hint::black_box;

fn forms(c: &mut Criterion) {
    let mut plan = sample::cooked();
    // A week of five meals a day with four items each, as the largest of the examples.
    let mut meals = plan.days[0].meals.clone();
    for m in &mut meals {
        let more = m.items.clone();
        m.items.extend(more);
        m.items.truncate(4);
    }
    let meals: Vec<_> = meals.iter().cycle().take(5).cloned().collect();
    plan.days = (1..=7)
        .map(|day| platewright::plan::Day {
            day,
            meals: meals.clone(),
            ..plan.days[0].clone()
        })
        .collect();
    plan.shopping = plan.shopping.iter().cycle().take(60).cloned().collect();
    plan.standings = plan.standings.iter().cycle().take(60).cloned().collect();
    let start = NaiveDate::from_ymd_opt(2024, 1, 1).expect("a date");
    c.bench_function("render/html", |b| {
        b.iter(|| html::plan(black_box(&plan), Units::Metric, None))
    });
    c.bench_function("render/markdown", |b| {
        b.iter(|| markdown::plan(black_box(&plan), Units::Metric))
    });
    c.bench_function("render/text", |b| {
        b.iter(|| text::plan(black_box(&plan), Units::Metric))
    });
    c.bench_function("render/json", |b| {
        b.iter(|| json::plan(black_box(&plan)).to_string())
    });
    c.bench_function("render/xlsx", |b| b.iter(|| sheet::plan(black_box(&plan))));
    c.bench_function("render/ics", |b| {
        b.iter(|| calendar::plan(black_box(&plan), start))
    });
}

criterion_group!(benches, forms);
criterion_main!(benches);
