//! The bundled table against its source, value by value.
//!
//! Source: US Department of Agriculture, Agricultural Research Service, "USDA National Nutrient Database
//! for Standard Reference, Release 28", 2015: the original ASCII files in foods/sr28, and the row counts
//! of its "Documentation and User Guide", Table 3. All values: read in the source. Tolerance: none.
//! The original lines are taken apart here, not by the reader under test.

#[path = "../foods/pack.rs"]
mod pack;

use std::collections::{HashMap, HashSet};
use std::path::PathBuf;
use std::sync::OnceLock;

use platewright::foods::{Content, FoodId, FoodTable};
use platewright::nutrient::Nutrient;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("foods/sr28")
}

/// Fields of the lines of a file. Only bytes that are ASCII are compared below, so that Latin-1 will do.
fn lines(bytes: &[u8]) -> Vec<Vec<String>> {
    bytes
        .split(|&b| b == b'\n')
        .map(|l| {
            l.iter()
                .map(|&b| char::from(b))
                .filter(|c| *c != '\r')
                .collect::<String>()
        })
        .filter(|l| !l.is_empty())
        .map(|l| l.split('^').map(|f| f.trim_matches('~').to_owned()).collect())
        .collect()
}

fn file(name: &str) -> Vec<Vec<String>> {
    lines(&std::fs::read(folder().join(name)).unwrap())
}

fn values() -> &'static Vec<Vec<String>> {
    static VALUES: OnceLock<Vec<Vec<String>>> = OnceLock::new();
    VALUES.get_or_init(|| {
        let archive = std::fs::File::open(folder().join("NUT_DATA.7z")).unwrap();
        let password = sevenz_rust2::Password::empty();
        let mut archive = sevenz_rust2::ArchiveReader::new(archive, password).unwrap();
        lines(&archive.read_file("NUT_DATA.txt").unwrap())
    })
}

fn id(number: &str) -> FoodId {
    FoodId::new(format!("sr28:{number}"))
}

#[test]
fn the_committed_bytes_are_those_of_the_originals() {
    let rebuilt = pack::packed_from(&folder()).unwrap();
    let committed = std::fs::read(folder().join("sr28.bin")).unwrap();
    assert!(
        rebuilt == committed,
        "run: cargo run --release --example pack-foods"
    );
    assert!(committed.len() <= 5 << 20, "{} bytes", committed.len());
}

#[test]
fn all_679_045_values_are_those_of_the_originals() {
    assert_eq!(values().len(), 679_045);
    let table = FoodTable::bundled();
    let mut seen: HashMap<String, HashSet<usize>> = HashMap::new();
    let mut foods = HashMap::new();
    for line in values() {
        let food = foods
            .entry(line[0].clone())
            .or_insert_with(|| table.food(&id(&line[0])).unwrap());
        let nutrient = Nutrient::from_number(line[1].parse().unwrap()).unwrap();
        assert_eq!(
            food.content(nutrient),
            Content::Known(line[2].parse().unwrap()),
            "{line:?}"
        );
        let detail = food.value_detail(nutrient).unwrap();
        assert_eq!(
            detail.data_points,
            line[3].parse::<f64>().unwrap() as u32,
            "{line:?}"
        );
        let code =
            |c: &Option<platewright::foods::Code>| c.as_ref().map_or(String::new(), |c| c.code.to_string());
        assert_eq!(code(&detail.provenance.source), line[5], "{line:?}");
        assert_eq!(code(&detail.provenance.derivation), line[6], "{line:?}");
        assert!(
            seen.entry(line[0].clone()).or_default().insert(nutrient.index()),
            "{line:?} comes twice"
        );
    }
    // And nothing else is known: what has no line is unknown, not zero.
    let known: usize = table.iter().map(|f| f.known().count()).sum();
    assert_eq!(known, 679_045);
    assert_eq!(seen.len(), foods.len());
}

#[test]
fn the_release_marks_no_trace() {
    assert!(values().iter().all(|line| line[2].parse::<f64>().is_ok()));
}

