//! Many briefs at once: entries in, an answer for each out, in their order, on as many threads as wanted.
//!
//! Takes a [`Larder`], loaded once and shared by the threads, and entries one after the other; gives an [`Answered`]
//! for each, and its [`line`](Answered::line) of JSON. Only a window of entries is held at a time, so that a roster
//! may be longer than memory. It knows no file: where entries come from and answers go is the caller's.

use crate::diagnostic::{Diagnostic, Severity, any_error, suggestion};
use crate::plan::{Plan, Work};
use crate::ready::{Larder, answer, ready};
use crate::report;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;
use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{channel, sync_channel};
use std::sync::{Mutex, PoisonError};

/// Entries that may be read before the first of them is handed over, for each job: a long brief then keeps no thread
/// idle. A choice of the project.
const WINDOW: usize = 16;

/// Keys of an entry.
const KEYS: [&str; 5] = ["id", "brief", "week", "seed", "moves"];

/// A brief to plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// What it is called in the answer.
    pub id: String,
    /// Text of the brief.
    pub brief: String,
    /// Week of its phases; the first without it.
    pub week: Option<u32>,
    /// Seed instead of the brief's.
    pub seed: Option<u64>,
    /// Moves of the search; as many as the days need without it.
    pub moves: Option<u64>,
}

/// A line of a roster that is no entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadLine {
    /// Line, from 1.
    pub line: u64,
    /// The id, when it could be read.
    pub id: Option<String>,
    /// Its mistakes.
    pub problems: Vec<Diagnostic>,
}

/// What stands in for keys that an entry does not have.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Defaults {
    /// Week of the phases.
    pub week: Option<u32>,
    /// Seed.
    pub seed: Option<u64>,
    /// Moves of the search.
    pub moves: Option<u64>,
}

impl Entry {
    /// The entry of a line of JSON: `{"id": "...", "brief": "..."}`, and `week`, `seed` and `moves` where it has them.
    ///
    /// # Errors
    /// All mistakes of the line, `number` of the roster.
    pub fn read(line: &str, number: u64, defaults: Defaults) -> Result<Entry, BadLine> {
        let bad = |id: Option<String>, problems: Vec<Diagnostic>| BadLine {
            line: number,
            id,
            problems,
        };
        let shape = "write a line as {\"id\": \"anna\", \"brief\": \"<the text of a brief>\"}";
        let mut keys: Map<String, Value> = match serde_json::from_str(line) {
            Ok(keys) => keys,
            Err(e) => {
                let what = format!("the line is no JSON object: {e}");
                return Err(bad(
                    None,
                    vec![Diagnostic::error("roster-not-json", what).help(shape)],
                ));
            }
        };
        let mut problems: Vec<Diagnostic> = keys
            .keys()
            .filter(|k| !KEYS.contains(&k.as_str()))
            .map(|k| {
                let near = suggestion(k, KEYS).map_or_else(String::new, |n| format!("did you mean `{n}`? "));
                Diagnostic::error("roster-unknown-key", format!("there is no key `{k}`"))
                    .help(format!("{near}Keys: {}", KEYS.join(", ")))
            })
            .collect();
        let mut text = |key: &str| match keys.remove(key) {
            Some(Value::String(text)) => Some(text),
            Some(other) => {
                let what = format!("`{key}` is {}, not text", kind(&other));
                problems.push(Diagnostic::error("roster-bad-value", what).help("write it in quotes"));
                None
            }
            None => {
                let what = format!("the line has no `{key}`");
                problems.push(Diagnostic::error("roster-missing-key", what).help(shape));
                None
            }
        };
        let (id, brief) = (text("id"), text("brief"));
        let mut whole = |key: &str, most: u64| match keys.get(key) {
            None | Some(Value::Null) => None,
            Some(value) => {
                let number = value.as_u64().filter(|n| *n <= most);
                if number.is_none() {
                    let what = format!("`{key}` is `{value}`, not a whole number from 0 to {most}");
                    problems.push(
                        Diagnostic::error("roster-bad-value", what).help("write a number without quotes"),
                    );
                }
                number
            }
        };
        let week = whole("week", u32::MAX.into()).and_then(|w| u32::try_from(w).ok());
        let (seed, moves) = (whole("seed", u64::MAX), whole("moves", u64::MAX));
        match (id, brief) {
            (Some(id), Some(brief)) if problems.is_empty() => Ok(Entry {
                id,
                brief,
                week: week.or(defaults.week),
                seed: seed.or(defaults.seed),
                moves: moves.or(defaults.moves),
            }),
            (id, _) => Err(bad(id, problems)),
        }
    }

    /// The fingerprint of everything the answer follows from: this entry, upon that of the program and its data.
    pub fn input(&self, upon: Fingerprint) -> Fingerprint {
        let mut print = upon;
        print.add(self.id.as_bytes());
        print.add(self.brief.as_bytes());
        for number in [self.week.map(u64::from), self.seed, self.moves] {
            print.add(number.map_or_else(String::new, |n| n.to_string()).as_bytes());
        }
        print
    }
}

