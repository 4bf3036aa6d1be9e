//! How long a forecast takes: a year in four phases, with bands. A thousand a second are asked for.

use criterion::{Criterion, criterion_group, criterion_main};
use platewright::{brief, energy, forecast};
use std::hint::black_box;

const YEAR: &str = "region = \"us\"\n[person]\nsex = \"female\"\nage = 30\nheight = \"168 cm\"\n\
    weight = \"61 kg\"\ntraining = \"novice\"\n[activity]\nlevel = \"active\"\n\
    [[phase]]\nkind = \"gain\"\nrate = \"0.3 %/week\"\nweeks = 20\n\
    [[phase]]\nkind = \"hold\"\nweeks = 4\n\
    [[phase]]\nkind = \"lose\"\nrate = \"0.4 %/week\"\nweeks = 12\n\
    [[phase]]\nkind = \"hold\"\nweeks = 16\n";

fn forecasts(c: &mut Criterion) {
    let (brief, _) = brief::parse(YEAR).expect("the brief reads");
    c.bench_function("forecast/course", |b| {
        b.iter(|| energy::course(black_box(&brief)))
    });
    c.bench_function("forecast/year_with_bands", |b| {
        b.iter(|| forecast::forecast(black_box(&brief)))
    });
}

criterion_group!(benches, forecasts);
criterion_main!(benches);
