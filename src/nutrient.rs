//! The closed list of nutrients: id, English name, unit and the number that the
//! USDA National Nutrient Database for Standard Reference gives it.
//!
//! Takes nothing, gives names and units. Knows no food and no person.
//! Source of numbers, units and decimals: USDA ARS, "Composition of Foods Raw,
//! Processed, Prepared: USDA National Nutrient Database for Standard Reference,
//! Release 28", 2015, file NUTR_DEF. The ids are ours.

use std::fmt;

/// The unit in which a nutrient is always stated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Unit {
    /// Gram.
    Gram,
    /// Milligram.
    Milligram,
    /// Microgram.
    Microgram,
    /// Kilocalorie, 4.184 kJ.
    Kilocalorie,
    /// Kilojoule.
    Kilojoule,
    /// International unit.
    InternationalUnit,
}

impl Unit {
    /// The symbol in ASCII, as in machine formats: `g`, `mg`, `ug`, `kcal`, `kJ`, `IU`.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Gram => "g",
            Unit::Milligram => "mg",
            Unit::Microgram => "ug",
            Unit::Kilocalorie => "kcal",
            Unit::Kilojoule => "kJ",
            Unit::InternationalUnit => "IU",
        }
    }

    /// The symbol for people: as [`Unit::symbol`], with `µg`.
    pub fn label(self) -> &'static str {
        match self {
            Unit::Microgram => "µg",
            other => other.symbol(),
        }
    }
}

struct Row {
    id: &'static str,
    name: &'static str,
    unit: Unit,
    number: u16,
    decimals: u8,
}

const fn row(id: &'static str, name: &'static str, unit: Unit, number: u16, decimals: u8) -> Row {
    Row {
        id,
        name,
        unit,
        number,
        decimals,
    }
}

/// A nutrient or other food component of the closed list.
///
/// Ordered as the source table orders them: proximates, minerals, vitamins, fats, amino acids.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Nutrient(u8);

impl Nutrient {
    /// How many nutrients there are.
    pub const COUNT: usize = 150;

