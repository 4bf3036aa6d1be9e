//! A hand-made plan that the tests of all reports share: two invented days with a shortfall, a pantry and
//! packs. All amounts, prices and nutrient contents are invented.
#![allow(dead_code)]

use platewright::brief::Scope;
use platewright::energy::{EnergyBudget, Spread};
use platewright::foods::FoodId;
use platewright::money::Currency;
use platewright::nutrient::Nutrient;
use platewright::plan::{
    Breach, Caution, Conflict, Cooked, Day, Eaten, FoodGrams, Left, Meal, Miss, Plan, Purchase, Recipe,
    SearchReport, Standings, Way,
};
use platewright::targets::{Strength, Target};
use platewright::units::Kcal;
use rust_decimal::Decimal;

pub fn dec(text: &str) -> Decimal {
    text.parse().expect("a decimal")
}

fn eaten(name: &str, servings: f64, serving: &str, grams: f64, kcal: f64, cost: &str) -> Eaten {
    Eaten {
        id: name.to_lowercase().replace([' ', ','], "_"),
        name: name.into(),
        servings,
        serving: serving.into(),
        grams,
        kcal,
        amounts: amounts(&[(Nutrient::ENERGY, kcal), (Nutrient::PROTEIN, kcal / 25.0)]),
        role: "staple".into(),
        foods: vec![FoodGrams {
            food: FoodId::sr28(20045),
            name: name.to_lowercase(),
            grams,
            cooking: None,
        }],
        pot: None,
        cost: Some(dec(cost)),
    }
}

fn meal(slot: &str, name: &str, form: &str, items: Vec<Eaten>) -> Meal {
    Meal {
        slot: slot.into(),
        slot_name: name.into(),
        form: form.into(),
        items,
    }
}

fn amounts(values: &[(Nutrient, f64)]) -> Vec<f64> {
    let mut all = vec![0.0; Nutrient::COUNT];
    for (n, v) in values {
        all[n.index()] = *v;
    }
    all
}

fn standing(
    nutrient: Nutrient,
    scope: Scope,
    strength: Strength,
    floor: Option<f64>,
    ceiling: Option<f64>,
    low: f64,
    high: f64,
) -> Standings {
    let name = match scope {
        Scope::Meal => "meal",
        Scope::Day => "day",
        Scope::Mean => "mean",
    };
    Standings {
        target: Target {
            id: format!("{}_{name}", nutrient.id()),
            nutrient,
            floor,
            ceiling,
            centre: None,
            scope,
            strength,
            from_brief: nutrient == Nutrient::PROTEIN,
            reason: "invented for this test".into(),
            source: "invented".into(),
        },
        mean: (low + high) / 2.0,
        range: (low, high),
        shortfall: floor.map_or(0.0, |f| (f - low).max(0.0)),
        excess: ceiling.map_or(0.0, |c| (high - c).max(0.0)),
        known: if nutrient == Nutrient::VITAMIN_D {
            0.85
        } else {
            1.0
        },
    }
}

fn purchase(
    product: &str,
    name: &str,
    section: &str,
    needed: f64,
    home: f64,
    cost: Option<&str>,
) -> Purchase {
    Purchase {
        product: product.into(),
        name: name.into(),
        section: section.into(),
        needed_grams: needed,
        home_grams: home,
        packs: None,
        pack_grams: None,
        buy_grams: needed - home,
        piece_grams: None,
        cost: cost.map(dec),
        left_over_grams: 0.0,
        invented: false,
        keeps_days: 7,
        first_day: 1,
        foods: vec![FoodId::sr28(20044)],
    }
}

