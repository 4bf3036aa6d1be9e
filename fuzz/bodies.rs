//! What each fuzz target does with its bytes: reads them as one of the inputs of the library and checks what
//! must hold whatever they are. Shared by `fuzz_targets/` and by `tests/fuzz_replay.rs`, which plays the
//! seeds and every past find again.

use platewright::brief::{self, Amount, Brief, Read};
use platewright::diagnostic::{Diagnostic, any_error};
use platewright::energy::{self, EnergyBudget};
use platewright::foods::{Content, Food, FoodTable, fdc, search, user};
use platewright::kitchen::dish::serving;
use platewright::kitchen::{Catalogue, Source};
use platewright::model::build::Pieces;
use platewright::nutrient::Nutrient;
use platewright::prices::PriceList;
use platewright::review::{self, log};
use platewright::swap::{self, Edit};
use platewright::units::Kilograms;
use platewright::{appraise, cli, household, report, targets, units};
use std::collections::BTreeSet;
use std::ops::Range;
use std::sync::LazyLock;

/// The foods of the bundled table.
static TABLE: LazyLock<FoodTable> = LazyLock::new(FoodTable::bundled);

/// The bundled catalogue.
static CATALOGUE: LazyLock<Catalogue> =
    LazyLock::new(|| Catalogue::bundled(&TABLE).expect("the bundled data are sound"));

/// Ingredients that the seeds of the dishes cook with.
const RAW: [&str; 9] = [
    "sr28:01079",
    "sr28:01145",
    "sr28:02047",
    "sr28:04582",
    "sr28:08120",
    "sr28:11282",
    "sr28:16139",
    "sr28:16144",
    "sr28:23562",
];

/// What dishes are read into: two kitchens and a few ingredients, so that it is cloned fast.
static SMALL: LazyLock<Catalogue> = LazyLock::new(|| {
    let mut c = CATALOGUE.clone();
    c.kitchens
        .retain(|k| ["us", "north_india"].contains(&k.id.as_str()));
    c.items.truncate(3);
    c.ingredients.retain(|id, _| RAW.contains(&id.as_str()));
    let products: BTreeSet<String> = c.ingredients.values().map(|i| i.product.clone()).collect();
    c.products.retain(|id, _| products.contains(id));
    c
});

/// Loads the data that the bodies share, so that no input pays for it.
pub fn load() {
    LazyLock::force(&SMALL);
}

/// A brief whose log is reviewed.
const REVIEWED: &str = include_str!("../examples/gain-then-lean/brief.toml");

/// A brief of one day, for plans that are made again.
const ONE_DAY: &str = include_str!("one-day.toml");

/// What a mistake or remark about a text must be: its places lie in the text and between characters, its
/// line is one of the text, and it can be drawn.
fn sound(text: &str, problems: &[Diagnostic]) {
    let lines = text.split(['\n', '\r']).count();
    for d in problems {
        assert!(!d.message.trim().is_empty(), "no message: {d:?}");
        for span in &d.spans {
            within(text, &span.range);
        }
        if let Some(line) = d.line {
            assert!((1..=lines).contains(&line), "line {line} of {lines}: {d:?}");
        }
    }
    if !problems.is_empty() {
        let placed = problems.iter().any(|d| !d.spans.is_empty());
        let drawn = cli::draw::draw_plain("file", if placed { text } else { "" }, problems);
        assert!(drawn.contains(problems[0].code), "{drawn}");
    }
}

fn within(text: &str, range: &Range<usize>) {
    assert!(
        text.get(range.clone()).is_some(),
        "{range:?} of {} bytes",
        text.len()
    );
}

/// A refusal says why.
fn refused(text: &str, problems: &[Diagnostic]) {
    assert!(any_error(problems), "refused without an error: {problems:?}");
    sound(text, problems);
}

/// A place of a brief holds a text in quotes.
fn quoted<T>(text: &str, read: &Read<T>) {
    let there = text.get(read.span.clone()).unwrap_or_default();
    let mark = there.chars().next();
    assert!(
        matches!(mark, Some('"' | '\'')) && there.len() > 1 && there.chars().next_back() == mark,
        "{:?} is `{there}`",
        read.span
    );
}

