//! Briefs that are sound: every key is read as documented, and defaults hold.

use platewright::brief::*;
use platewright::money::Money;
use platewright::nutrient::Nutrient;
use platewright::person::{BodyFat, Population, Sex, Training};
use proptest::prelude::*;

const FULL: &str = include_str!("full.toml");
const LEAST: &str = include_str!("least.toml");

fn near(a: f64, b: f64) {
    assert!((a - b).abs() < 1e-9 * b.abs().max(1.0), "{a} is not {b}");
}

fn read(text: &str) -> Brief {
    match parse(text) {
        Ok((brief, warnings)) => {
            assert_eq!(warnings, vec![]);
            brief
        }
        Err(mistakes) => panic!("{mistakes:#?}"),
    }
}

#[test]
fn every_key_is_read() {
    let b = read(FULL);
    assert_eq!(b.title, "Surplus on a budget");
    assert_eq!(b.region.value, "us");
    assert_eq!(&FULL[b.region.span.clone()], "\"us\"");
    assert_eq!((b.days, b.seed, b.objective), (14, 7, Objective::Closeness));
    // 65 USD a week for 14 days.
    let Some(Money { amount, currency }) = b.budget else {
        panic!("no budget")
    };
    assert_eq!((amount.to_string().as_str(), currency.code()), ("130", "USD"));
    assert_eq!(b.diets.len(), 1);
    assert_eq!(b.allergies[0].value, "peanut");
    assert_eq!(
        (b.likes[0].value.as_str(), b.dislikes[0].value.as_str()),
        ("oatmeal", "beef liver")
    );
    assert_eq!(b.equation.as_ref().map(|e| e.value.as_str()), Some("mifflin"));
    assert_eq!((b.person.sex, b.person.age), (Sex::Female, 30));
    near(b.person.height.0, 167.64);
    near(b.person.weight.0, 61.0);
    assert_eq!(b.person.body_fat, Some(BodyFat::Measured(0.24)));
    near(b.person.waist.map_or(0.0, |w| w.0), 74.0);
    assert_eq!(b.person.training, Training::Novice);
    assert_eq!(b.person.population, Population::SouthAsian);
    assert_eq!(b.screen.yes.len(), 1);
    assert_eq!(b.screen.yes[0].value, "gout");
    assert_eq!(b.activity, Activity::Level(ActivityLevel::Active));
    let sizes: Vec<_> = b
        .phases
        .iter()
        .map(|p| (p.kind, p.size.clone(), p.weeks))
        .collect();
    assert_eq!(sizes.len(), 4);
    assert_eq!(sizes[1].0, PhaseKind::Hold);
    assert_eq!(sizes[1].1, PhaseSize::Default);
    assert!(matches!(sizes[0].1, PhaseSize::Energy(k) if (k.0 - 500.0).abs() < 1e-9));
    assert!(matches!(sizes[2].1, PhaseSize::Rate(r) if (r - 0.005).abs() < 1e-12));
    assert!(matches!(sizes[3].1, PhaseSize::Goal(k) if k.0 == 66.0));
    near(b.slots[0].share, 0.25);
    near(b.slots[1].share, 0.0);
    assert_eq!(b.targets[0].nutrient, Nutrient::PROTEIN);
    assert_eq!(b.targets[0].floor, Some(TargetAmount::PerKilogram(1.8)));
    assert_eq!(b.targets[0].ceiling, Some(TargetAmount::EnergyShare(0.25)));
    assert_eq!(b.targets[0].scope, Some(Scope::Day));
    assert!(b.targets[1].off);
    // 2 g of sodium is 2000 of its milligrams.
    assert_eq!(b.targets[2].ceiling, Some(TargetAmount::Absolute(2000.0)));
    near(b.pantry[0].grams, 2000.0);
    assert_eq!(b.locks[0].days, vec![1, 3]);
    assert_eq!(b.locks[0].items[0].1, Amount::Servings(2.0));
    assert_eq!(b.locks[0].items[1].1, Amount::Grams(200.0));
    assert_eq!(b.locks[1].days, vec![2]);
    assert!(b.locks[1].others && !b.locks[0].others);
    assert_eq!(b.usual[0].amount, Amount::Servings(1.5));
    near(b.usual[0].times, 5.0);
}

