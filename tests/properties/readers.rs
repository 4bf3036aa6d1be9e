//! Readers meet any bytes, and good files that were damaged: they read or refuse, and what they read can be used.

use crate::briefs::{Case, catalogue, invented, prices, table};
use crate::config;
use platewright::brief::{self, Brief, claim};
use platewright::diagnostic::any_error;
use platewright::energy;
use platewright::foods::{FoodTable, Reading, ascii, fdc, user};
use platewright::household;
use platewright::kitchen::Source;
use platewright::model::build::{Pieces, build};
use platewright::prices::PriceList;
use platewright::review::{self, log};
use platewright::swap;
use platewright::targets;
use platewright::units::Kilograms;
use platewright::{
    appraise::appraise,
    plan::{Work, plan},
    report,
};
use proptest::prelude::*;
use proptest::sample::Index;
use std::sync::OnceLock;

/// What may be put where something else stood.
const WORDS: [&str; 44] = [
    "",
    "\"",
    "'",
    "=",
    "[",
    "]]",
    "{",
    "}",
    ",",
    ";",
    "\t",
    "\n",
    "\r\n",
    "#",
    "%",
    " ",
    ".",
    "-",
    "0",
    "-0",
    "-1",
    "1",
    "3.5",
    "1e308",
    "1e-320",
    "1e400",
    "nan",
    "inf",
    "null",
    "true",
    "0.000000001",
    "4294967296",
    "99999999999999999999",
    "79228162514264337593543950335",
    "18446744073709551616",
    "\u{0}",
    "\u{feff}",
    "é",
    "½",
    "\u{a0}",
    "kg",
    "g/kg",
    "1,234",
    "2024-02-30",
];

/// One damage to a file.
#[derive(Clone, Debug)]
enum Edit {
    /// A byte becomes another.
    Byte(Index, u8),
    /// Some bytes go.
    Cut(Index, u8),
    /// Some bytes come again elsewhere.
    Again(Index, u8, Index),
    /// A word is put in.
    Put(Index, usize),
    /// A number becomes a word.
    Number(Index, usize),
    /// A line goes, or comes twice.
    Line(Index, bool),
}

fn edits() -> impl Strategy<Value = Vec<Edit>> {
    let at = any::<Index>;
    let one = prop_oneof![
        1 => (at(), any::<u8>()).prop_map(|(i, b)| Edit::Byte(i, b)),
        1 => (at(), 1u8..40).prop_map(|(i, n)| Edit::Cut(i, n)),
        1 => (at(), 1u8..40, at()).prop_map(|(i, n, j)| Edit::Again(i, n, j)),
        2 => (at(), 0..WORDS.len()).prop_map(|(i, w)| Edit::Put(i, w)),
        6 => (at(), 0..WORDS.len()).prop_map(|(i, w)| Edit::Number(i, w)),
        2 => (at(), any::<bool>()).prop_map(|(i, twice)| Edit::Line(i, twice)),
    ];
    prop::collection::vec(one, 1..5)
}

/// Places of numbers in a text.
fn numbers(text: &[u8]) -> Vec<(usize, usize)> {
    let digit = |b: u8| b.is_ascii_digit() || b == b'.';
    let mut all = Vec::new();
    let mut from = None;
    for at in 0..=text.len() {
        let is = text.get(at).is_some_and(|b| digit(*b));
        match (from, is) {
            (None, true) => from = Some(at),
            (Some(start), false) => {
                all.push((start, at));
                from = None;
            }
            _ => {}
        }
    }
    all
}

