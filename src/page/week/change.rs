//! One change of a week: what the brief says then, the week that follows from it with the rest kept, and what changed.

use super::draw;
use super::note::{self, Note};
use crate::brief::edit::{Document, Value};
use crate::brief::{Amount, Brief, Lock, Scope};
use crate::diagnostic::Diagnostic;
use crate::kitchen::Catalogue;
use crate::model::build::Pieces;
use crate::page::folder::{Folder, Refusal, Sheet, Week};
use crate::plan::{Plan, Way, Work};
use crate::ready::{Ready, answer, ready};
use crate::report::amount;
use crate::report::form::style;
use crate::report::swap::told;
use crate::report::words::{counted, joined};
use crate::swap::{self, Edit, Offer, Place, Wish, remake, understand};
use crate::targets::Target;
use itertools::Itertools;
use maud::{Markup, html};

/// Moves of the search for each week of a swap: it begins at a week that nearly holds, so that fewer do than a week
/// from nothing takes. A design choice.
const MOVES: u64 = 1_000_000;

/// What is asked of a week, as a button says it.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Asked {
    /// A meal, or one of its items, is to stay.
    Lock(Place, Option<String>),
    /// It need not stay any more.
    Unlock(Place, Option<String>),
    /// Something else in the place of an item: in that meal, or everywhere.
    Swap(Place, String, String, bool),
    /// Another meal in the place of one.
    Meal(Place),
    /// An item never again.
    Never(String),
    /// More of an item.
    More(String),
    /// The rest planned anew.
    Again,
    /// The way out of a conflict with this number; `None` for all that only help together.
    Way(Option<usize>),
}

impl Asked {
    /// Reads what a button sent; `None` when no button of the page sends it.
    pub(super) fn read(text: &str) -> Option<Asked> {
        let words: Vec<&str> = text.split(' ').collect();
        let place = |day: &str, slot: &str| {
            Some(Place {
                day: day.parse().ok().filter(|d| (1..=28).contains(d))?,
                slot: slot.to_string(),
            })
        };
        let own = |w: &&str| w.to_string();
        Some(match words.as_slice() {
            ["lock", d, s] => Asked::Lock(place(d, s)?, None),
            ["lock", d, s, item] => Asked::Lock(place(d, s)?, Some(own(item))),
            ["unlock", d, s] => Asked::Unlock(place(d, s)?, None),
            ["unlock", d, s, item] => Asked::Unlock(place(d, s)?, Some(own(item))),
            ["here", d, s, item, to] => Asked::Swap(place(d, s)?, own(item), own(to), false),
            ["everywhere", d, s, item, to] => Asked::Swap(place(d, s)?, own(item), own(to), true),
            ["meal", d, s] => Asked::Meal(place(d, s)?),
            ["never", item] => Asked::Never(own(item)),
            ["more", item] => Asked::More(own(item)),
            ["again"] => Asked::Again,
            ["way", "together"] => Asked::Way(None),
            ["way", n] => Asked::Way(Some(n.parse().ok()?)),
            _ => return None,
        })
    }
}

/// What came of it.
pub(super) enum Outcome {
    /// Written; the part of the page to go to.
    Done(String),
    /// Nothing was written, and why.
    Nothing(Sheet, Markup),
}

/// The part of the page of a meal.
pub(super) fn anchor(place: &Place) -> String {
    format!("d{}-{}", place.day, place.slot)
}

fn wrong(d: &Diagnostic) -> Refusal {
    let help = d.help.as_ref().map_or_else(String::new, |h| format!("; {h}"));
    Refusal::Wrong(format!("{}{help}", d.message))
}

fn first_wrong(problems: &[Diagnostic]) -> Refusal {
    problems
        .first()
        .map_or_else(|| Refusal::Wrong("that cannot be done".into()), wrong)
}

/// A changed text made ready: what was wrong with it is a mistake of that text.
fn prepared(text: &str) -> Result<Ready, Refusal> {
    ready(text, None, None).map_err(|problems| Refusal::Mistakes(text.to_string(), problems))
}

