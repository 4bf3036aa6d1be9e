//! Text to [`Brief`]: the keys of every table, their kinds and ranges, and what contradicts what.

use super::currencies;
use super::table::{Field, Keys, Reader, Table, listed, short};
use super::*;
use crate::diagnostic::{Diagnostic, any_error, suggestion};
use crate::money::Currency;
use crate::nutrient::Unit;
use crate::person::{BodyFat, Population, Sex};
use crate::units::{self, Centimetres, Grams, NutrientQuantity, QuantityError, WeeklyRate};
use rust_decimal::Decimal;
use std::collections::HashSet;
use std::str::FromStr;
use toml::de::{DeTable, DeValue};

const TOP: Keys = Keys {
    name: "the brief",
    keys: &[
        "title",
        "region",
        "days",
        "objective",
        "budget",
        "diet",
        "allergies",
        "likes",
        "dislikes",
        "seed",
        "equation",
        "person",
        "screen",
        "activity",
        "phase",
        "slot",
        "target",
        "pantry",
        "cooking",
        "lock",
        "usual",
        "household",
        "output",
    ],
};
pub(super) const PERSON: Keys = Keys {
    name: "[person]",
    keys: &[
        "sex",
        "age",
        "height",
        "weight",
        "body_fat",
        "neck",
        "waist",
        "hip",
        "training",
        "population",
    ],
};
pub(super) const ACTIVITY: Keys = Keys {
    name: "[activity]",
    keys: &["level", "pal", "expenditure", "hours"],
};
const PHASE: Keys = Keys {
    name: "[[phase]]",
    keys: &[
        "kind",
        "surplus",
        "deficit",
        "rate",
        "goal_weight",
        "weeks",
        "training",
        "level",
        "pal",
    ],
};
const SLOT: Keys = Keys {
    name: "[[slot]]",
    keys: &["id", "share"],
};
const TARGET: Keys = Keys {
    name: "[[target]]",
    keys: &["nutrient", "floor", "ceiling", "scope", "off"],
};
const PANTRY: Keys = Keys {
    name: "[[pantry]]",
    keys: &["what", "amount", "keeps_days"],
};
const COOKING: Keys = Keys {
    name: "[cooking]",
    keys: &["days", "quick_minutes"],
};
const HOME: Keys = Keys {
    name: "the list of what is at home",
    keys: &["title", "pantry"],
};
const LOCK: Keys = Keys {
    name: "[[lock]]",
    keys: &["day", "days", "slot", "items", "others"],
};
const LOCK_ITEM: Keys = Keys {
    name: "an item of a lock",
    keys: &["item", "servings", "grams"],
};
const USUAL: Keys = Keys {
    name: "[[usual]]",
    keys: &["item", "times", "servings", "grams"],
};

const HOUSEHOLD: Keys = Keys {
    name: "[[household]]",
    keys: &[
        "title",
        "sex",
        "age",
        "height",
        "weight",
        "body_fat",
        "neck",
        "waist",
        "hip",
        "training",
        "population",
        "level",
        "pal",
        "kind",
        "surplus",
        "deficit",
        "rate",
        "goal_weight",
        "weeks",
        "screen",
        "portion",
    ],
};
const OUTPUT: Keys = Keys {
    name: "[output]",
    keys: &["energy", "decimal", "units"],
};

pub(super) const TRAININGS: &[(&str, Training)] = &[
    ("none", Training::None),
    ("novice", Training::Novice),
    ("intermediate", Training::Intermediate),
    ("advanced", Training::Advanced),
];
const LEVELS: &[(&str, ActivityLevel)] = &[
    ("inactive", ActivityLevel::Inactive),
    ("low_active", ActivityLevel::LowActive),
    ("active", ActivityLevel::Active),
    ("very_active", ActivityLevel::VeryActive),
    ("sedentary", ActivityLevel::Inactive),
];

/// Where a misplaced key may belong.
const ALL: &[&Keys] = &[
    &TOP, &PERSON, &ACTIVITY, &PHASE, &SLOT, &TARGET, &PANTRY, &COOKING, &LOCK, &USUAL, &OUTPUT, &HOUSEHOLD,
];

/// Reads a brief. Gives it with its warnings, or every mistake and warning in order of place.
///
/// When the text is not even TOML, what could still be read is checked as well, except the lines
/// that broke.
pub fn parse(text: &str) -> Result<(Brief, Vec<Diagnostic>), Vec<Diagnostic>> {
    parse_with(text, read)
}

/// Reads a list of what is at home, as `plan --leftovers` writes it: `[[pantry]]` tables as in a brief.
///
/// # Errors
/// Every mistake in it.
pub fn parse_pantry(text: &str) -> Result<(Vec<PantryEntry>, Vec<Diagnostic>), Vec<Diagnostic>> {
    parse_with(text, |r, tree| {
        let top = r.open(tree, 0..0, &HOME, ALL);
        Some(top.get("pantry").map(|f| pantry(r, f)).unwrap_or_default())
    })
}

/// Reads a text with a reader of its tables, which gives a value or reports why not.
pub(super) fn parse_with<T>(
    text: &str,
    read: impl FnOnce(&mut Reader, &DeTable) -> Option<T>,
) -> Result<(T, Vec<Diagnostic>), Vec<Diagnostic>> {
    let (tree, syntax) = DeTable::parse_recoverable(text);
    let mut reader = Reader::default();
    let brief = read(&mut reader, tree.get_ref());
    let mut diagnostics = reader.diagnostics;
    if !syntax.is_empty() {
        let broken: Vec<Range<usize>> = syntax
            .iter()
            .filter_map(|e| e.span())
            .map(|s| line_of(text, s))
            .collect();
        diagnostics.retain(|d| {
            d.code != "brief-missing-key"
                && d.spans.first().is_some_and(|s| {
                    !broken
                        .iter()
                        .any(|b| s.range.start < b.end && s.range.end > b.start)
                })
        });
        let mut seen: HashSet<usize> = HashSet::new();
        for error in &syntax {
            let span = error.span().unwrap_or(0..0);
            // One mistake a line: the rest of a broken line is noise.
            if seen.insert(line_of(text, span.clone()).start) {
                diagnostics.push(syntax_error(text, error.message(), span));
            }
        }
    }
    for diagnostic in &mut diagnostics {
        for span in &mut diagnostic.spans {
            span.range = inside(text, span.range.clone());
        }
    }
    diagnostics.sort_by_key(|d| d.spans.first().map_or(usize::MAX, |s| s.range.start));
    match brief {
        Some(brief) if !any_error(&diagnostics) => Ok((brief, diagnostics)),
        _ => Err(diagnostics),
    }
}