/// The least number above zero.
const ABOVE_ZERO: f64 = f64::from_bits(1);

fn finite(what: &str, value: f64, least: f64) {
    assert!(value.is_finite() && value >= least, "{what} is {value}");
}

/// A brief: its places are where it was read, energy and targets follow, and what a swap writes of it is a
/// brief again.
pub fn brief(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    let (b, remarks) = match brief::parse(&text) {
        Ok(read) => read,
        Err(problems) => return refused(&text, &problems),
    };
    assert!(!any_error(&remarks), "taken with an error: {remarks:?}");
    sound(&text, &remarks);
    places(&text, &b);
    assert!((1..=28).contains(&b.days) && !b.phases.is_empty());
    if let Some(money) = b.budget {
        assert!(money.amount > Default::default(), "a budget of {money}");
    }
    for entry in &b.pantry {
        finite("an amount at home", entry.grams, 0.0);
    }
    for item in b.locks.iter().flat_map(|l| &l.items) {
        let (Amount::Servings(amount) | Amount::Grams(amount)) = item.1;
        finite("a locked amount", amount, 0.0);
    }
    match energy::budget(&b) {
        Err(problems) => refused(&text, &problems),
        Ok(e) => {
            budgeted(&text, &b, &e);
            let mut settled = b.clone();
            match household::settle(&mut settled, &e) {
                Ok(()) => finite("the portions", settled.portions(), 1.0),
                Err(problems) => refused(&text, &problems),
            }
        }
    }
    match energy::course(&b) {
        Err(problems) => refused(&text, &problems),
        Ok(course) => {
            for week in [1, course.weeks() / 2, course.weeks()] {
                match course.week(&b, week.max(1)) {
                    Ok((then, e)) => budgeted(&text, &then, &e),
                    Err(problems) => refused(&text, &problems),
                }
            }
        }
    }
    rewritten(&text, &b);
}

fn places(text: &str, b: &Brief) {
    quoted(text, &b.region);
    let lists = [&b.diets, &b.allergies, &b.likes, &b.dislikes];
    for read in lists.into_iter().flatten().chain(&b.equation) {
        quoted(text, read);
    }
    b.pantry.iter().for_each(|p| quoted(text, &p.what));
    b.slots.iter().for_each(|s| quoted(text, &s.slot));
    b.usual.iter().for_each(|u| quoted(text, &u.item));
    for lock in &b.locks {
        quoted(text, &lock.slot);
        lock.items.iter().for_each(|(item, _)| quoted(text, item));
        within(text, &lock.span);
    }
    b.screen.yes.iter().for_each(|s| within(text, &s.span));
    b.phases.iter().for_each(|p| within(text, &p.span));
    b.targets.iter().for_each(|t| within(text, &t.span));
    b.household.iter().for_each(|m| within(text, &m.span));
}

fn budgeted(text: &str, b: &Brief, e: &EnergyBudget) {
    for spread in [e.resting, e.expenditure] {
        finite("an energy", spread.low.0, 0.0);
        assert!(
            spread.low <= spread.middle && spread.middle <= spread.high,
            "{spread:?}"
        );
        finite("an energy", spread.high.0, 0.0);
    }
    finite("the intake", e.intake.0, 0.0);
    let (all, problems) = targets::derive(b, e);
    sound(text, &problems);
    if any_error(&problems) {
        return;
    }
    let mut ids = BTreeSet::new();
    for t in &all {
        assert!(ids.insert(&t.id), "{} stands twice", t.id);
        for (what, bound) in [("floor", t.floor), ("ceiling", t.ceiling), ("centre", t.centre)] {
            if let Some(bound) = bound {
                finite(&format!("the {what} of {}", t.id), bound, 0.0);
            }
        }
        if let (Some(floor), Some(ceiling)) = (t.floor, t.ceiling) {
            assert!(floor <= ceiling, "{}: {floor} to {ceiling}", t.id);
        }
    }
    assert!(!report::targets::text(b, e, &all).is_empty());
}

