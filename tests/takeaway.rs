//! What is taken away from a plan: the set in a folder, styles, a household, comparisons. All people are invented.

use platewright::brief;
use platewright::household::{seat, settle};
use platewright::report::amount::{self, EnergyUnit, Style, styled};
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

const MOVES: &str = "200000";

const PERSON: &str = "\
title = \"Invented\"
region = \"us\"
days = 2

[person]
sex = \"female\"
age = 30
height = \"168 cm\"
weight = \"61 kg\"

[activity]
level = \"low_active\"

[[phase]]
kind = \"hold\"
weeks = 4
";

const SECOND: &str = "
[[household]]
title = \"Second\"
sex = \"male\"
age = 40
height = \"180 cm\"
weight = \"80 kg\"
level = \"low_active\"
";

fn run(room: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_platewright"))
        .args(arguments)
        .current_dir(room)
        .stdin(Stdio::null())
        .output()
        .expect("the program runs")
}

fn plan(room: &Path, more: &[&str]) -> Output {
    run(room, &[&["plan", "b.toml", "--moves", MOVES], more].concat())
}

fn room(text: &str) -> tempfile::TempDir {
    let room = tempfile::tempdir().expect("a folder");
    fs::write(room.path().join("b.toml"), text).expect("a file");
    room
}

fn out(o: &Output) -> String {
    String::from_utf8(o.stdout.clone()).expect("UTF-8")
}

fn err(o: &Output) -> String {
    String::from_utf8(o.stderr.clone()).expect("UTF-8")
}