pub fn invented() -> Plan {
    let total = |e, p, f, c, fibre, d| {
        amounts(&[
            (Nutrient::ENERGY, e),
            (Nutrient::PROTEIN, p),
            (Nutrient::FAT, f),
            (Nutrient::CARBOHYDRATE, c),
            (Nutrient::FIBRE, fibre),
            (Nutrient::VITAMIN_D, d),
        ])
    };
    let day = |day, meals, totals, cost| Day {
        day,
        meals,
        totals,
        cost: Some(dec(cost)),
    };
    let one = vec![
        meal(
            "breakfast",
            "Breakfast",
            "Porridge bowl",
            vec![
                eaten(
                    "Oatmeal with milk",
                    1.5,
                    "1 bowl (1/2 cup dry oats)",
                    351.0,
                    412.4,
                    "0.525",
                ),
                eaten("Banana", 1.0, "1 medium", 118.0, 105.0, "0.21"),
            ],
        ),
        meal(
            "dinner",
            "Dinner",
            "Rice plate",
            vec![
                eaten("White rice, boiled", 3.0, "1/2 cup", 237.0, 308.1, "0.40"),
                eaten(
                    "Lentils stewed with onion, tomato and a spoon of mustard oil",
                    2.0,
                    "1 katori (150 g)",
                    300.0,
                    330.6,
                    "0.80",
                ),
                eaten("Bread", 3.0, "1 slice (28 g)", 84.0, 224.0, "0.30"),
            ],
        ),
    ];
    let two = vec![
        meal(
            "breakfast",
            "Breakfast",
            "Porridge bowl",
            vec![eaten(
                "Oatmeal with milk",
                2.0,
                "1 bowl (1/2 cup dry oats)",
                468.0,
                549.9,
                "0.70",
            )],
        ),
        meal(
            "dinner",
            "Dinner",
            "Rice plate",
            vec![
                eaten("White rice, boiled", 1.6, "1 cup", 252.8, 328.6, "0.43"),
                eaten("Eggs, boiled", 2.0, "1 large egg", 100.0, 155.0, "0.60"),
            ],
        ),
    ];
    let mut coverage = vec![1.0; Nutrient::COUNT];
    coverage[Nutrient::VITAMIN_D.index()] = 0.85;
    coverage[Nutrient::FLUORIDE.index()] = 0.0;
    Plan {
        title: "Two invented days".into(),
        kitchen: "us".into(),
        kitchen_name: "US everyday kitchen".into(),
        recipes: vec![Recipe {
            id: "tomato_rice".into(),
            name: "Tomato rice".into(),
            servings: 4.0,
            serving: "1 plate".into(),
            eaten: 2.0,
            minutes: 15.0,
            total_minutes: 40.0,
            keeps_days: 2,
            ingredients: vec![("white rice".into(), 300.0), ("tomatoes".into(), 400.0)],
            water: 500.0,
            method: vec!["Fry the tomatoes.".into(), "Add rice and water; cover until soft.".into()],
        }],
        planned: true,
        days: vec![
            day(1, one, total(1380.1, 48.25, 21.5, 245.0, 28.4, 3.1), "2.235"),
            day(2, two, total(1033.5, 45.75, 26.75, 150.5, 12.0, 4.3), "1.73"),
        ],
        mean: total(1206.8, 47.0, 24.125, 197.75, 20.2, 3.7),
        coverage,
        standings: vec![
            standing(Nutrient::ENERGY, Scope::Mean, Strength::Must, Some(1200.0), Some(1210.0), 1206.8, 1206.8),
            standing(Nutrient::PROTEIN, Scope::Day, Strength::Must, Some(45.0), None, 45.75, 48.25),
            standing(Nutrient::SODIUM, Scope::Day, Strength::Must, None, Some(2300.0), 812.0, 1444.4),
            standing(Nutrient::VITAMIN_D, Scope::Mean, Strength::Should, Some(15.0), None, 3.7, 3.7),
            standing(Nutrient::VITAMIN_D, Scope::Mean, Strength::Must, None, Some(100.0), 3.7, 3.7),
        ],
        cost: Some(dec("3.765")),
        till: Some(dec("6.98")),
        currency: Currency::parse("USD"),
        budget: Some(dec("6.50")),
        shopping: vec![
            Purchase { piece_grams: Some(180.0), buy_grams: 180.0, ..purchase("banana", "Bananas", "produce", 180.0, 0.0, Some("0.21")) },
            Purchase {
                packs: Some(1),
                pack_grams: Some(907.184_74),
                buy_grams: 907.184_74,
                left_over_grams: 782.184_74,
                invented: true,
                ..purchase("oats", "Rolled oats, whole grain, quick or old-fashioned", "grains", 125.0, 0.0, Some("3.98"))
            },
            Purchase { packs: Some(0), pack_grams: Some(907.184_74), buy_grams: 0.0, ..purchase("white_rice", "White rice, long-grain", "grains", 174.9, 174.9, Some("0.00")) },
            Purchase {
                packs: Some(1),
                pack_grams: Some(342.0),
                piece_grams: Some(57.0),
                buy_grams: 342.0,
                left_over_grams: 228.0,
                ..purchase("eggs", "Eggs, large", "eggs", 114.0, 0.0, Some("2.79"))
            },
            purchase("lentils", "Lentils, dry", "legumes", 120.0, 0.0, None),
        ],
        search: SearchReport {
            objective: "cost",
            unit: "USD".into(),
            value: 3.765,
            bound: Some(3.5),
            gap: Some((3.765 - 3.5) / 3.765),
            proved: false,
            moves: 1000,
            seed: 7,
            second: None,
            missed: Vec::new(),
        },
        energy: EnergyBudget {
            resting: Spread { low: Kcal(900.0), middle: Kcal(950.0), high: Kcal(1000.0) },
            expenditure: Spread { low: Kcal(1300.0), middle: Kcal(1450.4), high: Kcal(1600.0) },
            intake: Kcal(1205.0),
            rate_kg_per_week: Some(-0.2),
            fat_free_mass_kg: None,
            derivation: Vec::new(),
            gates: Vec::new(),
        },
        cautions: vec![Caution {
            code: "general".into(),
            text: "Invented for this test, and long enough that it has to be wrapped into a second line of the text.".into(),
        }],
        conflict: Vec::new(),
        ways: Vec::new(),
        household: Vec::new(),
        misses: Vec::new(),
        breaches: Vec::new(),
        cooking: Vec::new(),
        left: Vec::new(),
    }
}

