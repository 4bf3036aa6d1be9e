//! Quantities as people write them come back as they were.

use crate::config;
use platewright::brief::parse_pantry;
use platewright::money::Currency;
use platewright::prices::Price;
use platewright::report::amount::{self, Units};
use platewright::units::{
    Centimetres, Kcal, Kilograms, NutrientQuantity, WeeklyRate, body_mass, energy, food_mass, length,
    nutrient_quantity, share, split, weekly_rate,
};
use proptest::prelude::*;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * a.abs().max(b.abs()).max(1e-12)
}

/// Amounts that a brief may hold, of every size; printed in full.
fn amounts() -> impl Strategy<Value = f64> {
    prop_oneof![
        0.001..1.0f64,
        1.0..1000.0f64,
        1000.0..1e6f64,
        (0u32..100_000).prop_map(f64::from)
    ]
}

proptest! {
    #![proptest_config(config(1000))]

    #[test]
    fn units_there_and_back(x in amounts()) {
        prop_assert!(near(Kcal::from_kj(x).kj(), x) && near(Kcal::from_kj(Kcal(x).kj()).0, x));
        prop_assert!(near(Kilograms::from_lb(x).lb(), x) && near(Kilograms::from_lb(Kilograms(x).lb()).0, x));
        prop_assert!(near(Centimetres::from_inches(x).0 / 2.54, x) && near(Centimetres(x).metres() * 100.0, x));
    }

    #[test]
    fn amounts_are_read_as_they_were_written(x in amounts(), comma in any::<bool>(), blank in "[ \u{a0}\u{202f}]?") {
        // Three digits after a comma may be thousands: that is refused, so it is not written.
        let plain = format!("{x:.4}");
        let number = if comma { plain.replace('.', ",") } else { plain.clone() };
        let x: f64 = plain.parse().unwrap();
        let said = |unit: &str| format!("{number}{blank}{unit}");
        let metric = [("g", 1.0), ("kg", 1000.0), ("oz", 453.592_37 / 16.0), ("lb", 453.592_37)];
        for (unit, grams) in metric {
            prop_assert!(near(food_mass(&said(unit)).unwrap().0, x * grams), "{}", said(unit));
        }
        for (unit, cm) in [("cm", 1.0), ("m", 100.0), ("mm", 0.1), ("in", 2.54), ("ft", 30.48)] {
            prop_assert!(near(length(&said(unit)).unwrap().0, x * cm), "{}", said(unit));
        }
        for (unit, kg) in [("kg", 1.0), ("lb", 0.453_592_37), ("st", 14.0 * 0.453_592_37)] {
            prop_assert!(near(body_mass(&said(unit)).unwrap().0, x * kg), "{}", said(unit));
        }
        for (unit, kcal) in [("kcal", 1.0), ("kJ", 1.0 / 4.184), ("MJ", 1000.0 / 4.184)] {
            prop_assert!(near(energy(&said(unit)).unwrap().0, x * kcal), "{}", said(unit));
        }
        prop_assert!(near(share(&said("%")).unwrap(), x / 100.0));
        prop_assert!(matches!(weekly_rate(&said("%/week")), Ok(WeeklyRate::Share(s)) if near(s, x / 100.0)));
        prop_assert!(matches!(weekly_rate(&said("lb/week")), Ok(WeeklyRate::Mass(m)) if near(m.lb(), x)));
        prop_assert!(matches!(nutrient_quantity(&said("mg")), Ok(NutrientQuantity::Mass(g)) if near(g.0, x / 1000.0)));
        prop_assert!(matches!(nutrient_quantity(&said("g/kg")), Ok(NutrientQuantity::MassPerKilogram(g)) if near(g.0, x)));
        prop_assert!(matches!(nutrient_quantity(&said("% energy")), Ok(NutrientQuantity::EnergyShare(s)) if near(s, x / 100.0)));
    }

    #[test]
    fn feet_and_inches_and_stones_add_up(big in 1u32..9, small in 0.0..11.9f64) {
        let small: f64 = format!("{small:.1}").parse().unwrap();
        let cm = f64::from(big) * 30.48 + small * 2.54;
        for text in [format!("{big} ft {small} in"), format!("{big}'{small}\""), format!("{big}' {small}")] {
            prop_assert!(near(length(&text).unwrap().0, cm), "{text}");
        }
        let kg = (f64::from(big) * 14.0 + small) * 0.453_592_37;
        let stones = body_mass(&format!("{big} st {small} lb")).unwrap().0;
        prop_assert!(near(stones, kg));
    }

    /// What the shop is told is the amount again, within half of the last digit.
    #[test]
    fn masses_on_a_list_are_the_masses(grams in 0.05..50_000.0f64) {
        let metric = food_mass(&amount::mass(grams, Units::Metric));
        if let Ok(g) = metric {
            let digit: f64 = if grams >= 999.5 { 10.0 } else if grams >= 9.95 { 1.0 } else { 0.1 };
            prop_assert!((g.0 - grams).abs() <= 0.5001 * digit, "{grams} g is told as {}", g.0);
        } else {
            prop_assert!(grams < 0.1, "{grams} g is told as {}", amount::mass(grams, Units::Metric));
        }
        let us = food_mass(&amount::mass(grams, Units::Us));
        if let Ok(g) = us {
            let ounce = 453.592_37 / 16.0;
            let digit = if grams / ounce < 15.95 { 0.1 } else { 1.0 };
            prop_assert!((g.0 - grams).abs() <= 0.5001 * digit * ounce, "{grams} g is told as {}", g.0);
        } else {
            prop_assert!(grams < 0.05 * 28.35, "{grams} g is told as {}", amount::mass(grams, Units::Us));
        }
    }

    #[test]
    fn money_keeps_its_digits(minor in 0i64..10_000_000_000, code in "[A-Za-z]{3}") {
        let currency = Currency::parse(&code).expect("three letters");
        prop_assert_eq!(Currency::parse(currency.code()), Some(currency));
        let amount = Decimal::new(minor, 2);
        let said = amount.to_string();
        prop_assert_eq!(said.parse::<Decimal>().unwrap(), amount);
        let told: f64 = amount::money(amount).parse().unwrap();
        prop_assert!((told - minor as f64 / 100.0).abs() < 1e-6);
    }

    /// The cost of grams is the price's share of them, exact to its four decimals.
    #[test]
    fn cost_of_grams(price in 1i64..10_000_000, pack in 0.5..20_000.0f64, grams in 0.0..50_000.0f64) {
        let p = Price {
            buy: "invented".into(),
            grams: pack,
            price: Decimal::new(price, 2),
            pack: true,
            place: String::new(),
            date: String::new(),
            source: "invented".into(),
        };
        let own = price as f64 / 100.0 / pack * grams;
        let said = p.cost(grams).to_f64().unwrap();
        prop_assert!((own - said).abs() <= 5.1e-5 + 1e-12 * own, "{own} and {said}");
        prop_assert!(near(p.per_gram() * grams, own));
    }

    /// What is left over is written for the next plan and read again, to the gram.
    #[test]
    fn a_list_of_what_is_at_home_is_read_again(grams in 1.0..20_000.0f64, days in 1u32..700) {
        let text = format!("title = \"Left\"\n[[pantry]]\nwhat = \"white_rice\"\namount = \"{} g\"\nkeeps_days = {days}\n", amount::decimals(grams, 0));
        let (entries, _) = parse_pantry(&text).expect("the list reads");
        prop_assert_eq!(entries.len(), 1);
        prop_assert!((entries[0].grams - grams).abs() <= 0.5001 && entries[0].keeps_days == Some(days));
    }

    #[test]
    fn quantities_of_any_text_are_read_or_refused(text in any::<String>(), figures in "[0-9.,' \"a-zµ%/½-]{0,12}") {
        for t in [&text, &figures] {
            let value = |x: Result<f64, _>| x.is_err() || x.is_ok_and(|v: f64| v.is_finite() && v >= 0.0);
            prop_assert!(value(length(t).map(|v| v.0)), "{t}");
            prop_assert!(value(body_mass(t).map(|v| v.0)), "{t}");
            prop_assert!(value(energy(t).map(|v| v.0)), "{t}");
            prop_assert!(value(food_mass(t).map(|v| v.0)), "{t}");
            prop_assert!(value(share(t)), "{t}");
            let _ = (weekly_rate(t), nutrient_quantity(t), split(t), Currency::parse(t));
        }
    }
}
