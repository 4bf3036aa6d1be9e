//! The built program as a whole: what goes in, what comes out, exit codes and files. 0 a result, 1 no plan
//! and why, 2 bad input or failure.

use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use tempfile::TempDir;

/// Moves of a quick plan.
const MOVES: &str = "800000";

struct Room(TempDir);

impl Room {
    fn new() -> Room {
        Room(tempfile::tempdir().expect("a folder"))
    }
    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }
    fn file(&self, name: &str, text: impl AsRef<[u8]>) -> PathBuf {
        fs::write(self.path(name), text).expect("a file");
        self.path(name)
    }
    fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().expect("the program runs")
    }
    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_platewright"));
        command
            .args(arguments)
            .current_dir(self.0.path())
            .stdin(Stdio::null());
        command
    }
    fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.0.path())
            .expect("the folder")
            .map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }
}

fn out(o: &Output) -> String {
    String::from_utf8(o.stdout.clone()).expect("UTF-8")
}

fn err(o: &Output) -> String {
    String::from_utf8(o.stderr.clone()).expect("UTF-8")
}

fn code(o: &Output) -> i32 {
    o.status.code().expect("an exit code")
}

/// Refused with 2, nothing on standard output, no panic, and a message that says each of the words.
#[track_caller]
fn refused(o: &Output, words: &[&str]) {
    let text = err(o);
    assert_eq!(code(o), 2, "{text}");
    assert!(o.stdout.is_empty(), "{}", out(o));
    assert!(!text.contains("panicked") && !text.is_empty(), "{text}");
    for w in words {
        assert!(text.contains(w), "no {w:?} in: {text}");
    }
}

/// An invented person's brief.
const BRIEF: &str = "\
title = \"Invented\"
region = \"us\"
days = 7
objective = \"cost\"
budget = \"65 USD/week\"
diet = []
allergies = []
dislikes = []
likes = []

[person]
sex = \"female\"
age = 30
height = \"168 cm\"
weight = \"61 kg\"
training = \"novice\"

[activity]
level = \"active\"

[[phase]]
kind = \"gain\"
surplus = \"400 kcal\"
weeks = 12
";

#[test]
fn help_names_every_command_and_the_exit_codes() {
    let room = Room::new();
    let o = room.run(&["--help"]);
    assert_eq!(code(&o), 0);
    for word in [
        "new",
        "targets",
        "plan",
        "foods",
        "completions",
        "man",
        "Exit code",
    ] {
        assert!(out(&o).contains(word), "no {word} in {}", out(&o));
    }
    for c in ["new", "targets", "plan", "foods", "completions", "man"] {
        let o = room.run(&[c, "--help"]);
        assert!(code(&o) == 0 && out(&o).contains("Usage"), "{c}: {}", err(&o));
    }
    assert!(out(&room.run(&["--version"])).starts_with("platewright "));
    refused(&room.run(&["plam"]), &["plam", "plan"]);
    refused(&room.run(&["plan", "--no-such"]), &["--no-such"]);
}

#[test]
fn a_new_brief_reads_has_targets_and_a_plan() {
    let room = Room::new();
    let o = room.run(&["new", "--output", "mine.toml"]);
    assert_eq!((code(&o), o.stdout.len()), (0, 0), "{}", err(&o));
    let text = fs::read_to_string(room.path("mine.toml")).expect("the brief");
    assert_eq!(
        text,
        out(&room.run(&["new"])),
        "the same to a file and to standard output"
    );
    let o = room.run(&["targets", "mine.toml"]);
    assert_eq!(code(&o), 0, "{}", err(&o));
    assert!(
        out(&o).contains("kcal") && out(&o).contains("rotein"),
        "{}",
        out(&o)
    );
    let o = room.run(&["plan", "mine.toml", "--moves", MOVES]);
    assert_eq!(code(&o), 0, "{}", err(&o));
    for word in ["Breakfast", "Lunch", "Dinner"] {
        assert!(out(&o).contains(word), "no {word}");
    }
    // It never overwrites.
    refused(
        &room.run(&["new", "--output", "mine.toml"]),
        &["mine.toml", "exists"],
    );
    assert_eq!(
        fs::read_to_string(room.path("mine.toml")).expect("the brief"),
        text
    );
}