fn pieces<'a>(folder: &'a Folder, ready: &'a Ready, text: &str) -> Result<Pieces<'a>, Refusal> {
    ready
        .pieces(&folder.larder)
        .map_err(|problems| Refusal::Mistakes(text.to_string(), problems))
}

/// The week of a brief as it stands.
fn standing(folder: &Folder, sheet: &Sheet) -> Result<Week, Refusal> {
    folder
        .week(&sheet.name)
        .filter(|w| w.digest == sheet.digest)
        .ok_or_else(|| Refusal::Wrong("there is no week of this brief as it stands; plan it first".into()))
}

/// Makes a change: nothing is written unless a week comes of it.
pub(super) fn make(folder: &Folder, name: &str, seen: &str, asked: &Asked) -> Result<Outcome, Refusal> {
    let sheet = folder.sheet(name)?;
    if sheet.digest != seen {
        return Err(Refusal::Changed(name.to_string()));
    }
    let now = prepared(&sheet.text)?;
    let week = standing(folder, &sheet)?;
    let doc = Document::read(&sheet.text).map_err(|d| wrong(&d))?;
    let job = Job {
        folder,
        sheet: &sheet,
        now: &now,
        before: &week.plan,
    };
    if let Asked::Way(which) = asked {
        return job.way(doc, *which);
    }
    if !week.plan.planned {
        return Err(Refusal::Wrong("there is no plan to change; see why first".into()));
    }
    crate::report::amount::styled(style(&now.brief), || match asked {
        Asked::Lock(place, item) => job.lock(doc, place, item.as_deref()),
        Asked::Unlock(place, item) => job.unlock(doc, place, item.as_deref()),
        Asked::Again => job.again(doc),
        Asked::Swap(place, item, to, everywhere) => {
            let wish = if *everywhere {
                Wish::Item(item.clone(), Some(to.clone()))
            } else {
                Wish::ItemAt(item.clone(), Some(to.clone()), place.clone())
            };
            job.swap(doc, &wish)
        }
        Asked::Meal(place) => job.swap(doc, &Wish::Meal(place.clone())),
        Asked::Never(item) => job.swap(doc, &Wish::Without(vec![item.clone()])),
        Asked::More(item) => job.swap(doc, &Wish::More(item.clone())),
        Asked::Way(_) => unreachable_way(),
    })
}

/// Ways are taken before a plan is asked for.
fn unreachable_way() -> Result<Outcome, Refusal> {
    Err(Refusal::Wrong("there is no conflict to leave".into()))
}

/// A change under way.
struct Job<'a> {
    folder: &'a Folder,
    sheet: &'a Sheet,
    now: &'a Ready,
    before: &'a Plan,
}