fn damaged(text: &str, edits: &[Edit]) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    for edit in edits {
        if bytes.is_empty() {
            break;
        }
        let length = bytes.len();
        let span = |i: &Index, n: u8| {
            let from = i.index(length);
            from..(from + usize::from(n)).min(length)
        };
        match edit {
            Edit::Byte(i, b) => bytes[i.index(length)] = *b,
            Edit::Cut(i, n) => drop(bytes.drain(span(i, *n))),
            Edit::Again(i, n, j) => {
                let part = bytes[span(i, *n)].to_vec();
                let at = j.index(length);
                bytes.splice(at..at, part);
            }
            Edit::Put(i, w) => {
                let at = i.index(length);
                bytes.splice(at..at, WORDS[*w].bytes());
            }
            Edit::Number(i, w) => {
                let all = numbers(&bytes);
                if !all.is_empty() {
                    let (from, to) = all[i.index(all.len())];
                    bytes.splice(from..to, WORDS[*w].bytes());
                }
            }
            Edit::Line(i, twice) => {
                let mut lines: Vec<&[u8]> = bytes.split(|b| *b == b'\n').collect();
                let n = i.index(lines.len());
                if *twice {
                    lines.insert(n, lines[n]);
                } else {
                    lines.remove(n);
                }
                bytes = lines.join(&b'\n');
            }
        }
    }
    bytes
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A brief and all that follows from it, up to its model.
fn read_brief(bytes: &[u8]) {
    let Ok((mut brief, _)) = brief::parse(&text(bytes)) else {
        return;
    };
    brief.days = brief.days.min(2);
    let _ = energy::course(&brief);
    let Ok(energy) = energy::budget(&brief) else {
        return;
    };
    if household::settle(&mut brief, &energy).is_err() {
        return;
    }
    let (targets, problems) = targets::derive(&brief, &energy);
    let _ = report::targets::text(&brief, &energy, &targets);
    let Some(kitchen) = catalogue().kitchen(&brief.region.value) else {
        return;
    };
    if !any_error(&problems) {
        let pieces = Pieces {
            brief: &brief,
            intake_kcal: energy.intake.0,
            targets: &targets,
            kitchen,
            catalogue: catalogue(),
            table: table(),
            prices: Some(prices(&kitchen.id)),
        };
        if let Ok(built) = build(pieces) {
            for r in &built.model.rows {
                assert!(r.terms.iter().all(|t| t.1.is_finite()), "{}", r.name);
                let bounds = [r.floor, r.ceiling];
                assert!(bounds.into_iter().flatten().all(f64::is_finite), "{}", r.name);
            }
        }
    }
}

fn read_pantry(bytes: &[u8]) {
    if let Ok((entries, _)) = brief::parse_pantry(&text(bytes)) {
        assert!(entries.iter().all(|e| e.grams.is_finite() && e.grams >= 0.0));
    }
}

fn read_claim(bytes: &[u8]) {
    if let Ok((claim, _)) = claim::parse(&text(bytes))
        && let Ok(a) = appraise(&claim)
    {
        let _ = (report::appraise::text(&a), report::appraise::json(&a));
    }
}

fn use_foods(reading: Reading) {
    let mut table = FoodTable::empty();
    table.add(reading.foods);
    for food in table.iter() {
        assert!(
            food.known().all(|(_, c)| c.counted().is_finite()),
            "{}",
            food.name
        );
    }
}

fn read_foods(bytes: &[u8]) {
    use_foods(user::read(bytes));
}

fn read_prices(bytes: &[u8]) {
    let text = text(bytes);
    let source = Source {
        name: "prices.csv",
        text: &text,
    };
    if let Ok(list) = PriceList::read(&source, catalogue()) {
        for p in list.prices.values() {
            assert!(p.per_gram() > 0.0 && p.per_gram().is_finite(), "{p:?}");
            for grams in [0.0, 0.1, 1234.5, 1e6] {
                assert!(p.cost(grams) >= rust_decimal::Decimal::ZERO, "{p:?}");
            }
        }
    }
}

fn read_dishes(bytes: &[u8]) {
    let text = text(bytes);
    let mut catalogue = catalogue().clone();
    let had = catalogue.items.len();
    let source = Source {
        name: "dishes.toml",
        text: &text,
    };
    if catalogue.add_dishes(table(), &[source]).is_ok() {
        for item in &catalogue.items[had..] {
            let held = platewright::kitchen::dish::serving(table(), item);
            assert!(
                held.cooked.iter().all(|v| v.is_finite() && *v >= 0.0),
                "{}",
                item.id
            );
        }
    }
}