#[test]
fn new_takes_its_options_or_says_what_is_wrong_with_them() {
    let room = Room::new();
    let o = room.run(&[
        "new",
        "--region",
        "north_india",
        "--sex",
        "male",
        "--age",
        "41",
        "--height",
        "5 ft 9 in",
        "--weight",
        "165 lb",
        "--phase",
        "lose",
        "--diet",
        "vegetarian",
        "--budget",
        "1500 INR/week",
    ]);
    assert_eq!(code(&o), 0, "{}", err(&o));
    for word in [
        "north_india",
        "male",
        "41",
        "5 ft 9 in",
        "165 lb",
        "lose",
        "vegetarian",
        "1500 INR/week",
    ] {
        assert!(out(&o).contains(word), "no {word}");
    }
    refused(&room.run(&["new", "--weight", "61"]), &["weight", "unit"]);
    refused(
        &room.run(&["new", "--height", "tall", "--weight=-3 kg"]),
        &["height", "weight"],
    );
    refused(&room.run(&["new", "--age", "x"]), &["--age"]);
}

#[test]
fn a_plan_from_standard_input_is_that_of_the_file() {
    let room = Room::new();
    room.file("b.toml", BRIEF);
    let mut child = room
        .command(&["plan", "-", "--format", "json", "--moves", MOVES])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    child
        .stdin
        .take()
        .expect("a pipe")
        .write_all(BRIEF.as_bytes())
        .expect("written");
    let piped = child.wait_with_output().expect("it ends");
    assert_eq!(code(&piped), 0, "{}", err(&piped));
    let from_file = room.run(&["plan", "b.toml", "--format", "json", "--moves", MOVES]);
    assert_eq!(out(&piped), out(&from_file), "the same plan, byte for byte");
}

#[test]
fn every_format_is_what_it_says() {
    let room = Room::new();
    room.file("b.toml", BRIEF);
    let plan = |format: &str| {
        let o = room.run(&["plan", "b.toml", "--moves", MOVES, "--format", format]);
        assert_eq!(code(&o), 0, "{format}: {}", err(&o));
        out(&o)
    };
    let json: serde_json::Value = serde_json::from_str(&plan("json")).expect("JSON");
    assert_eq!(json["schema"], 1);
    for (format, columns) in [
        (
            "csv",
            &["day", "slot", "item", "mass_g", "energy_kcal", "cost", "currency"][..],
        ),
        ("totals-csv", &["day"][..]),
        ("shopping-csv", &["product"][..]),
    ] {
        let text = plan(format);
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let head: Vec<String> = reader
            .headers()
            .expect("a head")
            .iter()
            .map(str::to_string)
            .collect();
        for c in columns {
            assert!(
                head.iter().any(|h| h.contains(c)),
                "{format}: no column {c} in {head:?}"
            );
        }
        let rows = reader
            .records()
            .collect::<Result<Vec<_>, _>>()
            .expect("rows as wide as the head")
            .len();
        assert!(rows >= 7, "{format}: {rows} rows");
    }
    // 80 columns for people.
    let text = plan("text");
    let wide: Vec<&str> = text.lines().filter(|l| l.chars().count() > 80).collect();
    assert!(wide.is_empty(), "{wide:#?}");
    refused(
        &room.run(&["plan", "b.toml", "--format", "yaml"]),
        &["yaml", "json"],
    );
}

#[test]
fn output_is_written_whole_and_alone() {
    let room = Room::new();
    room.file("b.toml", BRIEF);
    let o = room.run(&[
        "plan",
        "b.toml",
        "--moves",
        MOVES,
        "--format",
        "json",
        "-o",
        "plan.json",
    ]);
    assert_eq!((code(&o), o.stdout.len()), (0, 0), "{}", err(&o));
    assert_eq!(room.names(), ["b.toml", "plan.json"]);
    let text = fs::read_to_string(room.path("plan.json")).expect("the plan");
    serde_json::from_str::<serde_json::Value>(&text).expect("JSON");
    // A brief that is refused leaves the file of before as it was.
    room.file("bad.toml", BRIEF.replace("61 kg", "61"));
    refused(&room.run(&["plan", "bad.toml", "-o", "plan.json"]), &["weight"]);
    assert_eq!(
        fs::read_to_string(room.path("plan.json")).expect("the plan"),
        text
    );
    assert_eq!(room.names(), ["b.toml", "bad.toml", "plan.json"]);
}