impl Job<'_> {
    fn catalogue(&self) -> &Catalogue {
        &self.folder.larder.catalogue
    }

    /// The name of an item, as the plan prints it.
    fn called(&self, id: &str) -> Result<String, Refusal> {
        let known = self.catalogue().items.iter().find(|i| i.id == id);
        known
            .map(|i| i.name.clone())
            .ok_or_else(|| Refusal::Wrong(format!("\"{id}\" is no item")))
    }

    fn items(&self, place: &Place) -> Result<Vec<(String, f64)>, Refusal> {
        let days = &self.before.days;
        let day = days.iter().find(|d| d.day == place.day);
        day.and_then(|d| d.meals.iter().find(|m| m.slot == place.slot))
            .map(|m| m.items.iter().map(|e| (e.id.clone(), e.servings)).collect())
            .ok_or_else(|| Refusal::Wrong("there is no such meal in the week".into()))
    }

    /// Writes a text whose week holds the same meals.
    fn same_week(&self, doc: &Document, said: String, at: &Place) -> Result<Outcome, Refusal> {
        let text = doc.text();
        let then = prepared(&text)?;
        let made = remake(
            pieces(self.folder, &then, &text)?,
            &then.energy,
            &self.before.days,
        );
        // A meal that was locked need not keep to the rules of a free one: the days are then of the older brief.
        let Some(plan) = made.ok().filter(|p| p.planned) else {
            let seen = &self.sheet.digest;
            self.folder.save(&self.sheet.name, seen, &text, None)?;
            return Ok(Outcome::Done("week".into()));
        };
        let note = Note {
            kept: true,
            ..Note::said(said)
        };
        self.save(&text, plan, note)?;
        Ok(Outcome::Done(anchor(at)))
    }

    fn save(&self, text: &str, plan: Plan, note: Note) -> Result<(), Refusal> {
        let saved = self
            .folder
            .save(&self.sheet.name, &self.sheet.digest, text, Some(plan))?;
        note::write(self.folder, &saved, note)
    }

    fn lock(&self, mut doc: Document, place: &Place, item: Option<&str>) -> Result<Outcome, Refusal> {
        let there = self.items(place)?;
        let said = match item {
            None => {
                pin(&mut doc, &self.now.brief, place, &there, true)?;
                format!("Locked: {}.", meal_name(place))
            }
            Some(id) => {
                let one: Vec<(String, f64)> = there.into_iter().filter(|(i, _)| i == id).collect();
                if one.is_empty() {
                    return Err(Refusal::Wrong("that is not in that meal".into()));
                }
                pin(&mut doc, &self.now.brief, place, &one, false)?;
                format!("Locked: {} in the {}.", self.called(id)?, meal_name(place))
            }
        };
        self.same_week(&doc, said, place)
    }

    fn unlock(&self, mut doc: Document, place: &Place, item: Option<&str>) -> Result<Outcome, Refusal> {
        let lock = loosen(&mut doc, &self.now.brief, place)?
            .ok_or_else(|| Refusal::Wrong("nothing is locked there".into()))?;
        let said = match item {
            None => format!("No longer locked: {}.", meal_name(place)),
            Some(id) => {
                let stays = lock.items.iter().filter(|(i, _)| !self.is(&i.value, id));
                let rest: Vec<Value> = stays.map(|(i, a)| written(&i.value, a)).collect();
                if !rest.is_empty() {
                    push(&mut doc, place, rest, lock.others)?;
                }
                format!(
                    "No longer locked: {} in the {}.",
                    self.called(id)?,
                    meal_name(place)
                )
            }
        };
        self.same_week(&doc, said, place)
    }

    /// Whether a word of the brief names an item.
    fn is(&self, word: &str, id: &str) -> bool {
        let c = self.catalogue();
        c.item_of(word, &self.before.kitchen)
            .is_some_and(|i| c.items[i].id == id)
    }

    /// All that is not locked planned anew, with another seed, which the brief keeps.
    fn again(&self, mut doc: Document) -> Result<Outcome, Refusal> {
        let seed = i64::try_from(self.now.brief.seed).unwrap_or(0);
        doc.set("seed", Value::Whole(seed.checked_add(1).unwrap_or(1)))
            .map_err(|d| wrong(&d))?;
        let text = doc.text();
        let then = prepared(&text)?;
        let plan = self.answered(&then, &text)?;
        if !plan.planned {
            return Ok(self.nothing(&plan, &then));
        }
        let changes = swap::changes(self.before, &plan);
        let said = format!("Planned anew. {}", sum(&changes));
        self.save(&text, plan, tale(&changes, said, false))?;
        Ok(Outcome::Done("changed".into()))
    }

    fn answered(&self, then: &Ready, text: &str) -> Result<Plan, Refusal> {
        answer(&self.folder.larder, then, Work::of(then.brief.days, None))
            .map_err(|problems| Refusal::Mistakes(text.to_string(), problems))
    }

    fn nothing(&self, plan: &Plan, then: &Ready) -> Outcome {
        let why = draw::told(&then.brief, || {
            html! {
                p { strong { "Nothing was changed: no week keeps everything then." } }
                (draw::why(plan))
                (draw::back(self.sheet))
            }
        });
        Outcome::Nothing(self.sheet.clone(), why)
    }

    fn swap(&self, mut doc: Document, wish: &Wish) -> Result<Outcome, Refusal> {
        // What never comes again is not locked either.
        let mut freed = 0;
        if let Wish::Without(items) = wish {
            for id in items {
                self.called(id)?;
                freed += self.free(&mut doc, id)?;
            }
        }
        let mut text = doc.text();
        let free = prepared(&text)?;
        let u = understand(wish, pieces(self.folder, &free, &text)?, self.before)
            .map_err(|problems| first_wrong(&problems))?;
        for edit in &u.edits {
            match edit {
                Edit::Dislike(word) => list(&mut doc, "dislikes", "likes", word)?,
                Edit::Like(word) => list(&mut doc, "likes", "dislikes", word)?,
                Edit::Allergy(_) | Edit::Region(_) | Edit::NoBudget => {}
            }
        }
        text = doc.text();
        let then = prepared(&text)?;
        let parts = pieces(self.folder, &then, &text)?;
        let weeks = u64::from(then.brief.days.div_ceil(7).max(1));
        let work = Work::of(then.brief.days, Some(MOVES * weeks));
        let mut plan = swap::swap(parts, &then.energy, self.before, &u, work)
            .map_err(|problems| first_wrong(&problems))?;
        let mut kept = true;
        if !plan.planned {
            // A change of the brief may ask for another week altogether; a change of one meal does not.
            if u.place.is_none() {
                plan = self.answered(&then, &text)?;
                kept = false;
            }
            if !plan.planned {
                return Ok(match &u.place {
                    None => self.nothing(&plan, &then),
                    Some(_) => self.not_there(&plan, &u.said),
                });
            }
        }
        let changes = swap::changes(self.before, &plan);
        let told = self.told(wish, &u.place, &plan, freed)?;
        if let (Wish::ItemAt(..), Some(place)) = (wish, &u.place) {
            let brief = &then.brief;
            let came: Vec<(String, f64)> = served(&plan, place)
                .into_iter()
                .filter(|(id, _)| u.to.iter().any(|&i| self.catalogue().items[i].id == *id))
                .collect();
            pin(&mut doc, brief, place, &came, false)?;
            text = doc.text();
        }
        let last = prepared(&text)?;
        // As the folder will read it again: against the brief's own objective.
        let plan = remake(pieces(self.folder, &last, &text)?, &last.energy, &plan.days)
            .map_err(|problems| first_wrong(&problems))?;
        let rest = if kept {
            ""
        } else {
            " The rest could not be kept: all of it was planned anew."
        };
        let said = format!("{told} {}{rest}", sum(&changes));
        self.save(&text, plan, tale(&changes, said, kept))?;
        Ok(Outcome::Done("changed".into()))
    }

    /// What was done, in a sentence.
    fn told(&self, wish: &Wish, place: &Option<Place>, plan: &Plan, freed: usize) -> Result<String, Refusal> {
        let meal = place.as_ref().map(meal_name).unwrap_or_default();
        Ok(match wish {
            Wish::ItemAt(from, Some(to), _) => format!(
                "{} instead of {} in the {meal}, and locked there.",
                self.called(to)?,
                self.called(from)?
            ),
            Wish::Item(from, Some(to)) => format!(
                "{} instead of {} everywhere.",
                self.called(to)?,
                self.called(from)?
            ),
            Wish::Meal(_) => format!("Another meal for {meal}."),
            Wish::Without(items) => {
                let names = items
                    .iter()
                    .map(|i| self.called(i))
                    .collect::<Result<Vec<_>, _>>()?;
                let locks = match freed {
                    0 => String::new(),
                    1 => " A lock that held it is gone.".into(),
                    n => format!(" {n} locks that held it are gone."),
                };
                format!("Never again: {}.{locks}", names.join(", "))
            }
            Wish::More(id) => {
                let times = |p: &Plan| {
                    let items = p.days.iter().flat_map(|d| &d.meals).flat_map(|m| &m.items);
                    items.filter(|e| e.id == *id).count()
                };
                let (was, is) = (times(self.before), times(plan));
                let name = self.called(id)?;
                if is > was {
                    format!("More of this: {name}, now in {}, was {was}.", counted(is, "meal"))
                } else {
                    format!(
                        "More of this: {name} is in {} already; the brief says now that it is liked.",
                        counted(was, "meal")
                    )
                }
            }
            _ => String::new(),
        })
    }

    fn not_there(&self, plan: &Plan, said: &str) -> Outcome {
        let why = draw::told(&self.now.brief, || {
            html! {
                section.stop aria-labelledby="stop" {
                    h2 #stop { "Not found: " (said) }
                    p { "No week was found that has it and keeps everything else that must hold, so nothing was changed." }
                    @if !plan.misses.is_empty() {
                        p { (crate::report::words::MISSED) }
                        ul { @for m in crate::report::words::misses(plan) { li { (m) } } }
                    }
                }
                (draw::back(self.sheet))
            }
        });
        Outcome::Nothing(self.sheet.clone(), why)
    }

    /// Takes an item out of every lock; a lock of whole meals that held it goes. Gives how many there were.
    fn free(&self, doc: &mut Document, id: &str) -> Result<usize, Refusal> {
        let mut freed = 0;
        // From the last on, so that those before keep their number.
        for (n, lock) in self.now.brief.locks.iter().enumerate().rev() {
            let rest: Vec<Value> = lock
                .items
                .iter()
                .filter(|(i, _)| !self.is(&i.value, id))
                .map(|(i, a)| written(&i.value, a))
                .collect();
            if rest.len() == lock.items.len() {
                continue;
            }
            freed += 1;
            let change = if lock.others && !rest.is_empty() {
                doc.set(&format!("lock.{n}.items"), Value::List(rest))
            } else {
                doc.remove(&format!("lock.{n}"))
            };
            change.map_err(|d| wrong(&d))?;
        }
        Ok(freed)
    }

    /// Takes a way out of the conflict and plans.
    fn way(&self, mut doc: Document, which: Option<usize>) -> Result<Outcome, Refusal> {
        let ways: Vec<&Way> = match which {
            Some(n) => self.before.ways.get(n).into_iter().collect(),
            None => self.before.ways.iter().filter(|w| w.together).collect(),
        };
        let gone = || Refusal::Wrong("this way out cannot be taken with a button; change the brief".into());
        if ways.is_empty() {
            return Err(gone());
        }
        for way in &ways {
            take(&mut doc, self.now, way).ok_or_else(gone)?;
        }
        let text = doc.text();
        let then = prepared(&text)?;
        let plan = self.answered(&then, &text)?;
        let said = format!(
            "The brief now says: {}.{}",
            ways.iter().map(|w| crate::report::why::one_way(w)).join("; "),
            if plan.planned {
                ""
            } else {
                " There is still no plan."
            }
        );
        self.save(&text, plan, Note::said(said))?;
        Ok(Outcome::Done("week".into()))
    }
}

