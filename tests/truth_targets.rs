//! The targets against the published reference intakes.
//!
//! Sources, by value:
//! - elements, macronutrients: National Academies of Sciences, Engineering, and Medicine, "Dietary
//!   Reference Intakes for Sodium and Potassium", 2019, Appendix J, summary tables (NCBI Bookshelf
//!   NBK545442), and Institute of Medicine, "Dietary Reference Intakes for Energy, Carbohydrate,
//!   Fiber, Fat, Fatty Acids, Cholesterol, Protein, and Amino Acids", 2002/2005, summary tables
//!   (NBK56068): read in the source;
//! - vitamins: Food and Nutrition Board summary tables, 2011 edition: read in the source, vitamin D
//!   of 2011 from memory;
//! - upper levels: vitamins NBK278991 read in the source, elements from memory;
//! - ages over 50: second-hand, as in `src/targets/dri.csv`;
//! - iron times 1.8 without meat: Institute of Medicine 2001: from memory;
//! - saturated and trans fat: WHO, fact sheet "Healthy diet": read in the source.
//!
//! Tolerance: none, beyond floating point.

use platewright::brief::{Scope, parse};
use platewright::energy::{EnergyBudget, Spread};
use platewright::nutrient::Nutrient;
use platewright::targets::{Target, derive};
use platewright::units::Kcal;

fn targets(sex: &str, age: u32, intake: f64, diet: &str) -> Vec<Target> {
    let text = format!(
        "region = \"us\"\ndiet = [{diet}]\n[person]\nsex = \"{sex}\"\nage = {age}\nheight = \"170 cm\"\n\
         weight = \"65 kg\"\n[activity]\nlevel = \"active\"\n[[phase]]\nkind = \"hold\"\n"
    );
    let brief = parse(&text).expect("a sound brief").0;
    let spread = Spread {
        low: Kcal(1.0),
        middle: Kcal(2.0),
        high: Kcal(3.0),
    };
    let energy = EnergyBudget {
        resting: spread,
        expenditure: spread,
        intake: Kcal(intake),
        rate_kg_per_week: None,
        fat_free_mass_kg: None,
        derivation: vec![],
        gates: vec![],
    };
    derive(&brief, &energy).0
}

fn floor(targets: &[Target], id: &str) -> Option<f64> {
    let n = Nutrient::from_id(id).expect("a nutrient");
    targets
        .iter()
        .filter(|t| t.nutrient == n)
        .filter_map(|t| t.floor)
        .reduce(f64::max)
}

fn ceiling(targets: &[Target], id: &str) -> Option<f64> {
    let n = Nutrient::from_id(id).expect("a nutrient");
    targets
        .iter()
        .filter(|t| t.nutrient == n)
        .filter_map(|t| t.ceiling)
        .reduce(f64::min)
}

fn same(found: Option<f64>, published: f64, what: &str) {
    assert!(
        found.is_some_and(|f| (f - published).abs() < 1e-9 * published),
        "{what}: {found:?} is not {published}"
    );
}

/// RDA or AI of adults of 19 to 50 years: id, men, women.
const ADULTS: &[(&str, f64, f64)] = &[
    ("vitamin_a", 900.0, 700.0),
    ("vitamin_c", 90.0, 75.0),
    ("vitamin_d", 15.0, 15.0),
    ("vitamin_e", 15.0, 15.0),
    ("vitamin_k", 120.0, 90.0),
    ("thiamin", 1.2, 1.1),
    ("riboflavin", 1.3, 1.1),
    ("niacin", 16.0, 14.0),
    ("vitamin_b6", 1.3, 1.3),
    ("folate", 400.0, 400.0),
    ("vitamin_b12", 2.4, 2.4),
    ("pantothenic_acid", 5.0, 5.0),
    ("choline", 550.0, 425.0),
    ("calcium", 1000.0, 1000.0),
    // 900 ug; the table of foods counts mg.
    ("copper", 0.9, 0.9),
    ("iron", 8.0, 18.0),
    ("manganese", 2.3, 1.8),
    ("phosphorus", 700.0, 700.0),
    ("potassium", 3400.0, 2600.0),
    ("selenium", 55.0, 55.0),
    ("zinc", 11.0, 8.0),
    ("fibre", 38.0, 25.0),
    ("linoleic_acid", 17.0, 12.0),
    ("alpha_linolenic_acid", 1.6, 1.1),
];

#[test]
fn reference_intakes_of_adults_to_50() {
    for age in [19, 30, 31, 50] {
        // Enough energy that 14 g of fibre per 1000 kcal is more than the adequate intake.
        let (men, women) = (
            targets("male", age, 3000.0, ""),
            targets("female", age, 2200.0, ""),
        );
        for (id, man, woman) in ADULTS {
            same(floor(&men, id), *man, id);
            same(floor(&women, id), *woman, id);
        }
        let magnesium = if age <= 30 { (400.0, 310.0) } else { (420.0, 320.0) };
        same(floor(&men, "magnesium"), magnesium.0, "magnesium");
        same(floor(&women, "magnesium"), magnesium.1, "magnesium");
    }
}

