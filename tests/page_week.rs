//! The meals page over plain HTTP: what a button does is in the brief's file, in the week and on the page.

use serde_json::Value;
use std::path::{Path, PathBuf};

mod client {
    //! A browser without a screen: forms are posted, redirects are followed.

    use std::io::{BufRead, BufReader, Read, Write};
    use std::net::TcpStream;
    use std::path::Path;
    use std::process::{Child, Command, Stdio};

    /// The page over a folder, until it goes out of scope.
    pub struct Served {
        child: Child,
        pub host: String,
    }

    /// What came back.
    #[derive(Debug)]
    pub struct Answer {
        pub status: u16,
        pub head: String,
        pub body: String,
    }

    impl Answer {
        pub fn header(&self, name: &str) -> Option<&str> {
            self.head.lines().find_map(|l| {
                let (key, value) = l.split_once(':')?;
                key.eq_ignore_ascii_case(name).then(|| value.trim())
            })
        }
    }

    impl Drop for Served {
        fn drop(&mut self) {
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }

    pub fn serve(folder: &Path) -> Served {
        let mut child = Command::new(env!("CARGO_BIN_EXE_platewright"))
            .arg("serve")
            .arg(folder)
            .args(["--port", "0"])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("it starts");
        let mut line = String::new();
        let out = child.stdout.as_mut().expect("its output");
        BufReader::new(out).read_line(&mut line).expect("an address");
        let host = line
            .trim()
            .trim_start_matches("http://")
            .trim_end_matches('/')
            .to_string();
        Served { child, host }
    }

    impl Served {
        fn send(&self, request: String) -> Answer {
            let mut stream = TcpStream::connect(&self.host).expect("a connection");
            stream.write_all(request.as_bytes()).expect("sent");
            let mut bytes = Vec::new();
            stream.read_to_end(&mut bytes).expect("read");
            let text = String::from_utf8(bytes).expect("text");
            let (head, body) = text.split_once("\r\n\r\n").expect("a head");
            let status = head
                .split(' ')
                .nth(1)
                .and_then(|s| s.parse().ok())
                .expect("a status");
            Answer {
                status,
                head: head.to_string(),
                body: body.to_string(),
            }
        }

        pub fn get(&self, path: &str) -> Answer {
            let host = &self.host;
            self.send(format!(
                "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
            ))
        }

        /// Posts a form and goes where it leads.
        pub fn post(&self, path: &str, form: &[(&str, &str)]) -> Answer {
            let coded = |text: &str| -> String {
                text.bytes()
                    .map(|b| match b {
                        b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'_' | b'-' => char::from(b).to_string(),
                        _ => format!("%{b:02X}"),
                    })
                    .collect()
            };
            let body: Vec<String> = form
                .iter()
                .map(|(k, v)| format!("{}={}", coded(k), coded(v)))
                .collect();
            let (host, body) = (&self.host, body.join("&"));
            let answer = self.send(format!(
                "POST {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nConnection: close\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{body}",
                body.len()
            ));
            if answer.status == 303 {
                let to = answer.header("location").expect("where to").to_string();
                return self.get(to.split('#').next().expect("a path"));
            }
            answer
        }
    }
}

use client::{Answer, Served, serve};

struct Room {
    folder: tempfile::TempDir,
    served: Served,
}

const WEEK: &str = "/b/mine/week";
const CHANGE: &str = "/b/mine/week/change";

fn example(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("examples")
        .join(name)
        .join("brief.toml");
    std::fs::read_to_string(path).expect("an example")
}

impl Room {
    fn with(text: &str) -> Room {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::write(folder.path().join("mine.toml"), text).expect("written");
        let served = serve(folder.path());
        Room { folder, served }
    }

    fn planned(text: &str) -> Room {
        let room = Room::with(text);
        let answer = room.press("/b/mine/week/plan", "");
        assert_eq!(answer.status, 200, "{}", answer.body);
        room
    }

    fn file(&self) -> PathBuf {
        self.folder.path().join("mine.toml")
    }

    fn text(&self) -> String {
        std::fs::read_to_string(self.file()).expect("the brief")
    }

    /// The week as the folder keeps it.
    fn week(&self) -> Value {
        let kept = std::fs::read_to_string(self.folder.path().join(".platewright/mine.week.json"));
        let kept: Value = serde_json::from_str(&kept.expect("a week")).expect("JSON");
        kept["plan"].clone()
    }

    fn seen(&self) -> String {
        let body = self.served.get(WEEK).body;
        between(&body, "name=\"seen\" value=\"", "\"")
            .expect("a form")
            .to_string()
    }

