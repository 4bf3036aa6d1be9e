//! What is typed into the form: read from a brief's text or from a post, and written back, only where it differs.

use super::fields::{AMOUNT, Field, HOUR, Kind, LISTS, LOCK_ITEM, SINGLES, SIZES, at, kept, said};
use crate::brief::SCREEN_QUESTIONS;
use crate::brief::edit::{Document, Value};
use crate::diagnostic::Diagnostic;
use crate::kitchen::Catalogue;
use crate::units;
use std::collections::{BTreeMap, BTreeSet};

/// Rows of one list that a post may have: far above any brief.
const MOST_ROWS: usize = 300;

/// The texts in the fields, by place, and the rows of the lists.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Typed {
    values: BTreeMap<String, Vec<String>>,
    rows: BTreeMap<String, usize>,
}

/// Whether a place is this one or within it.
fn belongs(place: &str, outer: &str) -> bool {
    place
        .strip_prefix(outer)
        .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

impl Typed {
    /// What a brief's text has in each field.
    pub fn of(doc: &Document, c: &Catalogue) -> Typed {
        let mut t = Typed::default();
        for (table, groups) in SINGLES {
            t.read(doc, groups, table, table, c);
        }
        for (id, _) in SCREEN_QUESTIONS {
            t.take(&format!("screen.{id}"), doc.typed(&format!("screen.{id}")));
        }
        for (n, key) in doc.keys("activity.hours").iter().enumerate() {
            t.put(&format!("hours.{n}.what"), key);
            t.take(&format!("hours.{n}.hours"), doc.typed_in("activity.hours", key));
            t.rows.insert("hours".into(), n + 1);
        }
        for (list, groups) in LISTS {
            let count = doc.count(list);
            t.rows.insert((*list).to_string(), count);
            for n in 0..count {
                let row = format!("{list}.{n}");
                t.read(doc, groups, &row, &row, c);
                t.put(&format!("{row}.was"), &n.to_string());
                if *list == "lock" {
                    let items = format!("{row}.items");
                    let count = doc.count(&items);
                    for k in 0..count {
                        let item = format!("{items}.{k}");
                        t.read(doc, &[LOCK_ITEM], &item, &item, c);
                        t.put(&format!("{item}.was"), &k.to_string());
                    }
                    t.rows.insert(items, count);
                }
            }
        }
        t
    }

    fn read(&mut self, doc: &Document, groups: &[&[Field]], from: &str, to: &str, c: &Catalogue) {
        let kitchen = doc.typed("region").unwrap_or_default();
        let named = |kind, word: &str| said(kind, word, c, &kitchen);
        for f in groups.iter().flat_map(|g| g.iter()) {
            let (from, to) = (at(from, f.key), at(to, f.key));
            match f.kind {
                Kind::Many(_) | Kind::Items | Kind::Things => {
                    let texts = doc.texts(&from);
                    let names = texts.iter().map(|w| named(f.kind, w)).collect();
                    self.values.insert(to, names);
                }
                Kind::Days => {
                    let one = from
                        .strip_suffix("days")
                        .map(|outer| doc.texts(&format!("{outer}day")));
                    let days = doc.texts(&from);
                    let days = if days.is_empty() {
                        one.unwrap_or_default()
                    } else {
                        days
                    };
                    self.put(&to, &days.join(", "));
                }
                _ if f.key == AMOUNT.key && f.hint == AMOUNT.hint => {
                    let outer = from.strip_suffix(".amount").unwrap_or("");
                    let size = SIZES.iter().find_map(|k| doc.typed(&at(outer, k)));
                    self.take(&to, size);
                }
                _ => self.take(&to, doc.typed(&from).map(|w| named(f.kind, &w))),
            }
        }
    }

    fn put(&mut self, place: &str, text: &str) {
        self.values.insert(place.to_string(), vec![text.to_string()]);
    }

    fn take(&mut self, place: &str, text: Option<String>) {
        self.values.insert(place.to_string(), text.into_iter().collect());
    }

    /// These fields with those of a post in their place. A post names in `has` what it carries whole: lists, and
    /// marks that may all be off; a field that it does not carry stays as it is.
    pub fn overlaid(mut self, post: &[(String, String)]) -> Typed {
        for (_, outer) in post.iter().filter(|(k, _)| k == "has") {
            self.values.retain(|place, _| !belongs(place, outer));
            self.rows.retain(|place, _| !belongs(place, outer));
        }
        let mut first = BTreeSet::new();
        for (place, text) in post.iter().filter(|(k, _)| k != "has") {
            let place = if first.insert(place.as_str()) {
                self.values.insert(place.clone(), vec![text.clone()]);
                place
            } else {
                self.values.entry(place.clone()).or_default().push(text.clone());
                place
            };
            let steps: Vec<&str> = place.split('.').collect();
            for (n, step) in steps.iter().enumerate().skip(1) {
                if let Some(row) = step.parse::<usize>().ok().filter(|r| *r < MOST_ROWS) {
                    let rows = self.rows.entry(steps[..n].join(".")).or_default();
                    *rows = (*rows).max(row + 1);
                }
            }
        }
        self
    }

    /// The text of a field, without blanks around it.
    pub fn one(&self, place: &str) -> &str {
        self.raw(place).trim()
    }

    /// The text of a field as it was typed.
    pub fn raw(&self, place: &str) -> &str {
        self.values
            .get(place)
            .and_then(|v| v.first())
            .map_or("", String::as_str)
    }

    /// The texts of a field that takes several, blank ones left out, each once.
    pub fn many(&self, place: &str) -> Vec<&str> {
        let mut all: Vec<&str> = Vec::new();
        for text in self.values.get(place).into_iter().flatten() {
            let text = text.trim();
            if !text.is_empty() && !all.contains(&text) {
                all.push(text);
            }
        }
        all
    }

    /// How many blank texts a field that takes several has.
    pub fn blanks(&self, place: &str) -> usize {
        let all = self.values.get(place).into_iter().flatten();
        all.filter(|t| t.trim().is_empty()).count()
    }

    /// Whether a mark is set.
    pub fn on(&self, place: &str) -> bool {
        matches!(self.one(place), "true" | "on")
    }

    /// How many rows a list has.
    pub fn rows(&self, list: &str) -> usize {
        self.rows.get(list).copied().unwrap_or(0)
    }

    /// Adds a blank row to a list, or a blank text to a field that takes several.
    pub fn add(&mut self, list: &str) {
        if matches!(list, "likes" | "dislikes") {
            let texts = self.values.entry(list.to_string()).or_default();
            texts.extend([String::new(), String::new()]);
            return;
        }
        let known = list == "hours"
            || LISTS.iter().any(|(l, _)| *l == list)
            || matches!(list.split('.').collect::<Vec<_>>()[..], ["lock", n, "items"] if n.parse::<usize>().is_ok());
        let rows = self.rows(list);
        if known && rows < MOST_ROWS {
            self.rows.insert(list.to_string(), rows + 1);
        }
    }

    /// Takes a row away, given as `phase.1`.
    pub fn drop_row(&mut self, row: &str) {
        let Some((list, n)) = row
            .rsplit_once('.')
            .and_then(|(l, n)| Some((l, n.parse::<usize>().ok()?)))
        else {
            return;
        };
        if n >= self.rows(list) {
            return;
        }
        let moved = |place: &str| -> Option<String> {
            let Some(rest) = place.strip_prefix(list).and_then(|r| r.strip_prefix('.')) else {
                return Some(place.to_string());
            };
            let (k, rest) = rest
                .split_once('.')
                .map_or((rest, String::new()), |(k, r)| (k, format!(".{r}")));
            match k.parse::<usize>() {
                Ok(k) if k == n => None,
                Ok(k) if k > n => Some(format!("{list}.{}{rest}", k - 1)),
                _ => Some(place.to_string()),
            }
        };
        let values = std::mem::take(&mut self.values);
        self.values = values
            .into_iter()
            .filter_map(|(p, v)| Some((moved(&p)?, v)))
            .collect();
        let rows = std::mem::take(&mut self.rows);
        self.rows = rows
            .into_iter()
            .filter_map(|(p, v)| Some((moved(&p)?, v)))
            .collect();
        if let Some(rows) = self.rows.get_mut(list) {
            *rows -= 1;
        }
    }

    /// Leaves out rows in which nothing is typed; those that stay remember which they were.
    pub fn without_blank_rows(mut self) -> Typed {
        for (list, count) in self.rows.clone() {
            for n in 0..count {
                self.put(&format!("{list}.{n}.row"), &n.to_string());
            }
        }
        let mut lists: Vec<String> = self.rows.keys().cloned().collect();
        // Inner lists first: a row whose inner rows are all blank is blank.
        lists.sort_by_key(|l| std::cmp::Reverse(l.matches('.').count()));
        for list in lists {
            for n in (0..self.rows(&list)).rev() {
                let row = format!("{list}.{n}");
                let inner = |p: &str| belongs(p, &row) && !p.ends_with(".was") && !p.ends_with(".row");
                let blank = |v: &Vec<String>| v.iter().all(|t| t.trim().is_empty());
                if self
                    .values
                    .iter()
                    .filter(|(p, _)| inner(p))
                    .all(|(_, v)| blank(v))
                {
                    self.drop_row(&row);
                }
            }
        }
        self
    }

    /// Where a place was before blank rows were left out.
    pub fn was_at(&self, place: &str) -> String {
        let steps: Vec<&str> = place.split('.').collect();
        let one = |(n, step): (usize, &&str)| {
            let row = self.one(&format!("{}.row", steps[..=n].join(".")));
            let known = step.parse::<usize>().is_ok() && !row.is_empty();
            if known {
                row.to_string()
            } else {
                (*step).to_string()
            }
        };
        let all: Vec<String> = steps.iter().enumerate().map(one).collect();
        all.join(".")
    }

    /// These fields, drawn as they are: the rows that stayed are all there are.
    pub fn settled(mut self) -> Typed {
        self.values.retain(|place, _| !place.ends_with(".row"));
        self
    }

    /// The rows counted as they stand in a text that was not the one they were typed over: by their position.
    pub fn placed_anew(mut self, now: &Typed) -> Typed {
        let rows = self.rows.clone();
        for (list, count) in rows {
            for n in 0..count {
                let was = if n < now.rows(&list) {
                    n.to_string()
                } else {
                    String::new()
                };
                self.put(&format!("{list}.{n}.was"), &was);
            }
        }
        self
    }

    /// Every field in which another has something else: place, this text, the other's.
    pub fn differs(&self, other: &Typed) -> Vec<(String, String, String)> {
        let places: BTreeSet<&String> = self.values.keys().chain(other.values.keys()).collect();
        let text = |t: &Typed, p: &str| match t.one(p) {
            "false" if p.starts_with("screen.") => String::new(),
            "on" => "true".to_string(),
            _ => t.many(p).join(", "),
        };
        let both = places
            .into_iter()
            .filter(|p| !p.ends_with(".was") && !p.ends_with(".row") && !OURS.contains(&p.as_str()));
        both.map(|p| (p.clone(), text(self, p), text(other, p)))
            .filter(|(_, a, b)| a != b)
            .collect()
    }
}

/// Names in a post that are no fields of the brief.
const OURS: [&str; 4] = ["seen", "do", "had", "has"];

/// Writes what differs between the fields as they are in a text and as they were typed.
///
/// # Errors
/// Places that cannot be changed here.
pub fn write(doc: &mut Document, base: &Typed, typed: &Typed, c: &Catalogue) -> Result<(), Vec<Diagnostic>> {
    let mut pen = Pen {
        doc,
        base,
        typed,
        c,
        problems: Vec::new(),
    };
    for (table, groups) in SINGLES {
        pen.table(groups, table, table, Some(table));
    }
    pen.screen();
    pen.hours();
    for (list, groups) in LISTS {
        pen.list(list, list, Some(list), groups);
    }
    let cooking = |t: &Typed| {
        ["days", "quick_minutes"]
            .iter()
            .any(|k| !t.one(&at("cooking", k)).is_empty())
    };
    if cooking(base) && !cooking(typed) {
        pen.remove("cooking");
    }
    if pen.problems.is_empty() {
        Ok(())
    } else {
        pen.problems.dedup();
        Err(pen.problems)
    }
}

struct Pen<'a> {
    doc: &'a mut Document,
    base: &'a Typed,
    typed: &'a Typed,
    c: &'a Catalogue,
    problems: Vec<Diagnostic>,
}

