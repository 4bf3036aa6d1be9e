//! What the rooms share: the folder of briefs, the data, the weeks made so far, and the hands that make them.

use crate::brief;
use crate::cli::files::{self, Whole};
use crate::diagnostic::Diagnostic;
use crate::plan::{Plan, Work};
use crate::ready::{Larder, Ready, answer, ready};
use crate::report::amount::price;
use crate::report::json;
use crate::swap;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::Semaphore;

/// The folder as every room holds it.
pub type Shared = Arc<Folder>;

/// Steps that can be taken back, for each brief.
const MOST_STEPS: usize = 50;

/// Beside the briefs: the weeks made, so that they are there after a new start.
const KEPT: &str = ".platewright";

/// A brief's file as it was when it was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Its name: the file's, without `.toml`.
    pub name: String,
    /// Its text.
    pub text: String,
    /// Stands for this text: a page carries it, and a change that carries another was made from an older text.
    pub digest: String,
}

impl Sheet {
    /// The title of the brief; its name while it cannot be read.
    pub fn title(&self) -> String {
        brief::parse(&self.text).map_or_else(|_| self.name.clone(), |(brief, _)| brief.title)
    }
}

/// A week that was made.
#[derive(Clone, Debug)]
pub struct Week {
    /// The plan, or the plan without meals that says why there is none.
    pub plan: Arc<Plan>,
    /// The text of the brief that it was made from.
    pub digest: String,
}

/// How a brief's week came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// There is a plan.
    Planned,
    /// No plan was found, or none exists.
    NoPlan,
    /// A safety gate stops the phase.
    Stopped,
}

/// A brief's week in short.
#[derive(Clone, Debug, PartialEq)]
pub struct Glance {
    /// How it came out.
    pub outcome: Outcome,
    /// What the days cost, with the currency.
    pub cost: Option<String>,
    /// Days planned.
    pub days: u64,
    /// Whether the brief is still the text that it was made from.
    pub fresh: bool,
}

/// What was refused, and why.
#[derive(Clone, Debug, PartialEq)]
pub enum Refusal {
    /// There is no such brief.
    Missing(String),
    /// The brief has mistakes: its text and all of them.
    Mistakes(String, Vec<Diagnostic>),
    /// The file is not as it was when the page was drawn; nothing was written.
    Changed(String),
    /// A question that cannot be answered, in words.
    Wrong(String),
    /// A file that cannot be read or written.
    File(String),
}

/// A state to go back to.
#[derive(Clone, Debug)]
struct Step {
    text: String,
    week: Option<Week>,
    /// The text after the step, by which it is known that nobody else wrote since.
    then: String,
}

/// A folder of briefs with everything that answers them.
#[derive(Debug)]
pub struct Folder {
    root: PathBuf,
    /// Foods, dishes, kitchens and prices.
    pub larder: Larder,
    weeks: Mutex<BTreeMap<String, Week>>,
    steps: Mutex<BTreeMap<String, Vec<Step>>>,
    /// One at a time for each brief, so that two tabs do not make the same week twice.
    turns: Mutex<BTreeMap<String, Arc<tokio::sync::Mutex<()>>>>,
    planners: Arc<Semaphore>,
    askers: Arc<Semaphore>,
    /// The last time that all briefs were planned.
    pub round: Mutex<super::roster::Round>,
}

fn open<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What stands for a text: FNV-1a of 64 bits (Fowler, Noll, Vo; RFC 9923), in hexadecimal.
pub fn digest(text: &str) -> String {
    let hash = text.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |h, b| {
        (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3)
    });
    format!("{hash:016x}")
}

/// Whether a name can be a brief's: letters, digits, spaces, dots, hyphens and underscores, not hidden.
pub fn is_name(name: &str) -> bool {
    !name.is_empty()
        && name.len() <= 100
        && !name.starts_with(['.', ' '])
        && !name.ends_with(' ')
        && name
            .chars()
            .all(|c| c.is_alphanumeric() || matches!(c, ' ' | '.' | '-' | '_'))
}

impl Folder {
    /// Opens a folder and loads the data.
    ///
    /// # Errors
    /// A path that is no folder, and mistakes of the bundled data.
    pub fn open(root: &Path) -> io::Result<Folder> {
        if !root.is_dir() {
            return Err(io::Error::other(format!(
                "{}: is no folder; name the folder of your briefs",
                root.display()
            )));
        }
        let larder = Larder::bundled().map_err(|problems| {
            io::Error::other(problems.first().map_or_else(String::new, |d| d.message.clone()))
        })?;
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        Ok(Folder {
            root: root.to_path_buf(),
            larder,
            weeks: Mutex::default(),
            steps: Mutex::default(),
            turns: Mutex::default(),
            planners: Arc::new(Semaphore::new(cores)),
            askers: Arc::new(Semaphore::new(cores)),
            round: Mutex::default(),
        })
    }