/// A range made to lie within the text and between characters.
fn inside(text: &str, range: Range<usize>) -> Range<usize> {
    let floor = |mut at: usize| {
        at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = floor(range.start);
    start..floor(range.end).max(start)
}

/// The line, or lines, a span stands on.
fn line_of(text: &str, span: Range<usize>) -> Range<usize> {
    let span = inside(text, span);
    let start = text[..span.start].rfind('\n').map_or(0, |at| at + 1);
    let end = text[span.end..].find('\n').map_or(text.len(), |at| span.end + at);
    start..end
}

fn syntax_error(text: &str, message: &str, span: Range<usize>) -> Diagnostic {
    let line = &text[line_of(
        text,
        inside(text, span.clone()).start..inside(text, span.clone()).start,
    )];
    let value = line
        .split_once('=')
        .map(|(key, value)| (key.trim(), value.split('#').next().unwrap_or_default().trim()));
    let help = match value {
        _ if message.contains("duplicate key") => {
            "a key or table may stand only once; repeated tables such as [[phase]] have two brackets"
                .to_string()
        }
        Some((key, value))
            if value.starts_with(|c: char| c.is_ascii_alphanumeric()) && !value.contains(['"', '[', '{']) =>
        {
            format!("text and amounts with a unit stand in quotes: {key} = \"{value}\"")
        }
        _ => "a brief is TOML: `key = value` lines under `[table]` headings".to_string(),
    };
    Diagnostic::error("brief-not-toml", format!("this is not TOML: {message}"))
        .at(span, "here")
        .help(help)
}

/// Atwater energy of a gram, kcal; `None` for what carries no energy share.
///
/// Source: general factors 4, 9, 4 and 7 kcal/g of protein, fat, carbohydrate and alcohol
/// (Merrill and Watt, "Energy Value of Foods", USDA Agriculture Handbook 74, 1955, rev. 1973;
/// from memory). Kinds of fat count as fat, sugars as carbohydrate.
pub fn energy_per_gram(nutrient: Nutrient) -> Option<f64> {
    match nutrient {
        Nutrient::PROTEIN => Some(4.0),
        Nutrient::CARBOHYDRATE | Nutrient::SUGARS => Some(4.0),
        Nutrient::ALCOHOL => Some(7.0),
        Nutrient::FAT
        | Nutrient::SATURATED_FAT
        | Nutrient::MONOUNSATURATED_FAT
        | Nutrient::POLYUNSATURATED_FAT
        | Nutrient::TRANS_FAT
        | Nutrient::LINOLEIC_ACID
        | Nutrient::ALPHA_LINOLENIC_ACID => Some(9.0),
        _ => None,
    }
}

fn read(r: &mut Reader, tree: &DeTable) -> Option<Brief> {
    let top = r.open(tree, 0..0, &TOP, ALL);
    let title = top.get("title").and_then(|f| r.text(f)).map(|t| t.value);
    let region = required(r, &top, "region", "say whose kitchen: region = \"us\"").and_then(|f| r.text(f));
    let days = match top.get("days") {
        Some(field) => r.whole(field, 1..=28, "7").map(|d| d as u32),
        None => Some(7),
    };
    let objective = top.get("objective").and_then(|f| {
        r.choice(
            f,
            &[
                ("cost", Objective::Cost),
                ("closeness", Objective::Closeness),
                ("usual", Objective::Usual),
            ],
        )
    });
    let budget = top.get("budget").and_then(|f| budget(r, f, days.unwrap_or(7)));
    let mut texts = |key| top.get(key).map(|f| r.texts(f)).unwrap_or_default();
    let (diets, allergies) = (texts("diet"), texts("allergies"));
    let (likes, dislikes) = (texts("likes"), texts("dislikes"));
    for like in &likes {
        if let Some(dislike) = dislikes.iter().find(|d| d.value == like.value) {
            r.report(
                Diagnostic::error(
                    "brief-liked-and-disliked",
                    format!("\"{}\" is both liked and disliked", like.value),
                )
                .at(dislike.span.clone(), "disliked here")
                .at(like.span.clone(), "liked here")
                .help("keep one of the two"),
            );
        }
    }
    let seed = match top.get("seed") {
        Some(field) => r.whole(field, 0..=u64::MAX, "1"),
        None => Some(1),
    };
    let equation = top.get("equation").and_then(|f| r.text(f));

    let person_table = required(
        r,
        &top,
        "person",
        "add a table [person] with sex, age, height and weight",
    )
    .and_then(|f| r.table(f, &PERSON, ALL));
    let person = person_table.and_then(|t| person(r, &t));
    let screen = top.get("screen").map(|f| screen(r, f)).unwrap_or_default();
    let activity = required(
        r,
        &top,
        "activity",
        "add a table [activity] with one of level, pal, expenditure or hours",
    )
    .and_then(|f| r.table(f, &ACTIVITY, ALL))
    .and_then(|t| activity(r, &t));

    let weight = person_table
        .and_then(|t| t.get("weight"))
        .and_then(|f| match f.value() {
            DeValue::String(text) => units::body_mass(text).ok(),
            _ => None,
        });
    let phase_field = required(
        r,
        &top,
        "phase",
        "add a table [[phase]] with kind = \"gain\", \"hold\" or \"lose\"",
    );
    let phases = phase_field.map(|f| phases(r, f, weight)).unwrap_or_default();
    if let Some(field) = phase_field
        && matches!(field.value(), DeValue::Array(a) if a.is_empty())
    {
        r.missing(None, "the brief", "phase", "add a table [[phase]] with its kind");
    }

    let slots = top.get("slot").map(|f| slots(r, f)).unwrap_or_default();
    let targets = top.get("target").map(|f| targets(r, f)).unwrap_or_default();
    let cooking = top
        .get("cooking")
        .and_then(|f| r.table(f, &COOKING, ALL))
        .and_then(|t| cooking(r, &t, days.unwrap_or(28)));
    let pantry = top.get("pantry").map(|f| pantry(r, f)).unwrap_or_default();
    let locks = top
        .get("lock")
        .map(|f| locks(r, f, days.unwrap_or(28)))
        .unwrap_or_default();
    let usual = top.get("usual").map(|f| usual(r, f)).unwrap_or_default();
    let household = top.get("household").map(|f| household(r, f)).unwrap_or_default();
    let output = top
        .get("output")
        .and_then(|f| r.table(f, &OUTPUT, ALL))
        .map(|t| output(r, &t))
        .unwrap_or_default();
    if objective == Some(Objective::Usual) && top.get("usual").is_none() {
        let at = top.get("objective").map_or(0..0, |f| f.range());
        r.report(
            Diagnostic::error("brief-no-usual", "there is no usual week to stay close to")
                .at(at, "asks for it")
                .help("add [[usual]] tables, each with item, times and servings"),
        );
    }
    Some(Brief {
        title: title.unwrap_or_else(|| "Plan".to_string()),
        person: person?,
        screen,
        activity: activity?,
        equation,
        phases,
        region: region?,
        diets,
        allergies,
        likes,
        dislikes,
        pantry,
        cooking,
        slots,
        budget,
        objective: objective.unwrap_or_default(),
        usual,
        targets,
        locks,
        days: days?,
        seed: seed?,
        household,
        output,
    })
}

pub(super) fn required<'t>(
    r: &mut Reader,
    table: &Table<'t>,
    key: &'static str,
    help: &str,
) -> Option<Field<'t>> {
    let field = table.get(key);
    if field.is_none() {
        r.missing(Some(table), table.name(), key, help);
    }
    field
}

