//! Many briefs at once: a line out for each line in, in their order, the same on any number of threads, and a run
//! that ended early goes on where it was.

use platewright::roster::{Defaults, Entry, run};
use serde_json::{Value, json};
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;
use tempfile::TempDir;

/// Moves of a quick plan of a day.
const MOVES: &str = "60000";

/// An invented person's brief of a day, with more lines on top.
fn brief(top: &str, weight: u32) -> String {
    format!(
        "{top}region = \"us\"\ndays = 1\n[person]\nsex = \"female\"\nage = 30\nheight = \"168 cm\"\n\
         weight = \"{weight} kg\"\n[activity]\nlevel = \"active\"\n[[phase]]\nkind = \"hold\"\nweeks = 4\n"
    )
}

/// No plan can be: more protein than the energy holds.
fn impossible() -> String {
    format!(
        "{}[[target]]\nnutrient = \"protein\"\nfloor = \"300 g\"\n",
        brief("", 61)
    )
}

fn entry(id: &str, brief: &str) -> String {
    format!("{}\n", json!({ "id": id, "brief": brief }))
}

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
    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).expect(name)
    }
    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_platewright"));
        command
            .arg("plan")
            .args(arguments)
            .args(["--moves", MOVES])
            .current_dir(self.0.path())
            .stdin(Stdio::null());
        command
    }
    fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().expect("the program runs")
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

fn code(o: &Output) -> Option<i32> {
    o.status.code()
}

fn lines(text: &str) -> Vec<Value> {
    text.lines()
        .map(|l| serde_json::from_str(l).expect("a line of JSON"))
        .collect()
}

fn words<'a>(lines: &'a [Value], key: &str) -> Vec<&'a str> {
    lines.iter().map(|l| l[key].as_str().unwrap_or("none")).collect()
}

/// A roster with an entry of each kind.
fn mixed() -> String {
    let mut text = String::from("\u{feff}");
    text += &entry("a", &brief("", 61));
    text += &entry("none", &impossible());
    text += "\r\n\n";
    text += "{\"id\": \"cut off\n";
    text += &entry("child", &brief("", 50).replace("age = 30", "age = 16"));
    text += &entry("typo", &brief("regoin = \"uk\"\n", 61));
    text += &format!("{}\r\n", json!({ "brief": brief("", 61), "weak": 3, "seed": -1 }));
    text += &format!(
        "{}\n",
        json!({ "id": "seeded", "brief": brief("", 61), "seed": 5 })
    );
    // The last line needs no end.
    text + entry("z", &brief("", 75)).trim_end()
}

#[test]
fn every_line_is_answered_in_its_place() {
    let room = Room::new();
    room.file("roster.jsonl", mixed());
    let o = room.run(&["--roster", "roster.jsonl"]);
    assert_eq!(code(&o), Some(2), "{}", err(&o));
    let told = lines(&out(&o));
    assert_eq!(
        words(&told, "id"),
        ["a", "none", "none", "child", "typo", "none", "seeded", "z"]
    );
    assert_eq!(
        words(&told, "outcome"),
        [
            "planned",
            "infeasible",
            "refused",
            "stopped",
            "refused",
            "refused",
            "planned",
            "planned"
        ]
    );
    // An infeasible brief says why, a stopped one has no days.
    assert!(
        !told[1]["plan"]["conflict"]
            .as_array()
            .expect("a conflict")
            .is_empty()
    );
    assert_eq!(told[3]["plan"]["days"], json!([]));
    // Lines count as an editor counts them, blank ones too.
    assert_eq!((&told[2]["line"], &told[5]["line"]), (&json!(5), &json!(8)));
    assert_eq!(told[2]["errors"][0]["code"], "roster-not-json");
    // All mistakes of a line at once.
    let codes: Vec<&Value> = told[5]["errors"]
        .as_array()
        .expect("errors")
        .iter()
        .map(|e| &e["code"])
        .collect();
    assert_eq!(
        codes,
        ["roster-unknown-key", "roster-missing-key", "roster-bad-value"]
    );
    assert!(
        told[5]["errors"][0]["help"]
            .as_str()
            .expect("help")
            .contains("`week`")
    );
    // A mistake of a brief has its line and column there.
    let typo = &told[4]["errors"][0];
    assert_eq!((&typo["line"], &typo["column"]), (&json!(1), &json!(1)), "{typo}");
    assert!(typo["help"].as_str().expect("help").contains("region"), "{typo}");
    assert!(err(&o).contains("8 answered"), "{}", err(&o));
}

