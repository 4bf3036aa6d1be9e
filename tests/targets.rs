//! The rules of the targets: which floor holds for whom, that the bands fit together, and what a
//! brief may change.

use platewright::brief::{Brief, Scope, parse};
use platewright::diagnostic::Diagnostic;
use platewright::energy::{EnergyBudget, Spread};
use platewright::nutrient::Nutrient;
use platewright::targets::{Strength, Target, derive};
use platewright::units::Kcal;
use proptest::prelude::*;
use std::collections::HashSet;

fn brief(person: &str, phase: &str, rest: &str) -> Brief {
    let text = format!(
        "region = \"us\"\n{}\n[person]\n{person}\n[activity]\nlevel = \"active\"\n[[phase]]\nkind = \"{phase}\"\n{rest}",
        if rest.starts_with("diet") {
            rest.lines().next().unwrap_or_default()
        } else {
            ""
        }
    );
    let text = match rest.starts_with("diet") {
        true => text.trim_end_matches(rest).to_string(),
        false => text,
    };
    parse(&text).unwrap_or_else(|e| panic!("{e:#?}")).0
}

fn energy(intake: f64, fat_free: Option<f64>) -> EnergyBudget {
    let spread = |m: f64| Spread {
        low: Kcal(m * 0.9),
        middle: Kcal(m),
        high: Kcal(m * 1.1),
    };
    EnergyBudget {
        resting: spread(1400.0),
        expenditure: spread(2100.0),
        intake: Kcal(intake),
        rate_kg_per_week: None,
        fat_free_mass_kg: fat_free.map(|kg| (kg, 3.0)),
        derivation: vec![],
        gates: vec![],
    }
}

const WOMAN: &str = "sex = \"female\"\nage = 30\nheight = \"168 cm\"\nweight = \"60 kg\"\n";
const MAN: &str = "sex = \"male\"\nage = 30\nheight = \"180 cm\"\nweight = \"80 kg\"\n";

fn targets(brief: &Brief, intake: f64) -> Vec<Target> {
    let (targets, diagnostics) = derive(brief, &energy(intake, None));
    assert_eq!(diagnostics, vec![]);
    targets
}

fn get<'a>(targets: &'a [Target], id: &str) -> &'a Target {
    targets
        .iter()
        .find(|t| t.id == id)
        .unwrap_or_else(|| panic!("no {id}"))
}

fn near(a: Option<f64>, b: f64) {
    assert!(
        a.is_some_and(|a| (a - b).abs() < 1e-6 * b.abs().max(1.0)),
        "{a:?} is not {b}"
    );
}

fn codes(diagnostics: &[Diagnostic]) -> Vec<&str> {
    diagnostics.iter().map(|d| d.code).collect()
}

fn protein_floor(person: &str, phase: &str, rest: &str, intake: f64) -> f64 {
    get(&targets(&brief(person, phase, rest), intake), "protein_day")
        .floor
        .unwrap_or(0.0)
}

#[test]
fn energy_stays_near_the_intake() {
    let t = targets(&brief(WOMAN, "gain", ""), 2600.0);
    let day = get(&t, "energy_day");
    near(day.floor, 2522.0);
    near(day.ceiling, 2678.0);
    near(day.centre, 2600.0);
    assert_eq!((day.scope, day.strength), (Scope::Day, Strength::Must));
}

#[test]
fn protein_follows_phase_training_and_age() {
    let trained = |p: &str| format!("{p}training = \"novice\"\n");
    let old = WOMAN.replace("30", "70");
    for (person, phase, rest, per_kg) in [
        (WOMAN.to_string(), "hold", "", 0.8),
        (WOMAN.to_string(), "gain", "", 1.2),
        (WOMAN.to_string(), "lose", "", 1.2),
        (trained(WOMAN), "hold", "", 1.4),
        (trained(WOMAN), "gain", "", 1.6),
        (trained(WOMAN), "lose", "", 1.8),
        (old.clone(), "hold", "", 1.0),
        (old, "lose", "", 1.2),
        (WOMAN.to_string(), "hold", "diet = \"vegetarian\"", 0.8),
        (WOMAN.to_string(), "hold", "diet = \"vegan\"", 0.88),
    ] {
        let floor = protein_floor(&person, phase, rest, 2200.0);
        assert!(
            (floor - per_kg * 60.0).abs() < 1e-6,
            "{person} {phase} {rest}: {floor}"
        );
    }
}