pub fn nearest() -> Plan {
    let mut plan = invented();
    plan.planned = false;
    let day = &mut plan.standings[1];
    day.target.floor = Some(60.0);
    day.shortfall = 14.25;
    plan.misses = vec![Miss {
        row: "protein_day_d2".into(),
        group: "protein".into(),
        share: 0.2375,
        activity: 45.75,
    }];
    plan.search.bound = None;
    plan.search.gap = None;
    plan
}

/// The plan with a cooking list, a meal from the pot and what is left: all that a report can show.
pub fn cooked() -> Plan {
    let mut plan = invented();
    plan.cooking = vec![Cooked {
        day: 1,
        dish: "lentils".into(),
        name: "Lentils stewed with onion, tomato and a spoon of mustard oil".into(),
        batches: 1.5,
        servings: 6.0,
        minutes: 25.0,
        total_minutes: 60.0,
        keep_until: 4,
        meals: vec![(1, "dinner".into(), 2.0), (2, "dinner".into(), 1.6)],
    }];
    let mut pot = eaten(
        "Lentils stewed with onion, tomato and a spoon of mustard oil",
        1.6,
        "1 katori (150 g)",
        240.0,
        264.48,
        "0.64",
    );
    pot.pot = Some(1);
    plan.days[1].meals[1].items.push(pot);
    let left = |product: &str, name: &str, grams, keeps_days| Left {
        product: product.into(),
        name: name.into(),
        grams,
        keeps_days,
    };
    plan.left = vec![
        left("oats", "Rolled oats, whole grain", 782.18, 178),
        left("milk", "Milk", 300.0, -1),
    ];
    plan
}

/// The nearest days with a conflict, ways out and a breach.
pub fn conflicting() -> Plan {
    let mut plan = nearest();
    plan.conflict = vec![
        Conflict {
            group: "budget".into(),
            reason: "the budget of the brief".into(),
        },
        Conflict {
            group: "protein".into(),
            reason: "invented for this test".into(),
        },
    ];
    plan.ways = vec![
        Way {
            target: "budget".into(),
            name: "budget".into(),
            bound: Some("ceiling"),
            from: Some(6.5),
            to: Some(8.123),
            by: Some(1.623),
            unit: "USD".into(),
            cost: Some(8.123),
            ..Way::default()
        },
        Way {
            target: "dislike eggs".into(),
            name: "eggs".into(),
            cost: Some(6.4),
            ..Way::default()
        },
        Way {
            target: "diet vegan".into(),
            name: "vegan".into(),
            information: true,
            ..Way::default()
        },
    ];
    plan.breaches = vec![Breach {
        day: 1,
        slot: "breakfast".into(),
        item: "Oatmeal with milk".into(),
        rule: "allergy milk".into(),
        why: "milk".into(),
    }];
    plan
}
