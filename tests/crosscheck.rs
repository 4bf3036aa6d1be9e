//! Bounds of whole models by other solvers: minilp in every run, HiGHS in a build with `--features highs`, and any
//! solver that reads MPS by the files that `written_for_another_solver` leaves (`tests/cross/optima.py`).
//!
//! `PLATEWRIGHT_BRIEFS=200 cargo test --test crosscheck` looks at more briefs.

mod briefs;
mod lp;

use briefs::{Case, cases, how_many};
use lp::{holds, second_opinion, with_sets};
use platewright::model::build::build;
use platewright::model::linear::{Linear, expand, mps};
use platewright::model::{Class, Model};
use platewright::solve::bound::{Standing, give_way, stand};
use platewright::solve::engine::{NoOptimum, minimise};
use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Relative difference of two optima.
const SAME: f64 = 1e-6;

/// The model of a case as it is solved, its merged program and the bound that the tool states; `None` as a bound
/// when the tool says that not everything can hold. No model when no meal can be put together.
struct Asked {
    model: Model,
    lp: Linear,
    bound: Option<f64>,
}

fn ask(case: &Case) -> Option<Asked> {
    let mut model = build(case.pieces()).ok()?.model;
    let (mut standing, mut made) = stand(&model);
    if let Standing::Short(short) = &standing {
        give_way(&mut model, short);
        (standing, made) = stand(&model);
    }
    let bound = match standing {
        Standing::Open(b) => {
            let x = with_sets(&made.lp, &made.simplex);
            assert!(
                holds(&made.lp, &x, 1e-6),
                "the point of the bound breaks a row\n{}",
                case.text
            );
            Some(b.value.expect("a bound"))
        }
        Standing::Conflict(_) => None,
        other => panic!("{other:?}\n{}", case.text),
    };
    Some(Asked {
        lp: made.lp,
        model,
        bound,
    })
}

/// Rows divided by their largest coefficient: the tolerances of solvers are absolute.
fn scaled(lp: &Linear) -> Linear {
    let mut lp = lp.clone();
    for r in &mut lp.rows {
        let size = r.terms.iter().map(|t| t.1.abs()).fold(0.0, f64::max);
        if size > 0.0 {
            r.terms.iter_mut().for_each(|t| t.1 /= size);
            r.lo = r.lo.map(|b| b / size);
            r.hi = r.hi.map(|b| b / size);
        }
    }
    lp
}

/// What must hold alone, as the tool asks when it speaks of a conflict.
fn must(lp: &Linear) -> Linear {
    let mut lp = lp.clone();
    for r in lp.rows.iter_mut().filter(|r| r.class == Class::Should) {
        r.lo = None;
    }
    lp
}

/// The relative difference of the bound from another solver's; 0 when both say that there is none.
fn difference(name: &str, asked: &Asked, theirs: impl Fn(&Linear) -> Option<f64>) -> f64 {
    let Some(bound) = asked.bound else {
        let other = theirs(&scaled(&must(&asked.lp)));
        assert!(
            other.is_none(),
            "{name}: said to be in conflict, and {other:?} is an optimum"
        );
        return 0.0;
    };
    let other = theirs(&scaled(&asked.lp)).unwrap_or_else(|| panic!("{name}: no optimum, bound {bound}"));
    (bound - other).abs() / other.abs().max(1e-3)
}

/// The relative difference of a brief's bound from minilp's; `None` when it broke down on the way, as it does on a basis
/// that it cannot invert.
fn compare(name: &str, case: &Case) -> Option<f64> {
    let Some(asked) = ask(case) else { return Some(0.0) };
    let broke = Cell::new(false);
    let theirs = |lp: &Linear| {
        catch_unwind(AssertUnwindSafe(|| second_opinion(lp))).unwrap_or_else(|_| {
            broke.set(true);
            asked.bound
        })
    };
    let off = difference(name, &asked, theirs);
    assert!(off <= SAME, "{name}: minilp is off by {off}\n{}", case.text);
    // The engine behind the explanations, where it believes its own answer.
    match minimise(&asked.lp) {
        Ok(best) => {
            let bound = asked
                .bound
                .unwrap_or_else(|| panic!("{name}: an optimum in a conflict"));
            let off = (best.value - bound).abs() / bound.abs().max(1e-3);
            assert!(
                off <= 1e-5,
                "{name}: the other engine is off by {off}\n{}",
                case.text
            );
        }
        Err(NoOptimum::Infeasible) => assert!(asked.bound.is_none(), "{name}: two answers"),
        Err(_) => {}
    }
    (!broke.get()).then_some(off)
}