fn example() -> &'static Brief {
    static BRIEF: OnceLock<Brief> = OnceLock::new();
    BRIEF.get_or_init(|| {
        let text = include_str!("../../examples/gain-then-lean/brief.toml");
        brief::parse(text).expect("the example reads").0
    })
}

fn read_log(bytes: &[u8]) {
    if let Ok((log, _)) = log::read(&text(bytes), Kilograms(68.0)) {
        let text = include_str!("../../examples/gain-then-lean/brief.toml");
        if let Ok(r) = review::review(example(), text, &log, None) {
            let _ = (report::review::text(&r), report::review::json(&r));
        }
    }
}

/// A day of an example, for files of plans.
fn day() -> &'static (Case, String) {
    static DAY: OnceLock<(Case, String)> = OnceLock::new();
    DAY.get_or_init(|| {
        let text =
            include_str!("../../examples/surplus-on-a-budget/brief.toml").replace("days = 7", "days = 1");
        let case = Case::read(&text).expect("the example reads");
        let plan = plan(
            case.pieces(),
            &case.energy,
            Work::of(case.brief.days, Some(60_000)),
        )
        .expect("a plan");
        assert!(plan.planned);
        (case, report::json::plan(&plan).to_string())
    })
}

fn read_plan(bytes: &[u8]) {
    let text = text(bytes);
    let (case, _) = day();
    if let Ok(days) = swap::read_plan(&text) {
        let _ = swap::remake(case.pieces(), &case.energy, &days);
    }
    if let Ok(side) = swap::read_side(&text) {
        let other = swap::read_side(&day().1).expect("the plan itself");
        let _ = swap::differences(&side, &other);
    }
}

const FDC: [&str; 8] = [
    "fdc_id,data_type,description,food_category_id\n1,foundation_food,A,9\n2,sample_food,B,9\n3,sr_legacy_food,\"C, raw\",10\n",
    "id,name,unit_name,nutrient_nbr\n1008,Energy,KCAL,208\n2047,Energy,KCAL,957\n1003,Protein,G,203\n1062,Energy,kJ,268\n1110,Vitamin D,IU,324\n",
    "fdc_id,nutrient_id,amount,derivation_id\n1,2047,90,1\n1,1003,5,1\n3,1008,120.5,2\n3,1003,,2\n2,1008,1,1\n",
    "fdc_id,NDB_number,footnote\n1,16087,\n",
    "id,code,description\n9,0900,Fruits\n10,1000,Pork\n",
    "fdc_id,amount,measure_unit_id,modifier,gram_weight\n1,1,1000,,240\n3,0.5,9999,slice,28\n",
    "id,name\n1000,cup\n9999,undetermined\n",
    "id,code,description\n1,A,Analytical\n2,LCCD,Calculated\n",
];

/// All files of a download, one after the other, with a separator between.
fn read_download(bytes: &[u8]) {
    let mut parts = bytes.split(|b| *b == b'\x1c').map(<[u8]>::to_vec);
    let mut next = || Box::new(std::io::Cursor::new(parts.next().unwrap_or_default()));
    let download = fdc::Download {
        food: next(),
        nutrient: next(),
        food_nutrient: next(),
        foundation_food: Some(next()),
        food_category: Some(next()),
        food_portion: Some(next()),
        measure_unit: Some(next()),
        food_nutrient_derivation: Some(next()),
    };
    use_foods(fdc::read(download, "invented"));
}

const RELEASE: [&str; 3] = [
    "~01001~^~0100~^~Butter, salted~^~BUTTER~^~~^~~^~Y~^~~^0^~~^6.38^4.27^8.79^3.87\n~01002~^~0100~^~Other~^~OTHER~^~~^~~^~~^~skin~^12^~~^^^^\n",
    "~203~^~g~^~PROCNT~^~Protein~^~2~^~600~\n~208~^~kcal~^~ENERC_KCAL~^~Energy~^~0~^~300~\n",
    "~01001~^~203~^0.85^16^0.074^~1~^~~^~~^~~^^^^^^^~~^11/1976^\n~01002~^~208~^717^0^^~4~^~NC~^~~^~~^^^^^^^~~^11/1976^\n",
];