/// What a JSON value is, in words.
fn kind(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "true or false",
        Value::Number(_) => "a number",
        Value::String(_) => "text",
        Value::Array(_) => "a list",
        Value::Object(_) => "an object",
    }
}

/// 64 bits that differ when what they were made of differs: FNV-1a, the same on every machine (Fowler, Noll, Vo and
/// others, The FNV Non-Cryptographic Hash Algorithm, IETF). It finds changes; it keeps no secrets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fingerprint(u64);

impl Fingerprint {
    /// That of this release of the program.
    pub fn of_program() -> Fingerprint {
        let mut print = Fingerprint(0xcbf2_9ce4_8422_2325);
        print.add(env!("CARGO_PKG_VERSION").as_bytes());
        print
    }

    /// Adds bytes as they stand.
    pub fn feed(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }

    /// Adds bytes and where they end.
    pub fn add(&mut self, bytes: &[u8]) {
        self.feed(bytes);
        self.feed(&(bytes.len() as u64).to_le_bytes());
    }
}

impl std::fmt::Display for Fingerprint {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        write!(f, "{:016x}", self.0)
    }
}

/// How an entry came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    /// There is a plan.
    Planned,
    /// There is none, and the answer says why.
    Infeasible,
    /// A safety gate stops it.
    Stopped,
    /// The line or the brief has mistakes.
    Refused,
    /// The program went wrong: a fault of its own.
    Failed,
}

impl Outcome {
    /// All of them, best first.
    pub const ALL: [Outcome; 5] = [
        Outcome::Planned,
        Outcome::Infeasible,
        Outcome::Stopped,
        Outcome::Refused,
        Outcome::Failed,
    ];

    /// Its word in the answer.
    pub fn word(self) -> &'static str {
        match self {
            Outcome::Planned => "planned",
            Outcome::Infeasible => "infeasible",
            Outcome::Stopped => "stopped",
            Outcome::Refused => "refused",
            Outcome::Failed => "failed",
        }
    }

    /// The outcome of a word.
    pub fn of(word: &str) -> Option<Outcome> {
        Outcome::ALL.into_iter().find(|o| o.word() == word)
    }
}

/// The answer to an entry.
#[derive(Clone, Debug)]
pub struct Answered {
    /// Its id; `None` for a line without one.
    pub id: Option<String>,
    /// The line of the roster, when the line itself is bad.
    pub line: Option<u64>,
    /// How it came out.
    pub outcome: Outcome,
    /// The plan, or what there is instead of one; `None` when refused or failed.
    pub plan: Option<Plan>,
    /// Mistakes and remarks.
    pub problems: Vec<Diagnostic>,
    /// The text of the brief, into which the mistakes point.
    pub brief: String,
}

impl From<BadLine> for Answered {
    fn from(bad: BadLine) -> Answered {
        Answered {
            id: bad.id,
            line: Some(bad.line),
            outcome: Outcome::Refused,
            plan: None,
            problems: bad.problems,
            brief: String::new(),
        }
    }
}

impl Answered {
    /// Reads a brief, derives its targets and plans it. A fault of the program is an answer as well, so that the
    /// others go on.
    pub fn to(larder: &Larder, entry: &Entry) -> Answered {
        let (outcome, plan, problems) = guarded(|| plain(larder, entry)).unwrap_or_else(|fault| {
            let d = Diagnostic::error("program-fault", format!("the program went wrong: {fault}"))
                .help("nothing is known about this brief; please report it with its text");
            (Outcome::Failed, None, vec![d])
        });
        Answered {
            id: Some(entry.id.clone()),
            line: None,
            outcome,
            plan,
            problems,
            brief: entry.brief.clone(),
        }
    }

    /// The answer as one line of JSON with its line end; `input` is the fingerprint of a good entry. Keys are a
    /// contract: `docs/json.md`.
    pub fn line(&self, input: Option<Fingerprint>) -> String {
        let mut all = Map::new();
        all.insert("id".into(), json!(self.id));
        match (input, self.line) {
            (Some(input), _) => all.insert("input".into(), json!(input.to_string())),
            (None, line) => all.insert("line".into(), json!(line)),
        };
        all.insert("outcome".into(), json!(self.outcome.word()));
        let (errors, remarks): (Vec<_>, Vec<_>) = self.problems.iter().partition(|d| d.is_error());
        let told = |problems: Vec<&Diagnostic>| problems.iter().map(|d| problem(d, &self.brief)).collect();
        if !errors.is_empty() {
            all.insert("errors".into(), told(errors));
        }
        if !remarks.is_empty() {
            all.insert("remarks".into(), told(remarks));
        }
        if let Some(plan) = &self.plan {
            all.insert("plan".into(), report::json::plan(plan));
        }
        let mut text = Value::Object(all).to_string();
        text.push('\n');
        text
    }
}

type Plain = (Outcome, Option<Plan>, Vec<Diagnostic>);

