//! The student's room over HTTP: what is told while a handle moves is the linear program of the brief with that
//! handle written in it, nothing is written before it is asked for, and what cannot be is said with its names.

mod page_client;

use page_client::{Answer, Served, serve};
use platewright::brief::edit::Document;
use platewright::ready::{Larder, ready};
use platewright::solve::bound::Standing;
use platewright::why::Case;
use serde_json::Value;
use std::sync::OnceLock;

fn larder() -> &'static Larder {
    static LARDER: OnceLock<Larder> = OnceLock::new();
    LARDER.get_or_init(|| Larder::bundled().expect("the bundled data are sound"))
}

/// An invented person on two days, quick to plan.
const ANNA: &str = "# Anna's own words\ntitle = \"Anna\"\nregion = \"us\"\ndays = 2\nobjective = \"cost\"\n\
    budget = \"70 USD/week\" # what is left\n\n[person]\nsex = \"female\"\nage = 30\nheight = \"168 cm\"\nweight = \"61 kg\"\n\
    training = \"novice\"\n\n[activity]\nlevel = \"active\"\n\n[[phase]]\nkind = \"gain\"\nsurplus = \"300 kcal\" # slowly\nweeks = 12\n";

/// Another, in another kitchen.
const BEA: &str = "title = \"Bea\"\nregion = \"north_india\"\ndiet = [\"vegetarian\"]\ndays = 2\nobjective = \"cost\"\n\
    budget = \"1500 INR/week\"\n\n[person]\nsex = \"female\"\nage = 33\nheight = \"160 cm\"\nweight = \"58 kg\"\ntraining = \"none\"\n\n\
    [activity]\nlevel = \"low_active\"\n\n[[phase]]\nkind = \"hold\"\nweeks = 12\n";

struct House(Served);

fn house() -> House {
    House(serve(&[("anna", ANNA), ("bea", BEA)]))
}

impl House {
    fn text(&self, name: &str) -> String {
        self.0.file(&format!("{name}.toml"))
    }

    fn post(&self, name: &str, part: &str, fields: &[(&str, &str)]) -> Answer {
        let room = format!("/b/{name}/give-and-take");
        let seen = self.0.seen(&room);
        let mut all = vec![("seen", seen.as_str())];
        all.extend(fields);
        self.0.post(&format!("{room}{part}"), &all)
    }

    /// What is told while handles move.
    fn ask(&self, name: &str, fields: &[(&str, &str)]) -> Value {
        let reply = self.post(name, "/answer", fields);
        assert_eq!(reply.status, 200, "{}", reply.body);
        serde_json::from_str(&reply.body).expect("JSON")
    }

    /// The form sent by one of its buttons.
    fn act(&self, name: &str, fields: &[(&str, &str)]) -> Answer {
        self.post(name, "", fields)
    }
}

fn between<'t>(text: &'t str, before: &str, after: &str) -> &'t str {
    let from = text.find(before).unwrap_or_else(|| panic!("{before} in\n{text}")) + before.len();
    &text[from..from + text[from..].find(after).expect("an end")]
}

/// The optimum of a brief by a program of its own, a day's; `None` when there is none.
fn alone(text: &str) -> Option<f64> {
    let brief = ready(text, None, None).unwrap_or_else(|e| panic!("{e:?}\n{text}"));
    let pieces = brief.pieces(larder()).expect("pieces");
    let case = Case::new(pieces).expect("a program");
    matches!(case.standing, Standing::Open(_)).then(|| case.simplex.value() / f64::from(brief.brief.days))
}

fn with(text: &str, target: &str) -> String {
    format!("{text}\n[[target]]\n{target}\n")
}