#[test]
fn all_descriptions_are_those_of_the_originals() {
    let table = FoodTable::bundled();
    let groups: HashMap<String, String> = file("FD_GROUP.txt")
        .into_iter()
        .map(|l| (l[0].clone(), l[1].clone()))
        .collect();
    let rows = file("FOOD_DES.txt");
    assert_eq!((rows.len(), table.len(), groups.len()), (8_789, 8_789, 25));
    let number = |text: &str| (!text.is_empty()).then(|| text.parse::<f64>().unwrap());
    for row in rows {
        let food = table.food(&id(&row[0])).unwrap();
        assert_eq!(food.group, groups[&row[1]]);
        assert_eq!(
            [&food.name, &food.common_names, &food.manufacturer],
            [&row[2], &row[4], &row[5]]
        );
        assert_eq!((food.in_survey, &food.refuse), (row[6] == "Y", &row[7]));
        assert_eq!(food.refuse_percent, number(&row[8]));
        // One scientific name has Windows-1252 quotation marks, which are not Latin-1.
        if row[9].is_ascii() {
            assert_eq!(food.scientific_name, row[9]);
        } else {
            assert_eq!(food.scientific_name, "Actinidia chinensis ‘Zesy002’ (Gold3)");
        }
        let factors = [
            food.factors.nitrogen,
            food.factors.protein,
            food.factors.fat,
            food.factors.carbohydrate,
        ];
        assert_eq!(
            factors,
            [
                number(&row[10]),
                number(&row[11]),
                number(&row[12]),
                number(&row[13])
            ]
        );
    }
}

#[test]
fn all_measures_and_footnotes_are_those_of_the_originals() {
    let table = FoodTable::bundled();
    let (mut measures, mut notes) = (HashMap::new(), HashMap::new());
    let rows = file("WEIGHT.txt");
    assert_eq!(rows.len(), 15_438);
    for row in rows {
        let (amount, grams): (f64, f64) = (row[2].parse().unwrap(), row[4].parse().unwrap());
        measures
            .entry(row[0].clone())
            .or_insert_with(Vec::new)
            .push((amount, row[3].clone(), grams));
    }
    for row in file("FOOTNOTE.txt") {
        *notes.entry(row[0].clone()).or_insert(0) += 1;
    }
    for food in table.iter() {
        let number = food.id.as_str().trim_start_matches("sr28:");
        let found: Vec<_> = food
            .portions
            .iter()
            .map(|p| (p.amount, p.measure.clone(), p.grams))
            .collect();
        assert_eq!(found, measures.remove(number).unwrap_or_default(), "{number}");
        assert_eq!(
            food.footnotes.len(),
            notes.remove(number).unwrap_or(0),
            "{number}"
        );
    }
    assert!(measures.is_empty() && notes.is_empty());
}

#[test]
fn nutrients_are_those_of_the_originals() {
    let rows = file("NUTR_DEF.txt");
    assert_eq!(rows.len(), 150);
    for row in rows {
        let nutrient = Nutrient::from_number(row[0].parse().unwrap()).unwrap();
        assert_eq!(
            nutrient.unit().symbol(),
            row[1].replace('µ', "u"),
            "{}",
            nutrient.id()
        );
        assert_eq!(nutrient.decimals().to_string(), row[4], "{}", nutrient.id());
    }
}

/// Olive oil has a line with 0 for protein and no line for fluoride.
#[test]
fn a_missing_value_is_not_zero() {
    let table = FoodTable::bundled();
    let oil = table.food(&id("04053")).unwrap();
    assert_eq!(oil.content(Nutrient::PROTEIN), Content::Known(0.0));
    assert!(
        !values()
            .iter()
            .any(|l| l[0] == "04053" && l[1] == Nutrient::FLUORIDE.number().to_string())
    );
    assert_eq!(oil.content(Nutrient::FLUORIDE), Content::Unknown);
    assert_eq!(oil.amount(Nutrient::FLUORIDE), None);
}

/// Computed by the source from the same macronutrients, so that nearly all must agree.
#[test]
fn stated_energy_agrees_with_the_macronutrients() {
    let odd = FoodTable::bundled()
        .iter()
        .filter(|f| platewright::foods::atwater::warning(f).is_some())
        .count();
    assert!(odd * 200 < 8_789, "{odd}");
}
