//! The commands over months as a whole: formats, files, exit codes. All people and logs are invented.
#![cfg(feature = "cli")]

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

const BRIEF: &str = "examples/gain-then-lean/brief.toml";
const CLAIM: &str = "examples/gain-then-lean/claim.toml";
const LOG: &str = "examples/gain-then-lean/log.csv";

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_platewright"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("the program runs")
}

fn out(o: &Output) -> String {
    String::from_utf8(o.stdout.clone()).expect("UTF-8")
}

fn err(o: &Output) -> String {
    String::from_utf8(o.stderr.clone()).expect("UTF-8")
}

#[track_caller]
fn result(arguments: &[&str]) -> String {
    let o = run(arguments);
    assert_eq!(o.status.code(), Some(0), "{arguments:?}: {}", err(&o));
    out(&o)
}

#[test]
fn a_forecast_in_every_format() {
    let text = result(&["forecast", BRIEF]);
    for words in [
        "Milestones",
        "What the scale does first",
        "not a promise",
        "phase 5 (lose)",
    ] {
        assert!(text.contains(words), "{words}");
    }
    let csv = result(&["forecast", BRIEF, "--format", "csv"]);
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let rows: Result<Vec<csv::StringRecord>, _> = reader.records().collect();
    assert_eq!(rows.expect("sound rows").len(), 33);
    let json: serde_json::Value =
        serde_json::from_str(&result(&["forecast", BRIEF, "--format", "json"])).expect("JSON");
    assert_eq!(json["outcome"], "forecast");
    assert_eq!(json["weeks"].as_array().map(Vec::len), Some(33));
    for show in ["weight", "fat", "lean", "energy"] {
        assert!(result(&["forecast", BRIEF, "--format", "svg", "--show", show]).starts_with("<svg"));
    }
}

#[test]
fn targets_of_a_later_week_follow_the_body() {
    let protein = |week: &str| {
        let json: serde_json::Value =
            serde_json::from_str(&result(&["targets", BRIEF, "--week", week, "--format", "json"]))
                .expect("JSON");
        let list = json["targets"].as_array().expect("targets").clone();
        let target = list.iter().find(|t| t["id"] == "protein_day").expect("protein");
        target["floor"].as_f64().expect("a floor")
    };
    assert!(protein("16") > protein("1") + 3.0, "4 kg heavier at 1.6 g/kg");
    let o = run(&["targets", BRIEF, "--week", "33"]);
    assert_eq!(o.status.code(), Some(2));
    assert!(err(&o).contains("weeks are counted from 1 to 32"), "{}", err(&o));
}

#[test]
fn an_appraisal_and_a_claim_to_fill_in() {
    let text = result(&["appraise", CLAIM]);
    assert!(text.contains("plausible but mostly fat"), "{text}");
    let json: serde_json::Value =
        serde_json::from_str(&result(&["appraise", CLAIM, "--format", "json"])).expect("JSON");
    assert_eq!(json["stages"].as_array().map(Vec::len), Some(2));
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("claim.toml");
    fs::write(&path, result(&["appraise", "--new"])).expect("written");
    let path = path.to_str().expect("a name");
    result(&["appraise", path]);
    fs::write(path, "[person]\nage = 3000\n").expect("written");
    let o = run(&["appraise", path]);
    assert_eq!(o.status.code(), Some(2));
    assert!(
        err(&o).contains("stage") || err(&o).contains("sex"),
        "{}",
        err(&o)
    );
    assert_eq!(run(&["appraise"]).status.code(), Some(2));
}

#[test]
fn a_review_writes_a_new_brief_and_never_over_one() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("next.toml");
    let next = path.to_str().expect("a name");
    let text = result(&["review", BRIEF, LOG, "--write", next]);
    for words in [
        "Next week",
        "Expenditure over these days",
        "own scale",
        "Left out: line",
    ] {
        assert!(text.contains(words), "{words} in {text}");
    }
    let written = fs::read_to_string(&path).expect("written");
    assert!(
        written.contains("weeks = 12") && written.contains("# weeks 17 and 18"),
        "{written}"
    );
    result(&["forecast", next]);
    let o = run(&["review", BRIEF, LOG, "--write", next]);
    assert_eq!(o.status.code(), Some(2));
    assert!(err(&o).contains("exists already"));
    assert_eq!(fs::read_to_string(&path).expect("kept"), written);
    let json: serde_json::Value =
        serde_json::from_str(&result(&["review", BRIEF, LOG, "--format", "json"])).expect("JSON");
    assert_eq!(json["outcome"], "reviewed");
    assert!(result(&["review", BRIEF, LOG, "--format", "svg"]).starts_with("<svg"));
}

#[test]
fn a_review_of_too_little_or_of_nonsense() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("log.csv");
    let short: String = fs::read_to_string(LOG)
        .expect("the log")
        .lines()
        .take(12)
        .map(|l| format!("{l}\n"))
        .collect();
    fs::write(&path, short).expect("written");
    let log = path.to_str().expect("a name");
    let next = folder.path().join("next.toml");
    let o = run(&["review", BRIEF, log, "--write", next.to_str().expect("a name")]);
    assert_eq!(o.status.code(), Some(1), "{}", err(&o));
    assert!(out(&o).contains("Too little data") && !next.exists());
    fs::write(&path, "date,weight\n2026-13-01,61\n2026-03-02,about 60\n").expect("written");
    let o = run(&["review", BRIEF, log]);
    assert_eq!(o.status.code(), Some(2));
    assert!(
        err(&o).contains("log.csv:2") && err(&o).contains("log.csv:3"),
        "{}",
        err(&o)
    );
    let o = run(&["review", BRIEF, LOG, "--start", "yesterday"]);
    assert_eq!(o.status.code(), Some(2));
}

/// The commands of the example's page run as they stand there; the plans with fewer moves.
#[test]
fn the_commands_of_the_example_run() {
    let page = fs::read_to_string("examples/gain-then-lean/README.md").expect("the page");
    let folder = tempfile::tempdir().expect("a folder");
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut count = 0;
    for line in page.lines().filter_map(|l| l.strip_prefix("platewright ")) {
        let line = line.split('#').next().unwrap_or("").trim();
        let mut arguments: Vec<String> = line
            .split_whitespace()
            .map(|w| match w.starts_with("examples/") {
                true => root.join(w).display().to_string(),
                false => w.to_string(),
            })
            .collect();
        if arguments[0] == "plan" {
            arguments.extend(["--moves".into(), "400000".into()]);
        }
        let o = Command::new(env!("CARGO_BIN_EXE_platewright"))
            .args(&arguments)
            .current_dir(folder.path())
            .output()
            .expect("the program runs");
        assert_eq!(o.status.code(), Some(0), "{line}: {}", err(&o));
        count += 1;
    }
    assert_eq!(count, 6);
}