#[test]
fn every_answer_is_that_of_the_brief_with_the_handle_written_in_it() {
    let house = house();
    let near = |a: &Value, b: Option<f64>, what: &str| match (a["value"].as_f64(), b) {
        (Some(a), Some(b)) => assert!((a - b).abs() <= 1e-6 * b.abs(), "{what}: {a} and {b}"),
        (None, None) => {}
        (a, b) => panic!("{what}: {a:?} and {b:?}"),
    };
    let mut budget = Document::read(ANNA).expect("TOML");
    budget.set("budget", "34 USD/week".into()).expect("set");
    let mut intake = Document::read(ANNA).expect("TOML");
    intake.set("phase.0.surplus", "200 kcal".into()).expect("set");
    let brief = ready(&intake.text(), None, None).expect("a brief");
    let eaten = brief.energy.intake.0.to_string();
    near(&house.ask("anna", &[]), alone(ANNA), "as it is");
    for (id, at, text) in [
        (
            "protein.day.floor",
            "130",
            with(ANNA, "nutrient = \"protein\"\nscope = \"day\"\nfloor = \"130 g\""),
        ),
        (
            "protein.day.floor",
            "60",
            with(ANNA, "nutrient = \"protein\"\nscope = \"day\"\nfloor = \"60 g\""),
        ),
        (
            "vitamin_d.mean.floor",
            "25",
            with(
                ANNA,
                "nutrient = \"vitamin_d\"\nscope = \"mean\"\nfloor = \"25 ug\"",
            ),
        ),
        (
            "sodium.mean.ceiling",
            "1500",
            with(
                ANNA,
                "nutrient = \"sodium\"\nscope = \"mean\"\nceiling = \"1500 mg\"",
            ),
        ),
        (
            "carbohydrate.mean.floor",
            "300",
            with(
                ANNA,
                "nutrient = \"carbohydrate\"\nscope = \"mean\"\nfloor = \"300 g\"",
            ),
        ),
        ("budget", "34", budget.text()),
        ("intake", eaten.as_str(), intake.text()),
        (
            "protein.day.floor",
            "100",
            with(ANNA, "nutrient = \"protein\"\nscope = \"day\"\nfloor = \"100 g\""),
        ),
    ] {
        near(
            &house.ask("anna", &[(id, at)]),
            alone(&text),
            &format!("{id} {at}"),
        );
    }
    assert_eq!(house.text("anna"), ANNA, "asking writes nothing");
}

#[test]
fn a_lower_floor_never_costs_more_and_a_lower_budget_never_less() {
    let house = house();
    for (id, places) in [
        ("protein.day.floor", ["150", "120", "97.6", "60", "0"]),
        ("vitamin_d.mean.floor", ["22", "18", "15", "9", "0"]),
        ("choline.mean.floor", ["600", "500", "425", "300", "10"]),
    ] {
        let mut last = f64::INFINITY;
        for at in places {
            let cost = house.ask("anna", &[(id, at)])["value"]
                .as_f64()
                .unwrap_or(f64::INFINITY);
            assert!(cost <= last + 1e-9, "{id} at {at}: {cost} after {last}");
            last = cost;
        }
        assert!(last.is_finite(), "{id}");
    }
}

#[test]
fn what_cannot_be_is_told_with_names_and_how_far_back() {
    let house = house();
    let quick = house.ask("anna", &[("budget", "9")]);
    assert_eq!(quick["open"], false);
    assert!(
        quick["said"].as_str().expect("words").contains("budget"),
        "{quick}"
    );
    let full = house.ask("anna", &[("budget", "9"), ("full", "yes")]);
    let said = full["said"].as_str().expect("words");
    assert!(
        said.contains("No week can hold all of it") && said.contains("budget"),
        "{said}"
    );
    // Where it says that a week opens there is one, and a cent under it there is none.
    let back: f64 = between(said, "alone opens a week at ", " USD")
        .parse()
        .expect("a number");
    let value = |at: f64| house.ask("anna", &[("budget", &format!("{at:.3}"))])["value"].as_f64();
    assert!(value(back + 0.02).is_some(), "at {back}");
    assert!(value(back - 0.1).is_none(), "under {back}");
    // The names are a conflict of the brief itself with that number in it.
    let floors = house.ask("anna", &[("fibre.mean.ceiling", "5"), ("full", "yes")]);
    assert_eq!(floors["open"], false);
    assert!(
        floors["said"].as_str().expect("words").contains("fibre"),
        "{floors}"
    );
}