fn read_release(bytes: &[u8]) {
    let mut parts = bytes.split(|b| *b == b'\x1c').map(<[u8]>::to_vec);
    let mut next = || Box::new(std::io::Cursor::new(parts.next().unwrap_or_default()));
    let release = ascii::Release {
        food_des: next(),
        nutr_def: next(),
        nut_data: next(),
        fd_group: None,
        weight: None,
        footnote: None,
        deriv_cd: None,
        src_cd: None,
    };
    use_foods(ascii::read(release, "old", "invented"));
}

const PANTRY: &str = "title = \"Left\"\n[[pantry]]\nwhat = \"white_rice\"\namount = \"1 lb 4 oz\"\nkeeps_days = 170\n\n[[pantry]]\nwhat = \"milk\"\namount = \"0,5 kg\"\n";
const LOG: &str = "date,weight,intake,followed\n2026-01-05,68.2,2900,yes\n2026-01-06,68.0,,90 %\n2026-01-07,68.4 kg,2850,no\n2026-01-12,68.5,2910,\n2026-01-19,68.9,2890,\n2026-01-26,69.1,3010,yes\n2026-02-02,69.4,2950,yes\n";

/// The first dishes of a kitchen, and an ingredient of a user's own.
fn dishes() -> String {
    let all = include_str!("../../foods/dishes/us.toml").replace("id = \"", "id = \"own_");
    let end = all.match_indices("[[dish]]").nth(3).map_or(all.len(), |m| m.0);
    format!(
        "[[ingredient]]\nfood = \"sr28:12036\"\nshort = \"seeds\"\nyield = 1\ncontains = []\n{}",
        &all[..end]
    )
}

fn price_list() -> String {
    let all = include_str!("../../foods/catalogue/prices/us.csv");
    let lines: Vec<&str> = all.lines().collect();
    let step = lines.len() / 12;
    let some = lines
        .iter()
        .enumerate()
        .filter(|(n, _)| n % step == 0)
        .map(|(_, l)| *l);
    some.collect::<Vec<_>>().join("\n")
}

fn joined(parts: &[&str]) -> String {
    parts.join("\x1c")
}

macro_rules! readers {
    ($($name:ident, $cases:literal, $read:path, $good:expr;)*) => {$(
        proptest! {
            #![proptest_config(config($cases))]
            #[test]
            fn $name(seed in any::<u64>(), edits in edits(), bytes in prop::collection::vec(any::<u8>(), 0..200)) {
                let good: String = $good(seed);
                $read(good.as_bytes());
                $read(&damaged(&good, &edits));
                $read(&bytes);
            }
        }
    )*};
}

readers! {
    any_brief_is_read_or_refused, 60, read_brief, |seed| match seed % 3 {
        0 => include_str!("../full.toml").to_string(),
        _ => invented(seed, 1..=2).text(),
    };
    any_list_of_what_is_at_home_is_read_or_refused, 300, read_pantry, |_| PANTRY.to_string();
    any_claim_is_read_or_refused, 200, read_claim, |_| claim::STARTER.to_string();
    any_foods_are_read_or_refused, 300, read_foods, |_| include_str!("../../foods/user-template.csv").to_string();
    any_prices_are_read_or_refused, 300, read_prices, |_| price_list();
    any_dishes_are_read_or_refused, 60, read_dishes, |_| dishes();
    any_log_is_read_or_refused, 120, read_log, |_| LOG.to_string();
    any_plan_is_read_or_refused, 60, read_plan, |_| day().1.clone();
    any_download_is_read_or_refused, 300, read_download, |_| joined(&FDC);
    any_release_is_read_or_refused, 300, read_release, |_| joined(&RELEASE);
}