/// The briefs of the examples for so many days.
fn examples(days: u32) -> Vec<(String, Case)> {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/examples");
    let mut all = Vec::new();
    for entry in std::fs::read_dir(root).expect("the examples") {
        let folder = entry.expect("an entry").path();
        let Ok(text) = std::fs::read_to_string(folder.join("brief.toml")) else {
            continue;
        };
        let name = folder.file_name().expect("a name").to_string_lossy().to_string();
        let text = text.replace("days = 7\n", &format!("days = {days}\n"));
        let case = Case::read(&text).unwrap_or_else(|| panic!("{name} is stopped"));
        assert_eq!(case.brief.days, days, "{name}");
        all.push((name, case));
    }
    all.sort_by(|a, b| a.0.cmp(&b.0));
    assert!(all.len() >= 6, "only {} examples", all.len());
    all
}

#[test]
fn bounds_of_the_examples_are_those_of_minilp() {
    for days in [1, 7] {
        for (name, case) in examples(days) {
            let off = compare(&name, &case).unwrap_or_else(|| panic!("{name}: minilp broke down"));
            println!("{name}, {days} days: {off:.1e}");
        }
    }
}

#[test]
fn bounds_of_random_briefs_are_those_of_minilp() {
    let (mut worst, mut all, mut told) = (0.0f64, 0, 0);
    for (seed, _, case) in cases(5_000, how_many(20), 1..=4) {
        all += 1;
        if let Some(off) = compare(&format!("seed {seed}"), &case) {
            told += 1;
            worst = worst.max(off);
        }
    }
    println!("minilp has a word on {told} of {all}, largest relative difference {worst:.1e}");
    assert!(
        10 * told >= 9 * all,
        "minilp broke down on {} of {all}",
        all - told
    );
}

/// On a single day the merged program loses nothing: it has the optimum of the program that is exported.
#[test]
fn a_day_written_out_has_the_same_optimum() {
    for (name, case) in examples(1) {
        let asked = ask(&case).expect("a model");
        let whole = second_opinion(&scaled(&expand(&asked.model, false))).expect("an optimum");
        let bound = asked.bound.expect("a bound");
        assert!(
            (whole - bound).abs() <= SAME * whole.abs().max(1e-3),
            "{name}: {bound} merged, {whole} written out"
        );
    }
}

#[cfg(feature = "highs")]
#[test]
fn bounds_of_random_briefs_are_those_of_highs() {
    use platewright::solve::second::relaxed;
    let mut worst = 0.0f64;
    for (seed, _, case) in cases(5_000, how_many(200), 1..=4) {
        if let Some(asked) = ask(&case) {
            let off = difference(&format!("seed {seed}"), &asked, |lp| {
                relaxed(lp).ok().map(|r| r.0.value)
            });
            assert!(off <= SAME, "seed {seed}: HiGHS is off by {off}\n{}", case.text);
            worst = worst.max(off);
        }
    }
    println!("largest relative difference {worst:.1e}");
}

/// Files for `tests/cross/optima.py`: the merged program of each brief, with the bound beside it.
#[test]
#[ignore = "writes files for another solver"]
fn written_for_another_solver() {
    let out = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/cross/briefs");
    std::fs::create_dir_all(&out).expect("a folder");
    for (seed, _, case) in cases(5_000, how_many(200), 1..=4) {
        let Some(asked) = ask(&case) else { continue };
        let (lp, bound) = match asked.bound {
            Some(bound) => (asked.lp, format!("{bound:e}\n")),
            None => (must(&asked.lp), "none\n".into()),
        };
        let name = format!("seed-{seed}-{}-{}", case.kitchen.id, asked.model.objective.id);
        std::fs::write(out.join(format!("{name}.mps")), mps(&lp)).expect("written");
        std::fs::write(out.join(format!("{name}.bound")), bound).expect("written");
    }
}

/// Briefs for `benches/peers/quality.py`: of a week and of a day, as many as asked for each.
#[test]
#[ignore = "writes files for another program"]
fn briefs_written_for_another_solver() {
    for (folder, days) in [("weeks", 7), ("days", 1)] {
        let out = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("target/peers")
            .join(folder);
        std::fs::create_dir_all(&out).expect("a folder");
        for (seed, brief, case) in cases(7_000, how_many(80), days..=days) {
            let name = format!("{seed}-{}.toml", case.kitchen.id);
            std::fs::write(out.join(name), brief.text()).expect("written");
        }
    }
}
