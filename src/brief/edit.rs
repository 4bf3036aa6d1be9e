//! A brief's text changed in single places, with its comments and its order kept.

use crate::diagnostic::Diagnostic;
use std::ops::Range;
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Key, Table, TableLike};

/// A value to put into a brief.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Text, also an amount with its unit.
    Text(String),
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f64),
    /// Yes or no.
    Flag(bool),
    /// Several values.
    List(Vec<Value>),
    /// Named values on one line, as `{ item = "oats", servings = 2 }`.
    Group(Vec<(String, Value)>),
}

impl From<&str> for Value {
    fn from(text: &str) -> Value {
        Value::Text(text.to_string())
    }
}

impl From<Value> for toml_edit::Value {
    fn from(value: Value) -> toml_edit::Value {
        match value {
            Value::Text(t) => t.into(),
            Value::Whole(n) => n.into(),
            Value::Number(n) => n.into(),
            Value::Flag(b) => b.into(),
            Value::List(list) => list
                .into_iter()
                .map(toml_edit::Value::from)
                .collect::<Array>()
                .into(),
            Value::Group(group) => group
                .into_iter()
                .map(|(k, v)| (k, toml_edit::Value::from(v)))
                .collect::<InlineTable>()
                .into(),
        }
    }
}

impl From<String> for Value {
    fn from(text: String) -> Value {
        Value::Text(text)
    }
}

/// A brief's text that is being changed. Places are named as `days`, `person.height`, `phase.0.weeks`.
#[derive(Clone, Debug)]
pub struct Document(DocumentMut);

fn cannot(what: &str) -> Diagnostic {
    Diagnostic::error(
        "brief-edit",
        format!("{what} of the brief cannot be changed here"),
    )
    .help("write tables as [name] and [[name]], or change the file by hand")
}

/// The table at a place, made on the way where `make` says so.
fn within<'a>(
    table: &'a mut dyn TableLike,
    path: &[&str],
    make: bool,
) -> Result<&'a mut dyn TableLike, Diagnostic> {
    let [key, rest @ ..] = path else {
        return Ok(table);
    };
    let position = rest.first().and_then(|n| n.parse::<usize>().ok());
    if !table.contains_key(key) && make && position.is_none() {
        table.insert(key, Item::Table(Table::new()));
    }
    let item = table.get_mut(key).ok_or_else(|| cannot(key))?;
    let Some(at) = position else {
        let inner = item.as_table_like_mut().ok_or_else(|| cannot(key))?;
        return within(inner, rest, make);
    };
    let inner: Option<&mut dyn TableLike> = match item {
        Item::ArrayOfTables(list) => list.get_mut(at).map(|t| t as &mut dyn TableLike),
        Item::Value(toml_edit::Value::Array(list)) => list
            .get_mut(at)
            .and_then(toml_edit::Value::as_inline_table_mut)
            .map(|t| t as &mut dyn TableLike),
        _ => None,
    };
    within(inner.ok_or_else(|| cannot(key))?, &rest[1..], make)
}

impl Document {
    /// Text to change; it need not be a valid brief, only TOML.
    ///
    /// # Errors
    /// Text that is no TOML.
    pub fn read(text: &str) -> Result<Document, Diagnostic> {
        text.parse().map(Document).map_err(|_| cannot("the text"))
    }

    /// Puts a value in a place, in the place of the one that stood there. Of a list only what differs changes.
    ///
    /// # Errors
    /// A place within something that is no table, or beyond the end of a list of tables.
    pub fn set(&mut self, place: &str, value: Value) -> Result<(), Diagnostic> {
        self.set_at(&place.split('.').collect::<Vec<_>>(), value)
    }