    /// The names of the briefs, in order: every file that ends in `.toml` and, where it can be read, has a person.
    ///
    /// # Errors
    /// A folder that cannot be listed.
    pub fn names(&self) -> Result<Vec<String>, Refusal> {
        let listed = fs::read_dir(&self.root).map_err(|e| Refusal::File(format!("the folder: {e}")))?;
        let mut names = Vec::new();
        for entry in listed.flatten() {
            let file = entry.file_name();
            let Some(name) = file.to_str().and_then(|f| f.strip_suffix(".toml")) else {
                continue;
            };
            // A link may lead out of the folder: only plain files count.
            let plain = entry.file_type().is_ok_and(|t| t.is_file());
            if plain && is_name(name) && self.is_brief(name) {
                names.push(name.to_string());
            }
        }
        names.sort();
        Ok(names)
    }

    /// Other TOML files stand beside briefs: claims, diet problems, dishes.
    fn is_brief(&self, name: &str) -> bool {
        let text = files::read(&self.path(name)).unwrap_or_default();
        text.parse::<toml::Table>()
            .map_or(true, |table| table.contains_key("person") || table.is_empty())
    }

    /// The file of a brief, whose name has been checked.
    fn path(&self, name: &str) -> PathBuf {
        self.root.join(format!("{name}.toml"))
    }

    /// A file of a brief beside it, such as its weigh-ins: `NAME.log.csv`.
    ///
    /// # Errors
    /// A name that is none of the briefs.
    pub fn beside(&self, name: &str, ending: &str) -> Result<PathBuf, Refusal> {
        self.sheet(name)?;
        Ok(self.root.join(format!("{name}.{ending}")))
    }

    /// A file of a brief among those that the page keeps for itself.
    fn kept(&self, name: &str, ending: &str) -> PathBuf {
        self.root.join(KEPT).join(format!("{name}.{ending}"))
    }

    /// Keeps a small text for a brief, whole or not at all.
    ///
    /// # Errors
    /// A folder that cannot be written.
    pub fn keep(&self, name: &str, ending: &str, text: &str) -> Result<(), Refusal> {
        let fail = |e: io::Error| Refusal::File(e.to_string());
        fs::create_dir_all(self.root.join(KEPT)).map_err(fail)?;
        Whole::create(&self.kept(name, ending))
            .and_then(|file| file.write(text.as_bytes()))
            .map_err(fail)
    }

    /// A text kept for a brief; `None` when there is none.
    pub fn recall(&self, name: &str, ending: &str) -> Option<String> {
        fs::read_to_string(self.kept(name, ending)).ok()
    }

    /// A brief's file.
    ///
    /// # Errors
    /// [`Refusal::Missing`] for a name that leads to no plain file of the folder, [`Refusal::File`] when it cannot be read.
    pub fn sheet(&self, name: &str) -> Result<Sheet, Refusal> {
        let missing = || Refusal::Missing(name.to_string());
        if !is_name(name) {
            return Err(missing());
        }
        let path = self.path(name);
        let plain = fs::symlink_metadata(&path).is_ok_and(|m| m.is_file());
        if !plain {
            return Err(missing());
        }
        let text = files::read(&path).map_err(|e| Refusal::File(e.to_string()))?;
        Ok(Sheet {
            name: name.to_string(),
            digest: digest(&text),
            text,
        })
    }

    /// A brief made ready.
    ///
    /// # Errors
    /// As [`Folder::sheet`], and its mistakes.
    pub fn ready(&self, sheet: &Sheet) -> Result<Ready, Refusal> {
        ready(&sheet.text, None, None).map_err(|problems| Refusal::Mistakes(sheet.text.clone(), problems))
    }

    /// Writes a new brief; never over another.
    ///
    /// # Errors
    /// A name that cannot be, or is taken, and a folder that cannot be written.
    pub fn create(&self, name: &str, text: &str) -> Result<Sheet, Refusal> {
        if !is_name(name) {
            return Err(Refusal::Wrong(format!(
                "\"{name}\" cannot be the name of a file here; use letters, digits, spaces, - and _"
            )));
        }
        if self.path(name).exists() {
            return Err(Refusal::Wrong(format!(
                "there is a brief \"{name}\" already; choose another name"
            )));
        }
        self.write(name, text)
    }