#[test]
fn lean_trained_people_in_a_deficit_go_by_fat_free_mass() {
    let person = format!("{MAN}body_fat = \"10 %\"\ntraining = \"advanced\"\n");
    let b = brief(&person, "lose", "");
    let (t, _) = derive(&b, &energy(2300.0, Some(72.0)));
    near(get(&t, "protein_day").floor, 2.3 * 72.0);
    // Not lean: by body mass.
    let person = format!("{MAN}body_fat = \"20 %\"\ntraining = \"advanced\"\n");
    let (t, _) = derive(&brief(&person, "lose", ""), &energy(2300.0, Some(64.0)));
    near(get(&t, "protein_day").floor, 1.8 * 80.0);
}

#[test]
fn from_a_bmi_of_30_the_reference_weight_counts() {
    let person = MAN.replace("80 kg", "130 kg");
    // 25 kg/m2 x 1.8 m x 1.8 m = 81 kg.
    let t = targets(&brief(&person, "lose", ""), 2200.0);
    near(get(&t, "protein_day").floor, 1.2 * 81.0);
    assert!(get(&t, "protein_day").reason.contains("81 kg"));
}

#[test]
fn fat_has_a_hard_floor_by_mass_or_energy() {
    // 0.5 x 60 = 30 g; 15 % of 2200 kcal = 36.67 g.
    near(
        get(&targets(&brief(WOMAN, "hold", ""), 2200.0), "fat_day").floor,
        2200.0 * 0.15 / 9.0,
    );
    // 15 % of 1500 kcal = 25 g.
    near(
        get(&targets(&brief(WOMAN, "lose", ""), 1500.0), "fat_day").floor,
        30.0,
    );
}

#[test]
fn fibre_is_the_lesser_of_the_intake_and_its_basis() {
    near(
        get(&targets(&brief(WOMAN, "hold", ""), 2200.0), "fibre_mean").floor,
        25.0,
    );
    near(
        get(&targets(&brief(WOMAN, "lose", ""), 1500.0), "fibre_mean").floor,
        21.0,
    );
}

#[test]
fn a_small_intake_lowers_the_protein_floor_with_a_word() {
    let person = format!("{}training = \"advanced\"\n", MAN.replace("80 kg", "95 kg"));
    let (t, d) = derive(&brief(&person, "lose", ""), &energy(1200.0, None));
    assert_eq!(codes(&d), ["target-protein-lowered"]);
    let floor = get(&t, "protein_day").floor.unwrap_or(0.0);
    assert!((0.8 * 95.0..1.8 * 95.0).contains(&floor), "{floor}");
}

#[test]
fn iron_without_meat() {
    let of = |rest| get(&targets(&brief(WOMAN, "hold", rest), 2200.0), "iron_mean").floor;
    near(of(""), 18.0);
    near(of("diet = \"vegetarian\""), 32.4);
}

#[test]
fn nothing_is_capped_whose_upper_level_does_not_count_food() {
    let t = targets(&brief(WOMAN, "hold", ""), 2200.0);
    for n in [
        Nutrient::MAGNESIUM,
        Nutrient::NIACIN,
        Nutrient::FOLATE,
        Nutrient::VITAMIN_E,
        Nutrient::VITAMIN_A,
    ] {
        assert!(
            t.iter().filter(|t| t.nutrient == n).all(|t| t.ceiling.is_none()),
            "{n}"
        );
    }
    for n in [Nutrient::SUGARS, Nutrient::ALCOHOL, Nutrient::FLUORIDE] {
        assert!(t.iter().all(|t| t.nutrient != n), "{n}");
    }
}