    /// As [`Document::set`], with the keys of the place one by one, so that a key may hold a dot.
    ///
    /// # Errors
    /// As [`Document::set`].
    pub fn set_at(&mut self, path: &[&str], value: Value) -> Result<(), Diagnostic> {
        let (key, outer) = path.split_last().ok_or_else(|| cannot("the top"))?;
        let table = within(self.0.as_table_mut(), outer, true)?;
        let mut new = toml_edit::Value::from(value);
        match table.get_mut(key) {
            Some(Item::Value(toml_edit::Value::Array(old))) if new.is_array() => {
                if let toml_edit::Value::Array(new) = new {
                    merge(old, new);
                }
            }
            Some(Item::Value(old)) => {
                *new.decor_mut() = old.decor().clone();
                *old = new;
            }
            Some(_) => return Err(cannot(key)),
            None => {
                table.insert(key, Item::Value(new));
            }
        }
        Ok(())
    }

    /// Gives a key of a table another name; its value and comments stay, at the end of the table. Nothing happens
    /// when it is not there.
    ///
    /// # Errors
    /// A place within something that is no table.
    pub fn rename(&mut self, outer: &str, old: &str, new: &str) -> Result<(), Diagnostic> {
        let path: Vec<&str> = outer.split('.').collect();
        let table = within(self.0.as_table_mut(), &path, false)?;
        let decor = table.key(old).map(|k| k.leaf_decor().clone());
        if let Some(item) = table.remove(old) {
            table.insert(new, item);
            if let (Some(mut key), Some(decor)) = (table.key_mut(new), decor) {
                *key.leaf_decor_mut() = decor;
            }
        }
        Ok(())
    }

    /// Takes a value, a table or one of a list of tables away; nothing happens when it is not there.
    ///
    /// # Errors
    /// A place within something that is no table.
    pub fn remove(&mut self, place: &str) -> Result<(), Diagnostic> {
        self.remove_at(&place.split('.').collect::<Vec<_>>())
    }

    /// As [`Document::remove`], with the keys of the place one by one, so that a key may hold a dot.
    ///
    /// # Errors
    /// As [`Document::remove`].
    pub fn remove_at(&mut self, path: &[&str]) -> Result<(), Diagnostic> {
        let (last, outer) = path.split_last().ok_or_else(|| cannot("the top"))?;
        if let (Ok(at), Some((key, outer))) = (last.parse::<usize>(), outer.split_last()) {
            let table = within(self.0.as_table_mut(), outer, false)?;
            match table.get_mut(key) {
                Some(Item::ArrayOfTables(list)) if at < list.len() => {
                    list.remove(at);
                }
                Some(Item::Value(toml_edit::Value::Array(list))) if at < list.len() => {
                    list.remove(at);
                }
                _ => {}
            }
            return Ok(());
        }
        if let Ok(table) = within(self.0.as_table_mut(), outer, false) {
            let kept = table.key(last).and_then(apart);
            let after = table.iter().map(|(k, _)| k.to_string());
            let next = after.skip_while(|k| k != last).nth(1);
            table.remove(last);
            if let (Some(kept), Some(next)) = (kept, next)
                && let Some(mut key) = table.key_mut(&next)
            {
                let own = key.leaf_decor().prefix().and_then(|p| p.as_str()).unwrap_or("");
                let all = format!("{kept}{own}");
                key.leaf_decor_mut().set_prefix(all);
            }
        }
        Ok(())
    }

    /// Adds a table to the end of a list of tables, as `[[lock]]`; of a list within a table, as `lock.0.items`.
    ///
    /// # Errors
    /// A name under which something else stands.
    pub fn push(&mut self, place: &str, values: Vec<(&str, Value)>) -> Result<(), Diagnostic> {
        let path: Vec<&str> = place.split('.').collect();
        let (list, outer) = path.split_last().ok_or_else(|| cannot(place))?;
        let table = within(self.0.as_table_mut(), outer, true)?;
        if !table.contains_key(list) {
            let new = if outer.is_empty() {
                Item::ArrayOfTables(ArrayOfTables::new())
            } else {
                Item::Value(toml_edit::Value::Array(Array::new()))
            };
            table.insert(list, new);
        }
        match table.get_mut(list) {
            Some(Item::ArrayOfTables(tables)) => {
                let mut table = Table::new();
                for (key, value) in values {
                    table.insert(key, Item::Value(value.into()));
                }
                tables.push(table);
            }
            Some(Item::Value(toml_edit::Value::Array(array))) => {
                let group = values.into_iter().map(|(k, v)| (k.to_string(), v)).collect();
                array.push(toml_edit::Value::from(Value::Group(group)));
            }
            _ => return Err(cannot(list)),
        }
        Ok(())
    }

