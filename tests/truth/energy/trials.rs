//! The body-weight model against what trials measured.

use crate::people::*;
use platewright::energy::body::{Body0, PhaseInput, simulate};
use platewright::energy::resting::resting;
use platewright::person::{Person, Sex};
use platewright::units::{Kcal, Kilograms};

fn body(p: &Person, fat_kg: Option<f64>, pal: f64) -> Body0 {
    let rest = resting("mifflin_full", p, None).unwrap();
    let fat = fat_kg.unwrap_or_else(|| p.weight.0 * platewright::energy::composition::jackson_fat(p) / 100.0);
    Body0::new(p, Kilograms(fat), rest, rest * pal)
}

/// Mean of a model run for a man and a woman, weighted.
fn change(b: &Body0, phases: &[PhaseInput]) -> (f64, f64) {
    let run = simulate(b, phases, 0.5).unwrap();
    let (a, z) = (run.days[0].state, run.end().unwrap().state);
    (z.weight_kg() - a.weight_kg(), z.fat_kg - a.fat_kg)
}

/// Bray et al., JAMA 307:47-55, 2012 (abstract, read): 25 adults of 18-35 y, BMI 19-30, fed 954 kcal a
/// day, about 40 %, over what held them for 56 days. The group with normal protein gained 6.05 kg (95 %
/// interval 4.84-7.26); fat rose by about 3.51 kg in all groups. 16 men and 9 women: Apolzan et al., Am J
/// Physiol Endocrinol Metab 307:E1030-E1037, 2014 (abstract, read).
///
/// ASSUMED, since the table of the start was not seen: the middles of the criteria (26 y, BMI 25) at 1.77
/// and 1.63 m. The energy that held them, 954/0.40 kcal, is shared by resting energy.
///
/// Proposed acceptance: 6.0 to 6.3 kg, of it 3.3 to 3.7 kg fat. Fat holds. Weight hangs on how much
/// carbohydrate the surplus had, by glycogen, its water and fluid: 40 % more of everything gives 6.5 kg, a
/// surplus of fat alone (second-hand: all of it was fat) 5.7 kg. What was measured and the whole of the
/// proposal lie between the two.
#[test]
fn bray_2012_overfeeding() {
    let gain = |extra_carbohydrate: f64| {
        let men = person(Sex::Male, 26, 177.0, 25.0 * 1.77 * 1.77);
        let women = person(Sex::Female, 26, 163.0, 25.0 * 1.63 * 1.63);
        let rest = |p: &Person| resting("mifflin_full", p, None).unwrap().0;
        let pal = 954.0 / 0.40 / ((16.0 * rest(&men) + 9.0 * rest(&women)) / 25.0);
        let mut sum = (0.0, 0.0);
        for (p, share) in [(&men, 16.0 / 25.0), (&women, 9.0 / 25.0)] {
            let b = body(p, None, pal);
            let mut fed = PhaseInput::new(56, b.expenditure * 1.40);
            fed.carbohydrate_share = b.carbohydrate_share * (1.0 + extra_carbohydrate) / 1.40;
            let (kg, fat) = change(&b, &[fed]);
            sum = (sum.0 + share * kg, sum.1 + share * fat);
        }
        sum
    };
    let (all_alike, fat_alone) = (gain(0.40), gain(0.0));
    for (kg, fat) in [all_alike, fat_alone] {
        assert!((4.84..=7.26).contains(&kg), "{kg}: the interval of the paper");
        assert!((3.3..=3.7).contains(&fat), "{fat}: the proposal for fat");
    }
    assert!(
        fat_alone.0 < 6.0 && all_alike.0 > 6.3,
        "{fat_alone:?} {all_alike:?}"
    );
}

/// Bouchard et al., N Engl J Med 322:1477-1482, 1990 (read): 24 men of 21 y, 84 000 kcal over 100
/// days, +8.1 kg (4.3-13.3). Baseline 60.3 kg with 6.9 kg of fat from memory; height 1.75 m and
/// PAL 1.7 assumed.
#[test]
fn bouchard_1990_twins() {
    let p = person(Male, 21, 175.0, 60.3);
    let b = body(&p, Some(6.9), 1.7);
    let (kg, fat) = change(&b, &[PhaseInput::new(100, b.expenditure + Kcal(840.0))]);
    assert!((4.3..=13.3).contains(&kg), "{kg}");
    assert!((1.5..=9.2).contains(&fat), "fat {fat}: +5.4 ± 2 × 1.9");
}

/// CALERIE 2: Ravussin et al., J Gerontol A 70:1097-1104, 2015: BMI 22-28, two years. Restriction of
/// 19.5 % for six months and 9.1 % after, −7.1 and −7.6 kg (from memory). Acceptance at 24 months:
/// −7 to −9 kg. Mean age, weight and share of women (38 y, 72 kg, 70 %) from memory; heights and weights by
/// sex and PAL 1.7 assumed.
#[test]
fn calerie_2_restriction() {
    let (mut six, mut two_years) = (0.0, 0.0);
    for (sex, height, weight, share) in [(Sex::Female, 166.0, 69.3, 0.7), (Sex::Male, 177.0, 79.0, 0.3)] {
        let b = body(&person(sex, 38, height, weight), None, 1.7);
        let first = PhaseInput::new(182, b.expenditure * (1.0 - 0.195));
        let after = PhaseInput::new(548, b.expenditure * (1.0 - 0.091));
        six += share * change(&b, &[first]).0;
        two_years += share * change(&b, &[first, after]).0;
    }
    assert!((-9.0..=-6.0).contains(&six), "six months {six}");
    assert!((-9.0..=-7.0).contains(&two_years), "two years {two_years}");
}

/// Keys et al., The Biology of Human Starvation, 1950 (from memory): 24 weeks at about 1570 kcal,
/// 69.4 to 52.6 kg with about 3 kg of fat left. The men moved far less in the end: with activity at
/// 0.45 of its start the model gives 52.7 kg and 3.75 kg of fat (computed; start 9.6 kg of fat,
/// 25 y, 1.78 m, 3350 kcal). Wide tolerance: the body and the fall of activity are not exactly known.
#[test]
fn minnesota_needs_a_fall_of_activity() {
    let p = person(Male, 25, 178.0, 69.4);
    let mut b = body(&p, Some(9.6), 1.7);
    b.expenditure = Kcal(3350.0);
    let model = platewright::energy::body::Model::new(&b).unwrap();
    let mut input = PhaseInput::new(168, Kcal(1570.0));
    input.delta_change_kj_per_kg = (0.45 - 1.0) * model.delta_kj_per_kg();
    let (kg, fat) = change(&b, &[input]);
    near(69.4 + kg, 52.6, 3.0, "end");
    near(9.6 + fat, 3.0, 1.5, "fat");
    // Without it the model runs out of fat or far too low.
    input.delta_change_kj_per_kg = 0.0;
    let run = simulate(&b, &[input], 0.5).unwrap();
    assert!(run.stopped.is_some() || run.end().unwrap().state.weight_kg() < 45.0);
}