impl Pen<'_> {
    fn apply(&mut self, change: impl FnOnce(&mut Document) -> Result<(), Diagnostic>) {
        if let Err(problem) = change(self.doc) {
            self.problems.push(problem);
        }
    }

    fn set(&mut self, place: &str, value: Value) {
        self.apply(|d| d.set(place, value));
    }

    fn remove(&mut self, place: &str) {
        self.apply(|d| d.remove(place));
    }

    /// The fields of a table, typed under one place, standing in the text under another; `was` is where the fields
    /// say what stood there, nowhere for a new table.
    fn table(&mut self, groups: &[&[Field]], typed: &str, stands: &str, was: Option<&str>) {
        for f in groups.iter().flat_map(|g| g.iter()) {
            if f.key == AMOUNT.key && f.hint == AMOUNT.hint {
                self.size(typed, stands);
                continue;
            }
            let place = at(stands, f.key);
            let new = at(typed, f.key);
            let old = was.map(|w| at(w, f.key));
            let before = old.as_deref().unwrap_or("\0");
            match f.kind {
                Kind::Many(_) | Kind::Items | Kind::Things => {
                    let texts = self.typed.many(&new);
                    if texts != self.base.many(before) {
                        let ids = texts
                            .iter()
                            .map(|t| Value::Text(kept(f.kind, t, self.c, self.typed.one("region"))))
                            .collect();
                        if texts.is_empty() && old.is_none() {
                            continue;
                        }
                        self.set(&place, Value::List(ids));
                    }
                }
                Kind::Flag => {
                    let (want, have) = (self.typed.on(&new), self.base.on(before));
                    match (want, have) {
                        (true, false) => self.set(&place, Value::Flag(true)),
                        (false, true) => self.remove(&place),
                        _ => {}
                    }
                }
                kind => {
                    let text = self.typed.one(&new);
                    if text == self.base.one(before) {
                        continue;
                    }
                    if kind == Kind::Days && self.doc.typed(&at(stands, "day")).is_some() {
                        self.remove(&at(stands, "day"));
                    }
                    if text.is_empty() {
                        self.remove(&place);
                    } else {
                        let value = value(kind, text, self.c, self.typed.one("region"));
                        self.set(&place, value);
                    }
                }
            }
        }
    }

    /// The size of a phase goes under the key that its unit and the kind of the phase ask for.
    fn size(&mut self, typed: &str, stands: &str) {
        let there: Vec<&str> = SIZES
            .into_iter()
            .filter(|k| self.doc.typed(&at(stands, k)).is_some())
            .collect();
        let amount = self.typed.one(&at(typed, AMOUNT.key));
        let kind = self.typed.one(&at(typed, "kind"));
        let old = there.first().copied();
        let key = match amount {
            "" => None,
            _ => Some(key_of(amount, kind, old)),
        };
        for extra in there.iter().skip(1) {
            self.remove(&at(stands, extra));
        }
        match (old, key) {
            (None, None) => {}
            (Some(old), None) => self.remove(&at(stands, old)),
            (old, Some(key)) => {
                if let Some(old) = old.filter(|o| *o != key) {
                    self.apply(|d| d.rename(stands, old, key));
                }
                let place = at(stands, key);
                if self.doc.typed(&place).as_deref().map(str::trim) != Some(amount) {
                    self.set(&place, amount.into());
                }
            }
        }
    }

    fn screen(&mut self) {
        for (id, _) in SCREEN_QUESTIONS {
            let place = format!("screen.{id}");
            let (want, have) = (self.typed.on(&place), self.base.on(&place));
            if want != have {
                self.set(&place, Value::Flag(want));
            }
        }
    }

    fn hours(&mut self) {
        let read = |t: &Typed| -> BTreeMap<String, String> {
            (0..t.rows("hours"))
                .map(|n| {
                    let of = |key| t.one(&format!("hours.{n}.{key}")).to_string();
                    (of(HOUR[0].key), of(HOUR[1].key))
                })
                .filter(|(what, _)| !what.is_empty())
                .collect()
        };
        let (old, new) = (read(self.base), read(self.typed));
        if old == new {
            return;
        }
        if new.is_empty() {
            self.remove("activity.hours");
            return;
        }
        if old.is_empty() {
            let all = new
                .iter()
                .map(|(k, v)| (k.clone(), value(Kind::Number, v, self.c, "")))
                .collect();
            self.set("activity.hours", Value::Group(all));
            return;
        }
        for gone in old.keys().filter(|k| !new.contains_key(*k)) {
            self.apply(|d| d.remove_at(&["activity", "hours", gone]));
        }
        for (what, hours) in new.iter().filter(|(k, v)| old.get(*k) != Some(*v)) {
            let value = value(Kind::Number, hours, self.c, "");
            self.apply(|d| d.set_at(&["activity", "hours", what], value));
        }
    }

    /// A list of tables: rows that were there are changed in place, new ones go to the end, those that are typed no
    /// more go away.
    fn list(&mut self, typed: &str, stands: &str, was: Option<&str>, groups: &[&[Field]]) {
        let before = was.map_or(0, |w| self.base.rows(w));
        let mut used = BTreeSet::new();
        for n in 0..self.typed.rows(typed) {
            let row = format!("{typed}.{n}");
            let old = self.typed.one(&format!("{row}.was")).parse::<usize>().ok();
            let old = old.filter(|o| *o < before && used.insert(*o));
            let place = format!("{stands}.{}", old.unwrap_or_else(|| self.doc.count(stands)));
            if old.is_none() {
                self.apply(|d| d.push(stands, Vec::new()));
            }
            let from = old.zip(was).map(|(o, w)| format!("{w}.{o}"));
            self.table(groups, &row, &place, from.as_deref());
            if typed == "lock" {
                let from = from.map(|f| format!("{f}.items"));
                self.list(
                    &format!("{row}.items"),
                    &format!("{place}.items"),
                    from.as_deref(),
                    &[LOCK_ITEM],
                );
            }
        }
        for gone in (0..before).rev().filter(|o| !used.contains(o)) {
            self.remove(&format!("{stands}.{gone}"));
        }
    }
}