#[test]
fn the_least_brief_takes_the_defaults() {
    let b = read(LEAST);
    assert_eq!(
        (b.title.as_str(), b.days, b.seed, b.objective),
        ("Plan", 7, 1, Objective::Cost)
    );
    assert_eq!(
        (b.person.training, b.person.population),
        (Training::None, Population::International)
    );
    assert_eq!(b.phases[0].size, PhaseSize::Default);
    assert!(b.budget.is_none() && b.diets.is_empty() && b.screen.yes.is_empty());
}

#[test]
fn budgets_are_scaled_to_the_days() {
    for (written, days, amount) in [
        ("65 USD/week", 7, "65"),
        ("65 USD per week", 7, "65"),
        ("9.50 USD/day", 7, "66.5"),
        ("9,50 EUR/day", 1, "9.5"),
        ("65 USD", 3, "65"),
        ("65 usd/week", 14, "130"),
        ("70 USD/week", 3, "30"),
    ] {
        let b = read(&format!("days = {days}\nbudget = \"{written}\"\n{LEAST}"));
        assert_eq!(
            b.budget.map(|m| m.amount.to_string()),
            Some(amount.to_string()),
            "{written}"
        );
    }
}

#[test]
fn activity_in_each_way() {
    let with = |line: &str| LEAST.replace("level = \"low_active\"", line);
    assert_eq!(read(&with("pal = 1.75")).activity, Activity::Pal(1.75));
    assert!(matches!(
        read(&with("expenditure = \"9.6232 MJ\"")).activity,
        Activity::Measured(k) if (k.0 - 2300.0).abs() < 1e-6
    ));
    assert_eq!(
        read(&with("hours = { sleeping = 8, sitting = 12.5, walking = 3.5 }")).activity,
        Activity::Hours(vec![
            ("sleeping".into(), 8.0),
            ("sitting".into(), 12.5),
            ("walking".into(), 3.5)
        ])
    );
}

#[test]
fn body_fat_from_girths() {
    let girths = "neck = \"32 cm\"\nwaist = \"72 cm\"\nhip = \"98 cm\"\n[activity]";
    let b = read(&LEAST.replace("[activity]", girths));
    assert!(matches!(b.person.body_fat, Some(BodyFat::Circumferences { hip: Some(h), .. }) if h.0 == 98.0));
}

#[test]
fn starters_read_back() {
    for phase in [PhaseKind::Gain, PhaseKind::Hold, PhaseKind::Lose] {
        for (sex, diets, budget) in [
            (Sex::Female, vec![], None),
            (
                Sex::Male,
                vec!["vegetarian".to_string()],
                Some("65 USD/week".to_string()),
            ),
        ] {
            let options = StarterOptions {
                sex,
                phase,
                diets: diets.clone(),
                budget,
                height: "5'6\"".to_string(),
                ..StarterOptions::default()
            };
            let text = starter(&options);
            let b = read(&text);
            assert_eq!(
                (b.person.sex, b.phases[0].kind, b.diets.len()),
                (sex, phase, diets.len())
            );
            assert!(b.screen.yes.is_empty());
            for (id, _) in SCREEN_QUESTIONS {
                assert!(text.contains(&format!("\n{id} = false\n")), "{id}");
            }
        }
    }
}