#[track_caller]
fn json(o: &Output) -> Value {
    serde_json::from_slice(&o.stdout).unwrap_or_else(|e| panic!("{e}: {}", err(o)))
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .expect("the folder")
        .map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

const SET: [&str; 10] = [
    "forecast.svg",
    "plan.csv",
    "plan.json",
    "shopping.csv",
    "totals.csv",
    "week.html",
    "week.ics",
    "week.md",
    "week.txt",
    "week.xlsx",
];

#[test]
fn a_folder_gets_the_whole_set_and_each_file_is_what_the_pipe_gives() {
    let room = room(PERSON);
    let set = room.path().join("set");
    let o = plan(room.path(), &["--output", "set/", "--start", "2027-01-04"]);
    assert_eq!((o.status.code(), o.stdout.len()), (Some(0), 0), "{}", err(&o));
    assert_eq!(names(&set), SET);
    for (name, format) in [
        ("plan.csv", "csv"),
        ("plan.json", "json"),
        ("week.md", "markdown"),
        ("week.ics", "ics"),
        ("week.xlsx", "xlsx"),
    ] {
        let o = plan(
            room.path(),
            &["--format", format, "--output", "-", "--start", "2027-01-04"],
        );
        assert_eq!(
            o.stdout,
            fs::read(set.join(name)).expect("a file"),
            "{name}: {}",
            err(&o)
        );
    }
    let file = |name: &str| fs::read_to_string(set.join(name)).expect("a text");
    assert!(file("week.ics").contains("DTSTART:20270104T"));
    assert!(file("week.html").contains("The weeks ahead"));
    assert!(file("forecast.svg").starts_with("<svg"));
    assert_eq!(fs::read(set.join("week.xlsx")).expect("a file")[..2], *b"PK");
    // An existing folder needs no slash, and one format only one file.
    fs::create_dir(room.path().join("one")).expect("a folder");
    let o = plan(room.path(), &["--output", "one", "--format", "markdown"]);
    assert_eq!(o.status.code(), Some(0), "{}", err(&o));
    assert_eq!(names(&room.path().join("one")), ["week.md"]);
}

#[test]
fn a_bad_path_fails_first_and_leaves_nothing() {
    let room = room(PERSON);
    // The brief is not read, so it need not be there.
    for path in ["no/such/", "no/week.txt", "b.toml/"] {
        let o = run(room.path(), &["plan", "missing.toml", "--output", path]);
        assert_eq!(o.status.code(), Some(2), "{path}");
        assert!(
            err(&o).contains(path.trim_end_matches('/')) && !err(&o).contains("missing.toml"),
            "{}",
            err(&o)
        );
    }
    assert_eq!(names(room.path()), ["b.toml"]);
    // A folder that was made for a brief with mistakes goes again; one that was there is left as it was.
    fs::write(room.path().join("b.toml"), "title = 1\n").expect("a file");
    fs::create_dir(room.path().join("old")).expect("a folder");
    fs::write(room.path().join("old/week.txt"), "old").expect("a file");
    assert_eq!(plan(room.path(), &["--output", "new/"]).status.code(), Some(2));
    assert_eq!(plan(room.path(), &["--output", "old"]).status.code(), Some(2));
    assert_eq!(names(room.path()), ["b.toml", "old"]);
    assert_eq!(names(&room.path().join("old")), ["week.txt"]);
    // A name in the set that is a folder is found before the work.
    fs::create_dir(room.path().join("old/week.ics")).expect("a folder");
    let o = plan(room.path(), &["--output", "old"]);
    assert!(err(&o).contains("week.ics"), "{}", err(&o));
    assert_eq!(names(&room.path().join("old")), ["week.ics", "week.txt"]);
}

#[test]
fn a_stopped_brief_still_gives_every_form() {
    let text = PERSON.replace("kind = \"hold\"", "kind = \"lose\"") + "\n[screen]\npregnancy = true\n";
    let room = room(&text);
    let o = plan(room.path(), &["--output", "set/"]);
    assert_eq!(o.status.code(), Some(1), "{}", err(&o));
    let file = |name: &str| fs::read_to_string(room.path().join("set").join(name)).expect("a text");
    for name in ["week.txt", "week.md", "week.html", "plan.json"] {
        assert!(file(name).contains("pregnancy"), "{name}");
    }
    for name in ["plan.csv", "totals.csv", "shopping.csv"] {
        assert_eq!(file(name).lines().count(), 1, "{name}: only its heads");
    }
    assert!(file("week.ics").contains("END:VCALENDAR") && !file("week.ics").contains("VEVENT"));
    // Where the form cannot tell why, the terminal does.
    let o = plan(room.path(), &["--format", "ics"]);
    assert!(err(&o).contains("pregnancy"), "{}", err(&o));
}

#[test]
fn the_brief_sets_how_figures_are_told() {
    let styled = PERSON.to_string() + "\n[output]\nenergy = \"kJ\"\ndecimal = \",\"\nunits = \"metric\"\n";
    let (plain, room) = (room(PERSON), room(&styled));
    let words = out(&plan(room.path(), &[]));
    // Cautions are written before the report, and keep kcal.
    let told = &words[..words.find("\nCautions\n").unwrap_or(words.len())];
    assert!(told.contains(" kJ") && !told.contains("kcal"), "{told}");
    assert!(words.contains(" kg") && !words.contains(" lb"), "{words}");
    let decimal_point = |t: &str| {
        t.as_bytes()
            .windows(3)
            .any(|w| w[0].is_ascii_digit() && w[1] == b'.' && w[2].is_ascii_digit())
    };
    let list = &words[words.find("Shopping list").expect("a list")..];
    let list = &list[..list.find("Cautions").unwrap_or(list.len())];
    assert!(!decimal_point(list), "{list}");
    assert!(out(&plan(plain.path(), &[])).contains(" lb"));
    // Forms for programs do not follow it.
    for format in ["csv", "json", "totals-csv", "shopping-csv", "xlsx"] {
        let (a, b) = (
            plan(plain.path(), &["--format", format]),
            plan(room.path(), &["--format", format]),
        );
        assert!(a.stdout == b.stdout, "{format}");
    }
    // Coordinates keep their points, ticks have commas.
    let o = run(
        room.path(),
        &["plan", "b.toml", "--moves", MOVES, "--output", "s/"],
    );
    assert_eq!(o.status.code(), Some(0), "{}", err(&o));
    let svg = fs::read_to_string(room.path().join("s/forecast.svg")).expect("a chart");
    for part in svg.split(" d=\"").skip(1) {
        let d = part.split('"').next().expect("a path");
        assert!(!d.contains(','), "{d}");
    }
}

#[test]
fn one_comma_for_all_figures() {
    let style = Style {
        energy: EnergyUnit::Kj,
        comma: true,
    };
    let price = "9.35".parse().expect("a decimal");
    styled(style, || {
        assert_eq!(amount::money(price), "9,35");
        assert_eq!(amount::figure(2.448), "2,45");
        assert_eq!(amount::percent(0.052), "5,2 %");
        assert_eq!(amount::fixed(61.0, 1), "61,0");
        assert_eq!(amount::fixed(-0.01, 1), "0,0");
        assert_eq!(amount::signed(0.26, 1), "+0,3");
        assert_eq!(amount::signed(0.01, 1), "0,0");
        // 100 kcal of 4.184 kJ (ISO 80000-5:2007, annex C).
        assert_eq!(amount::kcal(100.0), "418 kJ");
    });
    assert_eq!(amount::money(price), "9.35");
}

#[test]
fn output_and_household_are_read_strictly() {
    let codes = |more: &str| -> Vec<&'static str> {
        brief::parse(&(PERSON.to_string() + more))
            .expect_err("mistakes")
            .iter()
            .map(|d| d.code)
            .collect()
    };
    assert_eq!(
        codes("[output]\nenergy = \"kj\"\ndecimal = 1\nunit = \"us\"\n"),
        ["brief-unknown-word", "brief-wrong-kind", "brief-unknown-key"]
    );
    assert_eq!(codes("[[household]]\ntitle = \"A\"\n").len(), 5);
    let twice = SECOND.to_string() + SECOND;
    assert_eq!(codes(&twice), ["brief-duplicate"]);
    let screen = SECOND.to_string() + "screen = [\"pregnency\"]\nportion = 9\n";
    assert_eq!(codes(&screen), ["brief-unknown-word", "brief-out-of-range"]);
    assert_eq!(
        codes(&(SECOND.to_string() + "surplus = \"300 kcal\"\n")),
        ["brief-missing-key"]
    );
}