#[test]
fn each_target_says_why_and_from_where() {
    let t = targets(&brief(MAN, "gain", ""), 3000.0);
    let ids: HashSet<_> = t.iter().map(|t| &t.id).collect();
    assert_eq!(ids.len(), t.len());
    for target in &t {
        assert!(
            !target.reason.is_empty() && !target.source.is_empty(),
            "{target:?}"
        );
        assert!(target.floor.is_some() || target.ceiling.is_some());
    }
    for target in t.iter().filter(|t| t.floor.is_some() && t.id.ends_with("_mean")) {
        let energetic = ["energy_mean", "carbohydrate_mean"].contains(&target.id.as_str());
        assert_eq!(target.strength == Strength::Must, energetic, "{}", target.id);
    }
}

fn with(rest: &str) -> (Vec<Target>, Vec<Diagnostic>) {
    derive(&brief(WOMAN, "gain", rest), &energy(2400.0, None))
}

#[test]
fn a_brief_replaces_a_floor() {
    let (t, d) = with("[[target]]\nnutrient = \"protein\"\nfloor = \"2 g/kg\"");
    assert_eq!(d, vec![]);
    let day = get(&t, "protein_day");
    near(day.floor, 120.0);
    assert!(day.from_brief && day.strength == Strength::Must);
    assert_eq!(
        t.iter()
            .filter(|t| t.nutrient == Nutrient::PROTEIN && t.floor.is_some())
            .count(),
        1
    );
    near(get(&t, "protein_mean").ceiling, 2400.0 * 0.35 / 4.0);
    // A soft reference intake becomes what the brief asks for.
    let (t, _) = with("[[target]]\nnutrient = \"iron\"\nfloor = \"12 mg\"");
    let iron: Vec<_> = t.iter().filter(|t| t.nutrient == Nutrient::IRON).collect();
    assert_eq!(iron.iter().filter_map(|t| t.floor).collect::<Vec<_>>(), [12.0]);
    assert!(iron.iter().any(|t| t.ceiling == Some(45.0)));
}

#[test]
fn a_share_of_energy_and_a_meal() {
    let (t, d) = with(
        "[[target]]\nnutrient = \"protein\"\nfloor = \"0.4 g/kg\"\nscope = \"meal\"\n\
         [[target]]\nnutrient = \"fat\"\nceiling = \"30 % energy\"",
    );
    assert_eq!(d, vec![]);
    near(get(&t, "protein_meal").floor, 24.0);
    near(get(&t, "protein_day").floor, 72.0);
    let ceilings: Vec<f64> = t
        .iter()
        .filter(|t| t.nutrient == Nutrient::FAT)
        .filter_map(|t| t.ceiling)
        .collect();
    assert_eq!(ceilings, [80.0]);
}

#[test]
fn off_drops_all_of_a_nutrient_or_one_scope() {
    let (t, d) = with("[[target]]\nnutrient = \"vitamin_k\"\noff = true");
    assert_eq!(d, vec![]);
    assert!(t.iter().all(|t| t.nutrient != Nutrient::VITAMIN_K));
    let (t, _) = with("[[target]]\nnutrient = \"fat\"\nscope = \"mean\"\noff = true");
    assert!(t.iter().any(|t| t.id == "fat_day") && t.iter().all(|t| t.id != "fat_mean"));
}