    fn press(&self, path: &str, what: &str) -> Answer {
        let seen = self.seen();
        self.served.post(path, &[("seen", &seen), ("do", what)])
    }
}

fn between<'t>(text: &'t str, before: &str, after: &str) -> Option<&'t str> {
    let rest = &text[text.find(before)? + before.len()..];
    rest.find(after).map(|end| &rest[..end])
}

fn meal(week: &Value, day: usize, slot: &str) -> Vec<(String, f64)> {
    let meals = week["days"][day - 1]["meals"].as_array().expect("meals");
    let meal = meals.iter().find(|m| m["slot"] == slot).expect("the meal");
    let items = meal["items"].as_array().expect("items").iter();
    items
        .map(|i| {
            (
                i["id"].as_str().expect("an id").to_string(),
                i["grams"].as_f64().expect("grams"),
            )
        })
        .collect()
}

fn all(week: &Value) -> Vec<String> {
    let mut out = Vec::new();
    for d in week["days"].as_array().expect("days") {
        for m in d["meals"].as_array().expect("meals") {
            for i in m["items"].as_array().expect("items") {
                out.push(i["id"].as_str().expect("an id").to_string());
            }
        }
    }
    out
}

/// An item of a meal that is no seasoning.
fn main_item(week: &Value, day: usize, slot: &str) -> String {
    let items = meal(week, day, slot);
    let most = items.into_iter().max_by(|a, b| a.1.total_cmp(&b.1));
    most.expect("an item").0
}

#[test]
fn a_brief_is_planned_and_shown_fast_and_light() {
    let room = Room::with(&example("surplus-on-a-budget"));
    let before = room.served.get(WEEK);
    assert!(before.body.contains("Plan the week") && before.status == 200);
    let after = room.press("/b/mine/week/plan", "");
    for word in [
        "Day 7",
        "Plan the rest anew",
        "of the cheapest that can exist",
        "aria-label=\"floor ",
    ] {
        assert!(after.body.contains(word), "no `{word}`");
    }
    for banned in ["style=", "onclick", "<script>"] {
        assert!(!after.body.contains(banned), "{banned}");
    }
    assert!(after.body.len() < 250_000, "{} bytes", after.body.len());
    let again = room.served.get(WEEK);
    assert_eq!(again.status, 200);
    // The same week as the command line makes, and every item of it is on the page.
    let made = std::process::Command::new(env!("CARGO_BIN_EXE_platewright"))
        .args(["plan", "--format", "json"])
        .arg(room.file())
        .output()
        .expect("it runs");
    let made: Value = serde_json::from_slice(&made.stdout).expect("JSON");
    assert_eq!(room.week()["days"], made["days"]);
    for id in all(&made) {
        assert!(again.body.contains(&format!("never {id}")), "{id}");
    }
    // A new start finds it again.
    let kept = room.week();
    let other = serve(room.folder.path());
    let found = other.get(WEEK).body;
    assert!(found.contains("Day 7") && found.contains("of the cheapest that can exist"));
    assert_eq!(room.week(), kept);
}

#[test]
fn what_is_locked_stays_when_the_rest_is_planned_anew() {
    let room = Room::planned(&example("surplus-on-a-budget"));
    let first = room.week();
    let dinner = meal(&first, 3, "dinner");
    let item = main_item(&first, 5, "lunch");
    let held = meal(&first, 5, "lunch").into_iter().find(|i| i.0 == item);
    let page = room.press(CHANGE, "lock 3 dinner");
    assert!(
        page.body.contains("Locked: dinner of day 3") && page.body.contains("Unlock this meal"),
        "{}",
        page.body
    );
    // Locking moves nothing.
    assert_eq!(room.week()["days"], first["days"]);
    room.press(CHANGE, &format!("lock 5 lunch {item}"));
    assert_eq!(room.week()["days"], first["days"]);
    assert!(room.text().contains("others = true") && room.text().starts_with("# An invented person"));
    let page = room.press(CHANGE, "again");
    assert!(page.body.contains("Planned anew"), "{}", page.body);
    let then = room.week();
    assert!(room.text().contains("seed = 2"));
    assert_eq!(meal(&then, 3, "dinner"), dinner);
    assert_eq!(
        meal(&then, 5, "lunch").into_iter().find(|i| i.0 == item),
        held,
        "the item that was locked"
    );
    assert_ne!(then["days"], first["days"]);
    // The brief alone gives this week on the command line too.
    let made = std::process::Command::new(env!("CARGO_BIN_EXE_platewright"))
        .args(["plan", "--format", "json"])
        .arg(room.file())
        .output()
        .expect("it runs");
    let made: Value = serde_json::from_slice(&made.stdout).expect("JSON");
    assert_eq!(made["days"], then["days"]);
    // Unlocked, nothing is left of the tables.
    // A free meal may break a rule that a locked one need not keep: the rest is then planned again.
    room.press(CHANGE, "unlock 3 dinner");
    room.press("/b/mine/week/plan", "");
    room.press(CHANGE, &format!("unlock 5 lunch {item}"));
    assert!(!room.text().contains("lock"), "{}", room.text());
}

