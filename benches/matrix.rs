//! Whether a week is found for every kitchen, diet and size of day, and how far it lies from its bound.
//!
//! `cargo run --release --example matrix -- [moves=N] [seeds=N] [word ...]`: one line for each brief whose
//! name holds all words, then counts. The people are invented.

use platewright::foods::FoodTable;
use platewright::kitchen::Catalogue;
use platewright::model::build::Pieces;
use platewright::plan::{Work, plan};
use platewright::prices::PriceList;
use platewright::targets::Strength;
use platewright::{brief, energy, targets};
use std::time::Instant;

const DIETS: [(&str, &str); 3] = [
    ("omnivore", ""),
    ("vegetarian", "diet = [\"vegetarian\"]\n"),
    ("vegan", "diet = [\"vegan\"]\n"),
];
const PEOPLE: [(&str, &str); 2] = [
    ("woman", "sex = \"female\"\nage = 32\nheight = \"165 cm\"\n"),
    ("man", "sex = \"male\"\nage = 34\nheight = \"179 cm\"\n"),
];
/// Kilocalories eaten, expenditure and phase, weight of a woman and of a man.
const DAYS: [(&str, &str, &str, [u32; 2]); 4] = [
    (
        "1600",
        "2000 kcal",
        "kind = \"lose\"\ndeficit = \"400 kcal\"\n",
        [62, 74],
    ),
    ("1601", "1600 kcal", "kind = \"hold\"\n", [54, 60]),
    ("2400", "2400 kcal", "kind = \"hold\"\n", [62, 74]),
    (
        "3500",
        "3200 kcal",
        "kind = \"gain\"\nsurplus = \"300 kcal\"\n",
        [68, 80],
    ),
];

fn main() {
    let mut moves = None;
    let mut seeds = 1;
    let mut words: Vec<String> = Vec::new();
    for a in std::env::args().skip(1) {
        match a.split_once('=') {
            Some(("moves", n)) => moves = Some(n.parse().expect("a number of moves")),
            Some(("seeds", n)) => seeds = n.parse().expect("a number of seeds"),
            _ => words.push(a),
        }
    }
    let table = FoodTable::bundled();
    let catalogue = Catalogue::bundled(&table).expect("the bundled catalogue has no problem");
    let (mut all, mut open, mut planned, mut shortfalls) = (0, 0, 0, 0);
    let mut gaps: Vec<f64> = Vec::new();
    let started = Instant::now();
    for kitchen in &catalogue.kitchens {
        let prices = PriceList::bundled(&kitchen.id, &catalogue).expect("a sound list");
        for (diet, top) in DIETS {
            for (who, (person, body)) in PEOPLE.iter().enumerate() {
                for (kcal, spent, phase, weights) in DAYS {
                    let name = format!("{} {diet} {person} {kcal}", kitchen.id);
                    if !words.iter().all(|w| name.contains(w.as_str())) {
                        continue;
                    }
                    for seed in 1..=seeds {
                        let text = format!(
                            "title = \"Matrix\"\nregion = \"{}\"\ndays = 7\nobjective = \"cost\"\nseed = {seed}\n{top}[person]\n{body}weight = \"{} kg\"\ntraining = \"novice\"\n[activity]\nexpenditure = \"{spent}\"\n[[phase]]\n{phase}weeks = 12\n",
                            kitchen.id, weights[who]
                        );
                        let (brief, _) = brief::parse(&text).expect("the brief reads");
                        let energy = energy::budget(&brief).expect("an energy budget");
                        let (targets, _) = targets::derive(&brief, &energy);
                        let pieces = Pieces {
                            brief: &brief,
                            intake_kcal: energy.intake.0,
                            targets: &targets,
                            kitchen,
                            catalogue: &catalogue,
                            table: &table,
                            prices: prices.as_ref(),
                        };
                        let start = Instant::now();
                        let p = plan(pieces, &energy, Work::of(7, moves).alone())
                            .expect("a plan, or the nearest to one");
                        let ms = start.elapsed().as_millis();
                        let short = p
                            .standings
                            .iter()
                            .filter(|s| s.target.strength == Strength::Should && !s.met())
                            .count();
                        let misses: Vec<String> = p
                            .misses
                            .iter()
                            .map(|m| format!("{} {:.2} %", m.row, 100.0 * m.share))
                            .collect();
                        let conflict: Vec<&str> = p.conflict.iter().map(|c| c.group.as_str()).collect();
                        println!(
                            "{name:44} s{seed} {:7} {:9.2} {:9.2} {:>6} short {short:2} {ms:5} ms  {} {}",
                            if p.planned {
                                "planned"
                            } else if conflict.is_empty() {
                                "MISSED"
                            } else {
                                "none"
                            },
                            p.search.value,
                            p.search.bound.unwrap_or(f64::NAN),
                            p.search
                                .gap
                                .filter(|_| p.planned)
                                .map_or("-".into(), |g| format!("{:.1}", 100.0 * g)),
                            misses.join(", "),
                            if conflict.is_empty() {
                                String::new()
                            } else {
                                format!("conflict: {}", conflict.join("; "))
                            },
                        );
                        all += 1;
                        open += usize::from(conflict.is_empty());
                        planned += usize::from(p.planned);
                        if p.planned {
                            shortfalls += short;
                            gaps.extend(p.search.gap);
                        }
                    }
                }
            }
        }
    }
    gaps.sort_by(f64::total_cmp);
    let at = |share: f64| {
        gaps.get((share * gaps.len().saturating_sub(1) as f64).round() as usize)
            .map_or(f64::NAN, |g| 100.0 * g)
    };
    println!(
        "{all} briefs, {open} open by the linear program, {planned} planned; gap median {:.1} %, nine in ten {:.1} %, worst {:.1} %; {shortfalls} shortfalls; {:.0} s",
        at(0.5),
        at(0.9),
        at(1.0),
        started.elapsed().as_secs_f64()
    );
}