#[test]
fn all_mistakes_are_reported_at_once() {
    let text = "regio = \"us\"\ndays = 40\n[person]\nsex = \"woman\"\nage = 30\nheight = 168\n\
                weight = \"61 kilos of\"\n[activity]\nlevel = \"lazy\"\n[[phase]]\nkind = \"lose\"\nsurplus = \"500 kcal\"\n";
    let mistakes = parse(text).expect_err("it is full of mistakes");
    let codes: Vec<_> = mistakes.iter().map(|d| d.code).collect();
    assert_eq!(
        codes,
        [
            "brief-unknown-key",
            "brief-out-of-range",
            "brief-unknown-word",
            "brief-no-unit",
            "brief-bad-unit",
            "brief-unknown-word",
            "brief-size-and-kind",
        ]
    );
    assert!(mistakes.iter().all(|d| d.help.is_some()));
}

#[test]
fn a_repeated_word_is_only_a_warning() {
    let text = format!("likes = [\"oatmeal\", \"oatmeal\"]\n{LEAST}");
    let (brief, warnings) = parse(&text).expect("a warning refuses nothing");
    assert_eq!(brief.likes.len(), 1);
    assert_eq!(
        warnings.iter().map(|w| w.code).collect::<Vec<_>>(),
        ["brief-repeated"]
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn any_text_is_survived(text in "\\PC{0,200}") {
        let _ = parse(&text);
    }

    #[test]
    fn a_damaged_brief_is_survived(
        at in 0..FULL.len(), length in 0usize..40, patch in "[\\PC\\n\"'\\[\\]{}=#.,0-9-]{0,12}"
    ) {
        let mut text: Vec<char> = FULL.chars().collect();
        let at = at.min(text.len());
        let end = (at + length).min(text.len());
        text.splice(at..end, patch.chars());
        let text: String = text.into_iter().collect();
        if let Err(mistakes) = parse(&text) {
            prop_assert!(!mistakes.is_empty());
            for span in mistakes.iter().flat_map(|m| &m.spans) {
                prop_assert!(text.get(span.range.clone()).is_some());
            }
        }
    }

    #[test]
    fn any_value_is_survived(value in "\\PC{0,20}", line in 0usize..60) {
        let lines: Vec<String> = FULL
            .lines()
            .enumerate()
            .map(|(n, l)| match l.split_once('=') {
                Some((key, _)) if n == line => format!("{key} = \"{}\"", value.replace(['"', '\\'], "")),
                _ => l.to_string(),
            })
            .collect();
        let _ = parse(&lines.join("\n"));
    }

    #[test]
    fn metric_and_imperial_agree(feet in 4u32..8, inches in 0u32..12, pounds in 60u32..800) {
        let a = platewright::units::length(&format!("{feet} ft {inches} in")).map(|l| l.0);
        prop_assert!(a.is_ok_and(|a| (a - f64::from(feet * 12 + inches) * 2.54).abs() < 1e-9));
        let b = platewright::units::body_mass(&format!("{} st {} lb", pounds / 14, pounds % 14));
        prop_assert!(b.is_ok_and(|b| (b.lb() - f64::from(pounds)).abs() < 1e-9));
    }
}

#[test]
fn the_manual_shows_a_sound_brief_and_names_every_key() {
    let manual = include_str!("../docs/brief.md");
    let example = manual
        .split("```toml\n")
        .nth(1)
        .and_then(|s| s.split("```").next());
    let b = read(example.expect("an example"));
    assert_eq!(b.title, "Surplus on a budget");
    for (id, _) in SCREEN_QUESTIONS {
        assert!(manual.contains(&format!("`{id}`")), "{id}");
    }
    for line in FULL.lines().filter_map(|l| l.split_once(" = ")) {
        assert!(manual.contains(&format!("`{}`", line.0)), "{}", line.0);
    }
}

/// The energy stage's table says what follows from a yes; both know the same questions.
#[test]
fn the_questions_are_those_of_the_safety_rules() {
    let table = include_str!("../src/energy/screen.csv");
    let rows: Vec<&str> = table
        .lines()
        .skip(1)
        .filter_map(|l| l.split(',').next())
        .collect();
    let asked: Vec<&str> = SCREEN_QUESTIONS.iter().map(|q| q.0).collect();
    assert_eq!(rows, asked);
}