/// The key under which the size of a phase stands.
fn key_of<'a>(amount: &str, kind: &str, old: Option<&'a str>) -> &'a str {
    let energy = match (kind, old) {
        ("lose", _) => "deficit",
        ("hold", Some("deficit")) => "deficit",
        _ => "surplus",
    };
    if amount.contains('/') || units::weekly_rate(amount).is_ok() {
        "rate"
    } else if units::energy(amount).is_ok() {
        energy
    } else if units::body_mass(amount).is_ok() {
        "goal_weight"
    } else {
        match old {
            Some(old @ ("rate" | "goal_weight")) => old,
            _ => energy,
        }
    }
}

/// A text as the file has it: a number where the field takes one and the text is one, else the text, so that the
/// reader of briefs says what is wrong with it.
fn value(kind: Kind, text: &str, c: &Catalogue, kitchen: &str) -> Value {
    let whole = |t: &str| t.parse::<i64>().ok().map(Value::Whole);
    let number = |t: &str| {
        let point = t.replace(',', ".");
        let plain = point
            .chars()
            .all(|c| c.is_ascii_digit() || matches!(c, '.' | '-'));
        whole(t).or_else(|| point.parse::<f64>().ok().filter(|_| plain).map(Value::Number))
    };
    let words = || Value::Text(text.to_string());
    match kind {
        Kind::Whole => whole(text).unwrap_or_else(words),
        Kind::Number | Kind::Grams => number(text).unwrap_or_else(words),
        Kind::Days => {
            let days = text.split([',', ' ', ';']).filter(|d| !d.is_empty());
            Value::List(days.map(|d| whole(d).unwrap_or_else(|| d.into())).collect())
        }
        Kind::Item | Kind::Thing => Value::Text(kept(kind, text, c, kitchen)),
        _ => words(),
    }
}

