//! Quantities as newtypes over `f64`, and the only place that converts units.
//!
//! Takes numbers and the text people write (`"168 cm"`, `"5 ft 6 in"`), gives typed quantities.
//! Knows no food, no person, no brief.
//! Sources: 1 kcal = 4.184 kJ (thermochemical calorie, ISO 80000-5:2019 note); 1 lb = 0.45359237 kg
//! and 1 in = 2.54 cm exactly (International yard and pound agreement, 1959).

use std::fmt;

/// Kilojoules in a kilocalorie (thermochemical).
pub const KJ_PER_KCAL: f64 = 4.184;
/// Kilograms in an avoirdupois pound, exact.
pub const KG_PER_LB: f64 = 0.453_592_37;
/// Centimetres in an inch, exact.
pub const CM_PER_IN: f64 = 2.54;
/// Grams in an avoirdupois ounce, exact.
pub const G_PER_OZ: f64 = KG_PER_LB * 1000.0 / 16.0;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
        pub struct $name(pub f64);
        impl std::ops::Add for $name { type Output = Self; fn add(self, o: Self) -> Self { Self(self.0 + o.0) } }
        impl std::ops::Sub for $name { type Output = Self; fn sub(self, o: Self) -> Self { Self(self.0 - o.0) } }
        impl std::ops::Mul<f64> for $name { type Output = Self; fn mul(self, k: f64) -> Self { Self(self.0 * k) } }
        impl std::ops::Div<f64> for $name { type Output = Self; fn div(self, k: f64) -> Self { Self(self.0 / k) } }
        impl std::ops::Div for $name { type Output = f64; fn div(self, o: Self) -> f64 { self.0 / o.0 } }
        impl std::iter::Sum for $name { fn sum<I: Iterator<Item = Self>>(i: I) -> Self { Self(i.map(|q| q.0).sum()) } }
    };
}

quantity! {
    /// Energy in kilocalories (a day's figure unless said otherwise).
    Kcal
}
quantity! {
    /// Body mass in kilograms.
    Kilograms
}
quantity! {
    /// Mass of food in grams.
    Grams
}
quantity! {
    /// Length in centimetres.
    Centimetres
}

impl Kcal {
    /// From kilojoules.
    pub fn from_kj(kj: f64) -> Kcal {
        Kcal(kj / KJ_PER_KCAL)
    }
    /// In kilojoules.
    pub fn kj(self) -> f64 {
        self.0 * KJ_PER_KCAL
    }
}

impl Kilograms {
    /// From avoirdupois pounds.
    pub fn from_lb(lb: f64) -> Kilograms {
        Kilograms(lb * KG_PER_LB)
    }
    /// In avoirdupois pounds.
    pub fn lb(self) -> f64 {
        self.0 / KG_PER_LB
    }
}

impl Centimetres {
    /// From inches.
    pub fn from_inches(inches: f64) -> Centimetres {
        Centimetres(inches * CM_PER_IN)
    }
    /// In metres.
    pub fn metres(self) -> f64 {
        self.0 / 100.0
    }
}

impl fmt::Display for Kcal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.0} kcal", self.0)
    }
}