fn budget(r: &mut Reader, field: Field, days: u32) -> Option<Money> {
    const EXAMPLE: &str = "65 USD/week";
    let one = match field.value() {
        DeValue::String(text) => match units::single(&text.replace(" per ", "/").replace(" a ", "/")) {
            Ok(one) => one,
            Err(error) => {
                r.bad_quantity(field, &error, EXAMPLE);
                return None;
            }
        },
        _ => {
            r.quantity(field, EXAMPLE, |_| Err::<(), _>(QuantityError::Empty));
            return None;
        }
    };
    if one.unit.is_empty() {
        r.bad_quantity(field, &QuantityError::NoUnit(one.number), EXAMPLE);
        return None;
    }
    let (code, span) = match one.unit.split_once('/') {
        Some((code, span)) => (code, Some(span)),
        None => (one.unit.as_str(), None),
    };
    let known = |c: &Currency| currencies::CODES.split(' ').any(|k| k == c.code());
    let Some(currency) = Currency::parse(code).filter(known) else {
        let upper = code.trim().to_uppercase();
        let help = match suggestion(&upper, currencies::CODES.split(' ')) {
            Some(close) if upper.len() == 3 => {
                format!("write the ISO 4217 code, such as {close}: \"{EXAMPLE}\"")
            }
            _ => format!("write the three-letter ISO 4217 code: \"{EXAMPLE}\""),
        };
        r.report(
            Diagnostic::error(
                "brief-unknown-currency",
                format!("\"{}\" is not a currency", code.escape_debug()),
            )
            .at(field.range(), "no such code")
            .help(help),
        );
        return None;
    };
    let scale = match span {
        None => Some(Decimal::ONE),
        Some("week" | "wk" | "w") => Some(Decimal::from(days) / Decimal::from(7u32)),
        Some("day" | "d") => Some(Decimal::from(days)),
        Some("month") | Some(_) => None,
    };
    let Some(scale) = scale else {
        let error = QuantityError::UnknownUnit {
            unit: one.unit.clone(),
            of: "money",
        };
        r.bad_quantity(field, &error, EXAMPLE);
        return None;
    };
    // Above zero still after rounding.
    let amount = Decimal::from_str(&one.number)
        .ok()
        .filter(|a| *a <= Decimal::from(100_000_000u32))
        .map(|a| (a * scale).round_dp(4).normalize())
        .filter(|a| *a > Decimal::ZERO);
    let Some(amount) = amount else {
        r.report(
            Diagnostic::error(
                "brief-out-of-range",
                "`budget` must be above zero, and an amount one can pay",
            )
            .at(field.range(), "cannot be spent on food")
            .help("leave the line out if there is no limit"),
        );
        return None;
    };
    Some(Money { amount, currency })
}

pub(super) fn person(r: &mut Reader, t: &Table) -> Option<Person> {
    let sex = required(
        r,
        t,
        "sex",
        "the published equations differ by sex: sex = \"female\" or \"male\"",
    )
    .and_then(|f| r.choice(f, &[("female", Sex::Female), ("male", Sex::Male)]));
    let age = required(r, t, "age", "write age = 30, in years").and_then(|f| r.whole(f, 1..=120, "30"));
    let height = required(r, t, "height", "write height = \"168 cm\"")
        .and_then(|f| length(r, f, "168 cm", 100.0, 250.0));
    let weight = required(r, t, "weight", "write weight = \"61 kg\"").and_then(|f| body_mass(r, f, "61 kg"));
    let neck = t.get("neck").map(|f| (f, length(r, f, "34 cm", 20.0, 80.0)));
    let waist = t.get("waist").map(|f| (f, length(r, f, "74 cm", 40.0, 250.0)));
    let hip = t.get("hip").map(|f| (f, length(r, f, "97 cm", 50.0, 250.0)));
    let stated = t.get("body_fat").map(|f| {
        let share = r
            .quantity(f, "24 %", units::share)
            .and_then(|s| r.within(f, s * 100.0, 2.0..=70.0, "%", short))
            .map(|percent| percent / 100.0);
        (f, share)
    });
    let training = t.get("training").and_then(|f| r.choice(f, TRAININGS));
    let population = t.get("population").and_then(|f| {
        r.choice(
            f,
            &[
                ("international", Population::International),
                ("south_asian", Population::SouthAsian),
                ("asian", Population::Asian),
            ],
        )
    });
    let waist_cm = waist.and_then(|(_, cm)| cm);
    let body_fat = match (stated, neck) {
        (Some((stated, _)), Some((neck, _))) => {
            r.report(
                Diagnostic::error("brief-two-body-fats", "body fat is given in two ways")
                    .at(neck.range(), "a neck is only measured to estimate it")
                    .at(stated.range(), "stated here")
                    .help("keep `body_fat`, or leave it out and keep neck, waist and hip"),
            );
            None
        }
        (Some((_, share)), None) => share.map(BodyFat::Measured),
        (None, Some((field, neck))) => circumferences(r, field, sex, neck, waist, hip),
        (None, None) => {
            if let Some((hip, _)) = hip {
                r.report(
                    Diagnostic::error("brief-circumferences", "`hip` alone says nothing")
                        .at(hip.range(), "only used together with `neck` and `waist`")
                        .help("add neck = \"...\" and waist = \"...\", or leave `hip` out"),
                );
            }
            None
        }
    };
    let person = Person {
        sex: sex?,
        age: age? as u32,
        height: height?,
        weight: weight?,
        body_fat,
        waist: waist_cm,
        training: training.unwrap_or_default(),
        population: population.unwrap_or_default(),
    };
    // Lowest and highest body mass index compatible with walking about; a guard against swapped
    // or mistyped units, not a judgement (design).
    if !(10.0..=90.0).contains(&person.bmi()) {
        let at = |key| t.get(key).map_or(t.range(), |f| f.range());
        r.report(
            Diagnostic::error(
                "brief-unlikely-body",
                format!("height and weight do not go together: {:.0} kg/m²", person.bmi()),
            )
            .at(at("weight"), "this weight")
            .at(at("height"), "at this height")
            .help("check both numbers and their units"),
        );
    }
    Some(person)
}