#[test]
fn a_place_that_cannot_be_written_is_refused_before_the_work() {
    let room = Room::new();
    room.file("b.toml", BRIEF);
    fs::create_dir(room.path("folder")).expect("a folder");
    // So many moves would take minutes.
    let long = "900000000";
    for place in ["missing/plan.txt", "folder", "b.toml/plan.txt"] {
        // A folder takes the whole set, but no model.
        for option in ["-o", "--model"]
            .into_iter()
            .filter(|o| place != "folder" || *o == "--model")
        {
            let place = if option == "--model" && place != "folder" {
                place.replace(".txt", ".lp")
            } else {
                place.to_string()
            };
            let start = Instant::now();
            let o = room.run(&["plan", "b.toml", "--moves", long, option, &place]);
            refused(&o, &[&place]);
            assert!(
                start.elapsed() < Duration::from_secs(20),
                "{place}: after {:?}",
                start.elapsed()
            );
            assert_eq!(room.names(), ["b.toml", "folder"]);
        }
    }
    refused(
        &room.run(&["plan", "b.toml", "--moves", long, "--model", "week.txt"]),
        &["--model", ".mps", ".lp"],
    );
    assert_eq!(room.names(), ["b.toml", "folder"]);
}

#[test]
fn the_model_is_written_in_both_forms() {
    let room = Room::new();
    room.file(
        "b.toml",
        BRIEF
            .replace("days = 7", "days = 2")
            .replace("65 USD/week", "90 USD/week"),
    );
    for (name, first, last) in [("week.mps", "NAME", "ENDATA"), ("week.lp", "inimize", "End")] {
        let o = room.run(&["plan", "b.toml", "--moves", MOVES, "--model", name]);
        assert!(code(&o) < 2, "{name}: {}", err(&o));
        let text = fs::read_to_string(room.path(name)).expect("the model");
        assert!(text.contains(first), "{name}: {}", &text[..200]);
        assert!(
            text.trim_end().to_lowercase().ends_with(&last.to_lowercase()),
            "{name}"
        );
    }
}

#[test]
fn what_is_no_brief_is_refused_by_name() {
    let room = Room::new();
    refused(&room.run(&["plan", "missing.toml"]), &["missing.toml"]);
    fs::create_dir(room.path("folder")).expect("a folder");
    refused(&room.run(&["plan", "folder"]), &["folder"]);
    room.file("empty.toml", "");
    refused(
        &room.run(&["plan", "empty.toml"]),
        &["empty.toml", "region", "person", "activity", "phase"],
    );
    let garbage: Vec<u8> = (0..5000u32)
        .map(|n| (n.wrapping_mul(2_654_435_761) >> 13) as u8)
        .collect();
    room.file("garbage.toml", garbage);
    refused(&room.run(&["plan", "garbage.toml"]), &["garbage.toml"]);
    room.file("zeros.toml", [0u8; 1000]);
    refused(&room.run(&["plan", "zeros.toml"]), &["zeros.toml"]);
    fs::File::create(room.path("large.toml"))
        .and_then(|f| f.set_len(200 << 20))
        .expect("a sparse file");
    let start = Instant::now();
    refused(&room.run(&["plan", "large.toml"]), &["large.toml", "larger than"]);
    refused(
        &room.run(&["targets", "large.toml"]),
        &["large.toml", "larger than"],
    );
    refused(&room.run(&["plan", "empty.toml", "--prices", "large.toml"]), &[]);
    assert!(start.elapsed() < Duration::from_secs(20));
    room.file("b.toml", BRIEF);
    refused(
        &room.run(&["plan", "b.toml", "--prices", "large.toml"]),
        &["large.toml", "larger than"],
    );
    refused(&room.run(&["plan", "b.toml", "--prices", "no.csv"]), &["no.csv"]);
    refused(&room.run(&["plan", "b.toml", "--foods", "no.csv"]), &["no.csv"]);
}

