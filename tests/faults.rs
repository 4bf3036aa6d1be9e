//! What goes wrong outside: full and read-only disks, a run killed half-way, closed pipes, files of a gigabyte; and
//! briefs at the ends of what may be asked. Nothing half-written is left under a name, and every answer is clear.

use platewright::foods::FoodTable;
use platewright::kitchen::Catalogue;
use platewright::plan::{Plan, Work};
use platewright::prices::PriceList;
use platewright::ready::{Larder, answer, ready};
use serde_json::{Value, json};
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Moves of a quick plan of a day.
const MOVES: &str = "60000";

/// An invented person's brief of so many days, with more lines on top and at the end.
fn brief(days: u32, top: &str, end: &str) -> String {
    format!(
        "{top}region = \"us\"\ndays = {days}\n[person]\nsex = \"female\"\nage = 30\nheight = \"168 cm\"\n\
         weight = \"61 kg\"\n[activity]\nlevel = \"active\"\n[[phase]]\nkind = \"hold\"\nweeks = 4\n{end}"
    )
}

fn entry(id: &str, brief: &str) -> String {
    format!("{}\n", json!({ "id": id, "brief": brief }))
}

struct Room(TempDir);

impl Room {
    fn new() -> Room {
        let room = Room(tempfile::tempdir().expect("a folder"));
        room.file("day.toml", brief(1, "", ""));
        room
    }
    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }
    fn file(&self, name: &str, text: impl AsRef<[u8]>) -> PathBuf {
        fs::write(self.path(name), text).expect("a file");
        self.path(name)
    }
    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_platewright"));
        command
            .args(arguments)
            .current_dir(self.0.path())
            .stdin(Stdio::null());
        command
    }
    fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().expect("the program runs")
    }
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .expect("the folder")
        .map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

fn err(o: &Output) -> String {
    String::from_utf8(o.stderr.clone()).expect("UTF-8")
}

/// Ends with 2 and a message with these words, without a panic.
#[track_caller]
fn fails(o: &Output, words: &[&str]) {
    let text = err(o);
    assert_eq!(o.status.code(), Some(2), "{text}");
    assert!(!text.contains("panicked"), "{text}");
    for word in words {
        assert!(text.contains(word), "no {word:?} in: {text}");
    }
}

/// What the system says of a full disk.
const FULL: &str = "No space left";

#[cfg(target_os = "linux")]
#[test]
fn a_full_device_is_a_clear_failure_on_standard_output_and_as_a_file() {
    let room = Room::new();
    room.file("roster.jsonl", entry("a", &brief(1, "", "")));
    let full = || {
        fs::OpenOptions::new()
            .write(true)
            .open("/dev/full")
            .expect("the device")
    };
    for arguments in [
        &["plan", "day.toml", "--moves", MOVES, "--format", "json"][..],
        &["plan", "--roster", "roster.jsonl", "--moves", MOVES],
        &["targets", "day.toml"],
        &["foods", "find", "rice"],
        &["man"],
        &["new"],
    ] {
        let o = room
            .command(arguments)
            .stdout(full())
            .output()
            .expect("the program runs");
        fails(&o, &[FULL]);
    }
    // A device is written and stays a device: nothing takes its place.
    use std::os::unix::fs::FileTypeExt;
    for arguments in [
        &["plan", "day.toml", "--moves", MOVES][..],
        &["plan", "--roster", "roster.jsonl", "--moves", MOVES],
        &["targets", "day.toml"],
    ] {
        fails(
            &room.run(&[arguments, &["--output", "/dev/full"]].concat()),
            &[FULL],
        );
        let o = room.run(&[arguments, &["--output", "/dev/null"]].concat());
        assert_eq!(o.status.code(), Some(0), "{}", err(&o));
        for device in ["/dev/full", "/dev/null"] {
            let kind = fs::metadata(device).expect("the device").file_type();
            assert!(kind.is_char_device(), "{device} was replaced");
        }
    }
    assert!(!names(Path::new("/dev")).iter().any(|n| n.contains(".part")));
}