type Girth<'t> = Option<(Field<'t>, Option<Centimetres>)>;

fn circumferences(
    r: &mut Reader,
    field: Field,
    sex: Option<Sex>,
    neck: Option<Centimetres>,
    waist: Girth,
    hip: Girth,
) -> Option<BodyFat> {
    let mut lacking = Vec::new();
    if waist.is_none() {
        lacking.push("`waist`");
    }
    if sex == Some(Sex::Female) && hip.is_none() {
        lacking.push("`hip`");
    }
    if !lacking.is_empty() {
        r.report(
            Diagnostic::error(
                "brief-circumferences",
                format!("body fat from girths needs {} too", listed(lacking, "and")),
            )
            .at(field.range(), "neck alone is not enough")
            .help("men: neck and waist at the navel; women: neck, narrowest waist and hip"),
        );
        return None;
    }
    let (neck, (waist_field, waist)) = (neck?, waist?);
    let waist = waist?;
    // Only the women's formula takes the hip.
    let hip = match (sex?, hip) {
        (Sex::Female, Some((_, cm))) => Some(cm?),
        _ => None,
    };
    if waist.0 + hip.map_or(0.0, |h| h.0) - neck.0 < 5.0 || waist.0 <= neck.0 {
        r.report(
            Diagnostic::error("brief-circumferences", "the waist is not wider than the neck")
                .at(waist_field.range(), "this waist")
                .at(field.range(), "this neck")
                .help("check both numbers and their units"),
        );
        return None;
    }
    Some(BodyFat::Circumferences { neck, waist, hip })
}

fn length(r: &mut Reader, field: Field, example: &str, least: f64, most: f64) -> Option<Centimetres> {
    r.quantity(field, example, units::length)
        .and_then(|l| r.within(field, l.0, least..=most, "cm", short))
        .map(Centimetres)
}

pub(super) fn body_mass(r: &mut Reader, field: Field, example: &str) -> Option<Kilograms> {
    r.quantity(field, example, units::body_mass)
        .and_then(|m| r.within(field, m.0, 25.0..=400.0, "kg", short))
        .map(Kilograms)
}

pub(super) fn energy(r: &mut Reader, field: Field, example: &str, least: f64, most: f64) -> Option<Kcal> {
    r.quantity(field, example, units::energy)
        .and_then(|e| r.within(field, e.0, least..=most, "kcal", short))
        .map(Kcal)
}

fn screen(r: &mut Reader, field: Field) -> Screen {
    let DeValue::Table(entries) = field.value() else {
        r.wrong_kind(field, "a table", "begin it with a line [screen]");
        return Screen::default();
    };
    let mut screen = Screen::default();
    for (key, value) in entries {
        let id: &str = key.get_ref();
        let Some((known, _)) = SCREEN_QUESTIONS.iter().find(|(known, _)| *known == id) else {
            let help = match suggestion(id, SCREEN_QUESTIONS.iter().map(|(id, _)| *id)) {
                Some(close) => format!("did you mean `{close}`?"),
                None => {
                    let ids = SCREEN_QUESTIONS.iter().map(|(id, _)| *id);
                    format!("the questions are {}", listed(ids, "and"))
                }
            };
            r.report(
                Diagnostic::error(
                    "brief-unknown-key",
                    format!("[screen] has no question `{}`", id.escape_debug()),
                )
                .at(key.span(), "not known")
                .help(help),
            );
            continue;
        };
        let answer = Field::new(known, value);
        if r.boolean(answer) == Some(true) {
            screen.yes.push(Read {
                value: known.to_string(),
                span: key.span(),
            });
        }
    }
    screen.yes.sort_by_key(|r| r.span.start);
    screen
}

pub(super) fn activity(r: &mut Reader, t: &Table) -> Option<Activity> {
    let given: Vec<Field> = ACTIVITY.keys.iter().filter_map(|key| t.get(key)).collect();
    if given.is_empty() {
        r.missing(
            Some(t),
            "[activity]",
            "level",
            "write one of level = \"active\", pal = 1.75, expenditure = \"2300 kcal\" or hours = { ... }",
        );
        return None;
    }
    if let [first, second, ..] = given.as_slice() {
        r.report(two_activities(*first, *second));
    }
    let read: Vec<Option<Activity>> = given
        .iter()
        .map(|field| match field.key {
            "level" => r.choice(*field, LEVELS).map(Activity::Level),
            "pal" => r.number(*field, 1.0..=5.0, "1.75").map(Activity::Pal),
            "expenditure" => energy(r, *field, "2300 kcal", 600.0, 12_000.0).map(Activity::Measured),
            _ => hours(r, *field).map(Activity::Hours),
        })
        .collect();
    read.into_iter().next().flatten()
}

fn hours(r: &mut Reader, field: Field) -> Option<Vec<(String, f64)>> {
    let DeValue::Table(entries) = field.value() else {
        r.wrong_kind(
            field,
            "a table",
            "write hours = { sleeping = 8, sitting = 12, walking = 4 }",
        );
        return None;
    };
    let mut rows = Vec::new();
    let mut sound = true;
    for (key, value) in entries {
        match r.number(Field::new("hours", value), 0.0..=24.0, "{ sleeping = 8, ... }") {
            Some(hours) => rows.push((key.span().start, key.get_ref().to_string(), hours)),
            None => sound = false,
        }
    }
    rows.sort_by_key(|row| row.0);
    let total: f64 = rows.iter().map(|row| row.2).sum();
    if sound && (total - 24.0).abs() > 0.01 {
        r.report(
            Diagnostic::error(
                "brief-hours",
                format!("the hours of a day sum to {}, not 24", short(total)),
            )
            .at(field.range(), format!("{} h", short(total)))
            .help(if total < 24.0 {
                format!(
                    "{} h are missing: sleep and sitting count too",
                    short(24.0 - total)
                )
            } else {
                format!("{} h are too many", short(total - 24.0))
            }),
        );
        return None;
    }
    sound.then(|| rows.into_iter().map(|(_, id, hours)| (id, hours)).collect())
}