    fn write(&self, name: &str, text: &str) -> Result<Sheet, Refusal> {
        Whole::create(&self.path(name))
            .and_then(|file| file.write(text.as_bytes()))
            .map_err(|e| Refusal::File(e.to_string()))?;
        Ok(Sheet {
            name: name.to_string(),
            text: text.to_string(),
            digest: digest(text),
        })
    }

    /// Writes a changed text of a brief in the place of the one with the digest `seen`, and the week that belongs to
    /// it when one is given; what was before can be taken back.
    ///
    /// The text is written as it is, with or without mistakes of its own: rooms check it first.
    ///
    /// # Errors
    /// [`Refusal::Changed`] when the file is another by now; nothing is written then.
    pub fn save(&self, name: &str, seen: &str, text: &str, week: Option<Plan>) -> Result<Sheet, Refusal> {
        let mut steps = open(&self.steps);
        let old = self.sheet(name)?;
        if old.digest != seen {
            return Err(Refusal::Changed(name.to_string()));
        }
        let before = Step {
            week: self.week(name),
            then: digest(text),
            text: old.text,
        };
        let sheet = self.write(name, text)?;
        let mine = steps.entry(name.to_string()).or_default();
        mine.push(before);
        if mine.len() > MOST_STEPS {
            mine.remove(0);
        }
        drop(steps);
        if let Some(plan) = week {
            self.put(&sheet, plan)?;
        }
        Ok(sheet)
    }

    /// Whether the last change of a brief can be taken back.
    pub fn can_undo(&self, name: &str) -> bool {
        open(&self.steps).get(name).is_some_and(|s| !s.is_empty())
    }

    /// Takes the last change of a brief back, with its week.
    ///
    /// # Errors
    /// When there is none, and [`Refusal::Changed`] when the file was written by somebody else since.
    pub fn undo(&self, name: &str) -> Result<Sheet, Refusal> {
        let mut steps = open(&self.steps);
        let now = self.sheet(name)?;
        let mine = steps.entry(name.to_string()).or_default();
        let Some(step) = mine.last() else {
            return Err(Refusal::Wrong("there is nothing to take back".into()));
        };
        if step.then != now.digest {
            return Err(Refusal::Changed(name.to_string()));
        }
        let sheet = self.write(name, &step.text)?;
        let week = mine.pop().and_then(|s| s.week);
        drop(steps);
        match week {
            Some(week) => self.put_week(name, week)?,
            None => {
                open(&self.weeks).remove(name);
            }
        }
        Ok(sheet)
    }

    /// The week made last for a brief, also when the brief is another by now; read from the folder after a new start.
    ///
    /// A week from the folder is made again from its amounts and the food table, never shown as it was written.
    pub fn week(&self, name: &str) -> Option<Week> {
        if let Some(week) = open(&self.weeks).get(name) {
            return Some(week.clone());
        }
        let kept: Value = serde_json::from_str(&self.recall(name, "week.json")?).ok()?;
        let sheet = self.sheet(name).ok()?;
        if kept["brief"] != sheet.digest.as_str() {
            return None;
        }
        let days = swap::read_plan(&kept["plan"].to_string()).ok()?;
        let ready = self.ready(&sheet).ok()?;
        let pieces = ready.pieces(&self.larder).ok()?;
        let plan = swap::remake(pieces, &ready.energy, &days).ok()?;
        let week = Week {
            plan: Arc::new(plan),
            digest: sheet.digest,
        };
        open(&self.weeks).insert(name.to_string(), week.clone());
        Some(week)
    }

    /// What is known of a brief's week without making it again, as it was written when the week was made.
    pub fn glance(&self, sheet: &Sheet) -> Option<Glance> {
        let kept: Value = serde_json::from_str(&self.recall(&sheet.name, "glance.json")?).ok()?;
        let text = |key: &str| kept[key].as_str().map(str::to_string);
        Some(Glance {
            outcome: match kept["outcome"].as_str()? {
                "planned" => Outcome::Planned,
                "stopped" => Outcome::Stopped,
                _ => Outcome::NoPlan,
            },
            cost: text("cost"),
            days: kept["days"].as_u64().unwrap_or(0),
            fresh: kept["brief"] == sheet.digest.as_str(),
        })
    }

