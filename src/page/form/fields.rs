//! Every field of a brief as it stands on the form: where it goes in the file, what it is called, what may be chosen.

use crate::brief::SCREEN_QUESTIONS;
use crate::energy::data::{activities, equations};
use crate::kitchen::{Catalogue, Kitchen, Rule};
use crate::model::build::disliked;
use crate::nutrient::Nutrient;
use crate::person::Sex;
use crate::ready::Larder;
use crate::targets::reference_intakes;

/// What a field takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Kind {
    /// Text, or an amount with its unit.
    Line,
    /// A whole number.
    Whole,
    /// A number.
    Number,
    /// A number, or a mass with its unit.
    Grams,
    /// Days, as `1, 3`.
    Days,
    /// One of a few.
    Pick(Pick),
    /// Any of a few.
    Many(Pick),
    /// Yes or no.
    Flag,
    /// An item of the kitchen.
    Item,
    /// Something at home or disliked: a product or an item.
    Thing,
    /// Several items.
    Items,
    /// Several products or items.
    Things,
}

/// What may be chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pick {
    /// Fixed words: as in the file, as said.
    Words(&'static [(&'static str, &'static str)]),
    /// Kitchens.
    Kitchens,
    /// Diets.
    Diets,
    /// Allergens.
    Allergens,
    /// Equations of energy.
    Equations,
    /// Activities of a day.
    Activities,
    /// Eating occasions of the kitchen.
    Slots,
    /// Nutrients.
    Nutrients,
    /// Referral questions.
    Screen,
}

/// A field of a table.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    /// Key in the file.
    pub key: &'static str,
    /// What it is called.
    pub label: &'static str,
    /// How it is written, or what it does.
    pub hint: &'static str,
    /// What it takes.
    pub kind: Kind,
}

const fn field(key: &'static str, label: &'static str, hint: &'static str, kind: Kind) -> Field {
    Field {
        key,
        label,
        hint,
        kind,
    }
}

const KINDS: Pick = Pick::Words(&[
    ("gain", "gain weight"),
    ("hold", "hold weight"),
    ("lose", "lose weight"),
]);
const SEXES: Pick = Pick::Words(&[("female", "woman"), ("male", "man")]);
const TRAININGS: Pick = Pick::Words(&[
    ("none", "none"),
    ("novice", "novice, in the first year"),
    ("intermediate", "intermediate"),
    ("advanced", "advanced"),
]);
const LEVELS: Pick = Pick::Words(&[
    ("inactive", "inactive"),
    ("low_active", "low active"),
    ("active", "active"),
    ("very_active", "very active"),
]);

/// First of all.
pub const FIRST: &[Field] = &[
    field(
        "region",
        "Region",
        "Whose kitchen: meals, foods, currency.",
        Kind::Pick(Pick::Kitchens),
    ),
    field(
        "diet",
        "Diet",
        "All that are marked hold; none means everything.",
        Kind::Many(Pick::Diets),
    ),
    field(
        "budget",
        "Budget",
        "At most this, such as 65 USD/week or 9.50 USD/day; empty is no limit.",
        Kind::Line,
    ),
];

/// Of the days and what is sought.
pub const AIM: &[Field] = &[
    field("title", "Title", "Heading of the output.", Kind::Line),
    field("days", "Days to plan", "1 to 28; empty is 7.", Kind::Whole),
    field(
        "objective",
        "What to seek",
        "",
        Kind::Pick(Pick::Words(&[
            ("cost", "the lowest cost"),
            ("closeness", "nearest the middle of the targets"),
            ("usual", "nearest the usual week"),
        ])),
    ),
    field(
        "seed",
        "Seed",
        "A whole number; another one tries another plan.",
        Kind::Whole,
    ),
    field("equation", "Equation for energy", "", Kind::Pick(Pick::Equations)),
];

/// What is wanted and what is not.
pub const TASTE: &[Field] = &[
    field(
        "allergies",
        "Allergies",
        "What holds them, or may, is left out.",
        Kind::Many(Pick::Allergens),
    ),
    field(
        "likes",
        "Wanted more often",
        "Items of the kitchen. Empty a line to take it away.",
        Kind::Items,
    ),
    field(
        "dislikes",
        "Never wanted",
        "Items or products. Empty a line to take it away.",
        Kind::Things,
    ),
];