#[test]
fn an_answer_is_what_one_brief_alone_gets() {
    let room = Room::new();
    room.file("a.toml", brief("", 61));
    room.file("roster.jsonl", mixed());
    let told = lines(&out(&room.run(&["--roster", "roster.jsonl", "--jobs", "2"])));
    for (n, seed) in [(0, None), (6, Some("5"))] {
        let mut arguments = vec!["a.toml", "--format", "json"];
        arguments.extend(seed.iter().flat_map(|s| ["--seed", s]));
        let alone: Value = serde_json::from_str(&out(&room.run(&arguments))).expect("JSON");
        assert_eq!(told[n]["plan"], alone);
    }
    let schema: Value = serde_json::from_str(include_str!("../docs/plan.schema.json")).expect("the schema");
    let schema = jsonschema::validator_for(&schema).expect("a schema");
    for line in told.iter().filter(|l| l.get("plan").is_some()) {
        assert!(schema.is_valid(&line["plan"]), "{}", line["id"]);
    }
}

#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    let room = Room::new();
    room.file("roster.jsonl", mixed());
    let one = out(&room.run(&["--roster", "roster.jsonl", "--jobs", "1"]));
    assert_eq!(lines(&one).len(), 8);
    for jobs in [&["--jobs", "2"][..], &["--jobs", "7"], &[]] {
        let o = room.run(&[&["--roster", "roster.jsonl"], jobs].concat());
        assert!(out(&o) == one, "{jobs:?}");
    }
    let o = room.run(&["--roster", "roster.jsonl", "--output", "to.jsonl"]);
    assert!(room.read("to.jsonl") == one && o.stdout.is_empty());
}

#[test]
fn a_folder_is_planned_in_the_order_of_its_names() {
    let room = Room::new();
    fs::create_dir(room.path("clients")).expect("a folder");
    room.file("clients/zoe.toml", brief("", 61));
    room.file("clients/ada.TOML", brief("", 65));
    room.file("clients/mia.toml", b"title = \"\xff\"\n");
    room.file("clients/notes.txt", "no brief");
    let o = room.run(&["--roster", "clients"]);
    let told = lines(&out(&o));
    assert_eq!(words(&told, "id"), ["ada.TOML", "mia.toml", "zoe.toml"]);
    assert_eq!(words(&told, "outcome"), ["planned", "refused", "planned"]);
    assert!(
        told[1]["errors"][0]["message"]
            .as_str()
            .expect("words")
            .contains("UTF-8")
    );
    fs::create_dir(room.path("empty")).expect("a folder");
    let o = room.run(&["--roster", "empty"]);
    assert_eq!(code(&o), Some(2));
    assert!(err(&o).contains("no brief"), "{}", err(&o));
}

#[test]
fn the_exit_code_tells_the_worst() {
    let room = Room::new();
    let cases: [(String, i32); 4] = [
        (entry("a", &brief("", 61)), 0),
        (entry("a", &brief("", 61)) + &entry("b", &impossible()), 1),
        (entry("b", &impossible()) + "no JSON\n", 2),
        (String::new(), 0),
    ];
    for (text, expected) in cases {
        room.file("roster.jsonl", &text);
        let o = room.run(&["--roster", "roster.jsonl"]);
        assert_eq!(code(&o), Some(expected), "{text}: {}", err(&o));
        assert_eq!(out(&o).lines().count(), text.lines().count());
    }
    for (arguments, word) in [
        (&["--roster", "nowhere.jsonl"][..], "nowhere.jsonl"),
        (&["--roster", "roster.jsonl", "--jobs", "0"], "--jobs"),
        (&["--roster", "roster.jsonl", "--format", "text"], "--format"),
        (&["--roster", "roster.jsonl", "brief.toml"], "BRIEF"),
        (&["--jobs", "2", "brief.toml"], "--roster"),
        (&["--roster", "roster.jsonl", "--output", "."], "folder"),
        (
            &["--roster", "roster.jsonl", "--prices", "no.csv", "--output", "x"],
            "no.csv",
        ),
    ] {
        let o = room.run(arguments);
        assert_eq!(code(&o), Some(2), "{arguments:?}");
        assert!(err(&o).contains(word), "{arguments:?}: {}", err(&o));
    }
    assert_eq!(
        room.names(),
        ["roster.jsonl"],
        "nothing is left of a run that began not"
    );
}

/// Marks an answer so that it shows whether it was kept or made again.
fn marked(line: &str) -> String {
    let marked = line.replacen("\"outcome\":\"", "\"mark\":1,\"outcome\":\"", 1);
    assert_ne!(marked, line);
    marked
}