/// A small disk of its own, for root alone; taken away at the end.
#[cfg(target_os = "linux")]
struct Disk(PathBuf);

#[cfg(target_os = "linux")]
impl Disk {
    fn mount(at: PathBuf, options: &str) -> Option<Disk> {
        fs::create_dir(&at).expect("a folder");
        let mount = Command::new("mount")
            .args(["-t", "tmpfs", "-o", options, "tmpfs"])
            .arg(&at)
            .output();
        if mount.is_ok_and(|o| o.status.success()) {
            return Some(Disk(at));
        }
        // Loud, since a run without root has not seen it.
        eprintln!("LEFT OUT: a disk of its own needs root and `mount`");
        None
    }
    fn again(&self, options: &str) {
        let o = Command::new("mount")
            .args(["-o", &format!("remount,{options}")])
            .arg(&self.0)
            .output()
            .expect("mount runs");
        assert!(o.status.success(), "{}", err(&o));
    }
}

#[cfg(target_os = "linux")]
impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).status();
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_nothing_half_written_and_a_roster_goes_on_later() {
    let room = Room::new();
    let Some(disk) = Disk::mount(room.path("disk"), "size=64k") else {
        return;
    };
    fs::write(room.path("disk/week.json"), "the old one").expect("a file");
    let plan = ["plan", "day.toml", "--moves", MOVES];
    for more in [
        &["--format", "json", "--output", "disk/week.json"][..],
        &["--output", "disk/"],
        &["--output", "disk/new/"],
    ] {
        // A plan of a day is larger than what is left of 64 kB only with ballast.
        fs::write(room.path("disk/ballast"), vec![1; 40_000]).expect("a file");
        let o = room.run(&[&plan, more].concat());
        fails(&o, &["cannot be written", FULL]);
        assert_eq!(names(&room.path("disk")), ["ballast", "week.json"], "{more:?}");
        let old = fs::read_to_string(room.path("disk/week.json")).expect("a file");
        assert_eq!(old, "the old one");
    }

    let people: String = (0..4)
        .map(|n| entry(&format!("p{n}"), &brief(1, &format!("seed = {n}\n"), "")))
        .collect();
    room.file("roster.jsonl", people);
    let roster = ["plan", "--roster", "roster.jsonl", "--moves", MOVES, "--output"];
    assert_eq!(
        room.run(&[&roster[..], &["whole.jsonl"]].concat()).status.code(),
        Some(0)
    );
    fs::remove_file(room.path("disk/ballast")).expect("removed");
    let o = room.run(&[&roster[..], &["disk/to.jsonl"]].concat());
    fails(&o, &["cannot be written", FULL, "to.jsonl.part", "goes on"]);
    assert_eq!(names(&room.path("disk")), ["to.jsonl.part", "week.json"]);
    disk.again("size=4m");
    let o = room.run(&[&roster[..], &["disk/to.jsonl"]].concat());
    assert_eq!(o.status.code(), Some(0), "{}", err(&o));
    assert!(err(&o).contains("by an earlier run"), "{}", err(&o));
    assert_eq!(
        fs::read(room.path("disk/to.jsonl")).expect("a file"),
        fs::read(room.path("whole.jsonl")).expect("a file")
    );
    assert_eq!(names(&room.path("disk")), ["to.jsonl", "week.json"]);

    disk.again("ro");
    for arguments in [
        &[&plan[..], &["--output", "disk/week.json"]].concat()[..],
        &[&plan[..], &["--output", "disk/"]].concat(),
        &[&plan[..], &["--output", "disk/new/"]].concat(),
        &[&plan[..], &["--model", "disk/week.mps"]].concat(),
        &[&roster[..], &["disk/other.jsonl"]].concat(),
    ] {
        let started = Instant::now();
        fails(&room.run(arguments), &["Read-only"]);
        assert!(
            started.elapsed() < Duration::from_secs(20),
            "it fails before the work"
        );
    }
}