/// `[person]`
pub const PERSON: &[Field] = &[
    field(
        "sex",
        "Sex",
        "As the published equations use it.",
        Kind::Pick(SEXES),
    ),
    field("age", "Age", "Whole years.", Kind::Whole),
    field("height", "Height", "168 cm, 1.68 m or 5 ft 6 in.", Kind::Line),
    field("weight", "Weight now", "61 kg, 134 lb or 9 st 8 lb.", Kind::Line),
    field(
        "body_fat",
        "Body fat",
        "Only if measured, such as 24 %.",
        Kind::Line,
    ),
    field(
        "neck",
        "Neck",
        "34 cm or 13.5 in: girths estimate body fat instead.",
        Kind::Line,
    ),
    field(
        "waist",
        "Waist",
        "74 cm; men at the navel, women where it is narrowest.",
        Kind::Line,
    ),
    field("hip", "Hip", "97 cm; women only.", Kind::Line),
    field("training", "Resistance training", "", Kind::Pick(TRAININGS)),
    field(
        "population",
        "Cut-offs of weight and waist",
        "",
        Kind::Pick(Pick::Words(&[
            ("international", "international"),
            ("south_asian", "South Asian"),
            ("asian", "Asian"),
        ])),
    ),
];

/// `[activity]`, but for its hours.
pub const ACTIVITY: &[Field] = &[
    field("level", "Level", "", Kind::Pick(LEVELS)),
    field(
        "pal",
        "Activity level as a figure",
        "Total over resting expenditure, such as 1.75.",
        Kind::Number,
    ),
    field(
        "expenditure",
        "Measured expenditure",
        "A day, such as 2300 kcal or 9.6 MJ.",
        Kind::Line,
    ),
];

/// An hour row of `[activity]`.
pub const HOUR: &[Field] = &[
    field("what", "Activity", "", Kind::Pick(Pick::Activities)),
    field("hours", "Hours", "All rows sum to 24.", Kind::Number),
];

/// The size of a phase, which stands under one of several keys.
pub const AMOUNT: Field = field(
    "amount",
    "How much",
    "300 kcal a day, 0.35 %/week, or 66 kg to reach; empty takes the default of the practice standards.",
    Kind::Line,
);

/// The keys under which [`AMOUNT`] may stand.
pub const SIZES: [&str; 4] = ["surplus", "deficit", "rate", "goal_weight"];

/// `[[phase]]`
pub const PHASE: &[Field] = &[
    field("kind", "What the phase does", "", Kind::Pick(KINDS)),
    AMOUNT,
    field("weeks", "Weeks", "1 to 104.", Kind::Whole),
];

/// Rarer fields of `[[phase]]`.
pub const PHASE_MORE: &[Field] = &[
    field(
        "training",
        "Training in it",
        "Empty is the person's.",
        Kind::Pick(TRAININGS),
    ),
    field(
        "level",
        "Activity in it",
        "Empty is the brief's.",
        Kind::Pick(LEVELS),
    ),
    field("pal", "or as a figure", "Such as 1.75.", Kind::Number),
];

/// `[[slot]]`
pub const SLOT: &[Field] = &[
    field("id", "Meal", "", Kind::Pick(Pick::Slots)),
    field(
        "share",
        "Share of the day's energy",
        "25 %; 0 % drops it.",
        Kind::Line,
    ),
];

/// `[[target]]`
pub const TARGET: &[Field] = &[
    field("nutrient", "Nutrient", "", Kind::Pick(Pick::Nutrients)),
    field("floor", "Floor", "110 g, 1.8 g/kg or 25 % energy.", Kind::Line),
    field("ceiling", "Ceiling", "Likewise.", Kind::Line),
    field(
        "scope",
        "Over",
        "",
        Kind::Pick(Pick::Words(&[
            ("meal", "each main meal"),
            ("day", "each day"),
            ("mean", "the mean of the days"),
        ])),
    ),
    field("off", "Drop the tool's target", "", Kind::Flag),
];

/// `[[pantry]]`
pub const PANTRY: &[Field] = &[
    field("what", "What", "", Kind::Thing),
    field(
        "amount",
        "Amount as bought",
        "500 g, 2 kg or 1 lb 4 oz.",
        Kind::Line,
    ),
    field("keeps_days", "Keeps still, days", "When you know.", Kind::Whole),
];

/// `[cooking]`
pub const COOKING: &[Field] = &[
    field(
        "days",
        "Days with time to cook",
        "Such as 1, 4; empty means that every day has.",
        Kind::Days,
    ),
    field(
        "quick_minutes",
        "Most minutes for a meal on the others",
        "Empty is 20.",
        Kind::Number,
    ),
];