/// Changes one thing of the brief; the message names the file, the line and points at it.
#[test]
fn a_mistake_is_shown_in_its_line() {
    let room = Room::new();
    for (from, to, words) in [
        ("age = 30", "agee = 30", &["agee", "did you mean `age`"][..]),
        ("61 kg", "61 parsecs", &["parsecs", "kg"]),
        ("\"61 kg\"", "nan", &["weight"]),
        ("61 kg", "NaN kg", &["weight", "number"]),
        ("61 kg", "-61 kg", &["below zero"]),
        ("61 kg", "0 kg", &["weight"]),
        ("61 kg", "61,000 kg", &["weight"]),
        ("65 USD/week", "-5 USD/week", &["budget", "below zero"]),
        ("65 USD/week", "65 quid", &["budget"]),
        ("\"us\"", "\"uss\"", &["uss", "`us`"]),
        (
            "diet = []",
            "diet = [\"vegam\"]",
            &["vegam", "did you mean `vegan`"],
        ),
        (
            "allergies = []",
            "allergies = [\"penut\"]",
            &["penut", "did you mean `peanut`"],
        ),
        (
            "dislikes = []",
            "dislikes = [\"bananna\"]",
            &["bananna", "did you mean `banana`"],
        ),
        (
            "likes = []\n\n",
            "likes = [\"bananna\"]\n\n",
            &["bananna", "did you mean `banana`"],
        ),
        ("days = 7", "days = 0", &["days", "1 to 28"]),
        ("days = 7", "days = 100000", &["days", "1 to 28"]),
        ("days = 7", "days = ", &[]),
    ] {
        let text = BRIEF.replacen(from, to, 1);
        assert_ne!(text, BRIEF, "{from}");
        let line = 1 + text
            .lines()
            .zip(BRIEF.lines())
            .take_while(|(a, b)| a == b)
            .count();
        room.file("mine.toml", &text);
        let o = room.run(&["plan", "mine.toml", "--moves", "1000"]);
        refused(&o, words);
        refused(&o, &["mine.toml", &format!("{line}:"), "^"]);
    }
}

#[test]
fn all_mistakes_are_shown_at_once() {
    let room = Room::new();
    let text = BRIEF
        .replace("61 kg", "61 parsecs")
        .replace("age = 30", "agee = 30")
        .replace("days = 7", "days = 0");
    room.file("b.toml", text);
    refused(&room.run(&["plan", "b.toml"]), &["parsecs", "agee", "`days`"]);
    let text = BRIEF
        .replace("diet = []", "diet = [\"vegam\"]")
        .replace("allergies = []", "allergies = [\"penut\"]");
    room.file("b.toml", text);
    refused(&room.run(&["plan", "b.toml"]), &["vegam", "penut"]);
}

const PRICES: &str = "buy,amount,unit,price,currency,place,date,pack,source\n";

#[test]
fn every_bad_row_of_a_price_list_is_reported() {
    let room = Room::new();
    room.file("b.toml", BRIEF);
    let rows = "apple,1,lb,1.87,USD,here,2024-07-01,no,invented\n\
                banana,1,lb,-0.60,USD,here,2024-07-01,no,invented\n\
                unobtainium,1,lb,1.00,USD,here,2024-07-01,no,invented\n\
                orange,1,lb,1.48,EUR,here,2024-07-01,no,invented\n\
                carrot,1,parsec,1.48,USD,here,2024-07-01,no,invented\n\
                celery,1,lb,nan,USD,here,2024-07-01,no,invented\n";
    room.file("p.csv", format!("{PRICES}{rows}"));
    let o = room.run(&["plan", "b.toml", "--prices", "p.csv"]);
    refused(
        &o,
        &[
            "p.csv",
            "line 3",
            "-0.60",
            "line 4",
            "unobtainium",
            "line 5",
            "EUR",
            "line 6",
            "parsec",
            "line 7",
            "nan",
        ],
    );
    assert!(!err(&o).contains("line 2"), "{}", err(&o));
    room.file("p.csv", "");
    refused(&room.run(&["plan", "b.toml", "--prices", "p.csv"]), &["p.csv"]);
    room.file("p.csv", "what,ever\n1,2\n");
    refused(&room.run(&["plan", "b.toml", "--prices", "p.csv"]), &["p.csv"]);
}

#[test]
fn a_budget_in_another_currency_is_refused() {
    let room = Room::new();
    room.file("b.toml", BRIEF.replace("USD", "EUR"));
    refused(
        &room.run(&["plan", "b.toml", "--moves", "1000"]),
        &["b.toml", "EUR", "USD", "budget"],
    );
}

