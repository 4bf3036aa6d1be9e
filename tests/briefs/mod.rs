//! Invented briefs at random, for tests: the same seed gives the same brief on every machine. All kitchens,
//! diets, sexes, ages, phases and tables of a brief come up; what a brief of this module says is allowed, though
//! not every one has a plan. The people are invented.
#![allow(dead_code)]

use fastrand::Rng;
use platewright::brief::{self, Brief};
use platewright::diagnostic::any_error;
use platewright::energy::{self, EnergyBudget, GateAction};
use platewright::foods::FoodTable;
use platewright::household;
use platewright::kitchen::{Catalogue, Item, Kitchen, Rule};
use platewright::model::build::Pieces;
use platewright::prices::PriceList;
use platewright::targets::{self, Target};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use std::sync::OnceLock;

pub fn table() -> &'static FoodTable {
    static TABLE: OnceLock<FoodTable> = OnceLock::new();
    TABLE.get_or_init(FoodTable::bundled)
}

pub fn catalogue() -> &'static Catalogue {
    static CATALOGUE: OnceLock<Catalogue> = OnceLock::new();
    CATALOGUE.get_or_init(|| Catalogue::bundled(table()).expect("the bundled catalogue has no problem"))
}

pub fn prices(kitchen: &str) -> &'static PriceList {
    static LISTS: OnceLock<BTreeMap<String, PriceList>> = OnceLock::new();
    let lists = LISTS.get_or_init(|| {
        let list = |k: &Kitchen| Some((k.id.clone(), PriceList::bundled(&k.id, catalogue()).ok()??));
        catalogue().kitchens.iter().filter_map(list).collect()
    });
    &lists[kitchen]
}

/// How many of something random a test looks at: `default`, or what the environment asks for.
pub fn how_many(default: u64) -> u64 {
    let asked = std::env::var("PLATEWRIGHT_BRIEFS").ok();
    asked.map_or(default, |n| n.parse().expect("PLATEWRIGHT_BRIEFS is a number"))
}

/// A brief in pieces that can be left out one by one.
#[derive(Clone, Debug)]
pub struct Invented {
    /// Lines of the top table that a brief needs.
    needed: Vec<String>,
    /// Lines of the top table that it can do without.
    top: Vec<String>,
    /// Lines of `[person]` that it can do without.
    person: Vec<String>,
    /// The tables it needs: person, activity, phase.
    tables: [String; 3],
    /// Tables it can do without.
    more: Vec<String>,
}

impl Invented {
    pub fn text(&self) -> String {
        let [person, activity, phase] = &self.tables;
        format!(
            "{}\n{}\n{person}\n{}\n{activity}\n{phase}\n{}\n",
            self.needed.join("\n"),
            self.top.join("\n"),
            self.person.join("\n"),
            self.more.join("\n")
        )
    }

    /// The same with one thing less, for each thing it can do without.
    fn less(&self) -> Vec<Invented> {
        let mut all = Vec::new();
        for part in 0..3 {
            let count = [self.more.len(), self.top.len(), self.person.len()][part];
            for n in 0..count {
                let mut less = self.clone();
                [&mut less.more, &mut less.top, &mut less.person][part].remove(n);
                all.push(less);
            }
        }
        all
    }

    /// The least brief that still fails: things are left out as long as it does.
    pub fn least(self, fails: &dyn Fn(&str) -> bool) -> Invented {
        let reads = |b: &Invented| brief::parse(&b.text()).is_ok();
        match self.less().into_iter().find(|b| reads(b) && fails(&b.text())) {
            Some(less) => less.least(fails),
            None => self,
        }
    }
}

/// Money for a day of 2,500 kcal in the currency of a kitchen, about twice the cheapest; to draw budgets around.
fn day_of_money(kitchen: &str) -> (f64, &'static str) {
    match kitchen {
        "north_india" | "south_india" => (220.0, "INR"),
        "uk" => (6.0, "GBP"),
        "us" => (9.0, "USD"),
        "mexico" => (130.0, "MXN"),
        "west_africa" => (4000.0, "NGN"),
        "mediterranean" => (8.0, "EUR"),
        "east_asia" => (1200.0, "JPY"),
        other => panic!("no money for the kitchen {other}"),
    }
}