/// What a swap writes is a brief with the changes in it.
fn rewritten(text: &str, b: &Brief) {
    let word = "lentils \"red\"";
    let edits = [
        Edit::Dislike(word.into()),
        Edit::Allergy("peanut".into()),
        Edit::Region("elsewhere".into()),
        Edit::NoBudget,
    ];
    let new = swap::rewrite(text, b, &edits);
    let liked = b.likes.iter().any(|l| l.value == word);
    match brief::parse(&new) {
        Ok((then, _)) => {
            let has = |list: &[Read<String>], word: &str| list.iter().any(|r| r.value == word);
            assert!(
                has(&then.dislikes, word) && has(&then.allergies, "peanut"),
                "{new}"
            );
            assert_eq!(then.region.value, "elsewhere", "{new}");
            assert_eq!(then.budget, None, "{new}");
            assert_eq!(
                (then.dislikes.len(), &then.person),
                (b.dislikes.len() + usize::from(!has(&b.dislikes, word)), &b.person)
            );
        }
        Err(problems) => assert!(liked, "{problems:?}\n{new}"),
    }
}

/// Nutrients and portions of a food are amounts.
fn food(f: &Food) {
    assert!(!f.name.trim().is_empty() && !f.id.as_str().is_empty(), "{f:?}");
    for (nutrient, content) in f.known() {
        if let Content::Known(amount) = content {
            finite(nutrient.id(), amount, 0.0);
        }
        if let Some(detail) = f.value_detail(nutrient) {
            let _ = format!("{:?}", detail.provenance);
        }
    }
    for p in &f.portions {
        finite("a portion", p.amount, 0.0);
        finite("its grams", p.grams, ABOVE_ZERO);
    }
    if let Some(percent) = f.refuse_percent {
        finite("refuse", percent, 0.0);
    }
}

fn table_of(foods: &[Food]) {
    let mut table = FoodTable::empty();
    table.add(foods.iter().cloned());
    for f in foods.iter().take(4) {
        assert!(table.contains(&f.id));
        search::find(&table, &f.name, 3);
    }
}

/// A list of foods of a user's own.
pub fn foods(data: &[u8]) {
    let reading = user::read(data);
    // Lines are counted in the text that a byte-order mark stands before.
    sound(&String::from_utf8_lossy(data), &reading.problems);
    reading.foods.iter().for_each(food);
    table_of(&reading.foods);
    let _ = user::replacing_nothing(&reading.foods, &TABLE);
    assert!(
        !reading.foods.is_empty() || !reading.problems.is_empty(),
        "neither foods nor problems"
    );
}

/// A price list.
pub fn prices(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    let source = Source {
        name: "own.csv",
        text: &text,
    };
    match PriceList::read(&source, &CATALOGUE) {
        Err(problems) => refused(&text, &problems),
        Ok(list) => {
            assert!(!list.prices.is_empty());
            for p in list.prices.values() {
                assert!(p.price > Default::default(), "{p:?}");
                finite("the grams", p.grams, ABOVE_ZERO);
                finite("the price of a gram", p.per_gram(), ABOVE_ZERO);
                for grams in [0.0, 0.01, 100.0, 100_000.0] {
                    assert!(p.cost(grams) >= Default::default());
                }
            }
        }
    }
}

/// A file of dishes.
pub fn dishes(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    let source = Source {
        name: "own.toml",
        text: &text,
    };
    let mut c = SMALL.clone();
    let had = c.items.len();
    match c.add_dishes(&TABLE, &[source]) {
        Err(problems) => refused(&text, &problems),
        Ok(remarks) => sound(&text, &remarks),
    }
    for item in &c.items[had..] {
        let s = serving(&TABLE, item);
        for n in Nutrient::all() {
            finite(n.id(), s.cooked[n.index()], 0.0);
            finite(n.id(), s.raw[n.index()], 0.0);
            assert!((0.0..=1.0 + 1e-9).contains(&s.known[n.index()]), "{}", n.id());
        }
        finite("a serving", item.serving_grams(), ABOVE_ZERO);
        for (_, grams) in c.bought(item) {
            finite("what is bought", grams, 0.0);
        }
        let _ = (
            c.contains(item),
            c.fits(item),
            c.growth(item, 2500.0),
            c.asked_for(item),
        );
        assert!(
            item.step > 0.0 && item.step <= item.least && item.least <= item.most,
            "{item:?}"
        );
        assert!(item.dish.as_ref().is_some_and(|d| d.boiled_off() >= 0.0));
    }
    let read: Vec<_> = c.items[had..].iter().collect();
    let _ = report::dishes::list_text(&TABLE, &read);
}