fn served(plan: &Plan, place: &Place) -> Vec<(String, f64)> {
    let day = plan.days.iter().find(|d| d.day == place.day);
    day.and_then(|d| d.meals.iter().find(|m| m.slot == place.slot))
        .map(|m| m.items.iter().map(|e| (e.id.clone(), e.servings)).collect())
        .unwrap_or_default()
}

/// A meal in words: `lunch of day 3`.
pub(super) fn meal_name(place: &Place) -> String {
    format!("{} of day {}", place.slot.replace('_', " "), place.day)
}

/// How many meals changed and what the week costs then.
fn sum(c: &swap::Changes) -> String {
    let all = c.meals;
    let meals = match c.changed.len() {
        0 => "No meal changed".to_string(),
        1 => format!("1 of {all} meals changed"),
        n => format!("{n} of {all} meals changed"),
    };
    let both = c.cost.0.zip(c.cost.1).filter(|_| c.currency.0 == c.currency.1);
    let cost = both.map(|(a, b)| b - a).map(|d| match d.round_dp(2) {
        d if d.is_zero() => "the same".to_string(),
        d if d.is_sign_negative() => format!("{} less", amount::price(-d, c.currency.1)),
        d => format!("{} more", amount::price(d, c.currency.1)),
    });
    match cost {
        Some(cost) => format!("{meals}; what is eaten costs {cost}."),
        None => format!("{meals}."),
    }
}