/// Without root too: a place where nobody can make a file.
#[cfg(target_os = "linux")]
#[test]
fn a_place_that_cannot_be_written_is_named_before_the_work() {
    let room = Room::new();
    room.file("roster.jsonl", entry("a", &brief(1, "", "")));
    for arguments in [
        &["plan", "day.toml", "--output", "/proc/week.txt"][..],
        &["plan", "day.toml", "--output", "/proc/week/"],
        &["plan", "--roster", "roster.jsonl", "--output", "/proc/week.txt"],
        &["plan", "--roster", "roster.jsonl", "--output", "no/such/week.txt"],
        &["targets", "day.toml", "--output", "/proc/week.txt"],
    ] {
        // So many moves that it could not end in time if it planned first.
        let moves = ["--moves", "100000000000"];
        let more = if arguments[0] == "plan" { &moves[..] } else { &[] };
        fails(&room.run(&[arguments, more].concat()), &["week"]);
    }
}

fn until(child: &mut Child, what: &str, ready: impl Fn() -> bool) {
    for _ in 0..2400 {
        if ready() {
            return;
        }
        assert!(
            child.try_wait().expect("its state").is_none(),
            "it ended before: {what}"
        );
        std::thread::sleep(Duration::from_millis(25));
    }
    panic!("waited in vain: {what}");
}

#[test]
fn a_plan_killed_half_way_leaves_the_old_file() {
    let room = Room::new();
    room.file("week.txt", "the old week");
    let mut child = room
        .command(&[
            "plan",
            "day.toml",
            "--moves",
            "100000000000",
            "--output",
            "week.txt",
        ])
        .spawn()
        .expect("it runs");
    let part = room.path(&format!("week.txt.part-{}", child.id()));
    until(&mut child, "the unfinished file", || part.exists());
    child.kill().expect("killed");
    child.wait().expect("its end");
    let old = fs::read_to_string(room.path("week.txt")).expect("a file");
    assert_eq!(old, "the old week");
    // The next run is not hindered.
    let o = room.run(&["plan", "day.toml", "--moves", MOVES, "--output", "week.txt"]);
    assert_eq!(o.status.code(), Some(0), "{}", err(&o));
    assert!(
        fs::read_to_string(room.path("week.txt"))
            .expect("a file")
            .contains("Shopping")
    );
}

#[test]
fn a_roster_killed_half_way_goes_on_to_the_same_bytes() {
    let room = Room::new();
    let people: Vec<String> = (0..6)
        .map(|n| entry(&format!("p{n}"), &brief(1, &format!("seed = {n}\n"), "")))
        .collect();
    room.file("roster.jsonl", people.concat());
    let arguments = |to: &'static str| {
        [
            "plan",
            "--roster",
            "roster.jsonl",
            "--moves",
            MOVES,
            "--output",
            to,
        ]
    };
    assert_eq!(room.run(&arguments("whole.jsonl")).status.code(), Some(0));
    let whole = fs::read(room.path("whole.jsonl")).expect("a file");

    // Two answers are there and no more can come, since the third entry is held back.
    let mut child = room
        .command(&["plan", "--roster", "-", "--moves", MOVES, "--output", "to.jsonl"])
        .stdin(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("it runs");
    let mut to = child.stdin.take().expect("a pipe");
    to.write_all(people[..2].concat().as_bytes()).expect("written");
    let part = room.path("to.jsonl.part");
    let answers = || fs::read_to_string(&part).map_or(0, |t| t.lines().count());
    until(&mut child, "two answers", || answers() == 2);
    child.kill().expect("killed");
    child.wait().expect("its end");
    assert!(!room.path("to.jsonl").exists());
    assert!(whole.starts_with(&fs::read(&part).expect("a file")));

    let o = room.run(&arguments("to.jsonl"));
    assert!(err(&o).contains("2 of them by an earlier run"), "{}", err(&o));
    assert!(fs::read(room.path("to.jsonl")).expect("a file") == whole);
    assert!(!part.exists());

    // Killed again and again at any moment, it still ends.
    fs::remove_file(room.path("to.jsonl")).expect("removed");
    for after in [50, 400, 900, 1500] {
        let mut child = room
            .command(&arguments("to.jsonl"))
            .stderr(Stdio::null())
            .spawn()
            .expect("it runs");
        std::thread::sleep(Duration::from_millis(after));
        let _ = child.kill();
        child.wait().expect("its end");
    }
    assert_eq!(room.run(&arguments("to.jsonl")).status.code(), Some(0));
    assert!(fs::read(room.path("to.jsonl")).expect("a file") == whole);
}