/// `[[lock]]`, but for its items.
pub const LOCK: &[Field] = &[
    field("days", "Days", "Such as 1, 3.", Kind::Days),
    field("slot", "Meal", "", Kind::Pick(Pick::Slots)),
];

/// An item of `[[lock]]`.
pub const LOCK_ITEM: &[Field] = &[
    field("item", "Item", "", Kind::Item),
    field("servings", "Servings", "Or", Kind::Number),
    field("grams", "Mass", "200 g, or 200.", Kind::Grams),
];

/// `[[usual]]`
pub const USUAL: &[Field] = &[
    field("item", "Item", "", Kind::Item),
    field("times", "Times a week", "", Kind::Number),
    field("servings", "Servings", "Or", Kind::Number),
    field("grams", "Mass", "200 g, or 200.", Kind::Grams),
];

/// `[[household]]`: first who it is; then [`PERSON`] and the rest.
pub const MEMBER: &[Field] = &[field("title", "Called", "Each once.", Kind::Line)];

/// What a member of the household has besides.
pub const MEMBER_MORE: &[Field] = &[
    field("level", "Activity", "", Kind::Pick(LEVELS)),
    field("pal", "or as a figure", "Such as 1.75.", Kind::Number),
    field(
        "kind",
        "Phase of their own",
        "Empty is to hold.",
        Kind::Pick(KINDS),
    ),
    AMOUNT,
    field("weeks", "Weeks", "1 to 104.", Kind::Whole),
    field(
        "portion",
        "Portion",
        "Of each amount, 0.1 to 5; empty is their intake over the person's.",
        Kind::Number,
    ),
];

/// The referral questions of a member.
pub const MEMBER_SCREEN: &[Field] = &[field(
    "screen",
    "Answered yes",
    "Some answers stop a plan that changes weight, others ask for a clinician's word first.",
    Kind::Many(Pick::Screen),
)];

/// `[output]`
pub const OUTPUT: &[Field] = &[
    field(
        "energy",
        "Energy in",
        "",
        Kind::Pick(Pick::Words(&[("kcal", "kcal"), ("kJ", "kJ")])),
    ),
    field(
        "decimal",
        "Decimals with",
        "",
        Kind::Pick(Pick::Words(&[(".", "a point: 1.5"), (",", "a comma: 1,5")])),
    ),
    field(
        "units",
        "Masses in",
        "",
        Kind::Pick(Pick::Words(&[
            ("metric", "kilogram and gram"),
            ("us", "pound and ounce"),
        ])),
    ),
];

/// Tables that stand once, with their place in the file.
pub const SINGLES: &[(&str, &[&[Field]])] = &[
    ("", &[FIRST, AIM, TASTE]),
    ("person", &[PERSON]),
    ("activity", &[ACTIVITY]),
    ("cooking", &[COOKING]),
    ("output", &[OUTPUT]),
];

/// Lists of tables.
pub const LISTS: &[(&str, &[&[Field]])] = &[
    ("phase", &[PHASE, PHASE_MORE]),
    ("slot", &[SLOT]),
    ("target", &[TARGET]),
    ("pantry", &[PANTRY]),
    ("lock", &[LOCK]),
    ("usual", &[USUAL]),
    ("household", &[MEMBER, PERSON, MEMBER_MORE, MEMBER_SCREEN]),
];

/// The place of a key within a table; the top has no name of its own.
pub fn at(outer: &str, key: &str) -> String {
    if outer.is_empty() {
        key.to_string()
    } else {
        format!("{outer}.{key}")
    }
}