/// A note of what changed.
fn tale(c: &swap::Changes, said: String, kept: bool) -> Note {
    let means = c
        .nutrients
        .iter()
        .filter(|(n, ..)| n.index() == crate::nutrient::Nutrient::ENERGY.index() || draw::DAY.contains(n))
        .map(|&(n, a, b)| {
            format!(
                "{} {}, was {}",
                n.name(),
                amount::nutrient(n, b),
                amount::bare(n, a)
            )
        })
        .join("; ");
    Note {
        kept,
        said,
        lines: c
            .changed
            .iter()
            .map(|m| (m.day, m.slot.clone(), told(m)))
            .collect(),
        more: vec![format!("Means of the days: {means}.")],
    }
}

/// An item of a lock as it stands in a brief.
fn written(item: &str, amount: &Amount) -> Value {
    let number = |v: f64| {
        let v = (v * 1e6).round() / 1e6;
        if v.fract() == 0.0 {
            Value::Whole(v as i64)
        } else {
            Value::Number(v)
        }
    };
    let (key, amount) = match amount {
        Amount::Servings(s) => ("servings", number(*s)),
        Amount::Grams(g) => ("grams", number(*g)),
    };
    Value::Group(vec![("item".to_string(), item.into()), (key.to_string(), amount)])
}