fn phases(r: &mut Reader, field: Field, weight: Option<Kilograms>) -> Vec<Phase> {
    let mut known = weight;
    let mut phases = Vec::new();
    for t in r.tables(field, &PHASE, ALL) {
        let phase = phase(r, &t, known);
        known = match &phase {
            Some(Phase {
                size: PhaseSize::Goal(goal),
                ..
            }) => Some(*goal),
            Some(Phase {
                kind: PhaseKind::Hold,
                ..
            }) => known,
            _ => None,
        };
        phases.extend(phase);
    }
    phases
}

fn phase(r: &mut Reader, t: &Table, weight: Option<Kilograms>) -> Option<Phase> {
    let kind_field = required(r, t, "kind", "write kind = \"gain\", \"hold\" or \"lose\"");
    let kind = kind_field.and_then(|f| {
        r.choice(
            f,
            &[
                ("gain", PhaseKind::Gain),
                ("hold", PhaseKind::Hold),
                ("lose", PhaseKind::Lose),
            ],
        )
    });
    let weeks_field = t.get("weeks");
    let weeks = weeks_field
        .and_then(|f| r.whole(f, 1..=104, "12"))
        .map(|w| w as u32);

    let sizes: Vec<Field> = ["surplus", "deficit", "rate", "goal_weight"]
        .into_iter()
        .filter_map(|key| t.get(key))
        .collect();
    if let [first, second, ..] = sizes.as_slice() {
        r.report(
            Diagnostic::error("brief-two-sizes", "the phase has more than one size")
                .at(second.range(), format!("`{}` here", second.key))
                .at(first.range(), format!("`{}` here", first.key))
                .help("keep one of surplus or deficit, rate and goal_weight"),
        );
    }
    let mut size = Some(PhaseSize::Default);
    for (index, field) in sizes.iter().enumerate() {
        let read = match field.key {
            "surplus" | "deficit" => energy(r, *field, "500 kcal", 1.0, 3000.0).map(PhaseSize::Energy),
            "rate" => rate(r, *field, weight).map(PhaseSize::Rate),
            _ => body_mass(r, *field, "66 kg").map(PhaseSize::Goal),
        };
        if index == 0 {
            size = read.clone();
        }
        let fits = match (kind, field.key) {
            (None, _) => true,
            (Some(PhaseKind::Hold), _) => false,
            (Some(PhaseKind::Gain), "deficit") => false,
            (Some(PhaseKind::Lose), "surplus") => false,
            _ => true,
        };
        if !fits {
            let (word, help) = match kind {
                Some(PhaseKind::Gain) => ("gain", "a phase of gaining has a surplus"),
                Some(PhaseKind::Lose) => ("lose", "a phase of losing has a deficit"),
                _ => ("hold", "to hold is to eat what one spends: leave the size out"),
            };
            r.report(
                Diagnostic::error(
                    "brief-size-and-kind",
                    format!("a phase of kind \"{word}\" cannot have `{}`", field.key),
                )
                .at(field.range(), "does not fit")
                .at(
                    kind_field.map_or(t.range(), |f| f.range()),
                    "the kind of the phase",
                )
                .help(help),
            );
        }
        if field.key == "goal_weight" {
            if weeks_field.is_none() {
                r.report(
                    Diagnostic::error("brief-goal-without-weeks", "a goal weight needs a time")
                        .at(field.range(), "to be reached by when?")
                        .help("add weeks = 12 to the phase"),
                );
            }
            if let (Some(PhaseSize::Goal(goal)), Some(now), Some(kind)) = (&read, weight, kind) {
                goal_direction(r, *field, *goal, now, kind);
            }
        }
    }
    let training = t.get("training").and_then(|f| r.choice(f, TRAININGS));
    let activity = phase_activity(r, t);
    Some(Phase {
        kind: kind?,
        size: size?,
        weeks,
        training,
        activity,
        span: t.range(),
    })
}

/// The activity of a phase, where it differs from that of the brief.
fn phase_activity(r: &mut Reader, t: &Table) -> Option<Activity> {
    let level = t
        .get("level")
        .map(|f| (f, r.choice(f, LEVELS).map(Activity::Level)));
    let pal = t
        .get("pal")
        .map(|f| (f, r.number(f, 1.0..=5.0, "1.75").map(Activity::Pal)));
    if let (Some((first, _)), Some((second, _))) = (&level, &pal) {
        r.report(two_activities(*first, *second));
    }
    level.or(pal).and_then(|(_, activity)| activity)
}

fn two_activities(first: Field, second: Field) -> Diagnostic {
    Diagnostic::error("brief-two-activities", "activity is given in more than one way")
        .at(second.range(), format!("`{}` here", second.key))
        .at(first.range(), format!("`{}` here", first.key))
        .help("keep one of level, pal, expenditure and hours")
}

fn goal_direction(r: &mut Reader, field: Field, goal: Kilograms, now: Kilograms, kind: PhaseKind) {
    let wrong = match kind {
        PhaseKind::Gain => goal.0 <= now.0,
        PhaseKind::Lose => goal.0 >= now.0,
        PhaseKind::Hold => false,
    };
    if wrong {
        let (word, side) = match kind {
            PhaseKind::Gain => ("gaining", "above"),
            _ => ("losing", "below"),
        };
        r.report(
            Diagnostic::error(
                "brief-goal-wrong-way",
                format!("the goal of a phase of {word} must be {side} the weight at its start"),
            )
            .at(
                field.range(),
                format!("{} kg, from {} kg", short(goal.0), short(now.0)),
            )
            .help("change the goal or the kind of the phase"),
        );
    }
}