#[test]
fn a_safety_rule_stops_with_its_reason_and_no_meal() {
    let room = Room::new();
    let thin = BRIEF
        .replace("61 kg", "48 kg")
        .replace("kind = \"gain\"\nsurplus", "kind = \"lose\"\ndeficit");
    let disorder = format!("{BRIEF}\n[screen]\neating_disorder = true\n");
    for (name, text) in [("thin.toml", thin), ("disorder.toml", disorder)] {
        room.file(name, text);
        let o = room.run(&["plan", name]);
        assert_eq!(code(&o), 1, "{name}: {}", err(&o));
        assert!(
            out(&o).contains("No meals are planned") && out(&o).contains("Gates"),
            "{name}: {}",
            out(&o)
        );
        assert!(!out(&o).contains("Breakfast"), "{name}");
        let o = room.run(&["plan", name, "--format", "json"]);
        let json: serde_json::Value = serde_json::from_str(&out(&o)).expect("JSON");
        assert_eq!(code(&o), 1);
        assert_eq!(json["days"].as_array().map_or(0, Vec::len), 0, "{name}");
        assert_eq!(code(&room.run(&["targets", name])), 1, "{name}");
    }
}

/// A question of the starter that is answered yes must be understood: stop, caution or plan, never refused.
#[test]
fn every_question_of_a_new_brief_is_understood() {
    let room = Room::new();
    let text = out(&room.run(&["new"]));
    let questions: Vec<&str> = text.lines().filter_map(|l| l.strip_suffix(" = false")).collect();
    assert!(questions.len() > 20, "{questions:?}");
    let mut refused = Vec::new();
    for q in questions {
        room.file(
            "b.toml",
            text.replace(&format!("\n{q} = false"), &format!("\n{q} = true")),
        );
        if code(&room.run(&["targets", "b.toml"])) == 2 {
            refused.push(q);
        }
    }
    assert!(refused.is_empty(), "{refused:?}");
}

#[test]
fn pregnancy_stops() {
    let room = Room::new();
    room.file("b.toml", format!("{BRIEF}\n[screen]\npregnancy = true\n"));
    let o = room.run(&["plan", "b.toml"]);
    assert_eq!(code(&o), 1, "{}", err(&o));
    assert!(out(&o).contains("No meals are planned"), "{}", out(&o));
}

#[test]
fn no_plan_is_a_result_too() {
    let room = Room::new();
    room.file("b.toml", BRIEF.replace("65 USD", "10 USD"));
    let o = room.run(&["plan", "b.toml", "--moves", MOVES]);
    assert_eq!(code(&o), 1, "{}", err(&o));
    assert!(out(&o).to_lowercase().contains("budget"), "{}", out(&o));
}

#[test]
fn pipes_and_no_color_give_no_escape_codes() {
    let room = Room::new();
    room.file("b.toml", BRIEF);
    room.file("bad.toml", BRIEF.replace("61 kg", "61"));
    for arguments in [
        &["plan", "b.toml", "--moves", "1000"][..],
        &["targets", "b.toml"],
        &["plan", "bad.toml"],
        &["--help"],
        &["foods", "find", "rice"],
    ] {
        for no_color in [false, true] {
            let mut command = room.command(arguments);
            if no_color {
                command.env("NO_COLOR", "1");
            }
            let o = command.output().expect("the program runs");
            assert!(
                !o.stdout.contains(&0x1b) && !o.stderr.contains(&0x1b),
                "{arguments:?}"
            );
        }
    }
}

/// A reader that has what it wanted and leaves, like `head`.
#[test]
fn a_closed_pipe_is_no_failure() {
    let room = Room::new();
    room.file("b.toml", BRIEF);
    for arguments in [
        &["plan", "b.toml", "--moves", "1000", "--format", "json"][..],
        &["man"],
        &["completions", "bash"],
        &["foods", "find", "rice"],
        &["new"],
    ] {
        let mut child = room
            .command(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program runs");
        let mut first = [0; 1];
        let mut pipe = child.stdout.take().expect("a pipe");
        pipe.read_exact(&mut first).expect("a byte");
        drop(pipe);
        let o = child.wait_with_output().expect("it ends");
        let text = err(&o);
        assert!(
            !text.contains("panicked") && !text.contains("roken pipe"),
            "{arguments:?}: {text}"
        );
        assert!(code(&o) < 2, "{arguments:?}: {text}");
    }
}

#[test]
fn completions_and_the_manual_page_are_there() {
    let room = Room::new();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let o = room.run(&["completions", shell]);
        assert!(
            code(&o) == 0 && out(&o).contains("platewright"),
            "{shell}: {}",
            err(&o)
        );
    }
    let o = room.run(&["man"]);
    assert!(
        code(&o) == 0 && out(&o).contains(".TH") && out(&o).contains("platewright"),
        "{}",
        err(&o)
    );
}