    /// Energy, in kcal.
    pub const ENERGY: Nutrient = Nutrient(1);
    /// Protein, in g.
    pub const PROTEIN: Nutrient = Nutrient(3);
    /// Fat, in g.
    pub const FAT: Nutrient = Nutrient(5);
    /// Carbohydrate, in g.
    pub const CARBOHYDRATE: Nutrient = Nutrient(7);
    /// Fibre, in g.
    pub const FIBRE: Nutrient = Nutrient(8);
    /// Sugars, in g.
    pub const SUGARS: Nutrient = Nutrient(9);
    /// Saturated fat, in g.
    pub const SATURATED_FAT: Nutrient = Nutrient(66);
    /// Monounsaturated fat, in g.
    pub const MONOUNSATURATED_FAT: Nutrient = Nutrient(81);
    /// Polyunsaturated fat, in g.
    pub const POLYUNSATURATED_FAT: Nutrient = Nutrient(97);
    /// Trans fat, in g.
    pub const TRANS_FAT: Nutrient = Nutrient(120);
    /// Linoleic acid, in g.
    pub const LINOLEIC_ACID: Nutrient = Nutrient(98);
    /// Α-linolenic acid, in g.
    pub const ALPHA_LINOLENIC_ACID: Nutrient = Nutrient(104);
    /// EPA, in g.
    pub const EPA: Nutrient = Nutrient(115);
    /// DHA, in g.
    pub const DHA: Nutrient = Nutrient(119);
    /// Cholesterol, in mg.
    pub const CHOLESTEROL: Nutrient = Nutrient(123);
    /// Water, in g.
    pub const WATER: Nutrient = Nutrient(0);
    /// Alcohol, in g.
    pub const ALCOHOL: Nutrient = Nutrient(147);
    /// Calcium, in mg.
    pub const CALCIUM: Nutrient = Nutrient(17);
    /// Iron, in mg.
    pub const IRON: Nutrient = Nutrient(18);
    /// Magnesium, in mg.
    pub const MAGNESIUM: Nutrient = Nutrient(19);
    /// Phosphorus, in mg.
    pub const PHOSPHORUS: Nutrient = Nutrient(20);
    /// Potassium, in mg.
    pub const POTASSIUM: Nutrient = Nutrient(21);
    /// Sodium, in mg.
    pub const SODIUM: Nutrient = Nutrient(22);
    /// Zinc, in mg.
    pub const ZINC: Nutrient = Nutrient(23);
    /// Copper, in mg.
    pub const COPPER: Nutrient = Nutrient(24);
    /// Manganese, in mg.
    pub const MANGANESE: Nutrient = Nutrient(25);
    /// Selenium, in ug.
    pub const SELENIUM: Nutrient = Nutrient(26);
    /// Fluoride, in ug.
    pub const FLUORIDE: Nutrient = Nutrient(27);
    /// Vitamin A, in ug.
    pub const VITAMIN_A: Nutrient = Nutrient(42);
    /// Retinol, in ug.
    pub const RETINOL: Nutrient = Nutrient(43);
    /// Vitamin C, in mg.
    pub const VITAMIN_C: Nutrient = Nutrient(28);
    /// Vitamin D, in ug.
    pub const VITAMIN_D: Nutrient = Nutrient(59);
    /// Vitamin E, in mg.
    pub const VITAMIN_E: Nutrient = Nutrient(50);
    /// Vitamin K, in ug.
    pub const VITAMIN_K: Nutrient = Nutrient(63);
    /// Thiamin, in mg.
    pub const THIAMIN: Nutrient = Nutrient(29);
    /// Riboflavin, in mg.
    pub const RIBOFLAVIN: Nutrient = Nutrient(30);
    /// Niacin, in mg.
    pub const NIACIN: Nutrient = Nutrient(31);
    /// Vitamin B6, in mg.
    pub const VITAMIN_B6: Nutrient = Nutrient(33);
    /// Folate, in ug.
    pub const FOLATE: Nutrient = Nutrient(37);
    /// Folic acid, in ug.
    pub const FOLIC_ACID: Nutrient = Nutrient(35);
    /// Vitamin B12, in ug.
    pub const VITAMIN_B12: Nutrient = Nutrient(40);
    /// Pantothenic acid, in mg.
    pub const PANTOTHENIC_ACID: Nutrient = Nutrient(32);
    /// Choline, in mg.
    pub const CHOLINE: Nutrient = Nutrient(38);
    /// Tryptophan, in g.
    pub const TRYPTOPHAN: Nutrient = Nutrient(128);
    /// Lysine, in g.
    pub const LYSINE: Nutrient = Nutrient(132);
    /// Caffeine, in mg.
    pub const CAFFEINE: Nutrient = Nutrient(148);

    /// All nutrients in order.
    pub fn all() -> impl Iterator<Item = Nutrient> {
        (0..Self::COUNT as u8).map(Nutrient)
    }

    /// The nutrient at a position of [`Nutrient::all`]; `None` past the end.
    pub fn from_index(index: usize) -> Option<Nutrient> {
        (index < Self::COUNT).then_some(Nutrient(index as u8))
    }

    /// The position in [`Nutrient::all`], 0 to [`Nutrient::COUNT`] - 1.
    pub fn index(self) -> usize {
        self.0 as usize
    }

    /// The nutrient with this id (`vitamin_d`), `None` if there is none.
    pub fn from_id(id: &str) -> Option<Nutrient> {
        Self::all().find(|n| n.id() == id)
    }

    /// The nutrient with this number of the USDA table (`328`).
    pub fn from_number(number: u16) -> Option<Nutrient> {
        Self::all().find(|n| n.number() == number)
    }

    /// The id in machine formats and briefs, snake_case English.
    pub fn id(self) -> &'static str {
        TABLE[self.index()].id
    }

    /// The name for people.
    pub fn name(self) -> &'static str {
        TABLE[self.index()].name
    }

    /// The unit of every amount of this nutrient.
    pub fn unit(self) -> Unit {
        TABLE[self.index()].unit
    }

    /// The number in the USDA table.
    pub fn number(self) -> u16 {
        TABLE[self.index()].number
    }

    /// Decimals to which the source table states it.
    pub fn decimals(self) -> u8 {
        TABLE[self.index()].decimals
    }
}

impl fmt::Debug for Nutrient {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.id())
    }
}