fn rate(r: &mut Reader, field: Field, weight: Option<Kilograms>) -> Option<f64> {
    const EXAMPLE: &str = "0.35 %/week";
    let share = match r.quantity(field, EXAMPLE, units::weekly_rate)? {
        WeeklyRate::Share(share) => share,
        WeeklyRate::Mass(mass) => match weight {
            Some(weight) if weight.0 > 0.0 => mass.0 / weight.0,
            _ => {
                r.report(
                    Diagnostic::error(
                        "brief-rate-unknown",
                        "a rate in kg needs the weight at the start of the phase",
                    )
                    .at(field.range(), "the weight is not known here")
                    .help(format!("write a share of body weight: \"{EXAMPLE}\"")),
                );
                return None;
            }
        },
    };
    r.within(field, share * 100.0, 0.01..=3.0, "% a week", short)
        .map(|percent| percent / 100.0)
}

fn household(r: &mut Reader, field: Field) -> Vec<Member> {
    let mut members: Vec<(Read<String>, Member)> = Vec::new();
    for t in r.tables(field, &HOUSEHOLD, ALL) {
        let title =
            required(r, &t, "title", "say how to call them: title = \"Second\"").and_then(|f| r.text(f));
        let person = person(r, &t);
        let weight = person.as_ref().map(|p| p.weight);
        let stated = ["kind", "surplus", "deficit", "rate", "goal_weight"];
        let own_phase = stated.iter().any(|k| t.get(k).is_some());
        let read = if own_phase { phase(r, &t, weight) } else { None };
        let activity = match &read {
            Some(p) => p.activity.clone(),
            None if own_phase => None,
            None => phase_activity(r, &t),
        };
        if t.get("level").is_none() && t.get("pal").is_none() {
            r.missing(
                Some(&t),
                "[[household]]",
                "level",
                "write one of level = \"active\" and pal = 1.75",
            );
        }
        let phase = if own_phase {
            read.map(|p| Phase {
                training: None,
                activity: None,
                ..p
            })
        } else {
            Some(Phase {
                kind: PhaseKind::Hold,
                size: PhaseSize::Default,
                weeks: t
                    .get("weeks")
                    .and_then(|f| r.whole(f, 1..=104, "12"))
                    .map(|w| w as u32),
                training: None,
                activity: None,
                span: t.range(),
            })
        };
        let screen = t.get("screen").map(|f| answers(r, f)).unwrap_or_default();
        let portion = t.get("portion").map(|f| r.number(f, 0.1..=5.0, "0.8"));
        let (Some(title), Some(person), Some(activity), Some(phase)) = (title, person, activity, phase)
        else {
            continue;
        };
        if let Some((first, _)) = members.iter().find(|(earlier, _)| earlier.value == title.value) {
            r.report(duplicate("member", &title, &first.span));
            continue;
        }
        let member = Member {
            title: title.value.clone(),
            person,
            activity,
            phase,
            screen,
            portion: portion.flatten(),
            span: t.range(),
        };
        members.push((title, member));
    }
    members.into_iter().map(|(_, m)| m).collect()
}

/// Ids of the referral questions that are answered yes, as a list.
fn answers(r: &mut Reader, field: Field) -> Screen {
    let yes = r.texts(field);
    for id in &yes {
        if SCREEN_QUESTIONS.iter().any(|(known, _)| *known == id.value) {
            continue;
        }
        let ids = || SCREEN_QUESTIONS.iter().map(|(id, _)| *id);
        let help = match suggestion(&id.value, ids()) {
            Some(close) => format!("did you mean \"{close}\"?"),
            None => format!("the questions are {}", listed(ids(), "and")),
        };
        r.report(
            Diagnostic::error(
                "brief-unknown-word",
                format!("`screen` has no question \"{}\"", id.value.escape_debug()),
            )
            .at(id.span.clone(), "not known")
            .help(help),
        );
    }
    Screen { yes }
}

fn output(r: &mut Reader, t: &Table) -> Output {
    let energy = t
        .get("energy")
        .and_then(|f| r.choice(f, &[("kcal", false), ("kJ", true)]));
    let decimal = t
        .get("decimal")
        .and_then(|f| r.choice(f, &[(".", false), (",", true)]));
    let units = t
        .get("units")
        .and_then(|f| r.choice(f, &[("metric", Units::Metric), ("us", Units::Us)]));
    Output {
        kilojoules: energy.unwrap_or_default(),
        comma: decimal.unwrap_or_default(),
        units,
    }
}

fn slots(r: &mut Reader, field: Field) -> Vec<SlotShare> {
    let mut slots: Vec<SlotShare> = Vec::new();
    for t in r.tables(field, &SLOT, ALL) {
        let id = required(r, &t, "id", "name the slot: id = \"breakfast\"").and_then(|f| r.text(f));
        let share_field = required(r, &t, "share", "write share = \"25 %\"");
        let share = share_field.and_then(|f| {
            r.quantity(f, "25 %", units::share)
                .and_then(|s| r.within(f, s * 100.0, 0.0..=100.0, "%", short))
        });
        let (Some(slot), Some(percent)) = (id, share) else {
            continue;
        };
        if let Some(first) = slots.iter().find(|s| s.slot.value == slot.value) {
            r.report(duplicate("slot", &slot, &first.slot.span));
            continue;
        }
        slots.push(SlotShare {
            slot,
            share: percent / 100.0,
        });
    }
    let total: f64 = slots.iter().map(|s| s.share).sum();
    if total > 1.0 + 1e-9
        && let Some(last) = slots.last()
    {
        r.report(
            Diagnostic::error(
                "brief-slot-shares",
                format!("the slots take {} % of the day", short(total * 100.0)),
            )
            .at(last.slot.span.clone(), "up to here")
            .help("the shares may sum to 100 % at most; slots not named share the rest"),
        );
    }
    slots
}

fn duplicate(what: &str, second: &Read<String>, first: &Range<usize>) -> Diagnostic {
    Diagnostic::error(
        "brief-duplicate",
        format!("the {what} \"{}\" is set twice", second.value.escape_debug()),
    )
    .at(second.span.clone(), "again")
    .at(first.clone(), "first")
    .help("keep one of the two")
}