#[test]
fn reference_intakes_of_older_adults() {
    for (sex, age, id, published) in [
        ("male", 51, "vitamin_b6", 1.7),
        ("female", 51, "vitamin_b6", 1.5),
        ("male", 70, "vitamin_d", 15.0),
        ("male", 71, "vitamin_d", 20.0),
        ("female", 71, "vitamin_d", 20.0),
        ("male", 70, "calcium", 1000.0),
        ("male", 71, "calcium", 1200.0),
        ("female", 51, "calcium", 1200.0),
        ("female", 51, "iron", 8.0),
        ("male", 51, "fibre", 30.0),
        ("female", 51, "fibre", 21.0),
        ("male", 51, "linoleic_acid", 14.0),
        ("female", 51, "linoleic_acid", 11.0),
    ] {
        same(floor(&targets(sex, age, 2600.0, ""), id), published, id);
    }
    same(
        ceiling(&targets("male", 51, 2600.0, ""), "calcium"),
        2000.0,
        "calcium UL over 50",
    );
    same(
        ceiling(&targets("male", 71, 2600.0, ""), "phosphorus"),
        3000.0,
        "phosphorus UL over 70",
    );
}

#[test]
fn upper_levels_that_count_food() {
    let t = targets("male", 40, 2600.0, "");
    for (id, published) in [
        ("retinol", 3000.0),
        ("vitamin_c", 2000.0),
        ("vitamin_d", 100.0),
        ("vitamin_b6", 100.0),
        ("folic_acid", 1000.0),
        ("choline", 3500.0),
        ("calcium", 2500.0),
        // 10 000 ug.
        ("copper", 10.0),
        ("iron", 45.0),
        ("manganese", 11.0),
        ("phosphorus", 4000.0),
        ("selenium", 400.0),
        ("zinc", 40.0),
        // The chronic disease risk reduction intake of 2019, no upper level.
        ("sodium", 2300.0),
    ] {
        same(ceiling(&t, id), published, id);
    }
}

#[test]
fn the_traps() {
    let t = targets("male", 40, 2600.0, "");
    // Upper levels of magnesium (350 mg), niacin, folate and vitamin E do not count food, that of
    // vitamin A counts retinol alone.
    for id in ["magnesium", "niacin", "folate", "vitamin_e", "vitamin_a"] {
        assert_eq!(ceiling(&t, id), None, "{id}");
    }
    // Potassium was 4700 mg before 2019, vitamin D 5 ug and its upper level 50 before 2011.
    assert_ne!(floor(&t, "potassium"), Some(4700.0));
    // The adequate intake of sodium is no floor to plan for.
    assert_eq!(floor(&t, "sodium"), None);
    // Old units are not planned with.
    assert_eq!(floor(&t, "vitamin_a_iu"), None);
    assert_eq!(floor(&t, "vitamin_d_iu"), None);
    assert_eq!(floor(&t, "folate_total"), None);
}

#[test]
fn shares_of_energy() {
    // AMDR of adults: protein up to 35, fat 20 to 35, carbohydrate 45 to 65 % of energy.
    let t = targets("female", 30, 2000.0, "");
    same(ceiling(&t, "protein"), 0.35 * 2000.0 / 4.0, "protein");
    same(floor(&t, "fat"), 0.20 * 2000.0 / 9.0, "fat");
    same(ceiling(&t, "fat"), 0.35 * 2000.0 / 9.0, "fat");
    same(floor(&t, "carbohydrate"), 0.45 * 2000.0 / 4.0, "carbohydrate");
    same(ceiling(&t, "carbohydrate"), 0.65 * 2000.0 / 4.0, "carbohydrate");
    // WHO: saturated fat under 10 %, trans fat under 1 %.
    same(ceiling(&t, "saturated_fat"), 0.10 * 2000.0 / 9.0, "saturated fat");
    same(ceiling(&t, "trans_fat"), 0.01 * 2000.0 / 9.0, "trans fat");
    // RDA of carbohydrate 130 g, of protein 0.8 g/kg.
    assert!(
        t.iter()
            .any(|t| t.nutrient == Nutrient::CARBOHYDRATE && t.floor == Some(130.0))
    );
    same(floor(&t, "protein"), 0.8 * 65.0, "protein");
}

#[test]
fn iron_without_meat() {
    same(
        floor(&targets("female", 30, 2000.0, "\"vegan\""), "iron"),
        18.0 * 1.8,
        "iron",
    );
    same(
        floor(&targets("male", 30, 2000.0, "\"vegetarian\""), "iron"),
        8.0 * 1.8,
        "iron",
    );
}

#[test]
fn reference_intakes_hold_for_the_mean_of_the_days() {
    for target in targets("male", 40, 2600.0, "") {
        if ADULTS
            .iter()
            .any(|(id, _, _)| Nutrient::from_id(id) == Some(target.nutrient))
        {
            assert_eq!(target.scope, Scope::Mean, "{}", target.id);
        }
    }
}