#[test]
fn a_portion_is_the_intake_over_the_persons() {
    let (mut b, _) = brief::parse(&(PERSON.to_string() + SECOND)).expect("a brief");
    assert_eq!(b.portions(), 1.0);
    let energy = platewright::energy::budget(&b).expect("energy");
    let own = seat(&b, &b.household[0]).expect("a seat");
    assert!(own.energy.intake.0 > energy.intake.0);
    settle(&mut b, &energy).expect("settled");
    let portion = b.household[0].portion.expect("a portion");
    assert!((portion * energy.intake.0 - own.energy.intake.0).abs() < 1e-9);
    assert!((b.portions() - 1.0 - portion).abs() < 1e-12);
    // One who is stopped has no portion.
    let stopped = SECOND.replace("age = 40", "age = 15");
    let (mut b, _) = brief::parse(&(PERSON.to_string() + &stopped)).expect("a brief");
    settle(&mut b, &energy).expect("settled");
    assert_eq!(b.portions(), 1.0);
}

#[test]
fn a_household_shares_the_meals_the_list_and_the_bill() {
    let number = |v: &Value| v.as_f64().expect("a number");
    let money = |v: &Value| v.as_str().expect("money").parse::<f64>().expect("a number");
    let alone = room(PERSON);
    let one = json(&plan(alone.path(), &["--format", "json"]));
    assert!(one.get("household").is_none() && one.get("portions").is_none());
    // Half as much again, exactly: everything bought is two and a half times, meals are as they were.
    let both = room(&(PERSON.to_string() + SECOND + "portion = 1.5\n"));
    let two = json(&plan(both.path(), &["--format", "json"]));
    assert_eq!(two["portions"], 2.5);
    let schema: Value = serde_json::from_str(include_str!("../docs/plan.schema.json")).expect("JSON");
    assert!(
        jsonschema::validator_for(&schema)
            .expect("a schema")
            .is_valid(&two)
    );
    let days: f64 = two["days"]
        .as_array()
        .expect("days")
        .iter()
        .map(|d| money(&d["cost"]))
        .sum();
    assert!((money(&two["cost"]["amount"]) - 2.5 * days).abs() < 0.01);
    let share = money(&two["household"][0]["cost"]) / money(&two["cost"]["amount"]);
    assert!((share - 1.5 / 2.5).abs() < 1e-6, "{share}");
    // A need is 2.5 times what the plates of the person take: summed by hand for a food with nothing to peel.
    let plates = |v: &Value, food: &str| -> f64 {
        let list = |v: &Value| v.as_array().cloned().unwrap_or_default();
        list(&v["days"])
            .iter()
            .flat_map(|d| list(&d["meals"]))
            .flat_map(|m| list(&m["items"]))
            .flat_map(|i| list(&i["foods"]))
            .filter(|f| f["food"] == food)
            .map(|f| number(&f["grams"]))
            .sum()
    };
    let mut seen = 0;
    for line in one["shopping"].as_array().expect("a list") {
        let id = line["food"].as_str().expect("a food");
        let again = two["shopping"]
            .as_array()
            .expect("a list")
            .iter()
            .find(|l| l["product"] == line["product"]);
        let Some(again) = again.filter(|l| l["foods"] == line["foods"]) else {
            continue;
        };
        if line["foods"].as_array().expect("foods").len() == 1 {
            let a = number(&line["needed_grams"]) / plates(&one, id);
            let b = number(&again["needed_grams"]) / plates(&two, id);
            assert!((b / a - 2.5).abs() < 1e-3, "{id}: {a} {b}");
            seen += 1;
        }
    }
    assert!(seen > 3, "{seen} foods compared");
    // The member's days are the person's times the portion.
    let of = |list: &Value, id: &str| -> f64 {
        let s = list
            .as_array()
            .expect("a list")
            .iter()
            .find(|s| s["target"] == id);
        number(&s.expect("the target")["mean"])
    };
    let id = two["standings"][0]["target"].as_str().expect("an id");
    let (a, b) = (
        of(&two["standings"], id),
        of(&two["household"][0]["standings"], id),
    );
    assert!((b / a - 1.5).abs() < 1e-4, "{a} {b}");
    let words = out(&plan(both.path(), &[]));
    assert!(
        words.contains("Household") && words.contains("Second: 150 % of each amount"),
        "{words}"
    );
}

