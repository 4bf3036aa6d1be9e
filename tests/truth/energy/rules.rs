//! Forbes partition, the linear model, and the old rule.

use crate::people::*;
use platewright::energy::body::{Body0, Model, PhaseInput, simulate};
use platewright::energy::composition::jackson_fat;
use platewright::energy::resting::resting;
use platewright::energy::rules::*;
use platewright::units::{Kcal, Kilograms};

/// Hall, Int J Obes 32:573-576, 2008, and Forbes, Nutr Rev 45:225-231, 1987: computed from the
/// published equations. Columns: fat, lean share, kcal/kg; ΔF and mean kcal/kg for −5 and −10 kg.
#[test]
fn forbes_table() {
    type Loss = Option<(f64, f64)>;
    let rows: [(f64, f64, f64, Loss, Loss); 7] = [
        (10.0, 0.510, 5554.0, Some((-2.29, 5312.0)), Some((-4.25, 5055.0))),
        (13.26, 0.440, 6089.0, None, None),
        (15.0, 0.409, 6319.0, Some((-2.83, 6128.0)), Some((-5.38, 5918.0))),
        (20.0, 0.342, 6832.0, Some((-3.19, 6683.0)), Some((-6.17, 6518.0))),
        (30.0, 0.257, 7478.0, Some((-3.65, 7383.0)), Some((-7.16, 7278.0))),
        (40.0, 0.206, 7867.0, Some((-3.93, 7803.0)), Some((-7.76, 7731.0))),
        (50.0, 0.172, 8128.0, Some((-4.11, 8081.0)), Some((-8.15, 8030.0))),
    ];
    for (fat, lean, density, five, ten) in rows {
        near(lean_share_of_change(fat), lean, 0.0006, "lean share");
        near(stored_kcal_per_kg(fat), density, 1.0, "kcal/kg");
        for (change, expected) in [(-5.0, five), (-10.0, ten)] {
            if let Some((fat_lost, mean)) = expected {
                near(fat_change(fat, change).unwrap(), fat_lost, 0.006, "fat change");
                near(mean_kcal_per_kg(fat, change).unwrap(), mean, 1.0, "mean kcal/kg");
            }
        }
    }
}

/// The closed form solves Forbes' equation ΔF + 10.4·ln((F₀ + ΔF)/F₀) = ΔW, far up and down.
#[test]
fn the_closed_form_solves_forbes() {
    for fat in [0.5, 3.0, 13.0, 60.0, 200.0] {
        for change in [-60.0_f64, -10.0, -0.01, 0.0, 0.01, 10.0, 80.0] {
            let df = fat_change(fat, change).unwrap();
            near(df + 10.4 * ((fat + df) / fat).ln(), change, 1e-6, "Forbes");
        }
    }
    assert_eq!(fat_change(0.0, 1.0), None);
}

fn linear_of(p: &platewright::person::Person, fat_kg: f64, pal: f64) -> Linear {
    let rest = resting("mifflin_full", p, None).unwrap();
    let model = Model::new(&Body0::new(p, Kilograms(fat_kg), rest, rest * pal)).unwrap();
    Linear::new(fat_kg, model.delta_kj_per_kg(), 0.0)
}

/// Linear form of Sanghvi et al., Am J Clin Nutr 102:353-358, 2015, supplement (read); values
/// computed: kcal/kg, kcal/kg/d, time constant and half-time in days.
#[test]
fn linear_model() {
    let a = &a_to_e()[0].0;
    let jackson = |p: &platewright::person::Person| p.weight.0 * jackson_fat(p) / 100.0;
    let m90 = person(Male, 40, 180.0, 90.0);
    let f75 = person(Female, 40, 163.0, 75.0);
    let m100 = person(Male, 45, 177.0, 100.0);
    for (p, fat, pal, density, slope, tau, half) in [
        (a, 13.26, 1.8, 8277.0, 33.4, 248.0, 172.0),
        (&m90, jackson(&m90), 1.6, 9566.0, 23.6, 406.0, 281.0),
        (&f75, jackson(&f75), 1.5, 9945.0, 19.5, 510.0, 353.0),
        (&m100, jackson(&m100), 1.5, 10188.0, 18.9, 538.0, 373.0),
    ] {
        let l = linear_of(p, fat, pal);
        near(l.kcal_per_kg, density, 1.0, "kcal/kg");
        near(l.kcal_per_kg_day, slope, 0.06, "kcal/kg/d");
        near(l.time_constant_days(), tau, 1.0, "days");
        near(l.time_constant_days() * 2.0_f64.ln(), half, 1.0, "half-time");
        near(
            l.change_kg(Kcal(-500.0), 1e7),
            l.final_change_kg(Kcal(-500.0)),
            1e-9,
            "the end",
        );
    }
}

/// The rule of thumb of Hall et al., Am J Clin Nutr 95:989-994, 2012 (read): 10 kcal a day for ever
/// are one pound in the end; half of it takes about one year, 95 % three.
#[test]
fn linear_model_agrees_with_the_consensus_rule() {
    let p = person(Male, 45, 177.0, 100.0);
    let l = linear_of(&p, p.weight.0 * jackson_fat(&p) / 100.0, 1.5);
    near(
        l.final_change_kg(Kcal(10.0)) / 0.45359237,
        1.0,
        0.2,
        "pounds for 10 kcal",
    );
    near(
        l.change_kg(Kcal(10.0), 365.0) / l.final_change_kg(Kcal(10.0)),
        0.5,
        0.05,
        "a year",
    );
    // Slower for greater adiposity, as the abstract says: this body reaches 87 % in three years.
    let three = l.change_kg(Kcal(10.0), 1095.0) / l.final_change_kg(Kcal(10.0));
    assert!((0.85..0.97).contains(&three), "three years: {three}");
}

/// A man of 100 kg, 500 kcal a day less (computed; invented body): the model against the old rule of
/// 7700 kcal/kg (Wishnofsky 1958), which is fair for four to six weeks.
#[test]
fn old_rule_table() {
    let p = person(Male, 45, 177.0, 100.0);
    let rest = resting("mifflin_full", &p, None).unwrap();
    let body = Body0::new(
        &p,
        Kilograms(p.weight.0 * jackson_fat(&p) / 100.0),
        rest,
        rest * 1.5,
    );
    let run = simulate(&body, &[PhaseInput::new(3650, rest * 1.5 - Kcal(500.0))], 1.0).unwrap();
    for (day, model, old) in [
        (30, -1.92, -1.95),
        (91, -4.61, -5.91),
        (182, -8.11, -11.82),
        (365, -13.59, -23.70),
        (730, -19.91, -47.40),
        (1095, -22.64, -71.10),
        (3650, -24.42, -237.0),
    ] {
        let got = run.on_day(day).unwrap().state.weight_kg() - 100.0;
        near(got, model, 0.006, &format!("model, day {day}"));
        near(old_rule_kg(Kcal(-500.0), f64::from(day)), old, 0.03, "old rule");
    }
}