fn between(rng: &mut Rng, low: f64, high: f64) -> f64 {
    low + (high - low) * rng.f64()
}

fn one<'a, T>(rng: &mut Rng, list: &'a [T]) -> &'a T {
    &list[rng.usize(..list.len())]
}

fn chance(rng: &mut Rng, share: f64) -> bool {
    rng.f64() < share
}

/// A brief for so many days.
pub fn invented(seed: u64, days: RangeInclusive<u32>) -> Invented {
    let rng = &mut Rng::with_seed(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5DEE_CE66);
    let c = catalogue();
    let kitchen = one(rng, &c.kitchens);
    let days = rng.u32(days);
    let mut b = Invented {
        needed: vec![
            format!("title = \"Invented {seed}\""),
            format!("region = \"{}\"", kitchen.id),
            format!("days = {days}"),
            format!("seed = {}", rng.u32(0..1000)),
        ],
        top: Vec::new(),
        person: Vec::new(),
        tables: [String::new(), String::new(), String::new()],
        more: Vec::new(),
    };
    let rules = rules(rng, &mut b);
    let allowed: Vec<&Item> = c
        .items
        .iter()
        .filter(|i| i.regions.contains(&kitchen.id) && fits(i, &rules))
        .collect();
    who(rng, &mut b);
    if chance(rng, 0.35) {
        let (usual, currency) = day_of_money(&kitchen.id);
        let budget = usual * f64::from(days) * between(rng, 0.35, 1.6);
        b.top.push(format!("budget = \"{budget:.2} {currency}\""));
    }
    let objective = *one(rng, &["cost", "cost", "closeness", "usual"]);
    if !allowed.is_empty() {
        wishes(rng, &mut b, kitchen, &allowed, objective, days);
    }
    b.needed.push(format!(
        "objective = \"{}\"",
        if allowed.is_empty() { "cost" } else { objective }
    ));
    limits(rng, &mut b, kitchen);
    if chance(rng, 0.25) {
        let cook: Vec<String> = (1..=days)
            .filter(|d| *d == 1 || rng.bool())
            .map(|d| d.to_string())
            .collect();
        b.more.push(format!(
            "[cooking]\ndays = [{}]\nquick_minutes = {}",
            cook.join(", "),
            one(rng, &[10, 15, 20, 30])
        ));
    }
    for n in 0..*one(rng, &[0, 0, 0, 1, 2]) {
        b.more.push(member(rng, n));
    }
    b
}

fn fits(item: &Item, rules: &[&Rule]) -> bool {
    let has = catalogue().contains(item);
    has.is_some_and(|has| {
        rules.iter().all(|r| {
            let apart = r.apart.len() == 2 && r.apart.iter().all(|g| g.iter().any(|f| has.contains(f)));
            !apart && !r.excludes.iter().any(|f| has.contains(f))
        })
    })
}

/// Diets and allergies, written into the brief.
fn rules(rng: &mut Rng, b: &mut Invented) -> Vec<&'static Rule> {
    let c = catalogue();
    let mut all = Vec::new();
    for (key, known, shares) in [
        ("diet", &c.diets, [0.6, 0.1]),
        ("allergies", &c.allergens, [0.3, 0.3]),
    ] {
        let mut ids: Vec<String> = Vec::new();
        for share in shares {
            if ids.len() < 2 && chance(rng, share) {
                let rule = one(rng, known);
                if !ids.contains(&rule.id) {
                    ids.push(rule.id.clone());
                    all.push(rule);
                }
            }
        }
        if !ids.is_empty() {
            b.top.push(format!("{key} = {ids:?}"));
        }
    }
    all
}

/// Height in cm, weight in kg and lines for them, within what may be planned for.
fn body(rng: &mut Rng) -> String {
    let sex = *one(rng, &["female", "male"]);
    let age = rng.u32(18..=85);
    let height = if sex == "female" {
        between(rng, 148.0, 184.0)
    } else {
        between(rng, 158.0, 200.0)
    };
    let weight = between(rng, 19.5, 36.0) * (height / 100.0) * (height / 100.0);
    format!("sex = \"{sex}\"\nage = {age}\nheight = \"{height:.0} cm\"\nweight = \"{weight:.1} kg\"")
}