/// A log of weigh-ins, read for a brief and reviewed against it.
pub fn log(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    let (b, _) = brief::parse(REVIEWED).expect("the brief of the example is sound");
    let (read, remarks) = match log::read(&text, b.person.weight) {
        Ok(read) => read,
        Err(problems) => return refused(&text, &problems),
    };
    sound(&text, &remarks);
    assert!(!read.entries.is_empty());
    assert!(
        read.entries.is_sorted_by(|a, b| a.day < b.day),
        "not one entry a day"
    );
    let mut again = String::from("date,weight kg,intake kcal,adherence\n");
    for e in &read.entries {
        let day = log::date(e.day);
        assert_eq!(log::day(&day), Some(e.day), "{day}");
        if let Some(kg) = e.weight {
            finite("a weight", kg, 25.0);
            assert!(kg <= 400.0);
        }
        if let Some(kcal) = e.intake {
            finite("an intake", kcal, 100.0);
        }
        let cell = |v: Option<f64>| v.map_or_else(String::new, |v| v.to_string());
        let followed = match e.adherence {
            None => String::new(),
            Some(None) => "no".into(),
            Some(Some(share)) => format!("{} %", 100.0 * share),
        };
        again += &format!("{day},{},{},{followed}\n", cell(e.weight), cell(e.intake));
    }
    // The same log as a plain table is the same log.
    let (twin, _) = log::read(&again, b.person.weight).expect("a plain table is read");
    let bare = |l: &log::Log| -> Vec<_> {
        let day = |e: &log::Entry| (e.day, e.weight, e.intake, e.adherence.is_some());
        l.entries.iter().map(day).collect()
    };
    assert_eq!(bare(&twin), bare(&read), "{again}");
    for start in [None, read.entries.get(1).map(|e| e.day)] {
        match review::review(&b, REVIEWED, &read, start) {
            Err(problems) => refused("", &problems),
            Ok(r) => {
                if let Some(next) = &r.next {
                    let (then, _) = brief::parse(&next.brief).expect("what a review writes is a brief");
                    budgeted(&next.brief, &then, &next.energy);
                }
                assert!(!report::review::text(&r).is_empty());
            }
        }
    }
}

/// The files of a FoodData Central download, one after the other: a line `@name` begins each.
pub fn fdc(data: &[u8]) {
    let part = |name: &str| -> Option<&[u8]> {
        let mark = format!("@{name}\n");
        let mut at = 0;
        while at < data.len() {
            let end = data[at..]
                .iter()
                .position(|b| *b == b'\n')
                .map_or(data.len(), |n| at + n + 1);
            if &data[at..end] == mark.as_bytes() {
                let rest = &data[end..];
                let next = rest
                    .windows(2)
                    .position(|w| w == b"\n@")
                    .map_or(rest.len(), |n| n + 1);
                return Some(if rest.starts_with(b"@") {
                    &[]
                } else {
                    &rest[..next]
                });
            }
            at = end;
        }
        None
    };
    fn boxed<'a>(bytes: Option<&'a [u8]>) -> Option<Box<dyn std::io::Read + 'a>> {
        bytes.map(|b| Box::new(b) as Box<dyn std::io::Read + 'a>)
    }
    let must = |name| Box::new(part(name).unwrap_or_default());
    let download = fdc::Download {
        food: must("food"),
        nutrient: must("nutrient"),
        food_nutrient: must("food_nutrient"),
        foundation_food: boxed(part("foundation_food")),
        food_category: boxed(part("food_category")),
        food_portion: boxed(part("food_portion")),
        measure_unit: boxed(part("measure_unit")),
        food_nutrient_derivation: boxed(part("food_nutrient_derivation")),
    };
    let reading = fdc::read(download, "fuzz");
    sound(&String::from_utf8_lossy(data), &reading.problems);
    reading.foods.iter().for_each(food);
    assert!(reading.foods.iter().all(|f| f.id.as_str().starts_with("fdc:")));
    table_of(&reading.foods);
    assert!(!reading.foods.is_empty() || any_error(&reading.problems));
}