#[test]
fn a_reader_that_leaves_is_no_failure() {
    let room = Room::new();
    room.file("roster.jsonl", entry("a", &brief(1, "", "")).repeat(40));
    for arguments in [
        &["plan", "--roster", "roster.jsonl", "--moves", "1000"][..],
        &["why", "day.toml"],
        &["sweep", "day.toml", "--vary", "protein 1.2..1.6 g/kg"],
        &["forecast", "day.toml"],
        &["dishes", "list"],
    ] {
        let mut child = room
            .command(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it runs");
        let mut pipe = child.stdout.take().expect("a pipe");
        pipe.read_exact(&mut [0]).expect("a byte");
        drop(pipe);
        let o = child.wait_with_output().expect("it ends");
        let text = err(&o);
        assert!(
            !text.contains("panicked") && !text.contains("roken pipe"),
            "{text}"
        );
        assert_eq!(o.status.code(), Some(0), "{arguments:?}: {text}");
    }
}

/// A gigabyte that takes no place on the disk: zeros, behind a beginning.
fn giant(room: &Room, name: &str, beginning: &str) {
    let mut file = fs::File::create(room.path(name)).expect("a file");
    file.write_all(beginning.as_bytes()).expect("written");
    file.set_len(1 << 30).expect("a sparse file");
}

#[test]
fn a_gigabyte_is_refused_at_once_whatever_it_is_given_for() {
    let room = Room::new();
    giant(&room, "giant", "");
    giant(&room, "giant.csv", "id,name,per,energy (kcal)\n");
    for arguments in [
        &["plan", "giant"][..],
        &["targets", "giant"],
        &["forecast", "giant"],
        &["why", "giant"],
        &["appraise", "giant"],
        &["review", "day.toml", "giant"],
        &["compare", "giant", "day.toml"],
        &["plan", "day.toml", "--prices", "giant"],
        &["plan", "day.toml", "--dishes", "giant"],
        &["plan", "day.toml", "--pantry", "giant"],
        &["dishes", "check", "giant"],
        &["sweep", "giant", "--vary", "protein 1.2..1.6 g/kg"],
    ] {
        let started = Instant::now();
        fails(&room.run(arguments), &["giant", "larger than"]);
        assert!(started.elapsed() < Duration::from_secs(10), "{arguments:?}");
    }
    // A list of foods says by its bytes that it is none; one of text by its size.
    for arguments in [
        &["plan", "day.toml", "--foods", "giant.csv"][..],
        &["foods", "check", "giant.csv"],
        &["foods", "check", "giant"],
    ] {
        let started = Instant::now();
        fails(&room.run(arguments), &["giant", "expected a"]);
        assert!(started.elapsed() < Duration::from_secs(10), "{arguments:?}");
    }
    // A roster may be as long as it likes, but it is text.
    let started = Instant::now();
    let o = room.run(&["plan", "--roster", "giant"]);
    fails(&o, &["giant", "no roster"]);
    assert!(started.elapsed() < Duration::from_secs(10) && o.stdout.is_empty());
    // In a folder it is one bad brief among others.
    fs::create_dir(room.path("clients")).expect("a folder");
    giant(&room, "clients/a.toml", "title = ");
    room.file("clients/b.toml", brief(1, "", ""));
    let o = room.run(&["plan", "--roster", "clients", "--moves", MOVES]);
    let told: Vec<Value> = BufReader::new(&o.stdout[..])
        .lines()
        .map(|l| serde_json::from_str(&l.expect("a line")).expect("JSON"))
        .collect();
    let outcomes: Vec<&Value> = told.iter().map(|l| &l["outcome"]).collect();
    assert_eq!(outcomes, ["refused", "planned"]);
    assert!(
        told[0]["errors"][0]["message"]
            .as_str()
            .expect("words")
            .contains("larger than")
    );
}

#[test]
fn ten_thousand_foods_of_ones_own() {
    let room = Room::new();
    let mut text = String::from("id,name,per,energy (kcal),protein (g),fat (g),carbohydrate (g),source\n");
    for n in 0..10_000 {
        text += &format!(
            "own-{n},Invented food {n},100 g,{},10,5,20,invented\n",
            160 + n % 10
        );
    }
    room.file("own.csv", text);
    let started = Instant::now();
    let o = room.run(&["foods", "check", "own.csv"]);
    let said = String::from_utf8_lossy(&o.stdout).into_owned() + &err(&o);
    assert_eq!(o.status.code(), Some(0), "{said}");
    assert!(said.contains("10,000") || said.contains("10000"), "{said}");
    let o = room.run(&["foods", "find", "invented food 9999", "--foods", "own.csv"]);
    assert!(
        String::from_utf8_lossy(&o.stdout).contains("own-9999"),
        "{}",
        err(&o)
    );
    // They are in no dish, so the plan is the same.
    let plan = ["plan", "day.toml", "--moves", MOVES, "--format", "json"];
    let with = room.run(&[&plan[..], &["--foods", "own.csv"]].concat());
    assert_eq!(with.status.code(), Some(0), "{}", err(&with));
    assert!(with.stdout == room.run(&plan).stdout);
    assert!(
        started.elapsed() < Duration::from_secs(60),
        "{:?}",
        started.elapsed()
    );
}

fn plan_with(larder: &Larder, brief: &str, moves: u64) -> Plan {
    let ready = ready(brief, None, None).unwrap_or_else(|p| panic!("{p:?}"));
    answer(larder, &ready, Work::of(ready.brief.days, Some(moves))).unwrap_or_else(|p| panic!("{p:?}"))
}

/// Bundled kitchens have five slots; one of six is made of one of them.
#[test]
fn twenty_eight_days_of_six_slots() {
    let table = FoodTable::bundled();
    let mut catalogue = Catalogue::bundled(&table).expect("the bundled catalogue");
    let us = catalogue
        .kitchens
        .iter_mut()
        .find(|k| k.id == "us")
        .expect("the kitchen");
    let mut slot = us
        .slots
        .iter()
        .find(|s| s.id == "morning_snack")
        .expect("a snack")
        .clone();
    slot.id = "evening_snack".into();
    us.slots.push(slot);
    let snacks: Vec<_> = us
        .forms
        .iter()
        .filter(|f| f.slot == "morning_snack")
        .cloned()
        .map(|mut f| {
            f.slot = "evening_snack".into();
            f.id += "_evening";
            f
        })
        .collect();
    us.forms.extend(snacks);
    for item in &mut catalogue.items {
        if item.slots.iter().any(|s| s == "morning_snack") {
            item.slots.push("evening_snack".into());
        }
    }
    let larder = Larder::new(table, catalogue, None);
    let plan = plan_with(&larder, &brief(28, "objective = \"cost\"\n", ""), 400_000);
    assert_eq!(plan.days.len(), 28);
    for day in &plan.days {
        assert_eq!(day.meals.len(), 6, "day {}", day.day);
    }
    // So few moves may not find one; then it says which rules it misses.
    assert!(plan.planned || !plan.misses.is_empty() || !plan.conflict.is_empty());
    // A slot that the kitchen has not is refused by name.
    let room = Room::new();
    room.file(
        "six.toml",
        brief(28, "", "[[slot]]\nid = \"evening_snack\"\nshare = \"8 %\"\n"),
    );
    fails(&room.run(&["plan", "six.toml"]), &["six.toml:", "evening_snack"]);
}

#[test]
fn without_any_price() {
    let room = Room::new();
    let head = "buy,amount,unit,price,currency,place,date,pack,source\n";
    room.file("none.csv", head);
    // A list of nothing is a mistake of the list.
    fails(
        &room.run(&["plan", "day.toml", "--prices", "none.csv"]),
        &["none.csv"],
    );
    // A list with one thing leaves out all meals when money counts, and says so.
    room.file(
        "one.csv",
        format!("{head}apple,1,lb,1.87,USD,invented,2024-07-01,no,invented: a test\n"),
    );
    fails(
        &room.run(&["plan", "day.toml", "--prices", "one.csv", "--moves", MOVES]),
        &["breakfast", "items have no price", "add prices"],
    );
    // When it does not, the plan is there and what it costs is not known: never zero.
    room.file("close.toml", brief(1, "objective = \"closeness\"\n", ""));
    let o = room.run(&[
        "plan",
        "close.toml",
        "--prices",
        "one.csv",
        "--moves",
        MOVES,
        "--format",
        "json",
    ]);
    let plan: Value = serde_json::from_slice(&o.stdout).unwrap_or_else(|_| panic!("{}", err(&o)));
    assert_eq!(plan["outcome"], "planned");
    assert_eq!(plan["cost"]["amount"], Value::Null);
    assert_eq!(plan["days"][0]["cost"], Value::Null);
    let unknown = plan["shopping"]
        .as_array()
        .expect("a list")
        .iter()
        .filter(|p| p["product"] != "apple");
    for line in unknown {
        assert_eq!(line["cost"], Value::Null, "{line}");
    }
}

/// The targets of a brief, nutrient and whether it has a floor and a ceiling.
fn targets_of(text: &str) -> Vec<platewright::targets::Target> {
    ready(text, None, None)
        .unwrap_or_else(|p| panic!("{p:?}"))
        .targets
}

#[test]
fn every_target_overridden_or_off() {
    let larder = Larder::bundled().expect("the bundled data");
    let plain = brief(1, "objective = \"cost\"\n", "");
    let mut nutrients: Vec<&str> = targets_of(&plain).iter().map(|t| t.nutrient.id()).collect();
    nutrients.sort_unstable();
    nutrients.dedup();
    assert!(nutrients.len() > 25, "{nutrients:?}");

    // Off: only energy is left, which follows from the phase, and the plan keeps it.
    let off: String = nutrients
        .iter()
        .filter(|n| **n != "energy")
        .map(|n| format!("[[target]]\nnutrient = \"{n}\"\noff = true\n"))
        .collect();
    let text = format!("{plain}{off}");
    assert!(targets_of(&text).iter().all(|t| t.nutrient.id() == "energy"));
    let free = plan_with(&larder, &text, 200_000);
    assert!(free.planned, "{:?}", free.misses);
    let bound = plan_with(&larder, &plain, 200_000);
    let (Some(free_cost), Some(bound_cost)) = (free.search.bound, bound.search.bound) else {
        panic!("no bounds: {:?} {:?}", free.search, bound.search)
    };
    assert!(
        free_cost < bound_cost,
        "{free_cost} without targets, {bound_cost} with"
    );
    // Energy itself is not switched off.
    let text = format!("{text}[[target]]\nnutrient = \"energy\"\noff = true\n");
    let refused = ready(&text, None, None).expect_err("refused");
    assert!(
        refused.iter().any(|d| d.is_error() && d.help.is_some()),
        "{refused:?}"
    );

    // Overridden: every floor to a tenth, so the same brief becomes easier, and each target says who set it.
    let mut floors = std::collections::BTreeMap::new();
    for t in targets_of(&plain) {
        if let Some(floor) = t.floor.filter(|_| t.nutrient.id() != "energy") {
            let least = floors
                .entry(t.nutrient.id())
                .or_insert((f64::MAX, t.nutrient.unit().symbol()));
            least.0 = least.0.min(floor / 10.0);
        }
    }
    let tenth: String = floors
        .iter()
        .map(|(id, (floor, unit))| {
            format!("[[target]]\nnutrient = \"{id}\"\nfloor = \"{floor:.6} {unit}\"\n")
        })
        .collect();
    let text = format!("{plain}{tenth}");
    let easy = plan_with(&larder, &text, 200_000);
    assert!(easy.planned, "{:?}", easy.misses);
    for s in easy
        .standings
        .iter()
        .filter(|s| s.target.floor.is_some() && s.target.nutrient.id() != "energy")
    {
        assert!(s.target.from_brief, "{}", s.target.id);
    }
    assert!(easy.search.bound.expect("a bound") <= bound_cost + 1e-9);
}

/// Twice the same, and again: one brief and seed give the same bytes in every form that carries no clock.
#[test]
fn every_form_has_the_same_bytes_each_time() {
    let room = Room::new();
    room.file(
        "b.toml",
        brief(2, "objective = \"cost\"\nbudget = \"30 USD/day\"\n", ""),
    );
    let plan = [
        "plan",
        "b.toml",
        "--moves",
        MOVES,
        "--start",
        "2027-01-04",
        "--output",
    ];
    for to in ["one/", "two/"] {
        let o = room.run(&[&plan[..], &[to]].concat());
        assert_eq!(o.status.code(), Some(0), "{}", err(&o));
    }
    let first = names(&room.path("one"));
    assert!(first.len() >= 10, "{first:?}");
    assert_eq!(first, names(&room.path("two")));
    for name in first {
        let read = |folder: &str| fs::read(room.path(folder).join(&name)).expect("a file");
        assert!(read("one") == read("two"), "{name}");
    }
    // Another seed is another search; the form without a plan's seed in it would be no proof.
    let other = room.run(&[
        "plan", "b.toml", "--moves", MOVES, "--seed", "8", "--format", "csv",
    ]);
    assert!(other.stdout != fs::read(room.path("one/plan.csv")).expect("a file"));
    for arguments in [
        &["targets", "b.toml", "--format", "json"][..],
        &["why", "b.toml"],
        &[
            "sweep",
            "b.toml",
            "--vary",
            "protein 1.2..1.6 g/kg",
            "--format",
            "json",
        ],
        &["forecast", "b.toml"],
        &["swap", "b.toml", "--without", "peanuts", "--moves", MOVES],
    ] {
        let (a, b) = (room.run(arguments), room.run(arguments));
        assert!(
            a.stdout == b.stdout && !a.stdout.is_empty(),
            "{arguments:?}: {}",
            err(&a)
        );
    }
}

/// The price list of a kitchen is read once and shared: many threads at once get the answers that one gets.
#[test]
fn threads_that_share_a_larder_get_the_same_answers() {
    let larder = Larder::bundled().expect("the bundled data");
    let texts: Vec<String> = ["us", "uk", "mexico"]
        .iter()
        .map(|k| brief(1, "", "").replace("\"us\"", &format!("\"{k}\"")))
        .collect();
    let told = |larder: &Larder, text: &str| {
        platewright::report::json::plan(&plan_with(larder, text, 20_000)).to_string()
    };
    let alone: Vec<String> = texts.iter().map(|t| told(&larder, t)).collect();
    let fresh = Larder::bundled().expect("the bundled data");
    std::thread::scope(|scope| {
        let all: Vec<_> = (0..2)
            .flat_map(|_| &texts)
            .map(|t| scope.spawn(|| told(&fresh, t)))
            .collect();
        for (n, thread) in all.into_iter().enumerate() {
            assert!(thread.join().expect("an answer") == alone[n % texts.len()]);
        }
    });
    assert!(
        PriceList::bundled("us", &fresh.catalogue)
            .expect("a list")
            .is_some()
    );
}