fn plain(larder: &Larder, entry: &Entry) -> Plain {
    let ready = match ready(&entry.brief, entry.seed, entry.week) {
        Ok(ready) => ready,
        Err(problems) => return (Outcome::Refused, None, problems),
    };
    match answer(larder, &ready, Work::of(ready.brief.days, entry.moves).alone()) {
        Ok(plan) => {
            let outcome = if ready.stopped() {
                Outcome::Stopped
            } else if plan.planned {
                Outcome::Planned
            } else {
                Outcome::Infeasible
            };
            (outcome, Some(plan), ready.remarks)
        }
        Err(problems) => {
            let mut all = ready.remarks;
            all.extend(problems);
            debug_assert!(any_error(&all));
            (Outcome::Refused, None, all)
        }
    }
}

/// What `work` gives, or the words of its panic.
fn guarded<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    catch_unwind(AssertUnwindSafe(work)).map_err(|fault| {
        let words = fault.downcast_ref::<String>().map(String::as_str);
        words
            .or_else(|| fault.downcast_ref::<&str>().copied())
            .unwrap_or("no words")
            .to_string()
    })
}

/// A mistake or remark as JSON, its place as line and column of the brief.
fn problem(d: &Diagnostic, brief: &str) -> Value {
    let span = d.spans.first();
    let before = span.map(|s| brief.get(..s.range.start).unwrap_or(brief));
    let line = before.map(|b| b.matches('\n').count() + 1).or(d.line);
    let column = before.map(|b| b.rsplit('\n').next().unwrap_or(b).chars().count() + 1);
    json!({
        "severity": match d.severity {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Error => "error",
        },
        "code": d.code,
        "message": d.message,
        "line": line,
        "column": column,
        "label": span.map(|s| s.label.as_str()).filter(|l| !l.is_empty()),
        "help": d.help,
    })
}

/// Works on many things at once and hands the results over in the order of the things, on the thread that called.
///
/// Things are read on a thread of their own, at most a window of them before the first result is handed over. `done`
/// says whether to go on; after `Break` nothing more is begun, what runs is waited for, and `Break` is returned.
pub fn run<I: Send, T: Send>(
    things: impl Iterator<Item = I> + Send,
    jobs: NonZeroUsize,
    work: impl Fn(I) -> T + Sync,
    mut done: impl FnMut(T) -> ControlFlow<()>,
) -> ControlFlow<()> {
    let jobs = jobs.get();
    // A thing takes a place of the window when it is read and gives it back when its result is handed over.
    let (take, give_back) = sync_channel::<()>(jobs.saturating_mul(WINDOW));
    let (to_workers, things_read) = sync_channel::<(u64, I)>(jobs);
    let (to_caller, results) = channel();
    let things_read = Mutex::new(things_read);
    let stop = AtomicBool::new(false);
    let end = std::thread::scope(|scope| {
        scope.spawn(move || {
            for thing in (0..).zip(things) {
                // The other end is gone when the caller has had enough.
                if take.send(()).is_err() || to_workers.send(thing).is_err() {
                    break;
                }
            }
        });
        let (things_read, work, stop) = (&things_read, &work, &stop);
        for _ in 0..jobs {
            let to_caller = to_caller.clone();
            scope.spawn(move || {
                loop {
                    let next = things_read.lock().unwrap_or_else(PoisonError::into_inner).recv();
                    let Ok((n, thing)) = next else { break };
                    // What was read and not begun is let go, so that the reader never waits for nobody.
                    if !stop.load(Ordering::Relaxed) {
                        let result = catch_unwind(AssertUnwindSafe(|| work(thing)));
                        let _ = to_caller.send((n, result));
                    }
                }
            });
        }
        drop(to_caller);
        let mut early = BTreeMap::new();
        let mut next = 0_u64;
        let mut end = Ok(ControlFlow::Continue(()));
        'all: for (n, result) in &results {
            early.insert(n, result);
            while let Some(result) = early.remove(&next) {
                next += 1;
                let _ = give_back.recv();
                end = result.map(&mut done);
                if !matches!(end, Ok(ControlFlow::Continue(()))) {
                    stop.store(true, Ordering::Relaxed);
                    break 'all;
                }
            }
        }
        drop(give_back);
        end
    });
    end.unwrap_or_else(|panic| resume_unwind(panic))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values: The FNV Non-Cryptographic Hash Algorithm, IETF draft-eastlake-fnv-19, test vectors of FNV-1a, 64 bits
    /// (second-hand: read where an implementation repeats them).
    #[test]
    fn the_fingerprint_is_the_published_one() {
        let start = Fingerprint(0xcbf2_9ce4_8422_2325);
        for (text, value) in [
            ("", "cbf29ce484222325"),
            ("a", "af63dc4c8601ec8c"),
            ("foobar", "85944171f73967e8"),
        ] {
            let mut print = start;
            print.feed(text.as_bytes());
            assert_eq!(print.to_string(), value, "{text:?}");
        }
    }

    #[test]
    fn a_fault_of_the_program_is_an_answer() {
        assert_eq!(guarded(|| 7), Ok(7));
        let fault = guarded(|| -> u8 { std::panic::panic_any("went wrong".to_string()) });
        assert_eq!(fault, Err("went wrong".to_string()));
    }
}