fn who(rng: &mut Rng, b: &mut Invented) {
    b.tables[0] = format!("[person]\n{}", body(rng));
    let female = b.tables[0].contains("female");
    if chance(rng, 0.3) {
        let fat = if female { rng.u32(18..45) } else { rng.u32(10..38) };
        b.person.push(format!("body_fat = \"{fat} %\""));
    }
    if chance(rng, 0.6) {
        let training = one(rng, &["novice", "intermediate", "advanced"]);
        b.person.push(format!("training = \"{training}\""));
    }
    if chance(rng, 0.2) {
        let population = one(rng, &["south_asian", "asian"]);
        b.person.push(format!("population = \"{population}\""));
    }
    b.tables[1] = match rng.u32(0..4) {
        0 => format!("[activity]\npal = {:.2}", between(rng, 1.3, 2.2)),
        1 => format!("[activity]\nexpenditure = \"{} kcal\"", rng.u32(1800..3600)),
        _ => format!(
            "[activity]\nlevel = \"{}\"",
            one(rng, &["inactive", "low_active", "active", "very_active"])
        ),
    };
    b.tables[2] = match rng.u32(0..6) {
        0 => format!(
            "[[phase]]\nkind = \"gain\"\nsurplus = \"{} kcal\"",
            rng.u32(100..450)
        ),
        1 => "[[phase]]\nkind = \"gain\"".to_string(),
        2 => format!(
            "[[phase]]\nkind = \"lose\"\ndeficit = \"{} kcal\"",
            rng.u32(100..600)
        ),
        3 => format!(
            "[[phase]]\nkind = \"lose\"\nrate = \"{:.2} %/week\"",
            between(rng, 0.1, 0.8)
        ),
        _ => "[[phase]]\nkind = \"hold\"".to_string(),
    };
    if rng.bool() {
        b.tables[2].push_str(&format!("\nweeks = {}", rng.u32(1..20)));
    }
}

/// Likes, dislikes, the usual week, fixed meals and what is at home.
fn wishes(rng: &mut Rng, b: &mut Invented, kitchen: &Kitchen, allowed: &[&Item], objective: &str, days: u32) {
    let liked = one(rng, allowed);
    let disliked = one(rng, allowed);
    if chance(rng, 0.25) {
        b.top.push(format!("likes = [\"{}\"]", liked.id));
    }
    if chance(rng, 0.25) && disliked.id != liked.id {
        b.top.push(format!("dislikes = [\"{}\"]", disliked.id));
    }
    if objective == "usual" {
        for _ in 0..rng.usize(2..12) {
            let item = one(rng, allowed);
            let word = format!("[[usual]]\nitem = \"{}\"\n", item.id);
            if !b.more.iter().any(|t| t.starts_with(&word)) {
                b.more.push(format!(
                    "{word}times = {}\nservings = {:.1}",
                    rng.u32(1..8),
                    item.least
                ));
            }
        }
    }
    if chance(rng, 0.25) {
        let slot = &one(rng, &kitchen.slots).id;
        let here: Vec<&&Item> = allowed.iter().filter(|i| i.slots.contains(slot)).collect();
        if !here.is_empty() {
            let (one_item, day) = (one(rng, &here), rng.u32(1..=days));
            let amount = if rng.bool() {
                format!("servings = {}", one_item.least)
            } else {
                format!(
                    "grams = {:.0}",
                    (one_item.serving_grams() * one_item.least).max(1.0)
                )
            };
            b.more.push(format!(
                "[[lock]]\ndays = [{day}]\nslot = \"{slot}\"\nitems = [ {{ item = \"{}\", {amount} }} ]",
                one_item.id
            ));
        }
    }
    let priced: Vec<&String> = prices(&kitchen.id).prices.keys().collect();
    for _ in 0..*one(rng, &[0, 0, 1, 3]) {
        let product = *one(rng, &priced);
        let word = format!("[[pantry]]\nwhat = \"{product}\"\n");
        if !b.more.iter().any(|t| t.starts_with(&word)) {
            b.more.push(format!("{word}amount = \"{} g\"", rng.u32(50..2000)));
        }
    }
}