fn push(doc: &mut Document, place: &Place, items: Vec<Value>, others: bool) -> Result<(), Refusal> {
    let mut table = vec![
        ("day", Value::Whole(i64::from(place.day))),
        ("slot", place.slot.as_str().into()),
        ("items", Value::List(items)),
    ];
    if others {
        table.push(("others", Value::Flag(true)));
    }
    doc.push("lock", table).map_err(|d| wrong(&d))
}

/// Fixes items in a meal, with those fixed there already; `whole` leaves no room for others.
fn pin(
    doc: &mut Document,
    brief: &Brief,
    place: &Place,
    items: &[(String, f64)],
    whole: bool,
) -> Result<(), Refusal> {
    let old = loosen(doc, brief, place)?;
    let mut all: Vec<Value> = Vec::new();
    if let Some(lock) = old.as_ref().filter(|_| !whole) {
        let new =
            |(i, _): &&(crate::brief::Read<String>, Amount)| !items.iter().any(|(id, _)| *id == i.value);
        all.extend(lock.items.iter().filter(new).map(|(i, a)| written(&i.value, a)));
    }
    all.extend(
        items
            .iter()
            .map(|(id, servings)| written(id, &Amount::Servings(*servings))),
    );
    push(doc, place, all, !whole)
}

/// Takes the lock of a meal away, and leaves it on other days that it also holds. Gives the lock.
fn loosen(doc: &mut Document, brief: &Brief, place: &Place) -> Result<Option<Lock>, Refusal> {
    let here = |l: &Lock| l.slot.value == place.slot && l.days.contains(&place.day);
    let Some(n) = brief.locks.iter().position(here) else {
        return Ok(None);
    };
    let lock = brief.locks[n].clone();
    let rest: Vec<Value> = lock
        .days
        .iter()
        .filter(|d| **d != place.day)
        .map(|&d| Value::Whole(i64::from(d)))
        .collect();
    let changed = if rest.is_empty() {
        doc.remove(&format!("lock.{n}"))
    } else {
        doc.set(&format!("lock.{n}.days"), Value::List(rest))
    };
    changed.map_err(|d| wrong(&d))?;
    Ok(Some(lock))
}