#[test]
fn the_budget_and_the_pantry_are_for_everybody() {
    let alone = room(PERSON);
    let one = json(&plan(alone.path(), &["--format", "json"]));
    let cost: f64 = one["cost"]["amount"]
        .as_str()
        .expect("money")
        .parse()
        .expect("a number");
    // Enough for one, not for two and a half.
    let budget = format!(
        "{}{SECOND}portion = 1.5\n",
        PERSON.replace(
            "days = 2",
            &format!("days = 2\nbudget = \"{:.2} USD\"", cost * 1.3)
        )
    );
    let both = room(&budget);
    let o = plan(both.path(), &["--format", "json"]);
    assert_eq!(o.status.code(), Some(1), "{}", err(&o));
    assert!(json(&o)["conflict"].to_string().contains("budget"));
}

#[test]
fn a_member_whom_a_gate_stops_is_named() {
    let stopped = SECOND.replace("age = 40", "age = 15");
    let room = room(&(PERSON.to_string() + &stopped));
    let v = json(&plan(room.path(), &["--format", "json"]));
    assert_eq!(v["portions"], 1);
    assert_eq!(v["household"][0]["portion"], 0);
    assert!(
        !v["household"][0]["stopped"]
            .as_array()
            .expect("reasons")
            .is_empty()
    );
    assert_eq!(v["household"][0]["standings"], Value::Array(Vec::new()));
    assert!(out(&plan(room.path(), &[])).contains("Second: not planned for"));
}

#[test]
fn two_plans_are_compared_differences_first() {
    let room = room(PERSON);
    let path = room.path();
    fs::write(
        path.join("c.toml"),
        PERSON.replace("days = 2", "days = 2\nobjective = \"closeness\""),
    )
    .expect("a file");
    for (brief, file) in [("b.toml", "b.json"), ("c.toml", "c.json")] {
        let o = run(
            path,
            &[
                "plan", brief, "--moves", MOVES, "--format", "json", "--output", file,
            ],
        );
        assert_eq!(o.status.code(), Some(0), "{}", err(&o));
    }
    let same = json(&run(path, &["compare", "b.json", "b.json", "--format", "json"]));
    assert_eq!(same["changes"]["same"], same["changes"]["meals"]);
    assert_eq!(same["changes"]["changed"], Value::Array(Vec::new()));
    assert_eq!(same["changes"]["shopping"], Value::Array(Vec::new()));
    // Plan files and briefs give the same comparison, but for the digits a file keeps.
    let files = json(&run(path, &["compare", "b.json", "c.json", "--format", "json"]));
    let briefs = json(&run(
        path,
        &[
            "compare", "b.toml", "c.toml", "--moves", MOVES, "--format", "json",
        ],
    ));
    assert_eq!(files["changes"]["cost"], briefs["changes"]["cost"]);
    assert_eq!(files["changes"]["changed"], briefs["changes"]["changed"]);
    assert_eq!(files["changes"]["nutrients"], briefs["changes"]["nutrients"]);
    for (format, word) in [
        ("text", "Meals that changed"),
        ("markdown", "## Meals that differ"),
        ("html", "Meals that differ</h2>"),
    ] {
        let o = run(path, &["compare", "b.json", "c.json", "--format", format]);
        let text = out(&o);
        assert!(text.contains(word), "{format}: {text} {}", err(&o));
        let (meals, cost) = (text.find(word), text.find("At the till"));
        assert!(meals < cost, "{format}");
    }
    fs::write(path.join("no.json"), "{\"schema\": 1, \"days\": []}").expect("a file");
    let o = run(path, &["compare", "no.json", "b.json"]);
    assert!(
        o.status.code() == Some(2) && err(&o).contains("no.json"),
        "{}",
        err(&o)
    );
}

#[test]
fn own_dishes_and_a_near_region_work_everywhere() {
    let room = room(&PERSON.replace("\"us\"", "\"north_indai\""));
    for command in ["plan", "why"] {
        let o = run(room.path(), &[command, "b.toml"]);
        assert!(err(&o).contains("did you mean `north_india`?"), "{}", err(&o));
    }
    fs::write(room.path().join("b.toml"), PERSON).expect("a file");
    for arguments in [
        vec!["why", "b.toml"],
        vec!["sweep", "b.toml", "--vary", "protein 60..90 g"],
        vec!["swap", "b.toml", "--staple", "rice"],
        vec!["plan", "b.toml"],
    ] {
        let o = run(
            room.path(),
            &[arguments.as_slice(), &["--dishes", "none.toml"]].concat(),
        );
        assert!(
            o.status.code() == Some(2) && err(&o).contains("none.toml"),
            "{}",
            err(&o)
        );
    }
}