    /// Keeps a week for a brief.
    ///
    /// # Errors
    /// A folder that cannot be written.
    pub fn put(&self, sheet: &Sheet, plan: Plan) -> Result<Week, Refusal> {
        let week = Week {
            plan: Arc::new(plan),
            digest: sheet.digest.clone(),
        };
        self.put_week(&sheet.name, week.clone())?;
        Ok(week)
    }

    fn put_week(&self, name: &str, week: Week) -> Result<(), Refusal> {
        let plan = &week.plan;
        let outcome = match (plan.planned, plan.days.is_empty(), plan.conflict.is_empty()) {
            (true, ..) => "planned",
            (_, true, true) => "stopped",
            _ => "none",
        };
        let glance = json!({
            "brief": week.digest,
            "outcome": outcome,
            "days": plan.days.len(),
            "cost": plan.cost.filter(|_| plan.planned).map(|c| price(c, plan.currency)),
        });
        let text = json!({ "brief": week.digest, "plan": json::plan(plan) }).to_string();
        open(&self.weeks).insert(name.to_string(), week);
        self.keep(name, "week.json", &text)?;
        self.keep(name, "glance.json", &glance.to_string())
    }

    /// Does work of a second or so, such as making a week: as many at a time as the machine has cores, the others
    /// wait for their turn while pages are still answered.
    ///
    /// # Errors
    /// Work that broke off.
    pub async fn work<T: Send + 'static>(
        self: &Arc<Self>,
        task: impl FnOnce(&Folder) -> T + Send + 'static,
    ) -> Result<T, Refusal> {
        self.run(self.planners.clone(), task).await
    }

    /// Answers a question of some milliseconds, such as one linear program; it does not wait for weeks being made.
    ///
    /// # Errors
    /// Work that broke off.
    pub async fn ask<T: Send + 'static>(
        self: &Arc<Self>,
        task: impl FnOnce(&Folder) -> T + Send + 'static,
    ) -> Result<T, Refusal> {
        self.run(self.askers.clone(), task).await
    }

    async fn run<T: Send + 'static>(
        self: &Arc<Self>,
        hands: Arc<Semaphore>,
        task: impl FnOnce(&Folder) -> T + Send + 'static,
    ) -> Result<T, Refusal> {
        let broke = |_| Refusal::Wrong("the work broke off; try again".into());
        let permit = hands
            .acquire_owned()
            .await
            .map_err(|_| Refusal::Wrong("the page is closing".into()))?;
        let folder = Arc::clone(self);
        tokio::task::spawn_blocking(move || {
            let _permit = permit;
            task(&folder)
        })
        .await
        .map_err(broke)
    }

    /// The week of a brief as it stands: the one kept when it was made from this text, else a new one, kept.
    ///
    /// # Errors
    /// As [`Folder::ready`], mistakes against the kitchen, and a folder that cannot be written.
    pub async fn planned(self: &Arc<Self>, name: &str) -> Result<(Sheet, Week), Refusal> {
        let turn = open(&self.turns).entry(name.to_string()).or_default().clone();
        let _mine = turn.lock().await;
        let name = name.to_string();
        self.work(move |folder| {
            let sheet = folder.sheet(&name)?;
            if let Some(week) = folder.week(&name).filter(|w| w.digest == sheet.digest) {
                return Ok((sheet, week));
            }
            let ready = folder.ready(&sheet)?;
            let plan = answer(&folder.larder, &ready, Work::of(ready.brief.days, None))
                .map_err(|problems| Refusal::Mistakes(sheet.text.clone(), problems))?;
            let week = folder.put(&sheet, plan)?;
            Ok((sheet, week))
        })
        .await?
    }

    /// Whether a name of a brief is taken, by whatever is there.
    pub fn taken(&self, name: &str) -> bool {
        fs::symlink_metadata(self.path(name)).is_ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stay_in_the_folder() {
        for good in ["brief", "Ana 2", "year-2.b", "été"] {
            assert!(is_name(good), "{good}");
        }
        for bad in ["", ".", "..", "../x", "a/b", "a\\b", ".hidden", "a\0", " a", "a "] {
            assert!(!is_name(bad), "{bad:?}");
        }
    }

    #[test]
    fn digests_are_those_published() {
        // RFC 9923 (FNV), test vectors: the empty text and "a". [from memory]
        assert_eq!(digest(""), "cbf29ce484222325");
        assert_eq!(digest("a"), "af63dc4c8601ec8c");
    }
}