    fn outer(&self, place: &str) -> Option<(&dyn TableLike, String)> {
        let path: Vec<&str> = place.split('.').collect();
        let (key, outer) = path.split_last()?;
        Some((inside(self.0.as_table(), outer)?, (*key).to_string()))
    }

    fn item(&self, place: &str) -> Option<&Item> {
        let (table, key) = self.outer(place)?;
        table.get(&key)
    }

    /// How many tables a list of tables has.
    pub fn count(&self, list: &str) -> usize {
        match self.item(list) {
            Some(Item::ArrayOfTables(tables)) => tables.len(),
            Some(Item::Value(toml_edit::Value::Array(array))) => array.len(),
            _ => 0,
        }
    }

    /// The keys of a table in their order; empty when there is none.
    pub fn keys(&self, place: &str) -> Vec<String> {
        let table = self.item(place).and_then(Item::as_table_like);
        table.map_or_else(Vec::new, |t| t.iter().map(|(k, _)| k.to_string()).collect())
    }

    /// The value in a place as it would be typed into a form: text without its quotes; `None` when there is none,
    /// or it is a list or a table.
    pub fn typed(&self, place: &str) -> Option<String> {
        scalar(self.item(place)?.as_value()?)
    }

    /// As [`Document::typed`], of a key within a table, so that the key may hold a dot.
    pub fn typed_in(&self, table: &str, key: &str) -> Option<String> {
        scalar(self.item(table)?.as_table_like()?.get(key)?.as_value()?)
    }

    /// The texts of a list in a place; a single text counts as a list of one.
    pub fn texts(&self, place: &str) -> Vec<String> {
        match self.item(place).and_then(Item::as_value) {
            Some(toml_edit::Value::Array(list)) => list.iter().filter_map(scalar).collect(),
            Some(value) => scalar(value).into_iter().collect(),
            None => Vec::new(),
        }
    }

    /// The changed text.
    pub fn text(&self) -> String {
        self.0.to_string()
    }
}

/// The table at a place, to look at.
fn inside<'a>(table: &'a dyn TableLike, path: &[&str]) -> Option<&'a dyn TableLike> {
    let [key, rest @ ..] = path else {
        return Some(table);
    };
    let item = table.get(key)?;
    let Some(at) = rest.first().and_then(|n| n.parse::<usize>().ok()) else {
        return inside(item.as_table_like()?, rest);
    };
    let inner: &dyn TableLike = match item {
        Item::ArrayOfTables(list) => list.get(at)?,
        Item::Value(toml_edit::Value::Array(list)) => list.get(at)?.as_inline_table()?,
        _ => return None,
    };
    inside(inner, &rest[1..])
}

/// Comments above a key that a blank line sets apart from it: they are not about the key alone.
fn apart(key: &Key) -> Option<String> {
    let above = key.leaf_decor().prefix()?.as_str()?;
    let kept = &above[..above.rfind("\n\n")? + 2];
    kept.contains('#').then(|| kept.to_string())
}

/// Makes a list hold what another holds; what both hold keeps its place and its comments.
fn merge(old: &mut Array, new: Array) {
    let same = |a: &toml_edit::Value, b: &toml_edit::Value| scalar(a).is_some() && scalar(a) == scalar(b);
    old.retain(|o| new.iter().any(|n| same(o, n)));
    for (at, value) in new.into_iter().enumerate() {
        if old.get(at).is_some_and(|o| same(o, &value)) {
            continue;
        }
        let moved = old.iter().position(|o| same(o, &value));
        if let Some(from) = moved.filter(|from| *from > at) {
            let value = old.remove(from);
            old.insert_formatted(at, value);
        } else if at < old.len() {
            old.insert(at, value);
        } else {
            old.push(value);
        }
    }
}