/// The field at a place, when the form has one there.
pub fn field_at(place: &str, typed: &Typed) -> Option<&'static Field> {
    let steps: Vec<&str> = place.split('.').collect();
    let find = |groups: &[&'static [Field]], key: &str| -> Option<&'static Field> {
        groups.iter().copied().flatten().find(|f| f.key == key)
    };
    let row = |list: &str, n: &str| n.parse::<usize>().is_ok_and(|n| n < typed.rows(list));
    match steps[..] {
        [key] => find(SINGLES[0].1, key),
        ["hours", n, key] if row("hours", n) => find(&[HOUR], key),
        ["lock", n, "items", k, key] if row("lock", n) && row(&format!("lock.{n}.items"), k) => {
            find(&[LOCK_ITEM], key)
        }
        [list, n, key] if row(list, n) => LISTS
            .iter()
            .find(|(l, _)| *l == list)
            .and_then(|(_, g)| find(g, key)),
        [table, key] => SINGLES
            .iter()
            .find(|(t, _)| *t == table)
            .and_then(|(_, g)| find(g, key)),
        _ => None,
    }
}

/// What a field is called where it stands alone, with its list and row.
pub fn label(place: &str, typed: &Typed) -> String {
    if let Some(question) = place.strip_prefix("screen.") {
        let asked = SCREEN_QUESTIONS.iter().find(|(id, _)| *id == question);
        return asked.map_or(question, |(_, q)| *q).to_string();
    }
    let Some(field) = field_at(place, typed) else {
        return super::heading(place.split('.').next().unwrap_or(place)).to_string();
    };
    let Some((table, _)) = place.split_once('.') else {
        return field.label.to_string();
    };
    let numbers = place.split('.').filter_map(|s| s.parse::<usize>().ok());
    let rows: Vec<String> = numbers.map(|n| (n + 1).to_string()).collect();
    let rows = if rows.is_empty() {
        String::new()
    } else {
        format!(" {}", rows.join(", "))
    };
    format!("{}{rows}: {}", super::heading(table), field.label)
}