#[test]
fn what_a_brief_cannot_ask_for() {
    for (rest, code) in [
        (
            "nutrient = \"protein\"\nfloor = \"2 g/kg\"\nceiling = \"10 % energy\"",
            "target-floor-over-ceiling",
        ),
        (
            "nutrient = \"calcium\"\nfloor = \"3 g\"",
            "target-over-upper-level",
        ),
        ("nutrient = \"energy\"\nceiling = \"800 kcal\"", "target-energy"),
        ("nutrient = \"energy\"\noff = true", "target-energy"),
        (
            "nutrient = \"carbohydrate\"\nfloor = \"560 g\"",
            "target-floors-over-energy",
        ),
        (
            "nutrient = \"carbohydrate\"\nceiling = \"20 % energy\"",
            "target-ceilings-under-energy",
        ),
    ] {
        let (_, d) = with(&format!("[[target]]\n{rest}"));
        assert!(d.iter().any(|d| d.code == code && d.is_error()), "{rest}: {d:#?}");
        assert!(d.iter().all(|d| d.help.is_some() && !d.spans.is_empty()));
    }
}

#[test]
fn what_a_brief_is_warned_of() {
    for (rest, code) in [
        (
            "nutrient = \"sodium\"\nceiling = \"3 g\"",
            "target-beyond-upper-level",
        ),
        ("nutrient = \"retinol\"\noff = true", "target-beyond-upper-level"),
        ("nutrient = \"caffeine\"\noff = true", "target-nothing-to-drop"),
        ("nutrient = \"protein\"\nfloor = \"3.8 g/kg\"", "target-gives-way"),
        ("nutrient = \"protein\"\nceiling = \"60 g\"", "target-gives-way"),
    ] {
        let (_, d) = with(&format!("[[target]]\n{rest}"));
        assert_eq!(codes(&d), [code], "{rest}");
        assert!(!d[0].is_error());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    /// The hard floors of the macronutrients leave room, the hard ceilings fill the day, and no
    /// floor lies over a ceiling: whoever it is, the bands admit 100 % of the energy together.
    #[test]
    fn the_bands_admit_the_whole_energy(
        male in any::<bool>(), age in 19u32..95, height in 145u32..205, bmi in 18.5f64..45.0,
        intake in 1200.0f64..5000.0, phase in 0usize..3, training in 0usize..3, vegan in any::<bool>()
    ) {
        let metres = f64::from(height) / 100.0;
        let person = format!(
            "sex = \"{}\"\nage = {age}\nheight = \"{height} cm\"\nweight = \"{:.1} kg\"\ntraining = \"{}\"",
            if male { "male" } else { "female" }, bmi * metres * metres,
            ["none", "novice", "advanced"][training],
        );
        let b = brief(&person, ["gain", "hold", "lose"][phase], if vegan { "diet = \"vegan\"" } else { "" });
        let (t, d) = derive(&b, &energy(intake, None));
        prop_assert!(d.iter().all(|d| !d.is_error()));
        let (mut hard, mut all, mut top) = (0.0, 0.0, 0.0);
        for (n, kcal) in [(Nutrient::PROTEIN, 4.0), (Nutrient::FAT, 9.0), (Nutrient::CARBOHYDRATE, 4.0)] {
            let of = || t.iter().filter(|t| t.nutrient == n);
            let floor = |must_only: bool| of()
                .filter(|t| !must_only || t.strength == Strength::Must)
                .filter_map(|t| t.floor).fold(0.0, f64::max);
            let ceiling = of().filter_map(|t| t.ceiling).fold(f64::INFINITY, f64::min);
            prop_assert!(floor(false) < ceiling, "{n}: {} {}", floor(false), ceiling);
            hard += kcal * floor(true);
            all += kcal * floor(false);
            top += kcal * ceiling;
            if let Some(centre) = of().find_map(|t| t.centre) {
                prop_assert!(centre >= floor(true) - 1e-6 && centre <= ceiling + 1e-6, "{n} {centre}");
            }
        }
        prop_assert!(hard <= 0.97 * intake || intake < 1500.0, "hard {hard} of {intake}");
        prop_assert!(all <= intake || intake < 1500.0, "all {all} of {intake}");
        prop_assert!(top >= 1.03 * intake);
    }
}