/// Adds a word to one list of the brief and takes it from another.
fn list(doc: &mut Document, to: &str, from: &str, word: &str) -> Result<(), Refusal> {
    let own = |words: Vec<String>| Value::List(words.into_iter().map(Value::Text).collect());
    let mut have = doc.texts(to);
    if !have.iter().any(|w| w == word) {
        have.push(word.to_string());
        doc.set(to, own(have)).map_err(|d| wrong(&d))?;
    }
    let mut other = doc.texts(from);
    if other.iter().any(|w| w == word) {
        other.retain(|w| w != word);
        doc.set(from, own(other)).map_err(|d| wrong(&d))?;
    }
    Ok(())
}

/// Whether a way out can be taken with a button.
pub(super) fn can_take(text: &str, now: &Ready, way: &Way) -> bool {
    Document::read(text).is_ok_and(|mut doc| take(&mut doc, now, way).is_some())
}

/// Writes a way out into a brief; `None` when that takes more than one value.
fn take(doc: &mut Document, now: &Ready, way: &Way) -> Option<()> {
    if let Some((what, word)) = way.target.split_once(' ') {
        return match what {
            "dislike" => {
                let mut words = doc.texts("dislikes");
                words.retain(|w| w != word);
                let words = words.into_iter().map(Value::Text).collect();
                doc.set("dislikes", Value::List(words)).ok()
            }
            "locked" => {
                let same = |l: &Lock| word == format!("{} of day {}", l.slot.value, l.days.iter().join(", "));
                let n = now.brief.locks.iter().position(same)?;
                doc.remove(&format!("lock.{n}")).ok()
            }
            _ => None,
        };
    }
    let (bound, to) = way.bound.zip(way.to)?;
    if way.target == "budget" {
        // Up to the next hundredth, so that it still opens a plan.
        let amount = amount::fixed((to * 100.0 - 1e-6).ceil() / 100.0, 2);
        let over = if now.brief.days == 7 { "/week" } else { "" };
        return doc
            .set("budget", Value::Text(format!("{amount} {}{over}", way.unit)))
            .ok();
    }
    let target: &Target = now.targets.iter().find(|t| t.id == way.target)?;
    let scope = match target.scope {
        Scope::Meal => "meal",
        Scope::Day => "day",
        Scope::Mean => "mean",
    };
    let id = target.nutrient.id();
    if id == "energy" || way.unit != target.nutrient.unit().symbol() {
        return None;
    }
    let to = if bound == "floor" {
        (to.max(0.0) * 100.0 + 1e-6).floor() / 100.0
    } else {
        (to * 100.0 - 1e-6).ceil() / 100.0
    };
    let value = Value::Text(format!("{to} {}", way.unit));
    let own: Vec<usize> = (0..doc.count("target"))
        .filter(|n| doc.typed(&format!("target.{n}.nutrient")).as_deref() == Some(id))
        .collect();
    let exact = own
        .iter()
        .find(|n| doc.typed(&format!("target.{n}.scope")).as_deref() == Some(scope));
    match (exact, own.is_empty()) {
        (Some(n), _) => doc.set(&format!("target.{n}.{bound}"), value).ok(),
        (None, true) => doc
            .push(
                "target",
                vec![("nutrient", id.into()), ("scope", scope.into()), (bound, value)],
            )
            .ok(),
        (None, false) => None,
    }
}