#[test]
fn never_again_takes_an_item_out_everywhere_and_is_taken_back() {
    let text = example("surplus-on-a-budget")
        .replace("days = 7", "days = 7 # a week\ndislikes = [\"popcorn\"] # never");
    let room = Room::planned(&text);
    let first = room.week();
    let item = main_item(&first, 2, "lunch");
    room.press(CHANGE, &format!("lock 2 lunch {item}"));
    let locked = room.text();
    let page = room.press(CHANGE, &format!("never {item}"));
    assert!(page.body.contains("Never again: "), "{}", page.body);
    assert!(page.body.contains("A lock that held it is gone"));
    assert!(page.body.contains("Kept from the last week where possible"));
    assert!(!all(&room.week()).contains(&item));
    assert!(!page.body.contains(&format!("never {item}\"")));
    let new = room.text();
    assert!(
        new.contains(&format!("dislikes = [\"popcorn\", \"{item}\"] # never")) && !new.contains("[[lock]]"),
        "{new}"
    );
    // Most of the week stays.
    let same = |a: &Value, b: &Value| {
        let slots = ["breakfast", "lunch", "dinner"];
        (1..=7)
            .flat_map(|d| slots.map(|s| (d, s)))
            .filter(|&(d, s)| meal(a, d, s) == meal(b, d, s))
            .count()
    };
    assert!(same(&first, &room.week()) >= 11, "{}", same(&first, &room.week()));
    // Back, byte for byte, with the week that was.
    let page = room.press("/b/mine/undo", "");
    assert!(page.body.contains("Taken back: never again"), "{}", page.body);
    assert_eq!(room.text(), locked);
    assert_eq!(room.week()["days"], first["days"]);
    room.press("/b/mine/undo", "");
    assert_eq!(room.text(), text);
    assert_eq!(room.week()["days"], first["days"]);
    assert_eq!(room.press("/b/mine/undo", "").status, 400);
}

#[test]
fn something_else_is_offered_and_comes() {
    let room = Room::planned(&example("surplus-on-a-budget"));
    let first = room.week();
    let item = main_item(&first, 4, "dinner");
    let offers = room
        .served
        .get(&format!("/b/mine/week/instead?day=4&slot=dinner&item={item}"));
    assert_eq!(offers.status, 200, "{}", offers.body);
    let prefix = format!("value=\"here 4 dinner {item} ");
    let to = between(&offers.body, &prefix, "\"")
        .expect("an offer")
        .to_string();
    assert!(offers.body.contains("protein") && offers.body.contains("kcal"));
    let page = room.press(CHANGE, &format!("here 4 dinner {item} {to}"));
    assert!(page.body.contains("and locked there"), "{}", page.body);
    let then = room.week();
    let dinner = meal(&then, 4, "dinner");
    assert!(dinner.iter().any(|i| i.0 == to) && dinner.iter().all(|i| i.0 != item));
    let new = room.text();
    assert!(
        new.contains(&format!("item = \"{to}\"")) && new.contains("others = true"),
        "{new}"
    );
    assert!(!new.contains("dislikes"));
    let changed = (1..=7)
        .flat_map(|d| ["breakfast", "lunch", "dinner"].map(|s| (d, s)))
        .filter(|&(d, s)| meal(&first, d, s) != meal(&then, d, s))
        .count();
    assert!((1..=6).contains(&changed), "{changed} main meals changed");
    // Planned anew, it is still there.
    room.press(CHANGE, "again");
    assert!(meal(&room.week(), 4, "dinner").iter().any(|i| i.0 == to));
    // Another meal in a place, and more of something.
    let breakfast = meal(&room.week(), 1, "breakfast");
    let page = room.press(CHANGE, "meal 1 breakfast");
    assert!(
        page.body.contains("Another meal for breakfast of day 1"),
        "{}",
        page.body
    );
    assert_ne!(meal(&room.week(), 1, "breakfast"), breakfast);
    let page = room.press(CHANGE, &format!("more {to}"));
    assert!(page.body.contains("More of this"), "{}", page.body);
    assert!(room.text().contains(&format!("likes = [\"{to}\"]")));
}