#[test]
fn planning_writes_the_handles_and_keeps_the_comments() {
    let house = house();
    let reply = house.act(
        "anna",
        &[("protein.day.floor", "110"), ("budget", "69"), ("do", "plan")],
    );
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(reply.header("location"), Some("/b/anna/give-and-take#planned"));
    let text = house.text("anna");
    for line in [
        "# Anna's own words\n",
        "budget = \"69 USD/week\" # what is left\n",
        "surplus = \"300 kcal\" # slowly\n",
        "[[target]]\nnutrient = \"protein\"\nfloor = \"110 g\"\nscope = \"day\"\n",
    ] {
        assert!(text.contains(line), "{line} in\n{text}");
    }
    let page = house.0.get("/b/anna/give-and-take").body;
    assert!(
        page.contains("The week of this brief") && page.contains("No plan comes under"),
        "{page}"
    );
    assert!(page.contains("href=\"/b/anna/week\""));
    // The handle stands in its new place, and moving it again changes the same line.
    let reply = house.act("anna", &[("protein.day.floor", "112"), ("do", "plan")]);
    assert_eq!(reply.status, 303, "{}", reply.body);
    assert_eq!(house.text("anna"), text.replace("110 g", "112 g"));
    // What the file was before the page was drawn is no ground to write on.
    let stale = [("seen", "0"), ("protein.day.floor", "90"), ("do", "plan")];
    assert_eq!(house.0.post("/b/anna/give-and-take", &stale).status, 409);
    assert_eq!(house.text("bea"), BEA);
}

#[test]
fn a_week_that_cannot_be_is_not_written() {
    let house = house();
    let reply = house.act("anna", &[("budget", "9"), ("do", "plan")]);
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("Nothing was written"), "{}", reply.body);
    assert_eq!(house.text("anna"), ANNA);
}

#[test]
fn numbers_that_are_none_are_refused_kindly() {
    let house = house();
    for typed in [
        "NaN",
        "inf",
        "1e308",
        "-5",
        "much",
        "1,234",
        "12 mg",
        "99999999999999999999",
        "<b>",
        "\u{0}",
    ] {
        let answer = house.ask("anna", &[("protein.day.floor", typed)]);
        assert_eq!(answer["open"], false, "{typed}");
        let rest = answer["rest"].as_str().expect("words");
        assert!(
            rest.contains("Mistake") && !rest.contains("<b>"),
            "{typed}: {rest}"
        );
        let reply = house.act("anna", &[("protein.day.floor", typed), ("do", "plan")]);
        assert_eq!(reply.status, 422, "{typed}");
    }
    // As the command line has it: a floor over a published limit.
    let over = house.ask("anna", &[("calcium.mean.floor", "9000")]);
    assert!(
        over["rest"].as_str().expect("words").contains("above the limit"),
        "{over}"
    );
    // A deficit that a gate stops is told as such.
    let little = house.ask("anna", &[("intake", "900")]);
    assert_eq!(little["open"], false);
    assert!(
        little["said"].as_str().expect("words").contains("safety rule"),
        "{little}"
    );
    assert_eq!(house.text("anna"), ANNA);
}

#[test]
fn two_boards_at_once_do_not_mix() {
    let house = house();
    let (anna, bea) = (alone(ANNA).expect("open"), alone(BEA).expect("open"));
    std::thread::scope(|scope| {
        for (name, own, floor) in [("anna", anna, "120"), ("bea", bea, "60"), ("anna", anna, "50")] {
            let house = &house;
            scope.spawn(move || {
                for _ in 0..4 {
                    house.ask(name, &[("protein.day.floor", floor)]);
                    let now = house.ask(name, &[])["value"].as_f64().expect("open");
                    assert!((now - own).abs() <= 1e-6 * own, "{name}: {now} and {own}");
                }
            });
        }
    });
}

#[test]
fn the_form_answers_without_scripts_and_draws() {
    let house = house();
    let reply = house.act("anna", &[("protein.day.floor", "125"), ("do", "show")]);
    assert_eq!(reply.status, 200, "{}", reply.body);
    assert!(
        reply.body.contains("USD a day") && reply.body.contains("What binds"),
        "{}",
        reply.body
    );
    assert!(between(&reply.body, "name=\"protein.day.floor\"", ">").contains("value=\"125\""));
    let drawn = house.act(
        "anna",
        &[("one", "protein.day.floor"), ("two", ""), ("do", "draw")],
    );
    assert!(
        drawn.body.contains("<svg") && drawn.body.contains("The same as a table"),
        "{}",
        drawn.body
    );
    let map = house.act(
        "anna",
        &[
            ("one", "protein.day.floor"),
            ("two", "sodium.mean.ceiling"),
            ("do", "draw"),
        ],
    );
    assert!(map.body.contains("Table of the map"), "{}", map.body);
    for page in [&reply.body, &drawn.body, &map.body] {
        assert!(!page.contains("style=") && !page.contains("<style") && !page.contains("onclick"));
    }
    assert_eq!(house.text("anna"), ANNA);
}