fn targets(r: &mut Reader, field: Field) -> Vec<TargetOverride> {
    let mut targets: Vec<(TargetOverride, Read<String>)> = Vec::new();
    for t in r.tables(field, &TARGET, ALL) {
        let name = required(r, &t, "nutrient", "name it: nutrient = \"protein\"").and_then(|f| r.text(f));
        let nutrient = name.as_ref().and_then(|name| nutrient(r, name));
        let scope = t.get("scope").map(|f| {
            r.choice(
                f,
                &[("meal", Scope::Meal), ("day", Scope::Day), ("mean", Scope::Mean)],
            )
        });
        let off_field = t.get("off");
        let off = off_field.map(|f| r.boolean(f));
        let amounts: Vec<Field> = ["floor", "ceiling"]
            .into_iter()
            .filter_map(|k| t.get(k))
            .collect();
        let mut read = [None, None];
        for field in &amounts {
            let amount = amount(r, *field, nutrient);
            read[usize::from(field.key == "ceiling")] = amount;
        }
        let [floor, ceiling] = read;
        if let (Some(off), [amount, ..]) = (off_field, amounts.as_slice())
            && matches!(off.value(), DeValue::Boolean(true))
        {
            r.report(
                Diagnostic::error("brief-off-and-bound", "a target that is off has no bounds")
                    .at(amount.range(), format!("`{}` here", amount.key))
                    .at(off.range(), "switched off here")
                    .help("remove `off`, or the floor and ceiling"),
            );
        }
        if amounts.is_empty() && !matches!(off, Some(Some(true))) {
            r.report(
                Diagnostic::error("brief-empty-target", "the target says nothing")
                    .at(t.range(), "neither floor nor ceiling nor off")
                    .help("write floor = \"110 g\", ceiling = \"...\" or off = true"),
            );
        }
        let crossed = match (floor, ceiling) {
            (Some(TargetAmount::Absolute(a)), Some(TargetAmount::Absolute(b)))
            | (Some(TargetAmount::PerKilogram(a)), Some(TargetAmount::PerKilogram(b)))
            | (Some(TargetAmount::EnergyShare(a)), Some(TargetAmount::EnergyShare(b))) => a > b,
            _ => false,
        };
        if crossed && let [floor, ceiling] = amounts.as_slice() {
            r.report(
                Diagnostic::error("brief-floor-over-ceiling", "the floor is above the ceiling")
                    .at(ceiling.range(), "the ceiling")
                    .at(floor.range(), "the floor")
                    .help("exchange them, or keep one"),
            );
        }
        let (Some(nutrient), Some(name)) = (nutrient, name) else {
            continue;
        };
        let target = TargetOverride {
            nutrient,
            floor,
            ceiling,
            scope: scope.flatten(),
            off: off.flatten().unwrap_or(false),
            span: t.range(),
        };
        let same = targets.iter().find(|(earlier, _)| {
            earlier.nutrient == nutrient && (earlier.scope == target.scope || earlier.off || target.off)
        });
        if let Some((_, first)) = same {
            r.report(duplicate("target", &name, &first.span));
            continue;
        }
        targets.push((target, name));
    }
    targets.into_iter().map(|(target, _)| target).collect()
}

fn nutrient(r: &mut Reader, name: &Read<String>) -> Option<Nutrient> {
    let found = Nutrient::from_id(&name.value);
    if found.is_none() {
        let help = match suggestion(&name.value, Nutrient::all().map(Nutrient::id)) {
            Some(close) => format!("did you mean \"{close}\"?"),
            None => "write a nutrient id such as \"protein\", \"fibre\", \"vitamin_d\"".to_string(),
        };
        r.report(
            Diagnostic::error(
                "brief-unknown-nutrient",
                format!("there is no nutrient \"{}\"", name.value.escape_debug()),
            )
            .at(name.span.clone(), "not known")
            .help(help),
        );
    }
    found
}

fn amount(r: &mut Reader, field: Field, nutrient: Option<Nutrient>) -> Option<TargetAmount> {
    let example = match nutrient.map(|n| n.unit()) {
        Some(Unit::Kilocalorie) => "2300 kcal",
        Some(Unit::Milligram) => "18 mg",
        Some(Unit::Microgram) => "15 ug",
        _ => "110 g",
    };
    let quantity = r.quantity(field, example, units::nutrient_quantity)?;
    let nutrient = nutrient?;
    let grams = |g: Grams| match nutrient.unit() {
        Unit::Gram => Some(g.0),
        Unit::Milligram => Some(g.0 * 1e3),
        Unit::Microgram => Some(g.0 * 1e6),
        _ => None,
    };
    let kcal = |e: Kcal| match nutrient.unit() {
        Unit::Kilocalorie => Some(e.0),
        Unit::Kilojoule => Some(e.kj()),
        _ => None,
    };
    let amount = match quantity {
        NutrientQuantity::Mass(g) => grams(g).map(TargetAmount::Absolute),
        NutrientQuantity::MassPerKilogram(g) => grams(g).map(TargetAmount::PerKilogram),
        NutrientQuantity::Energy(e) => kcal(e).map(TargetAmount::Absolute),
        NutrientQuantity::EnergyPerKilogram(e) => kcal(e).map(TargetAmount::PerKilogram),
        NutrientQuantity::EnergyShare(share) => {
            if energy_per_gram(nutrient).is_none() {
                r.report(
                    Diagnostic::error(
                        "brief-no-energy-share",
                        format!("{} has no share of energy", nutrient.name()),
                    )
                    .at(field.range(), "a share of energy")
                    .help(format!("write an amount: \"{example}\"")),
                );
                return None;
            }
            r.within(field, share * 100.0, 0.0..=100.0, "% of energy", short)?;
            Some(TargetAmount::EnergyShare(share))
        }
    };
    if amount.is_none() {
        r.report(
            Diagnostic::error(
                "brief-bad-unit",
                format!("{} is counted in {}", nutrient.name(), nutrient.unit().label()),
            )
            .at(field.range(), "another kind of unit")
            .help(format!("write \"{example}\"")),
        );
    }
    amount
}

fn pantry(r: &mut Reader, field: Field) -> Vec<PantryEntry> {
    let mut entries: Vec<PantryEntry> = Vec::new();
    for t in r.tables(field, &PANTRY, ALL) {
        let what = required(r, &t, "what", "name it: what = \"white_rice\"").and_then(|f| r.text(f));
        let grams = required(r, &t, "amount", "write amount = \"2 kg\"").and_then(|f| {
            r.quantity(f, "2 kg", units::food_mass)
                .and_then(|g| r.within(f, g.0, 0.1..=500_000.0, "g", short))
        });
        let (Some(what), Some(grams)) = (what, grams) else {
            continue;
        };
        if let Some(first) = entries.iter().find(|e| e.what.value == what.value) {
            r.report(duplicate("pantry entry", &what, &first.what.span));
            continue;
        }
        let keeps_days = t
            .get("keeps_days")
            .and_then(|f| r.whole(f, 0..=3650, "5"))
            .map(|d| d as u32);
        entries.push(PantryEntry {
            what,
            grams,
            keeps_days,
        });
    }
    entries
}