fn marks(text: &str) -> Vec<bool> {
    lines(text).iter().map(|l| l["mark"] == 1).collect()
}

#[test]
fn a_run_that_ended_early_goes_on() {
    let room = Room::new();
    room.file("roster.jsonl", mixed());
    let arguments = ["--roster", "roster.jsonl", "--output", "to.jsonl"];
    assert_eq!(code(&room.run(&arguments)), Some(2));
    let whole = room.read("to.jsonl");
    // Ended after any byte: in the middle of a line, at its end, before the first.
    let first = whole.find('\n').expect("a line") + 1;
    for end in [0, 1, first - 1, first, first + 30, whole.len() - 1, whole.len()] {
        fs::remove_file(room.path("to.jsonl")).expect("removed");
        room.file("to.jsonl.part", &whole[..end]);
        let o = room.run(&arguments);
        assert_eq!(code(&o), Some(2), "{}", err(&o));
        assert!(room.read("to.jsonl") == whole, "ended after {end} bytes");
        let kept = whole[..end].matches('\n').count();
        let said = err(&o).contains(&format!("{kept} of them by an earlier run"));
        assert_eq!(said, kept > 0, "{}", err(&o));
        assert_eq!(room.names(), ["roster.jsonl", "to.jsonl"]);
    }
    // What stands is taken over as it is, not made again.
    let mut part: String = whole.split_inclusive('\n').take(2).map(marked).collect();
    part += &whole[first..first + 40];
    fs::remove_file(room.path("to.jsonl")).expect("removed");
    room.file("to.jsonl.part", &part);
    room.run(&arguments);
    assert_eq!(
        marks(&room.read("to.jsonl")),
        [true, true, false, false, false, false, false, false]
    );
}

#[test]
fn only_what_changed_is_planned_again() {
    let room = Room::new();
    let people: Vec<String> = (0..4)
        .map(|n| entry(&format!("p{n}"), &brief("", 60 + n)))
        .collect();
    room.file("roster.jsonl", people.concat());
    let arguments = ["--roster", "roster.jsonl", "--output", "to.jsonl"];
    assert_eq!(code(&room.run(&arguments)), Some(0));
    let done = room.read("to.jsonl");
    let all_marked: String = done.split_inclusive('\n').map(marked).collect();

    // The same again: all of it stands.
    room.file("to.jsonl", &all_marked);
    room.run(&arguments);
    assert!(room.read("to.jsonl") == all_marked);

    // One changed, one new in front, one gone, the rest in another order.
    let changed = entry("p1", &brief("", 71));
    let new = entry("new", &brief("", 80));
    let roster = [new.as_str(), &people[3], &changed, &people[0]].concat();
    room.file("roster.jsonl", &roster);
    let o = room.run(&arguments);
    let text = room.read("to.jsonl");
    assert_eq!(words(&lines(&text), "id"), ["new", "p3", "p1", "p0"]);
    assert_eq!(marks(&text), [false, true, false, true]);
    assert!(err(&o).contains("2 of them by an earlier run"), "{}", err(&o));

    // The same from an unfinished file whose first answer is out of date: nothing of it is lost.
    fs::remove_file(room.path("to.jsonl")).expect("removed");
    room.file("to.jsonl.part", &all_marked);
    room.run(&arguments);
    assert_eq!(marks(&room.read("to.jsonl")), [false, true, false, true]);
    assert_eq!(room.names(), ["roster.jsonl", "to.jsonl"]);

    // Other settings make every answer another one.
    let all_marked: String = room
        .read("to.jsonl")
        .split_inclusive('\n')
        .map(|l| marked(&l.replace("\"mark\":1,", "")))
        .collect();
    room.file("to.jsonl", all_marked);
    room.run(&[&arguments[..], &["--seed", "9"]].concat());
    assert_eq!(marks(&room.read("to.jsonl")), [false; 4]);
    // An output that is something else altogether is replaced, as by any command.
    room.file("to.jsonl", "notes\n\0\n{}\n");
    assert_eq!(code(&room.run(&arguments)), Some(0));
    assert_eq!(lines(&room.read("to.jsonl")).len(), 4);
}