impl fmt::Display for Nutrient {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[rustfmt::skip]
static TABLE: [Row; Nutrient::COUNT] = [
    row("water", "water", Unit::Gram, 255, 2),
    row("energy", "energy", Unit::Kilocalorie, 208, 0),
    row("energy_kj", "energy in kJ", Unit::Kilojoule, 268, 0),
    row("protein", "protein", Unit::Gram, 203, 2),
    row("adjusted_protein", "adjusted protein", Unit::Gram, 257, 2),
    row("fat", "fat", Unit::Gram, 204, 2),
    row("ash", "ash", Unit::Gram, 207, 2),
    row("carbohydrate", "carbohydrate", Unit::Gram, 205, 2),
    row("fibre", "fibre", Unit::Gram, 291, 1),
    row("sugars", "sugars", Unit::Gram, 269, 2),
    row("sucrose", "sucrose", Unit::Gram, 210, 2),
    row("glucose", "glucose", Unit::Gram, 211, 2),
    row("fructose", "fructose", Unit::Gram, 212, 2),
    row("lactose", "lactose", Unit::Gram, 213, 2),
    row("maltose", "maltose", Unit::Gram, 214, 2),
    row("galactose", "galactose", Unit::Gram, 287, 2),
    row("starch", "starch", Unit::Gram, 209, 2),
    row("calcium", "calcium", Unit::Milligram, 301, 0),
    row("iron", "iron", Unit::Milligram, 303, 2),
    row("magnesium", "magnesium", Unit::Milligram, 304, 0),
    row("phosphorus", "phosphorus", Unit::Milligram, 305, 0),
    row("potassium", "potassium", Unit::Milligram, 306, 0),
    row("sodium", "sodium", Unit::Milligram, 307, 0),
    row("zinc", "zinc", Unit::Milligram, 309, 2),
    row("copper", "copper", Unit::Milligram, 312, 3),
    row("manganese", "manganese", Unit::Milligram, 315, 3),
    row("selenium", "selenium", Unit::Microgram, 317, 1),
    row("fluoride", "fluoride", Unit::Microgram, 313, 1),
    row("vitamin_c", "vitamin C", Unit::Milligram, 401, 1),
    row("thiamin", "thiamin", Unit::Milligram, 404, 3),
    row("riboflavin", "riboflavin", Unit::Milligram, 405, 3),
    row("niacin", "niacin", Unit::Milligram, 406, 3),
    row("pantothenic_acid", "pantothenic acid", Unit::Milligram, 410, 3),
    row("vitamin_b6", "vitamin B6", Unit::Milligram, 415, 3),
    row("folate_total", "folate total", Unit::Microgram, 417, 0),
    row("folic_acid", "folic acid", Unit::Microgram, 431, 0),
    row("folate_food", "folate food", Unit::Microgram, 432, 0),
    row("folate", "folate", Unit::Microgram, 435, 0),
    row("choline", "choline", Unit::Milligram, 421, 1),
    row("betaine", "betaine", Unit::Milligram, 454, 1),
    row("vitamin_b12", "vitamin B12", Unit::Microgram, 418, 2),
    row("vitamin_b12_added", "vitamin b12 added", Unit::Microgram, 578, 2),
    row("vitamin_a", "vitamin A", Unit::Microgram, 320, 0),
    row("retinol", "retinol", Unit::Microgram, 319, 0),
    row("beta_carotene", "beta carotene", Unit::Microgram, 321, 0),
    row("alpha_carotene", "alpha carotene", Unit::Microgram, 322, 0),
    row("beta_cryptoxanthin", "beta cryptoxanthin", Unit::Microgram, 334, 0),
    row("vitamin_a_iu", "vitamin a iu", Unit::InternationalUnit, 318, 0),
    row("lycopene", "lycopene", Unit::Microgram, 337, 0),
    row("lutein_zeaxanthin", "lutein zeaxanthin", Unit::Microgram, 338, 0),
    row("vitamin_e", "vitamin E", Unit::Milligram, 323, 2),
    row("vitamin_e_added", "vitamin e added", Unit::Milligram, 573, 2),
    row("beta_tocopherol", "beta tocopherol", Unit::Milligram, 341, 2),
    row("gamma_tocopherol", "gamma tocopherol", Unit::Milligram, 342, 2),
    row("delta_tocopherol", "delta tocopherol", Unit::Milligram, 343, 2),
    row("alpha_tocotrienol", "alpha tocotrienol", Unit::Milligram, 344, 2),
    row("beta_tocotrienol", "beta tocotrienol", Unit::Milligram, 345, 2),
    row("gamma_tocotrienol", "gamma tocotrienol", Unit::Milligram, 346, 2),
    row("delta_tocotrienol", "delta tocotrienol", Unit::Milligram, 347, 2),
    row("vitamin_d", "vitamin D", Unit::Microgram, 328, 1),
    row("vitamin_d2", "vitamin d2", Unit::Microgram, 325, 1),
    row("vitamin_d3", "vitamin d3", Unit::Microgram, 326, 1),
    row("vitamin_d_iu", "vitamin d iu", Unit::InternationalUnit, 324, 0),
    row("vitamin_k", "vitamin K", Unit::Microgram, 430, 1),
    row("dihydrophylloquinone", "dihydrophylloquinone", Unit::Microgram, 429, 1),
    row("menaquinone_4", "menaquinone 4", Unit::Microgram, 428, 1),
    row("saturated_fat", "saturated fat", Unit::Gram, 606, 3),
    row("fatty_acid_4_0", "4:0", Unit::Gram, 607, 3),
    row("fatty_acid_6_0", "6:0", Unit::Gram, 608, 3),
    row("fatty_acid_8_0", "8:0", Unit::Gram, 609, 3),
    row("fatty_acid_10_0", "10:0", Unit::Gram, 610, 3),
    row("fatty_acid_12_0", "12:0", Unit::Gram, 611, 3),
    row("fatty_acid_13_0", "13:0", Unit::Gram, 696, 3),
    row("fatty_acid_14_0", "14:0", Unit::Gram, 612, 3),
    row("fatty_acid_15_0", "15:0", Unit::Gram, 652, 3),
    row("fatty_acid_16_0", "16:0", Unit::Gram, 613, 3),
    row("fatty_acid_17_0", "17:0", Unit::Gram, 653, 3),
    row("fatty_acid_18_0", "18:0", Unit::Gram, 614, 3),
    row("fatty_acid_20_0", "20:0", Unit::Gram, 615, 3),
    row("fatty_acid_22_0", "22:0", Unit::Gram, 624, 3),
    row("fatty_acid_24_0", "24:0", Unit::Gram, 654, 3),
    row("monounsaturated_fat", "monounsaturated fat", Unit::Gram, 645, 3),
    row("fatty_acid_14_1", "14:1", Unit::Gram, 625, 3),
    row("fatty_acid_15_1", "15:1", Unit::Gram, 697, 3),
    row("fatty_acid_16_1_undifferentiated", "16:1 undifferentiated", Unit::Gram, 626, 3),
    row("fatty_acid_16_1_c", "16:1 c", Unit::Gram, 673, 3),
    row("fatty_acid_16_1_t", "16:1 t", Unit::Gram, 662, 3),
    row("fatty_acid_17_1", "17:1", Unit::Gram, 687, 3),
    row("fatty_acid_18_1", "18:1 undifferentiated", Unit::Gram, 617, 3),
    row("fatty_acid_18_1_c", "18:1 c", Unit::Gram, 674, 3),
    row("fatty_acid_18_1_t", "18:1 t", Unit::Gram, 663, 3),
    row("fatty_acid_18_1_11_t_18_1t_n_7", "18:1-11 t (18:1t n-7)", Unit::Gram, 859, 3),
    row("fatty_acid_20_1", "20:1", Unit::Gram, 628, 3),
    row("fatty_acid_22_1_undifferentiated", "22:1 undifferentiated", Unit::Gram, 630, 3),
    row("fatty_acid_22_1_c", "22:1 c", Unit::Gram, 676, 3),
    row("fatty_acid_22_1_t", "22:1 t", Unit::Gram, 664, 3),
    row("fatty_acid_24_1_c", "24:1 c", Unit::Gram, 671, 3),
    row("polyunsaturated_fat", "polyunsaturated fat", Unit::Gram, 646, 3),
    row("linoleic_acid", "linoleic acid", Unit::Gram, 618, 3),
    row("linoleic_acid_n6_cc", "18:2 n-6 c,c", Unit::Gram, 675, 3),
    row("fatty_acid_18_2_clas", "18:2 CLAs", Unit::Gram, 670, 3),
    row("fatty_acid_18_2_t_t", "18:2 t,t", Unit::Gram, 669, 3),
    row("fatty_acid_18_2_i", "18:2 i", Unit::Gram, 666, 3),
    row("fatty_acid_18_2_t_not_further_defined", "18:2 t not further defined", Unit::Gram, 665, 3),
    row("alpha_linolenic_acid", "α-linolenic acid", Unit::Gram, 619, 3),
    row("alpha_linolenic_acid_n3", "18:3 n-3 c,c,c (ALA)", Unit::Gram, 851, 3),
    row("fatty_acid_18_3_n_6_c_c_c", "18:3 n-6 c,c,c", Unit::Gram, 685, 3),
    row("fatty_acid_18_3i", "18:3i", Unit::Gram, 856, 3),
    row("fatty_acid_18_4", "18:4", Unit::Gram, 627, 3),
    row("fatty_acid_20_2_n_6_c_c", "20:2 n-6 c,c", Unit::Gram, 672, 3),
    row("fatty_acid_20_3_undifferentiated", "20:3 undifferentiated", Unit::Gram, 689, 3),
    row("fatty_acid_20_3_n_3", "20:3 n-3", Unit::Gram, 852, 3),
    row("fatty_acid_20_3_n_6", "20:3 n-6", Unit::Gram, 853, 3),
    row("fatty_acid_20_4_undifferentiated", "20:4 undifferentiated", Unit::Gram, 620, 3),
    row("fatty_acid_20_4_n_6", "20:4 n-6", Unit::Gram, 855, 3),
    row("epa", "EPA", Unit::Gram, 629, 3),
    row("fatty_acid_21_5", "21:5", Unit::Gram, 857, 3),
    row("fatty_acid_22_4", "22:4", Unit::Gram, 858, 3),
    row("dpa", "22:5 n-3 (DPA)", Unit::Gram, 631, 3),
    row("dha", "DHA", Unit::Gram, 621, 3),
    row("trans_fat", "trans fat", Unit::Gram, 605, 3),
    row("trans_monoenoic_fat", "trans monoenoic fat", Unit::Gram, 693, 3),
    row("trans_polyenoic_fat", "trans polyenoic fat", Unit::Gram, 695, 3),
    row("cholesterol", "cholesterol", Unit::Milligram, 601, 0),
    row("phytosterols", "phytosterols", Unit::Milligram, 636, 0),
    row("stigmasterol", "stigmasterol", Unit::Milligram, 638, 0),
    row("campesterol", "campesterol", Unit::Milligram, 639, 0),
    row("beta_sitosterol", "beta sitosterol", Unit::Milligram, 641, 0),
    row("tryptophan", "tryptophan", Unit::Gram, 501, 3),
    row("threonine", "threonine", Unit::Gram, 502, 3),
    row("isoleucine", "isoleucine", Unit::Gram, 503, 3),
    row("leucine", "leucine", Unit::Gram, 504, 3),
    row("lysine", "lysine", Unit::Gram, 505, 3),
    row("methionine", "methionine", Unit::Gram, 506, 3),
    row("cystine", "cystine", Unit::Gram, 507, 3),
    row("phenylalanine", "phenylalanine", Unit::Gram, 508, 3),
    row("tyrosine", "tyrosine", Unit::Gram, 509, 3),
    row("valine", "valine", Unit::Gram, 510, 3),
    row("arginine", "arginine", Unit::Gram, 511, 3),
    row("histidine", "histidine", Unit::Gram, 512, 3),
    row("alanine", "alanine", Unit::Gram, 513, 3),
    row("aspartic_acid", "aspartic acid", Unit::Gram, 514, 3),
    row("glutamic_acid", "glutamic acid", Unit::Gram, 515, 3),
    row("glycine", "glycine", Unit::Gram, 516, 3),
    row("proline", "proline", Unit::Gram, 517, 3),
    row("serine", "serine", Unit::Gram, 518, 3),
    row("hydroxyproline", "hydroxyproline", Unit::Gram, 521, 3),
    row("alcohol", "alcohol", Unit::Gram, 221, 1),
    row("caffeine", "caffeine", Unit::Milligram, 262, 0),
    row("theobromine", "theobromine", Unit::Milligram, 263, 0),
];