/// Targets and shares of slots.
fn limits(rng: &mut Rng, b: &mut Invented, kitchen: &Kitchen) {
    let choices = [
        "nutrient = \"protein\"\nfloor = \"1.5 g/kg\"\nscope = \"day\"",
        "nutrient = \"protein\"\nfloor = \"15 g\"\nscope = \"meal\"",
        "nutrient = \"protein\"\nceiling = \"30 % energy\"",
        "nutrient = \"sodium\"\nceiling = \"2000 mg\"",
        "nutrient = \"fibre\"\nfloor = \"32 g\"",
        "nutrient = \"calcium\"\noff = true",
        "nutrient = \"saturated_fat\"\nceiling = \"9 % energy\"",
        "nutrient = \"iron\"\nfloor = \"12 mg\"",
        "nutrient = \"fat\"\nceiling = \"30 % energy\"\nscope = \"mean\"",
    ];
    let mut nutrients: Vec<&str> = Vec::new();
    for _ in 0..*one(rng, &[0, 0, 1, 2]) {
        let target = *one(rng, &choices);
        let nutrient = target.lines().next().unwrap_or_default();
        if !nutrients.contains(&nutrient) {
            nutrients.push(nutrient);
            b.more.push(format!("[[target]]\n{target}"));
        }
    }
    if chance(rng, 0.2) {
        let slot = one(rng, &kitchen.slots);
        let share = if slot.main {
            rng.u32(20..36)
        } else {
            *one(rng, &[0, 0, 5, 8, 12])
        };
        b.more
            .push(format!("[[slot]]\nid = \"{}\"\nshare = \"{share} %\"", slot.id));
    }
}

fn member(rng: &mut Rng, n: u32) -> String {
    let portion = if rng.bool() {
        format!("\nportion = {:.2}", between(rng, 0.4, 1.6))
    } else {
        String::new()
    };
    format!(
        "[[household]]\ntitle = \"Member {n}\"\n{}\nlevel = \"{}\"{portion}",
        body(rng),
        one(rng, &["inactive", "low_active", "active"])
    )
}

/// A brief that has been read, with everything a model is built from.
pub struct Case {
    pub text: String,
    pub brief: Brief,
    pub energy: EnergyBudget,
    pub targets: Vec<Target>,
    pub kitchen: &'static Kitchen,
    pub prices: &'static PriceList,
}

impl Case {
    /// Reads a brief; `None` when a safety gate stops it or what it asks contradicts a limit of the tool.
    pub fn read(text: &str) -> Option<Case> {
        let (mut brief, _) = brief::parse(text).unwrap_or_else(|e| panic!("the brief reads: {e:#?}\n{text}"));
        let energy = match energy::budget(&brief) {
            Ok(energy) => energy,
            // A lean body has no such loss in it.
            Err(problems) if problems.iter().all(|p| p.code == "phase-goal") => return None,
            Err(problems) => panic!("an energy budget: {problems:#?}\n{text}"),
        };
        if energy.gates.iter().any(|g| g.action == GateAction::Stop) {
            return None;
        }
        household::settle(&mut brief, &energy).unwrap_or_else(|e| panic!("portions: {e:#?}\n{text}"));
        let (targets, problems) = targets::derive(&brief, &energy);
        if any_error(&problems) {
            return None;
        }
        let kitchen = catalogue().kitchen(&brief.region.value).expect("a kitchen");
        Some(Case {
            text: text.to_string(),
            prices: prices(&kitchen.id),
            brief,
            energy,
            targets,
            kitchen,
        })
    }

    pub fn pieces(&self) -> Pieces<'_> {
        Pieces {
            brief: &self.brief,
            intake_kcal: self.energy.intake.0,
            targets: &self.targets,
            kitchen: self.kitchen,
            catalogue: catalogue(),
            table: table(),
            prices: Some(self.prices),
        }
    }
}

/// The next `count` cases from a seed on that can be read, with their seeds and briefs.
pub fn cases(
    from: u64,
    count: u64,
    days: RangeInclusive<u32>,
) -> impl Iterator<Item = (u64, Invented, Case)> {
    (from..)
        .filter_map(move |seed| {
            let brief = invented(seed, days.clone());
            let case = Case::read(&brief.text())?;
            Some((seed, brief, case))
        })
        .take(count as usize)
}