/// Exactly one of `servings` and `grams`.
fn portion(r: &mut Reader, t: &Table) -> Option<Amount> {
    let servings = t.get("servings").map(|f| (f, r.number(f, 0.1..=50.0, "1.5")));
    let grams = t.get("grams").map(|f| match f.value() {
        DeValue::String(_) => (
            f,
            r.quantity(f, "200 g", units::food_mass)
                .and_then(|g| r.within(f, g.0, 0.1..=5000.0, "g", short)),
        ),
        _ => (f, r.number(f, 0.1..=5000.0, "200")),
    });
    match (servings, grams) {
        (Some((first, _)), Some((second, _))) => {
            r.report(
                Diagnostic::error("brief-two-amounts", "the amount is given in two ways")
                    .at(second.range(), "in grams")
                    .at(first.range(), "in servings")
                    .help("keep `servings` or `grams`"),
            );
            None
        }
        (Some((_, servings)), None) => servings.map(Amount::Servings),
        (None, Some((_, grams))) => grams.map(Amount::Grams),
        (None, None) => {
            r.missing(
                Some(t),
                t.name(),
                "servings",
                "write servings = 1.5, or grams = 200",
            );
            None
        }
    }
}

fn locks(r: &mut Reader, field: Field, most: u32) -> Vec<Lock> {
    let mut locks: Vec<Lock> = Vec::new();
    for t in r.tables(field, &LOCK, ALL) {
        let days = match (t.get("day"), t.get("days")) {
            (Some(one), Some(many)) => {
                r.report(
                    Diagnostic::error("brief-two-days", "the days are given in two ways")
                        .at(many.range(), "`days` here")
                        .at(one.range(), "`day` here")
                        .help("keep `days`"),
                );
                None
            }
            (Some(one), None) => day(r, one, most).map(|d| vec![d]),
            (None, Some(many)) => days_of(r, many, most),
            (None, None) => {
                r.missing(Some(&t), "[[lock]]", "days", "write days = [1, 3], or day = 1");
                None
            }
        };
        let slot = required(r, &t, "slot", "name the slot: slot = \"dinner\"").and_then(|f| r.text(f));
        let items = required(
            r,
            &t,
            "items",
            "write items = [ { item = \"...\", servings = 1 } ]",
        )
        .map(|f| (f, lock_items(r, f)));
        if let Some((field, _)) = &items
            && matches!(field.value(), DeValue::Array(a) if a.is_empty())
        {
            r.report(
                Diagnostic::error("brief-empty", "`items` is empty")
                    .at(field.range(), "nothing to eat")
                    .help("name what is eaten, or give the slot a share of \"0 %\""),
            );
        }
        let others = t.get("others").and_then(|f| r.boolean(f)).unwrap_or(false);
        let (Some(days), Some(slot), Some((_, items))) = (days, slot, items) else {
            continue;
        };
        let same = locks
            .iter()
            .find(|l| l.slot.value == slot.value && l.days.iter().any(|d| days.contains(d)));
        if let Some(first) = same {
            r.report(duplicate("lock of", &slot, &first.slot.span));
            continue;
        }
        locks.push(Lock {
            days,
            slot,
            items,
            others,
            span: t.range(),
        });
    }
    locks
}

/// A list of days, in order and each once.
fn days_of(r: &mut Reader, many: Field, most: u32) -> Option<Vec<u32>> {
    let DeValue::Array(array) = many.value() else {
        r.wrong_kind(many, "a list of days", "write days = [1, 3]");
        return None;
    };
    let days: Vec<Option<u32>> = array
        .iter()
        .map(|value| day(r, Field::new("days", value), most))
        .collect();
    if days.is_empty() {
        r.report(
            Diagnostic::error("brief-empty", "`days` is empty")
                .at(many.range(), "no day")
                .help("write days = [1, 3]"),
        );
    }
    let days: Option<Vec<u32>> = days.into_iter().collect();
    days.map(|mut days| {
        days.sort_unstable();
        days.dedup();
        days
    })
}

fn cooking(r: &mut Reader, t: &Table, most: u32) -> Option<Cooking> {
    let days = required(
        r,
        t,
        "days",
        "say on which days of the plan there is time: days = [1, 4]",
    )
    .and_then(|f| days_of(r, f, most));
    let quick = match t.get("quick_minutes") {
        Some(f) => r.number(f, 0.0..=240.0, "20"),
        None => Some(QUICK_MINUTES),
    };
    Some(Cooking {
        days: days.filter(|d| !d.is_empty())?,
        quick_minutes: quick?,
    })
}

fn day(r: &mut Reader, field: Field, most: u32) -> Option<u32> {
    r.whole(field, 1..=u64::from(most), "1").map(|d| d as u32)
}

fn lock_items(r: &mut Reader, field: Field) -> Vec<(Read<String>, Amount)> {
    let mut items: Vec<(Read<String>, Amount)> = Vec::new();
    for t in r.tables(field, &LOCK_ITEM, ALL) {
        let item = required(r, &t, "item", "name it: item = \"dal_masoor\"").and_then(|f| r.text(f));
        let amount = portion(r, &t);
        let (Some(item), Some(amount)) = (item, amount) else {
            continue;
        };
        if let Some((first, _)) = items.iter().find(|(earlier, _)| earlier.value == item.value) {
            r.report(duplicate("item", &item, &first.span));
            continue;
        }
        items.push((item, amount));
    }
    items
}

fn usual(r: &mut Reader, field: Field) -> Vec<UsualEntry> {
    let mut entries: Vec<UsualEntry> = Vec::new();
    for t in r.tables(field, &USUAL, ALL) {
        let item = required(r, &t, "item", "name it: item = \"oatmeal\"").and_then(|f| r.text(f));
        let times = required(r, &t, "times", "write times = 5, times a week")
            .and_then(|f| r.number(f, 0.1..=50.0, "5"));
        let amount = portion(r, &t);
        let (Some(item), Some(times), Some(amount)) = (item, times, amount) else {
            continue;
        };
        if let Some(first) = entries.iter().find(|e| e.item.value == item.value) {
            r.report(duplicate("usual item", &item, &first.item.span));
            continue;
        }
        entries.push(UsualEntry { item, times, amount });
    }
    entries
}