/// What may be chosen, as in the file and as said, for a kitchen; two lists for what is common and what is rare.
pub fn options(pick: Pick, larder: &Larder, kitchen: Option<&Kitchen>) -> [Vec<(String, String)>; 2] {
    let rules = |rules: &[Rule]| rules.iter().map(|r| (r.id.clone(), r.name.clone())).collect();
    let all: Vec<(String, String)> = match pick {
        Pick::Words(words) => words
            .iter()
            .map(|(a, b)| (a.to_string(), b.to_string()))
            .collect(),
        Pick::Kitchens => {
            let kitchens = larder.catalogue.kitchens.iter();
            kitchens.map(|k| (k.id.clone(), k.name.clone())).collect()
        }
        Pick::Diets => {
            // To eat everything is to mark no diet.
            let all = &larder.catalogue.diets;
            let (some, none): (Vec<&Rule>, Vec<&Rule>) = all
                .iter()
                .partition(|r| !r.excludes.is_empty() || !r.apart.is_empty());
            let told = |rules: Vec<&Rule>| rules.iter().map(|r| (r.id.clone(), r.name.clone())).collect();
            return [told(some), told(none)];
        }
        Pick::Allergens => rules(&larder.catalogue.allergens),
        Pick::Equations => {
            let named = equations().iter().filter(|e| e.id != "schofield_minor");
            named.map(|e| (e.id.clone(), e.name.clone())).collect()
        }
        Pick::Activities => activities()
            .iter()
            .map(|a| (a.id.clone(), a.label.clone()))
            .collect(),
        Pick::Slots => kitchen.map_or_else(Vec::new, |k| {
            k.slots.iter().map(|s| (s.id.clone(), s.name.clone())).collect()
        }),
        Pick::Screen => {
            let asked = SCREEN_QUESTIONS.iter();
            asked.map(|(a, b)| (a.to_string(), b.to_string())).collect()
        }
        Pick::Nutrients => {
            let common = common_nutrients();
            let named = |n: Nutrient| (n.id().to_string(), format!("{} ({})", n.name(), n.unit().label()));
            let rare = Nutrient::all()
                .filter(|n| !common.contains(n))
                .map(named)
                .collect();
            return [common.iter().copied().map(named).collect(), rare];
        }
    };
    [all, Vec::new()]
}

/// Nutrients for which the tool has targets of its own, in the order of the table.
fn common_nutrients() -> Vec<Nutrient> {
    let mut all = vec![
        Nutrient::ENERGY,
        Nutrient::PROTEIN,
        Nutrient::FAT,
        Nutrient::CARBOHYDRATE,
        Nutrient::FIBRE,
        Nutrient::SATURATED_FAT,
        Nutrient::TRANS_FAT,
        Nutrient::SODIUM,
    ];
    // Of any adult age: the nutrients are the same, only the amounts differ.
    all.extend(reference_intakes(Sex::Female, 30).into_iter().map(|(n, _)| n));
    all.sort_unstable();
    all.dedup();
    all
}

/// An item's or product's name for what stands in the file of a kitchen's brief.
pub fn said(kind: Kind, word: &str, c: &Catalogue, kitchen: &str) -> String {
    let item = || c.items.iter().find(|i| i.id == word).map(|i| i.name.clone());
    let product = || c.products.get(word).map(|p| p.name.clone());
    let name = match kind {
        Kind::Item | Kind::Items => item(),
        Kind::Thing => product().or_else(item),
        Kind::Things => item().or_else(product),
        _ => None,
    };
    // A name that would lead back elsewhere is not shown for the word.
    name.filter(|n| kept(kind, n, c, kitchen) == word)
        .unwrap_or_else(|| word.to_string())
}

/// What is written into the file for a name: the id of what it names, of this kitchen before others, else the words
/// themselves. A dislike that rules out several items stays words.
pub fn kept(kind: Kind, name: &str, c: &Catalogue, kitchen: &str) -> String {
    let item = || c.item_of(name, kitchen).map(|i| c.items[i].id.clone());
    let alone = || {
        let called = c.items.iter().find(|i| i.name.eq_ignore_ascii_case(name))?;
        let one = disliked(c, &name.to_lowercase()).len() == 1;
        Some(if one { called.id.clone() } else { name.to_string() })
    };
    let product = || {
        let named = c.products.values().find(|p| p.name.eq_ignore_ascii_case(name));
        named.map(|p| p.id.clone())
    };
    let id = match kind {
        Kind::Item | Kind::Items => item(),
        Kind::Thing => product().or_else(item),
        Kind::Things => alone().or_else(product),
        _ => None,
    };
    id.unwrap_or_else(|| name.to_string())
}

/// Names of the kitchen's items, for a list of suggestions.
pub fn items(larder: &Larder, kitchen: Option<&Kitchen>) -> Vec<String> {
    let items = larder.catalogue.items.iter();
    let here = items.filter(|i| kitchen.is_some_and(|k| i.regions.contains(&k.id)));
    let mut names: Vec<String> = here.map(|i| i.name.clone()).collect();
    names.sort();
    names.dedup();
    names
}

/// Names of products, for a list of suggestions.
pub fn products(larder: &Larder) -> Vec<String> {
    let mut names: Vec<String> = larder
        .catalogue
        .products
        .values()
        .map(|p| p.name.clone())
        .collect();
    names.sort();
    names.dedup();
    names
}