/// What was taken back, by the two texts: the one that was undone and the one that is again.
pub(super) fn taken_back(undone: &str, again: &str) -> String {
    let brief = |text: &str| crate::brief::parse(text).ok().map(|(b, _)| b);
    let what = brief(undone).zip(brief(again)).map(|(a, b)| {
        let gone = |a: &[crate::brief::Read<String>], b: &[crate::brief::Read<String>]| -> Vec<String> {
            let new = a.iter().filter(|x| !b.iter().any(|y| y.value == x.value));
            new.map(|x| x.value.replace('_', " ")).collect()
        };
        let mut words = Vec::new();
        let mut say = |what: &str, names: Vec<String>| {
            if !names.is_empty() {
                words.push(format!("{what} {}", names.join(", ")));
            }
        };
        say("never again", gone(&a.dislikes, &b.dislikes));
        say("allowing", gone(&b.dislikes, &a.dislikes));
        say("more of", gone(&a.likes, &b.likes));
        if a.locks.len() > b.locks.len() {
            words.push("a lock".into());
        } else if a.locks.len() < b.locks.len() {
            words.push("unlocking".into());
        } else if a
            .locks
            .iter()
            .zip(&b.locks)
            .any(|(x, y)| x.items.len() != y.items.len())
        {
            words.push("a change of a lock".into());
        }
        if a.seed != b.seed {
            words.push("planning the rest anew".into());
        }
        if a.budget != b.budget {
            words.push("the budget".into());
        }
        words
    });
    match what {
        Some(words) if !words.is_empty() => format!("Taken back: {}.", words.join("; ")),
        _ => "Taken back: the last change of the brief.".into(),
    }
}

/// What could come in the place of an item.
pub(super) struct Offers {
    /// The meal.
    pub(super) place: Place,
    /// Item id and name.
    pub(super) item: (String, String),
    /// What could come in that meal.
    pub(super) here: Vec<Offer>,
    /// What could come everywhere; empty when it stands in one meal only.
    pub(super) everywhere: Vec<Offer>,
    /// In how many meals it stands.
    pub(super) meals: usize,
    /// Currency of the costs.
    pub(super) currency: Option<crate::money::Currency>,
    /// How the brief wants figures told.
    pub(super) style: amount::Style,
}

/// Asks what could come in the place of an item of a meal.
pub(super) fn offers(folder: &Folder, sheet: &Sheet, place: &Place, item: &str) -> Result<Offers, Refusal> {
    let now = prepared(&sheet.text)?;
    let week = standing(folder, sheet)?;
    let p = pieces(folder, &now, &sheet.text)?;
    let asked = |wish: &Wish| -> Result<Vec<Offer>, Refusal> {
        let u = understand(wish, p, &week.plan).map_err(|problems| first_wrong(&problems))?;
        let changed = Pieces { brief: &u.brief, ..p };
        swap::offers(changed, &week.plan, &u).map_err(|problems| first_wrong(&problems))
    };
    let id = item.to_string();
    let here = asked(&Wish::ItemAt(id.clone(), None, place.clone()))?;
    let holds = |m: &&crate::plan::Meal| m.items.iter().any(|e| e.id == id);
    let meals = week.plan.days.iter().flat_map(|d| &d.meals).filter(holds).count();
    // Where it is locked elsewhere it cannot go everywhere.
    let everywhere = if meals > 1 {
        asked(&Wish::Item(id.clone(), None)).unwrap_or_default()
    } else {
        Vec::new()
    };
    let items = &folder.larder.catalogue.items;
    let name = items
        .iter()
        .find(|i| i.id == id)
        .map_or_else(|| id.clone(), |i| i.name.clone());
    Ok(Offers {
        place: place.clone(),
        item: (id, name),
        here,
        everywhere,
        meals,
        currency: week.plan.currency,
        style: style(&now.brief),
    })
}

/// Floor and ceiling of a nutrient for a day: those of each day where there are, else those of the mean.
pub(super) fn bounds(
    plan: &Plan,
    nutrient: crate::nutrient::Nutrient,
) -> Option<(Option<f64>, Option<f64>, Scope)> {
    let all = joined(&plan.standings);
    [Scope::Day, Scope::Mean].into_iter().find_map(|scope| {
        let of = all
            .iter()
            .filter(|s| s.target.nutrient == nutrient && s.target.scope == scope);
        let (floor, ceiling) = of.fold((None, None), |(f, c), s| {
            (f.or(s.target.floor), c.or(s.target.ceiling))
        });
        (floor.is_some() || ceiling.is_some()).then_some((floor, ceiling, scope))
    })
}
