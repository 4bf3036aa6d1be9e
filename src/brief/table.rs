//! Walking a TOML tree by hand: every table names its keys once, every value is read with its
//! place, and mistakes are collected instead of returned.
//!
//! Takes the spanned tree, gives values and diagnostics. Knows keys and kinds, not their meaning.

use super::Read;
use crate::diagnostic::{Diagnostic, suggestion};
use crate::units::QuantityError;
use std::ops::{Range, RangeInclusive};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The keys a table may have, and how it is called in messages.
pub(super) struct Keys {
    /// `[person]`, or "the brief" for the top.
    pub name: &'static str,
    /// All of them, in the order of the documentation.
    pub keys: &'static [&'static str],
}

/// A table being read.
#[derive(Clone, Copy)]
pub(super) struct Table<'t> {
    entries: &'t DeTable<'t>,
    keys: &'static Keys,
    /// The header or the braces.
    pub span: (usize, usize),
}

/// A key's value with the key itself, for messages.
#[derive(Clone, Copy)]
pub(super) struct Field<'t> {
    /// The key.
    pub key: &'static str,
    value: &'t Spanned<DeValue<'t>>,
}

impl<'t> Table<'t> {
    /// The value of a key, if it is there. The key must be one of the table's keys.
    pub fn get(&self, key: &'static str) -> Option<Field<'t>> {
        debug_assert!(
            self.keys.keys.contains(&key),
            "{key} is not listed for {}",
            self.keys.name
        );
        self.entries
            .iter()
            .find(|(k, _)| k.get_ref() == key)
            .map(|(_, value)| Field { key, value })
    }

    /// How the table is called in messages.
    pub fn name(&self) -> &'static str {
        self.keys.name
    }

    /// The place of the table.
    pub fn range(&self) -> Range<usize> {
        self.span.0..self.span.1
    }
}

impl<'t> Field<'t> {
    /// A value called by a key.
    pub fn new(key: &'static str, value: &'t Spanned<DeValue<'t>>) -> Field<'t> {
        Field { key, value }
    }

    /// The place of the value.
    pub fn range(&self) -> Range<usize> {
        self.value.span()
    }

    /// The raw value.
    pub fn value(&self) -> &'t DeValue<'t> {
        self.value.get_ref()
    }

    /// A value of an array of this field, called by the same key.
    fn element(&self, value: &'t Spanned<DeValue<'t>>) -> Field<'t> {
        Field { key: self.key, value }
    }
}

/// Collects mistakes while the tree is walked.
#[derive(Default)]
pub(super) struct Reader {
    pub diagnostics: Vec<Diagnostic>,
    /// Keys that a misspelt key was probably meant to be, by the table's place.
    meant: Vec<((usize, usize), String)>,
}

fn kind(value: &DeValue) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// `a, b or c`.
pub(super) fn listed<'a>(words: impl IntoIterator<Item = &'a str>, last: &str) -> String {
    let words: Vec<&str> = words.into_iter().collect();
    match words.split_last() {
        None => String::new(),
        Some((only, [])) => only.to_string(),
        Some((end, rest)) => format!("{} {last} {end}", rest.join(", ")),
    }
}