#[test]
fn every_example_has_a_plan() {
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let room = Room::new();
    let mut seen = 0;
    for folder in fs::read_dir(examples).expect("the examples") {
        let brief = folder.expect("an entry").path().join("brief.toml");
        if brief.exists() {
            let o = room.run(&["plan", &brief.to_string_lossy(), "--moves", MOVES]);
            assert_eq!(code(&o), 0, "{}: {}{}", brief.display(), out(&o), err(&o));
            seen += 1;
        }
    }
    assert!(seen >= 5, "{seen} examples");
}

/// The examples in the comments of a new brief, with their marks taken away, are a brief that plans.
#[test]
fn the_comments_of_a_new_brief_are_true() {
    let room = Room::new();
    let text = out(&room.run(&["new"]));
    let (own, comments) = text.split_at(text.find("# [[").expect("examples in comments"));
    let comments: Vec<&str> = comments
        .lines()
        .map(|l| l.strip_prefix("# ").unwrap_or(l))
        .collect();
    room.file("b.toml", format!("{own}{}\n", comments.join("\n")));
    let o = room.run(&["plan", "b.toml", "--moves", MOVES]);
    assert!(code(&o) < 2, "{}", err(&o));
}

/// A lock over several days is one mistake, not one a day.
#[test]
fn one_mistake_is_told_once() {
    let room = Room::new();
    let lock =
        "[[lock]]\ndays = [1, 3]\nslot = \"dinner\"\nitems = [ { item = \"unobtainium\", servings = 1 } ]\n";
    room.file("b.toml", format!("{BRIEF}\n{lock}"));
    let o = room.run(&["plan", "b.toml", "--moves", "1000"]);
    refused(&o, &["unobtainium"]);
    assert_eq!(err(&o).matches("error[").count(), 1, "{}", err(&o));
}

#[test]
fn why_and_sweep_read_a_diet_problem_and_a_brief() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let problem = root.join("examples/stigler-1945/problem.toml");
    let problem = problem.to_str().expect("a path");
    let room = Room::new();
    let why = room.run(&["why", problem, "--format", "json"]);
    assert_eq!(code(&why), 0, "{}", err(&why));
    let told: serde_json::Value = serde_json::from_str(&out(&why)).expect("JSON");
    assert_eq!(told["proved"], true);
    // Dantzig 1990: 39.69 dollars a year of 365.25 days.
    assert!((told["cost"].as_f64().expect("a cost") * 365.25 - 39.69).abs() < 0.005);
    let sweep = room.run(&[
        "sweep",
        problem,
        "--vary",
        "calcium_g",
        "0.4..2",
        "--format",
        "svg",
    ]);
    assert_eq!(code(&sweep), 0, "{}", err(&sweep));
    assert!(out(&sweep).starts_with("<svg") && out(&sweep).contains("<title"));
    let table = room.run(&[
        "sweep",
        problem,
        "--vary",
        "calcium_g",
        "0.4..2",
        "--points",
        "5",
        "--format",
        "csv",
    ]);
    assert_eq!(out(&table).lines().filter(|l| l.starts_with("place,")).count(), 5);
    let wrong = room.run(&["sweep", problem, "--vary", "calcum_g 0.4..2"]);
    assert_eq!(code(&wrong), 2);
    assert!(
        err(&wrong).contains("did you mean `calcium_g`?"),
        "{}",
        err(&wrong)
    );
    let brief = root.join("examples/surplus-on-a-budget/brief.toml");
    let text = fs::read_to_string(brief)
        .expect("the example")
        .replace("65 USD/week", "15 USD/week");
    room.file("poor.toml", text);
    let none = room.run(&["why", "poor.toml"]);
    assert_eq!(code(&none), 1, "{}", err(&none));
    assert!(out(&none).contains("raise the budget to"), "{}", out(&none));
}