#[test]
fn a_page_that_is_out_of_date_changes_nothing() {
    let room = Room::planned(&example("surplus-on-a-budget"));
    let seen = room.seen();
    let other = room.text() + "\n# by hand\n";
    std::fs::write(room.file(), &other).expect("written");
    let week = room.week();
    for (path, what) in [
        (CHANGE, "again"),
        (CHANGE, "lock 1 lunch"),
        ("/b/mine/undo", ""),
        ("/b/mine/week/plan", ""),
    ] {
        let answer = room.served.post(path, &[("seen", &seen), ("do", what)]);
        assert_eq!(answer.status, 409, "{path} {what}");
    }
    assert_eq!(room.text(), other);
    assert_eq!(room.week(), week);
    // The page says that the week is of an older brief, and offers another.
    let page = room.served.get(WEEK).body;
    assert!(page.contains("Made from an older brief") && page.contains("Plan again"));
    assert!(!page.contains("Never again"));
    let page = room.press("/b/mine/week/plan", "");
    assert!(!page.body.contains("Made from an older brief"));
}

#[test]
fn words_from_outside_do_nothing() {
    let room = Room::planned(&example("surplus-on-a-budget"));
    let (text, week) = (room.text(), room.week());
    for what in [
        "never <script>alert(1)</script>",
        "more ../../etc",
        "never ",
        "lock 99 lunch",
        "lock 1 <b>",
        "here 1 lunch a b",
        "everywhere 1 lunch <i> <u>",
        "unlock 1 lunch",
        "way 7",
        "",
        "again again",
    ] {
        let answer = room.press(CHANGE, what);
        assert_eq!(answer.status, 400, "{what}: {}", answer.body);
        assert!(
            !answer.body.contains("<script>alert")
                && !answer.body.contains("<i>")
                && !answer.body.contains("<b>"),
            "{what}"
        );
    }
    let asked = room
        .served
        .get("/b/mine/week/instead?day=1&slot=lunch&item=%3Cscript%3Ealert(1)%3C/script%3E");
    assert!(asked.status == 400 && !asked.body.contains("<script>alert"));
    assert_eq!((room.text(), room.week()), (text, week));
    // A title and words of the brief are shown as text.
    let text = example("surplus-on-a-budget")
        .replace("Surplus on a budget", "<img src=x> & co")
        .replace("days = 7", "days = 2\ndislikes = [\"<script>alert(2)</script>\"]");
    std::fs::write(room.file(), text).expect("written");
    let page = room.served.get(WEEK).body;
    assert!(page.contains("&lt;img src=x&gt;") && !page.contains("<img src=x>"));
    let answer = room.press("/b/mine/week/plan", "");
    assert_eq!(answer.status, 422);
    assert!(!answer.body.contains("<script>alert(2)"));
}

#[test]
fn no_plan_says_why_and_a_way_out_is_taken() {
    let text = example("surplus-on-a-budget").replace("65 USD/week", "9 USD/week");
    let room = Room::with(&text);
    let page = room.press("/b/mine/week/plan", "");
    assert!(page.body.contains("No plan meets everything"), "{}", page.body);
    assert!(page.body.contains("raise the budget to") || page.body.contains("Raise the budget to"));
    let way = between(&page.body, "value=\"way ", "\"")
        .expect("a way")
        .to_string();
    let page = room.press(CHANGE, &format!("way {way}"));
    assert!(page.body.contains("The brief now says"), "{}", page.body);
    assert_ne!(room.text(), text);
    room.press("/b/mine/undo", "");
    assert_eq!(room.text(), text);
    // A safety rule stops before any planning; mistakes are shown with their line.
    std::fs::write(
        room.file(),
        example("surplus-on-a-budget").replace("age = 30", "age = 15"),
    )
    .expect("written");
    let page = room.served.get(WEEK).body;
    assert!(page.contains("A safety rule stops this phase"), "{page}");
    std::fs::write(
        room.file(),
        example("surplus-on-a-budget").replace("age = 30", "age = 300"),
    )
    .expect("written");
    let page = room.served.get(WEEK).body;
    assert!(
        page.contains("The brief has mistakes") && page.contains("Line "),
        "{page}"
    );
}

#[test]
fn four_weeks_are_shown_a_week_at_a_time() {
    let room = Room::planned(
        &example("north-indian-vegetarian")
            .replace("days = 7", "days = 9")
            .replace("1200 INR/week", "1300 INR/week"),
    );
    let first = room.served.get(WEEK).body;
    assert!(first.contains("id=\"day-7\"") && !first.contains("id=\"day-8\""));
    let second = room.served.get("/b/mine/week?from=8").body;
    assert!(second.contains("id=\"day-9\"") && !second.contains("id=\"day-7\""));
    assert!(second.len() < 250_000);
    assert_eq!(room.served.get("/b/mine/week?from=4000000000").status, 200);
}