/// Where everything in a text stands: the place, as in [`Document`], and the bytes of its key, its value or its
/// heading; elements of lists have their position for a key. Empty for a text that is no TOML.
pub fn places(text: &str) -> Vec<(String, Range<usize>)> {
    let mut out = Vec::new();
    if let Ok(tree) = toml_edit::Document::parse(text) {
        walk(tree.as_table(), "", &mut out);
    }
    out
}

fn walk(table: &dyn TableLike, outer: &str, out: &mut Vec<(String, Range<usize>)>) {
    for (key, item) in table.iter() {
        let place = match outer {
            "" => key.to_string(),
            _ => format!("{outer}.{key}"),
        };
        out.extend(table.key(key).and_then(Key::span).map(|s| (place.clone(), s)));
        match item {
            Item::Value(v) => walk_value(v, &place, out),
            Item::Table(t) => {
                out.extend(t.span().map(|s| (place.clone(), s)));
                walk(t, &place, out);
            }
            Item::ArrayOfTables(list) => {
                for (at, t) in list.iter().enumerate() {
                    let place = format!("{place}.{at}");
                    out.extend(t.span().map(|s| (place.clone(), s)));
                    walk(t, &place, out);
                }
            }
            Item::None => {}
        }
    }
}

fn walk_value(value: &toml_edit::Value, place: &str, out: &mut Vec<(String, Range<usize>)>) {
    out.extend(value.span().map(|s| (place.to_string(), s)));
    match value {
        toml_edit::Value::Array(list) => {
            for (at, v) in list.iter().enumerate() {
                walk_value(v, &format!("{place}.{at}"), out);
            }
        }
        toml_edit::Value::InlineTable(t) => walk(t, place, out),
        _ => {}
    }
}