#[test]
fn other_prices_make_another_answer() {
    let room = Room::new();
    room.file("roster.jsonl", entry("a", &brief("", 61)));
    let list = include_str!("../foods/catalogue/prices/us.csv");
    room.file("prices.csv", list);
    let arguments = [
        "--roster",
        "roster.jsonl",
        "--output",
        "to.jsonl",
        "--prices",
        "prices.csv",
    ];
    assert_eq!(code(&room.run(&arguments)), Some(0));
    room.file("to.jsonl", marked(&room.read("to.jsonl")));
    room.run(&arguments);
    assert_eq!(marks(&room.read("to.jsonl")), [true]);
    room.file("prices.csv", format!("{list}\n"));
    room.run(&arguments);
    assert_eq!(marks(&room.read("to.jsonl")), [false]);
}

#[test]
fn two_runs_do_not_write_one_file() {
    let room = Room::new();
    let mut first = room
        .command(&["--roster", "-", "--output", "to.jsonl"])
        .stdin(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it runs");
    wait_for(&room.path("to.jsonl.part"));
    room.file("roster.jsonl", entry("a", &brief("", 61)));
    let o = room.run(&["--roster", "roster.jsonl", "--output", "to.jsonl"]);
    assert_eq!(code(&o), Some(2));
    assert!(err(&o).contains("another run"), "{}", err(&o));
    drop(first.stdin.take());
    assert!(first.wait().expect("it ends").success());
}

fn wait_for(path: &Path) {
    for _ in 0..600 {
        if path.exists() {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("{} does not come", path.display());
}

/// A line goes out as soon as it is answered, also when the next is not there yet.
#[test]
fn question_and_answer_take_turns() {
    let room = Room::new();
    let mut child = room
        .command(&["--roster", "-", "--jobs", "2"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("it runs");
    let mut to = child.stdin.take().expect("a pipe");
    let mut from = BufReader::new(child.stdout.take().expect("a pipe"));
    for id in ["one", "two", "three"] {
        to.write_all(entry(id, &brief("", 61)).as_bytes())
            .expect("written");
        let mut line = String::new();
        from.read_line(&mut line).expect("a line");
        assert_eq!(words(&lines(&line), "id"), [id]);
    }
    drop(to);
    assert!(child.wait().expect("it ends").success());
}

#[test]
fn a_reader_that_has_enough_ends_it_quietly() {
    let room = Room::new();
    let people: Vec<String> = (0..40).map(|n| entry(&format!("p{n}"), &brief("", 60))).collect();
    room.file("roster.jsonl", people.concat());
    let mut child = room
        .command(&["--roster", "roster.jsonl"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it runs");
    let mut from = BufReader::new(child.stdout.take().expect("a pipe"));
    let mut line = String::new();
    from.read_line(&mut line).expect("a line");
    drop(from);
    let o = child.wait_with_output().expect("it ends");
    assert_eq!((code(&o), err(&o).as_str()), (Some(0), ""));
}

/// Peak memory of a process, kB.
#[cfg(target_os = "linux")]
fn peak(id: u32) -> u64 {
    let status = fs::read_to_string(format!("/proc/{id}/status")).expect("its status");
    let line = status.lines().find(|l| l.starts_with("VmHWM")).expect("a peak");
    line.split_whitespace()
        .nth(1)
        .expect("kB")
        .parse()
        .expect("a number")
}

/// A hundred thousand lines take no more memory than a thousand.
#[cfg(target_os = "linux")]
#[test]
fn memory_does_not_grow_with_the_roster() {
    let room = Room::new();
    let mut child = room
        .command(&["--roster", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("it runs");
    let mut to = child.stdin.take().expect("a pipe");
    let mut from = BufReader::new(child.stdout.take().expect("a pipe"));
    let mut round = |lines: usize| {
        std::thread::scope(|scope| {
            scope.spawn(|| {
                // A brief with a mistake is answered soon, and takes the same way.
                let line = entry("p", "=");
                for _ in 0..lines {
                    to.write_all(line.as_bytes()).expect("written");
                }
            });
            let mut line = Vec::new();
            for _ in 0..lines {
                line.clear();
                from.read_until(b'\n', &mut line).expect("a line");
                assert!(line.starts_with(b"{\"id\":\"p\""));
            }
        });
        peak(child.id())
    };
    let (little, much) = (round(1_000), round(100_000));
    assert!(much < little + 6_000, "{little} kB, then {much} kB");
    drop(to);
    assert_eq!(child.wait().expect("it ends").code(), Some(2));
}

#[test]
fn a_line_without_end_is_refused_and_the_next_goes_on() {
    let room = Room::new();
    let mut text = vec![b'x'; (4 << 20) + 5];
    text.push(b'\n');
    text.extend(entry("a", &brief("", 61)).bytes());
    text.extend(b"\xff\xfe\n");
    room.file("roster.jsonl", text);
    let o = room.run(&["--roster", "roster.jsonl"]);
    let told = lines(&out(&o));
    assert_eq!(words(&told, "outcome"), ["refused", "planned", "refused"]);
    assert_eq!(told[0]["errors"][0]["code"], "roster-line-too-long");
    assert_eq!(told[2]["errors"][0]["code"], "roster-not-text");
    assert_eq!((&told[0]["line"], &told[2]["line"]), (&json!(1), &json!(3)));
}

fn four() -> NonZeroUsize {
    NonZeroUsize::new(4).expect("four")
}

#[test]
fn things_come_back_in_order_and_few_are_read_ahead() {
    let (read, handed) = (AtomicU64::new(0), AtomicU64::new(0));
    let things = (0..500_u64).inspect(|_| {
        let ahead = read.fetch_add(1, Ordering::SeqCst) + 1 - handed.load(Ordering::SeqCst);
        assert!(ahead <= 70, "{ahead} are held");
    });
    let mut seen = Vec::new();
    let end = run(
        things,
        four(),
        |n| {
            // Every seventh is slow.
            std::thread::sleep(Duration::from_micros(if n % 7 == 0 { 900 } else { 20 }));
            n * 2
        },
        |n| {
            seen.push(n);
            handed.fetch_add(1, Ordering::SeqCst);
            ControlFlow::Continue(())
        },
    );
    assert_eq!(end, ControlFlow::Continue(()));
    assert!(seen.iter().copied().eq((0..500).map(|n| n * 2)));
}

#[test]
fn a_caller_that_has_enough_stops_it() {
    let worked = AtomicU64::new(0);
    let mut handed = 0;
    let end = run(
        0..,
        four(),
        |n: u64| {
            worked.fetch_add(1, Ordering::SeqCst);
            n
        },
        |_| {
            handed += 1;
            if handed == 10 {
                ControlFlow::Break(())
            } else {
                ControlFlow::Continue(())
            }
        },
    );
    assert_eq!((end, handed), (ControlFlow::Break(()), 10));
    assert!(worked.load(Ordering::SeqCst) <= 10 + 70, "{worked:?}");
}

#[test]
fn a_panic_of_the_work_reaches_the_caller() {
    let fault = std::panic::catch_unwind(|| {
        run(
            0..,
            four(),
            |n: u64| assert_ne!(n, 20, "twenty"),
            |()| ControlFlow::Continue(()),
        )
    });
    let words = fault.expect_err("a panic");
    assert!(words.downcast_ref::<String>().expect("words").contains("twenty"));
}

#[test]
fn an_entry_takes_what_it_lacks_from_the_options() {
    let defaults = Defaults {
        week: Some(3),
        seed: Some(7),
        moves: None,
    };
    let read = |text: &str| Entry::read(text, 1, defaults).expect("an entry");
    let e = read(r#"{"brief": "x", "id": "a", "week": null}"#);
    assert_eq!((e.week, e.seed, e.moves), (Some(3), Some(7), None));
    let e = read(r#"{"id": "a", "brief": "x", "week": 2, "seed": 18446744073709551615, "moves": 9}"#);
    assert_eq!((e.week, e.seed, e.moves), (Some(2), Some(u64::MAX), Some(9)));
    for bad in [
        r#"{"id": 7, "brief": "x"}"#,
        r#"{"id": "a", "brief": ["x"]}"#,
        r#"{"id": "a", "brief": "x", "moves": 1.5}"#,
        r#"{"id": "a", "brief": "x", "week": 99999999999}"#,
        r#"["a", "x"]"#,
        "{",
        "{} {}",
    ] {
        let refused = Entry::read(bad, 4, defaults).expect_err(bad);
        assert_eq!(refused.line, 4);
        assert!(
            refused.problems.iter().all(|d| d.is_error() && d.help.is_some()),
            "{bad}"
        );
    }
}

/// A week may be beyond the phases, and the brief then says so.
#[test]
fn a_week_of_the_phases_can_be_asked_for() {
    let room = Room::new();
    let text: String = [1, 3, 9]
        .map(|week| format!("{}\n", json!({ "id": "a", "brief": brief("", 61), "week": week })))
        .concat();
    room.file("roster.jsonl", text);
    let told = lines(&out(&room.run(&["--roster", "roster.jsonl"])));
    assert_eq!(words(&told, "outcome"), ["planned", "planned", "refused"]);
    assert!(
        told[2]["errors"][0]["message"]
            .as_str()
            .expect("words")
            .contains("week")
    );
}