/// A number without needless decimals.
pub(super) fn short(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

impl Reader {
    pub fn report(&mut self, diagnostic: Diagnostic) {
        self.diagnostics.push(diagnostic);
    }

    /// Opens a table and reports every key it does not know. `elsewhere` are the other tables of
    /// the format, to say where a misplaced key belongs.
    pub fn open<'t>(
        &mut self,
        entries: &'t DeTable<'t>,
        span: Range<usize>,
        keys: &'static Keys,
        elsewhere: &[&'static Keys],
    ) -> Table<'t> {
        for (key, _) in entries {
            let word: &str = key.get_ref();
            if keys.keys.contains(&word) {
                continue;
            }
            let home = elsewhere
                .iter()
                .find(|k| k.name != keys.name && k.keys.contains(&word));
            let close = suggestion(word, keys.keys.iter().copied());
            if let Some(close) = close {
                self.meant.push(((span.start, span.end), close.to_string()));
            }
            let help = match (close, home) {
                (_, Some(home)) => format!("`{word}` belongs in {}", home.name),
                (Some(close), None) => format!("did you mean `{close}`?"),
                (None, None) => {
                    format!("the keys here are {}", listed(keys.keys.iter().copied(), "and"))
                }
            };
            self.report(
                Diagnostic::error(
                    "brief-unknown-key",
                    format!("{} has no key `{}`", keys.name, word.escape_debug()),
                )
                .at(key.span(), "not known")
                .help(help),
            );
        }
        Table {
            entries,
            keys,
            span: (span.start, span.end),
        }
    }

    /// A sub-table such as `[person]`.
    pub fn table<'t>(
        &mut self,
        field: Field<'t>,
        keys: &'static Keys,
        elsewhere: &[&'static Keys],
    ) -> Option<Table<'t>> {
        match field.value() {
            DeValue::Table(entries) => Some(self.open(entries, field.range(), keys, elsewhere)),
            _ => {
                self.wrong_kind(field, "a table", format!("begin it with a line {}", keys.name));
                None
            }
        }
    }

    /// Repeated tables such as `[[phase]]`, or a list of inline tables.
    pub fn tables<'t>(
        &mut self,
        field: Field<'t>,
        keys: &'static Keys,
        elsewhere: &[&'static Keys],
    ) -> Vec<Table<'t>> {
        let mut tables = Vec::new();
        match field.value() {
            DeValue::Array(array) => {
                for value in array.iter() {
                    let element = field.element(value);
                    match element.value() {
                        DeValue::Table(entries) => {
                            tables.push(self.open(entries, element.range(), keys, elsewhere));
                        }
                        _ => self.wrong_kind(
                            element,
                            "a table",
                            format!("write each as a table of its own: {}", keys.name),
                        ),
                    }
                }
            }
            DeValue::Table(_) if keys.name.starts_with("[[") => self.wrong_kind(
                field,
                "a list of tables",
                format!("there may be several, so write {} with two brackets", keys.name),
            ),
            _ => self.wrong_kind(
                field,
                "a list of tables",
                format!("write each as a table: {}", keys.name),
            ),
        }
        tables
    }

    /// Reports a value of another kind than wanted.
    pub fn wrong_kind(&mut self, field: Field, wanted: &str, help: impl Into<String>) {
        let found = kind(field.value());
        self.report(
            Diagnostic::error(
                "brief-wrong-kind",
                format!("`{}` must be {wanted}, not {found}", field.key),
            )
            .at(field.range(), format!("this is {found}"))
            .help(help),
        );
    }

    /// Reports that a key is not there.
    pub fn missing(&mut self, table: Option<&Table>, place: &str, key: &str, help: &str) {
        let misspelt = |t: &Table| self.meant.iter().any(|(at, k)| *at == t.span && k == key);
        if table.is_some_and(misspelt) {
            return;
        }
        let mut diagnostic =
            Diagnostic::error("brief-missing-key", format!("{place} lacks `{key}`")).help(help);
        if let Some(table) = table.filter(|t| t.span.1 > t.span.0) {
            diagnostic = diagnostic.at(table.range(), format!("`{key}` is missing here"));
        }
        self.report(diagnostic);
    }

    /// Text, not blank.
    pub fn text(&mut self, field: Field) -> Option<Read<String>> {
        match field.value() {
            DeValue::String(text) if text.trim().is_empty() => {
                self.report(
                    Diagnostic::error("brief-empty", format!("`{}` is empty", field.key))
                        .at(field.range(), "nothing is written here")
                        .help("write something between the quotes, or leave the line out"),
                );
                None
            }
            DeValue::String(text) => Some(Read {
                value: text.trim().to_string(),
                span: field.range(),
            }),
            _ => {
                let help = format!("put it in quotes: {} = \"...\"", field.key);
                self.wrong_kind(field, "a text", help);
                None
            }
        }
    }

    /// A list of texts, or a single one; a repeated text is a warning and is kept once.
    pub fn texts(&mut self, field: Field) -> Vec<Read<String>> {
        let mut list: Vec<Read<String>> = Vec::new();
        match field.value() {
            DeValue::Array(array) => {
                for value in array.iter() {
                    let Some(read) = self.text(field.element(value)) else {
                        continue;
                    };
                    if let Some(first) = list.iter().find(|r| r.value == read.value) {
                        self.report(
                            Diagnostic::warning(
                                "brief-repeated",
                                format!("\"{}\" stands twice in `{}`", read.value, field.key),
                            )
                            .at(read.span, "again")
                            .at(first.span.clone(), "first")
                            .help("once is enough"),
                        );
                    } else {
                        list.push(read);
                    }
                }
            }
            DeValue::String(_) => list.extend(self.text(field)),
            _ => {
                let help = format!("write {} = [\"...\", \"...\"]", field.key);
                self.wrong_kind(field, "a list of texts", help);
            }
        }
        list
    }

    /// One of a few words.
    pub fn choice<T: Copy>(&mut self, field: Field, words: &[(&str, T)]) -> Option<T> {
        let read = self.text(field)?;
        let found = words.iter().find(|(word, _)| *word == read.value);
        if found.is_none() {
            let all = listed(words.iter().map(|(w, _)| *w), "or");
            let help = match suggestion(&read.value, words.iter().map(|(w, _)| *w)) {
                Some(close) => format!("did you mean \"{close}\"? It can be {all}"),
                None => format!("write {all}"),
            };
            self.report(
                Diagnostic::error(
                    "brief-unknown-word",
                    format!("`{}` cannot be \"{}\"", field.key, read.value.escape_debug()),
                )
                .at(read.span, "not one of the words for this")
                .help(help),
            );
        }
        found.map(|(_, value)| *value)
    }

    /// True or false.
    pub fn boolean(&mut self, field: Field) -> Option<bool> {
        match field.value() {
            DeValue::Boolean(value) => Some(*value),
            _ => {
                let help = format!("write {} = true or {} = false", field.key, field.key);
                self.wrong_kind(field, "true or false", help);
                None
            }
        }
    }

    /// A whole number in a range.
    pub fn whole(&mut self, field: Field, range: RangeInclusive<u64>, example: &str) -> Option<u64> {
        let DeValue::Integer(integer) = field.value() else {
            let help = format!("write {} = {example}", field.key);
            self.wrong_kind(field, "a whole number", help);
            return None;
        };
        let value = i128::from_str_radix(integer.as_str(), integer.radix()).ok();
        let (least, most) = (i128::from(*range.start()), i128::from(*range.end()));
        match value {
            Some(value) if (least..=most).contains(&value) => u64::try_from(value).ok(),
            _ => {
                let bounds = match *range.end() {
                    u64::MAX => format!("must be {least} or more"),
                    _ => format!("must be {least} to {most}"),
                };
                self.report(
                    Diagnostic::error("brief-out-of-range", format!("`{}` {bounds}", field.key))
                        .at(field.range(), "outside the range")
                        .help(format!("write, for example, {} = {example}", field.key)),
                );
                None
            }
        }
    }

    /// A plain number in a range.
    pub fn number(&mut self, field: Field, range: RangeInclusive<f64>, example: &str) -> Option<f64> {
        let value: Option<f64> = match field.value() {
            DeValue::Integer(i) => i128::from_str_radix(i.as_str(), i.radix()).ok().map(|v| v as f64),
            DeValue::Float(f) => f.as_str().parse().ok(),
            _ => {
                let help = format!("write {} = {example}, without quotes", field.key);
                self.wrong_kind(field, "a number", help);
                return None;
            }
        };
        match value.filter(|v| v.is_finite()) {
            Some(value) => self.within(field, value, range, "", short),
            None => {
                self.report(
                    Diagnostic::error(
                        "brief-not-finite",
                        format!("`{}` must be an ordinary number", field.key),
                    )
                    .at(
                        field.range(),
                        "neither infinite nor not-a-number can be planned with",
                    )
                    .help(format!("write {} = {example}", field.key)),
                );
                None
            }
        }
    }

    /// Checks a range, both ends in `unit`.
    pub fn within(
        &mut self,
        field: Field,
        value: f64,
        range: RangeInclusive<f64>,
        unit: &str,
        show: impl Fn(f64) -> String,
    ) -> Option<f64> {
        if range.contains(&value) {
            return Some(value);
        }
        let unit = if unit.is_empty() {
            String::new()
        } else {
            format!(" {unit}")
        };
        let side = if value < *range.start() {
            "too little"
        } else {
            "too much"
        };
        self.report(
            Diagnostic::error(
                "brief-out-of-range",
                format!(
                    "`{}` must be {} to {}{unit}",
                    field.key,
                    show(*range.start()),
                    show(*range.end())
                ),
            )
            .at(field.range(), format!("{}{unit} is {side}", show(value)))
            .help("check the number and its unit"),
        );
        None
    }

    /// A quantity with its unit, written as text; `example` shows how.
    pub fn quantity<T>(
        &mut self,
        field: Field,
        example: &str,
        parse: impl Fn(&str) -> Result<T, QuantityError>,
    ) -> Option<T> {
        match field.value() {
            DeValue::String(text) => match parse(text) {
                Ok(value) => Some(value),
                Err(error) => {
                    self.bad_quantity(field, &error, example);
                    None
                }
            },
            DeValue::Integer(_) | DeValue::Float(_) => {
                self.report(
                    Diagnostic::error("brief-no-unit", format!("`{}` needs its unit", field.key))
                        .at(field.range(), "a bare number")
                        .help(format!("write \"{example}\"")),
                );
                None
            }
            _ => {
                self.wrong_kind(field, "a text with a unit", format!("write \"{example}\""));
                None
            }
        }
    }

    /// Reports a text that is no quantity.
    pub fn bad_quantity(&mut self, field: Field, error: &QuantityError, example: &str) {
        let (code, label, help) = match error {
            QuantityError::Empty => ("brief-empty", "empty".into(), format!("write \"{example}\"")),
            QuantityError::NotANumber(_) => (
                "brief-not-a-number",
                "no number here".to_string(),
                format!("begin with the number: \"{example}\""),
            ),
            QuantityError::Ambiguous(_) => (
                "brief-ambiguous-number",
                "decimals or thousands?".to_string(),
                format!("write no thousands separators, and a point for decimals: \"{example}\""),
            ),
            QuantityError::NoUnit(_) => (
                "brief-no-unit",
                "a bare number".to_string(),
                format!("write \"{example}\""),
            ),
            QuantityError::UnknownUnit { of, .. } => {
                let units = match *of {
                    "length" => "cm, m, mm, or ft and in",
                    "body mass" => "kg, lb, or st and lb",
                    "energy" => "kcal, kJ or MJ",
                    "mass" => "g, kg, oz or lb",
                    "share" => "%",
                    "weekly change" => "%/week, kg/week or lb/week",
                    "money" => "a currency code with /week or /day, or alone for all days",
                    _ => "g, mg, ug or kcal, also by /kg, or % energy",
                };
                let help = format!("the units are {units}: \"{example}\"");
                ("brief-bad-unit", "this unit".to_string(), help)
            }
            QuantityError::NotOne(_) => (
                "brief-not-one-amount",
                "more than one amount, or in the wrong order".to_string(),
                format!("write one amount: \"{example}\""),
            ),
            QuantityError::Negative(_) => (
                "brief-negative",
                "below zero".to_string(),
                format!("write it without the minus: \"{example}\""),
            ),
        };
        self.report(
            Diagnostic::error(code, format!("`{}` cannot be read: {error}", field.key))
                .at(field.range(), label)
                .help(help),
        );
    }
}