fn scalar(value: &toml_edit::Value) -> Option<String> {
    match value {
        toml_edit::Value::String(s) => Some(s.value().clone()),
        toml_edit::Value::Integer(n) => Some(n.value().to_string()),
        toml_edit::Value::Float(n) => Some(n.value().to_string()),
        toml_edit::Value::Boolean(b) => Some(b.value().to_string()),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "# mine\ndays = 7 # a week\n\n[person]\nheight = \"168 cm\" # measured\n\n[[phase]]\nkind = \"gain\"\n";

    #[test]
    fn comments_stay_with_what_they_are_about() {
        let mut d = Document::read(TEXT).unwrap();
        d.set("days", Value::Whole(3)).unwrap();
        d.set("person.height", "170 cm".into()).unwrap();
        d.set("phase.0.weeks", Value::Whole(8)).unwrap();
        assert_eq!(
            d.text(),
            "# mine\ndays = 3 # a week\n\n[person]\nheight = \"170 cm\" # measured\n\n[[phase]]\nkind = \"gain\"\nweeks = 8\n"
        );
        assert_eq!(d.typed("person.height").as_deref(), Some("170 cm"));
        assert_eq!(d.typed("phase.0.weeks").as_deref(), Some("8"));
        assert_eq!(d.typed("phase.1.weeks"), None);
    }

    #[test]
    fn tables_are_added_and_taken_away() {
        let mut d = Document::read(TEXT).unwrap();
        let items = Value::List(vec![Value::Group(vec![("item".into(), "oats".into())])]);
        d.push("lock", vec![("slot", "dinner".into()), ("items", items)])
            .unwrap();
        assert!(
            d.text()
                .ends_with("[[lock]]\nslot = \"dinner\"\nitems = [{ item = \"oats\" }]\n")
        );
        d.remove("lock.0").unwrap();
        d.remove("lock.7").unwrap();
        assert_eq!(d.count("lock"), 0);
        d.set("screen.pregnancy", Value::Flag(false)).unwrap();
        assert!(d.text().contains("[screen]\npregnancy = false\n"));
        d.remove("screen.pregnancy").unwrap();
        assert!(!d.text().contains("pregnancy"));
    }

    #[test]
    fn what_is_no_table_is_refused_and_nothing_changes() {
        let mut d = Document::read(TEXT).unwrap();
        assert!(d.set("days.first", Value::Whole(1)).is_err());
        assert!(d.set("phase.3.weeks", Value::Whole(1)).is_err());
        assert!(d.set("person", Value::Whole(1)).is_err());
        assert!(d.push("days", vec![]).is_err());
        assert_eq!(d.text(), TEXT);
        assert!(Document::read("a = ").is_err());
    }

    #[test]
    fn lists_change_in_single_places() {
        let text = "likes = [\n  \"a\", # first\n  \"b\", # second\n]\n";
        let mut d = Document::read(text).unwrap();
        let list = |words: &[&str]| Value::List(words.iter().map(|w| (*w).into()).collect());
        d.set("likes", list(&["b", "c"])).unwrap();
        assert_eq!(d.texts("likes"), ["b", "c"]);
        assert!(
            d.text().contains("# first") || d.text().contains("# second"),
            "{}",
            d.text()
        );
        d.set("likes", list(&["c", "b", "a"])).unwrap();
        assert_eq!(d.texts("likes"), ["c", "b", "a"]);
        d.set("likes", list(&[])).unwrap();
        assert!(d.texts("likes").is_empty());
    }

    #[test]
    fn lists_within_lists() {
        let mut d = Document::read(TEXT).unwrap();
        d.push("lock", vec![]).unwrap();
        d.push("lock.0.items", vec![]).unwrap();
        d.set("lock.0.items.0.item", "oats".into()).unwrap();
        assert_eq!(
            (d.count("lock"), d.count("lock.0.items"), d.count("lock.1.items")),
            (1, 1, 0)
        );
        assert_eq!(d.typed("lock.0.items.0.item").as_deref(), Some("oats"));
        assert!(
            d.text().ends_with("[[lock]]\nitems = [{ item = \"oats\" }]\n"),
            "{}",
            d.text()
        );
        d.remove("lock.0.items.0").unwrap();
        assert_eq!(d.count("lock.0.items"), 0);
    }

    #[test]
    fn keys_with_dots_and_other_names() {
        let mut d = Document::read("[activity]\nhours = { sleeping = 8 }\n\n[[phase]]\n# how much\nsurplus = \"300 kcal\" # slowly\n").unwrap();
        d.set_at(&["activity", "hours", "a.b"], Value::Whole(16)).unwrap();
        assert_eq!(d.keys("activity.hours"), ["sleeping", "a.b"]);
        assert_eq!(d.typed_in("activity.hours", "a.b").as_deref(), Some("16"));
        d.rename("phase.0", "surplus", "deficit").unwrap();
        assert!(
            d.text()
                .ends_with("# how much\ndeficit = \"300 kcal\" # slowly\n"),
            "{}",
            d.text()
        );
    }

    #[test]
    fn a_comment_set_apart_outlives_the_key_under_it() {
        let mut d = Document::read("# mine\n\n# what it costs\nbudget = \"1 USD\"\ndays = 7\n").unwrap();
        d.remove("budget").unwrap();
        assert_eq!(d.text(), "# mine\n\ndays = 7\n");
    }

    #[test]
    fn places_are_where_things_stand() {
        let text = "days = 7\n[person]\nheight = \"168 cm\"\n[[lock]]\nitems = [ { item = \"oats\" } ]\n";
        let all = places(text);
        let last = |place: &str| {
            let found = all.iter().rev().find(|(p, _)| p == place);
            &text[found.unwrap_or_else(|| panic!("no {place}")).1.clone()]
        };
        assert_eq!(last("days"), "7");
        assert_eq!(last("person.height"), "\"168 cm\"");
        assert_eq!(last("person"), "[person]");
        assert_eq!(last("lock.0"), "[[lock]]");
        assert_eq!(last("lock.0.items.0.item"), "\"oats\"");
        assert!(places("a = ").is_empty());
    }
}