/// A claim, appraised when it can be read.
pub fn claim(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    match brief::claim::parse(&text) {
        Err(problems) => refused(&text, &problems),
        Ok((claim, remarks)) => {
            sound(&text, &remarks);
            claim.stages.iter().for_each(|s| within(&text, &s.span));
            match appraise::appraise(&claim) {
                Ok(a) => assert!(!report::appraise::text(&a).is_empty()),
                Err(problems) => refused(&text, &problems),
            }
        }
    }
}

/// A list of what is at home.
pub fn pantry(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    match brief::parse_pantry(&text) {
        Err(problems) => refused(&text, &problems),
        Ok((entries, remarks)) => {
            sound(&text, &remarks);
            for e in &entries {
                quoted(&text, &e.what);
                finite("an amount at home", e.grams, 0.0);
            }
        }
    }
}

/// A plan in JSON: read for a swap, made again, and compared.
pub fn plan(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    match swap::read_plan(&text) {
        Err(problem) => refused("", &[problem]),
        Ok(days) => {
            let (mut b, _) = brief::parse(ONE_DAY).expect("the brief is sound");
            if let Ok(side) = swap::read_side(&text) {
                b.title = side.title;
            }
            let energy = energy::budget(&b).expect("and its energy");
            let (targets, _) = targets::derive(&b, &energy);
            let pieces = Pieces {
                brief: &b,
                intake_kcal: energy.intake.0,
                targets: &targets,
                kitchen: CATALOGUE.kitchen(&b.region.value).expect("a kitchen of the data"),
                catalogue: &CATALOGUE,
                table: &TABLE,
                prices: None,
            };
            match swap::remake(pieces, &energy, &days) {
                Err(problems) => refused("", &problems),
                Ok(plan) => {
                    assert_eq!(plan.days.len(), 1);
                    // What is left over is a list of what is at home.
                    let left = report::pantry::toml(&plan);
                    let (read, _) = brief::parse_pantry(&left).expect("what is left can be read");
                    let keep = plan.left.iter().filter(|l| l.keeps_days > 0).count();
                    assert_eq!(read.len(), keep, "{left}");
                }
            }
        }
    }
    match swap::read_side(&text) {
        Err(problem) => refused("", &[problem]),
        Ok(side) => {
            let same = swap::differences(&side, &side);
            assert!(same.changed.is_empty() && same.shopping.is_empty(), "{same:?}");
            let _ = report::compare::text(&side, &side, &same, report::amount::Units::Metric);
            let _ = report::compare::json(&side, &side, &same);
        }
    }
}

/// Amounts as people write them.
pub fn amounts(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    let least = 0.0;
    if let Ok(parts) = units::split(&text) {
        assert!(!parts.is_empty());
        for p in &parts {
            finite("a number", p.value, least);
            let again = units::single(&p.number).expect("a plain number is read");
            assert_eq!((again.value, again.unit.as_str()), (p.value, ""));
        }
    }
    if let Ok(cm) = units::length(&text) {
        finite("a length", cm.0, least);
    }
    if let Ok(kg) = units::body_mass(&text) {
        finite("a mass", kg.0, least);
        let Kilograms(same) = units::body_mass(&format!("{} kg", kg.0)).expect("kilograms are read");
        assert!((same - kg.0).abs() <= 1e-12 * kg.0, "{same} {}", kg.0);
    }
    if let Ok(kcal) = units::energy(&text) {
        finite("an energy", kcal.0, least);
    }
    if let Ok(g) = units::food_mass(&text) {
        finite("a mass", g.0, least);
    }
    if let Ok(share) = units::share(&text) {
        finite("a share", share, least);
    }
    match units::weekly_rate(&text) {
        Ok(units::WeeklyRate::Share(s)) => finite("a rate", s, least),
        Ok(units::WeeklyRate::Mass(kg)) => finite("a rate", kg.0, least),
        Err(_) => {}
    }
    let _ = units::nutrient_quantity(&text);
    if let Some(day) = log::day(&text) {
        assert_eq!(log::day(&log::date(day)), Some(day));
    }
}
