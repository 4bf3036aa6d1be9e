//! Compares the energy a food states with the energy of its macronutrients.
//!
//! Takes a food, gives a range and, outside it, a warning. Changes nothing.

use super::Food;
use crate::diagnostic::Diagnostic;
use crate::nutrient::Nutrient;

/// Energy of the macronutrients where a food has no factors of its own [kcal/g]: protein, fat,
/// carbohydrate by difference, alcohol.
///
/// Source: FAO Food and Nutrition Paper 77, "Food energy - methods of analysis and conversion
/// factors", 2003, section 3.5.1 (the Atwater general factor system).
pub const GENERAL: [f64; 4] = [4.0, 9.0, 4.0, 7.0];

/// Share by which stated energy may lie outside the range: 0.2.
///
/// Source: US Code of Federal Regulations, title 21, section 101.9(g)(5), the margin of 20 % for
/// calories on a label.
pub const TOLERANCE: f64 = 0.2;

/// Energy by which it may always lie outside the range [kcal per 100 g]: 20, our choice, since in
/// foods of little energy the share alone would flag mere rounding.
pub const LEAST_TOLERANCE_KCAL: f64 = 20.0;

/// Stated and computed energy of a food per 100 g.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EnergyCheck {
    /// As the food states it \[kcal\].
    pub stated_kcal: f64,
    /// From protein, fat, alcohol and carbohydrate without its fibre \[kcal\].
    pub least_kcal: f64,
    /// The same with fibre counted like other carbohydrate \[kcal\].
    pub most_kcal: f64,
}

impl EnergyCheck {
    /// Whether stated energy lies within the range, widened by the tolerance.
    pub fn agrees(&self) -> bool {
        let slack = |bound: f64| (bound * TOLERANCE).max(LEAST_TOLERANCE_KCAL);
        self.stated_kcal >= self.least_kcal - slack(self.least_kcal)
            && self.stated_kcal <= self.most_kcal + slack(self.most_kcal)
    }
}

/// Stated and computed energy per 100 g; `None` when energy, protein, fat or carbohydrate is unknown.
///
/// The food's own factors are used where it has all three, else [`GENERAL`]. Fibre yields between
/// nothing and as much as other carbohydrate, so that the result is a range.
pub fn check(food: &Food) -> Option<EnergyCheck> {
    let stated_kcal = food.amount(Nutrient::ENERGY)?;
    let (protein, fat) = (food.amount(Nutrient::PROTEIN)?, food.amount(Nutrient::FAT)?);
    let carbohydrate = food.amount(Nutrient::CARBOHYDRATE)?;
    let fibre = food.content(Nutrient::FIBRE).counted().min(carbohydrate);
    let own = (food.factors.protein, food.factors.fat, food.factors.carbohydrate);
    let [per_protein, per_fat, per_carbohydrate, per_alcohol] = match own {
        (Some(p), Some(f), Some(c)) => [p, f, c, GENERAL[3]],
        _ => GENERAL,
    };
    let rest =
        protein * per_protein + fat * per_fat + food.content(Nutrient::ALCOHOL).counted() * per_alcohol;
    Some(EnergyCheck {
        stated_kcal,
        least_kcal: rest + (carbohydrate - fibre) * per_carbohydrate,
        most_kcal: rest + carbohydrate * per_carbohydrate,
    })
}

/// A warning when stated energy and macronutrients disagree beyond the tolerance.
pub fn warning(food: &Food) -> Option<Diagnostic> {
    let found = check(food).filter(|c| !c.agrees())?;
    let message = format!(
        "{}: states {:.0} kcal per 100 g, but its protein, fat, carbohydrate and alcohol make {:.0} to {:.0} kcal",
        food.id, found.stated_kcal, found.least_kcal, found.most_kcal
    );
    Some(Diagnostic::warning("foods-energy-mismatch", message).help(
        "check kcal against kJ and the basis (100 g or a serving); sugar alcohols, organic acids and \
         rounding on labels can explain a difference",
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::foods::{Content, FoodId};

    fn food(kcal: f64, protein: f64, fat: f64, carbohydrate: f64) -> Food {
        let mut food = Food::new(FoodId::new("user:x"), "x", "t");
        food.set(Nutrient::ENERGY, Content::Known(kcal));
        food.set(Nutrient::PROTEIN, Content::Known(protein));
        food.set(Nutrient::FAT, Content::Known(fat));
        food.set(Nutrient::CARBOHYDRATE, Content::Known(carbohydrate));
        food
    }

    #[test]
    fn kilojoules_taken_for_kilocalories_are_flagged() {
        assert!(warning(&food(350.0, 10.0, 2.0, 72.0)).is_none());
        assert!(warning(&food(1464.0, 10.0, 2.0, 72.0)).is_some());
        assert!(warning(&food(10.0, 0.5, 0.1, 3.0)).is_none());
    }

    #[test]
    fn nothing_is_said_when_a_macronutrient_is_unknown() {
        let mut food = food(1464.0, 10.0, 2.0, 72.0);
        food.set(Nutrient::FAT, Content::Unknown);
        assert!(check(&food).is_none());
    }
}
