//! Reads the CSV that a coach makes in a spreadsheet: one food a row, per 100 g, per serving or as on
//! a label.
//!
//! Takes any reader, gives foods and every problem at once, each with line, column, what was read,
//! what was expected and what to do. A row with an error is left out and named; the others stay.
//!
//! Understood: `,`, `;` or tab between columns, decimal comma or point, a byte-order mark, any line
//! ends; units in the head (`protein (g)`, `protein_g`, `energy kJ`) or in a cell (`3 g`); kcal or kJ;
//! salt or sodium; `trace`, `tr` or `<0.5` for a trace; a blank, `-`, `?` or `n/a` for unknown.
//! `per` says what the figures are for: `100 g` (also when blank), `30 g`, `serving` (with
//! `serving_g`) or `250 ml` (with `density_g_per_ml`). `carbohydrate` counts fibre, as labels in the US and
//! the USDA table do; `available carbohydrate` does not, as labels in Europe.

use std::collections::HashMap;
use std::io::Read;

use super::text::Problems;
use super::{Content, Food, FoodId, FoodTable, Portion, Reading, convert};
use crate::diagnostic::{Diagnostic, suggestion};
use crate::nutrient::{Nutrient, Unit};

/// Largest file that is read \[bytes\]: 16 MiB, over 100,000 foods.
pub const LARGEST: usize = 16 << 20;

/// Share of sodium in salt: 22.990 / (22.990 + 35.453).
///
/// Source: standard atomic weights of sodium 22.990 and chlorine 35.453 (IUPAC 2013, abridged).
pub const SODIUM_IN_SALT: f64 = 22.990 / (22.990 + 35.453);

/// International units in a microgram of vitamin D: 40.
///
/// Source: Institute of Medicine, "Dietary Reference Intakes for Calcium and Vitamin D", 2011.
const VITAMIN_D_IU_PER_UG: f64 = 40.0;

/// Most grams that the main parts of 100 g may sum to: 105, room for rounding on labels. Our choice.
const MOST_SUM_G: f64 = 105.0;

/// Most energy of 100 g [kcal]: 950, above pure fat at 9.02 kcal/g (USDA, Agriculture Handbook 74,
/// 1973, animal fats) with room for rounding.
const MOST_KCAL: f64 = 950.0;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Column {
    Id,
    Replaces,
    Name,
    CommonNames,
    Group,
    Manufacturer,
    Source,
    Per,
    ServingGrams,
    ServingName,
    Density,
    Refuse,
    Amount(Kind, Unit),
    Ignored,
}

/// What an amount is of.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Of(Nutrient),
    Salt,
    AvailableCarbohydrate,
}

/// Heads of columns that are no nutrients.
const HEADS: [(&str, Column); 33] = [
    ("id", Column::Id),
    ("food id", Column::Id),
    ("replaces", Column::Replaces),
    ("name", Column::Name),
    ("food", Column::Name),
    ("food name", Column::Name),
    ("description", Column::Name),
    ("product", Column::Name),
    ("common names", Column::CommonNames),
    ("other names", Column::CommonNames),
    ("group", Column::Group),
    ("food group", Column::Group),
    ("category", Column::Group),
    ("brand", Column::Manufacturer),
    ("maker", Column::Manufacturer),
    ("manufacturer", Column::Manufacturer),
    ("source", Column::Source),
    ("per", Column::Per),
    ("basis", Column::Per),
    ("serving size", Column::ServingGrams),
    ("serving weight", Column::ServingGrams),
    ("grams per serving", Column::ServingGrams),
    ("serving", Column::ServingName),
    ("serving name", Column::ServingName),
    ("household serving", Column::ServingName),
    ("density", Column::Density),
    ("density per ml", Column::Density),
    ("density g per ml", Column::Density),
    ("refuse", Column::Refuse),
    ("refuse percent", Column::Refuse),
    ("note", Column::Ignored),
    ("notes", Column::Ignored),
    ("comment", Column::Ignored),
];

/// Other heads for nutrients, besides their ids and names; the id after the comma.
const NUTRIENT_HEADS: [(&str, &str); 57] = [
    ("calories", "energy"),
    ("kcal", "energy"),
    ("kilocalories", "energy"),
    ("energy value", "energy"),
    ("kj", "energy"),
    ("kilojoules", "energy"),
    ("proteins", "protein"),
    ("total fat", "fat"),
    ("fat total", "fat"),
    ("fats", "fat"),
    ("saturates", "saturated_fat"),
    ("saturated", "saturated_fat"),
    ("sat fat", "saturated_fat"),
    ("saturated fatty acids", "saturated_fat"),
    ("fat saturated", "saturated_fat"),
    ("monounsaturates", "monounsaturated_fat"),
    ("mono unsaturated fat", "monounsaturated_fat"),
    ("polyunsaturates", "polyunsaturated_fat"),
    ("poly unsaturated fat", "polyunsaturated_fat"),
    ("trans", "trans_fat"),
    ("trans fats", "trans_fat"),
    ("carbs", "carbohydrate"),
    ("carb", "carbohydrate"),
    ("carbohydrates", "carbohydrate"),
    ("total carbohydrate", "carbohydrate"),
    ("total carbohydrates", "carbohydrate"),
    ("total carbs", "carbohydrate"),
    ("carbohydrate total", "carbohydrate"),
    ("carbohydrate by difference", "carbohydrate"),
    ("fiber", "fibre"),
    ("dietary fiber", "fibre"),
    ("dietary fibre", "fibre"),
    ("total fibre", "fibre"),
    ("total fiber", "fibre"),
    ("sugar", "sugars"),
    ("total sugars", "sugars"),
    ("total sugar", "sugars"),
    ("sugars total", "sugars"),
    ("moisture", "water"),
    ("ethanol", "alcohol"),
    ("vit a", "vitamin_a"),
    ("vit c", "vitamin_c"),
    ("ascorbic acid", "vitamin_c"),
    ("vit d", "vitamin_d"),
    ("vit e", "vitamin_e"),
    ("vit k", "vitamin_k"),
    ("vitamin b1", "thiamin"),
    ("thiamine", "thiamin"),
    ("vitamin b2", "riboflavin"),
    ("vitamin b3", "niacin"),
    ("vitamin b5", "pantothenic_acid"),
    ("vit b6", "vitamin_b6"),
    ("vitamin b9", "folate"),
    ("folate dfe", "folate"),
    ("vit b12", "vitamin_b12"),
    ("b12", "vitamin_b12"),
    ("omega 3 ala", "alpha_linolenic_acid"),
];

const OTHER_AMOUNTS: [(&str, Kind); 8] = [
    ("salt", Kind::Salt),
    ("salt equivalent", Kind::Salt),
    ("available carbohydrate", Kind::AvailableCarbohydrate),
    ("available carbohydrates", Kind::AvailableCarbohydrate),
    ("carbohydrate available", Kind::AvailableCarbohydrate),
    ("net carbs", Kind::AvailableCarbohydrate),
    ("net carbohydrate", Kind::AvailableCarbohydrate),
    ("digestible carbohydrate", Kind::AvailableCarbohydrate),
];

impl Kind {
    fn unit(self) -> Unit {
        match self {
            Kind::Of(nutrient) => nutrient.unit(),
            Kind::Salt | Kind::AvailableCarbohydrate => Unit::Gram,
        }
    }

    fn id(self) -> &'static str {
        match self {
            Kind::Of(nutrient) => nutrient.id(),
            Kind::Salt => "salt",
            Kind::AvailableCarbohydrate => "available carbohydrate",
        }
    }

    /// An amount in the unit of the kind; `None` when `unit` cannot be converted to it.
    fn amount(self, value: f64, unit: Unit) -> Option<f64> {
        if self == Kind::Of(Nutrient::VITAMIN_D) && unit == Unit::InternationalUnit {
            return Some(value / VITAMIN_D_IU_PER_UG);
        }
        convert(value, unit, self.unit())
    }
}

fn unit_of(word: &str) -> Option<Unit> {
    Some(match word {
        "g" | "gram" | "grams" | "gm" => Unit::Gram,
        "mg" | "milligram" | "milligrams" => Unit::Milligram,
        "ug" | "µg" | "μg" | "mcg" | "microgram" | "micrograms" => Unit::Microgram,
        "kcal" | "cal" | "calories" | "kilocalories" => Unit::Kilocalorie,
        "kj" | "kilojoules" => Unit::Kilojoule,
        "iu" => Unit::InternationalUnit,
        _ => return None,
    })
}

/// The words of a head in lower case, without `per 100 g`, `of which` and brackets.
fn head_words(head: &str) -> Vec<String> {
    let head = head.to_lowercase();
    let head = head
        .replace("of which", " ")
        .replace("/100g", " ")
        .replace("/100 g", " ")
        .replace("per 100", " per100");
    let mut words: Vec<String> = head
        .split(|c: char| !(c.is_alphanumeric() || matches!(c, '%' | 'µ' | 'μ' | ':')))
        .filter(|w| !w.is_empty())
        .map(|w| {
            if w == "%" {
                "percent".to_owned()
            } else {
                w.to_owned()
            }
        })
        .collect();
    if let Some(at) = words.iter().position(|w| w.starts_with("per100")) {
        let end = if words.get(at + 1).is_some_and(|w| w == "g") && words[at] == "per100" {
            at + 2
        } else {
            at + 1
        };
        words.drain(at..end);
    }
    words
}

/// What a head means: a column, or the reason why not.
fn column_of(head: &str) -> Result<Column, String> {
    let words = head_words(head);
    let text = words.join(" ");
    if text.is_empty() {
        return Ok(Column::Ignored);
    }
    let plain = |text: &str| HEADS.iter().find(|(h, _)| *h == text).map(|(_, c)| *c);
    if let Some(column) = plain(&text) {
        return Ok(column);
    }
    let amount = |text: &str| -> Option<Kind> {
        if let Some((_, kind)) = OTHER_AMOUNTS.iter().find(|(h, _)| *h == text) {
            return Some(*kind);
        }
        let id = NUTRIENT_HEADS.iter().find(|(h, _)| *h == text).map(|(_, id)| *id);
        let nutrient = Nutrient::all().find(|n| {
            id.map_or_else(
                || head_words(n.id()).join(" ") == text || n.name().to_lowercase() == text,
                |id| n.id() == id,
            )
        });
        nutrient.map(Kind::Of)
    };
    if let Some(kind) = amount(&text) {
        let unit = match words.last().and_then(|w| unit_of(w)) {
            Some(unit @ (Unit::Kilojoule | Unit::Kilocalorie)) => unit,
            _ => kind.unit(),
        };
        // `energy_kj` is the same column as `energy (kJ)`, `vitamin_d_iu` as `vitamin d (IU)`.
        return Ok(match kind {
            Kind::Of(n) if n.unit() == Unit::Kilojoule => {
                Column::Amount(Kind::Of(Nutrient::ENERGY), Unit::Kilojoule)
            }
            Kind::Of(n) if n.id() == "vitamin_d_iu" => {
                Column::Amount(Kind::Of(Nutrient::VITAMIN_D), Unit::InternationalUnit)
            }
            kind => Column::Amount(kind, unit),
        });
    }
    if let (Some(unit), Some((_, rest))) = (words.last().and_then(|w| unit_of(w)), words.split_last()) {
        let rest = rest.join(" ");
        if unit == Unit::Gram && rest == "serving" {
            return Ok(Column::ServingGrams);
        }
        if let Some(column @ (Column::ServingGrams | Column::Density)) = plain(&rest) {
            return Ok(column);
        }
        if let Some(kind) = amount(&rest) {
            return match kind.amount(1.0, unit) {
                Some(_) => Ok(Column::Amount(kind, unit)),
                None => Err(format!(
                    "{} is in {}, not in {}",
                    kind.id(),
                    kind.unit().label(),
                    unit.label()
                )),
            };
        }
    }
    Err(String::new())
}

/// How the file writes decimals, found out from all of its cells.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Decimals {
    Comma,
    Point,
    Unclear,
}

fn decimals_of(rows: &[(usize, Vec<String>)], separator: u8) -> Decimals {
    let (mut comma, mut point) = (separator == b';', false);
    for cell in rows.iter().flat_map(|(_, cells)| cells) {
        let digits = cell
            .trim_start_matches(['<', ' '])
            .trim_end_matches(|c: char| c.is_alphabetic() || c == ' ');
        let plain = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        for (mark, seen) in [(',', &mut comma), ('.', &mut point)] {
            if let Some((whole, part)) = digits.split_once(mark) {
                *seen |= plain(whole) && plain(part) && (part.len() != 3 || whole == "0");
            }
        }
    }
    match (comma, point) {
        (true, false) => Decimals::Comma,
        (false, true) => Decimals::Point,
        (true, true) if separator == b';' => Decimals::Comma,
        _ => Decimals::Unclear,
    }
}

/// A number as people write it; the reason why it is none.
fn number(text: &str, decimals: Decimals) -> Result<f64, &'static str> {
    const NOT_A_NUMBER: &str = "a number";
    let text: String = text
        .chars()
        .filter(|c| !matches!(c, ' ' | '\u{A0}' | '\u{202F}' | '\'' | '’'))
        .collect();
    let (negative, text) = match text.strip_prefix(['-', '−']) {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(&text)),
    };
    let starts = text.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | ','));
    if !starts
        || !text
            .bytes()
            .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b',' | b'e' | b'E' | b'-' | b'+'))
    {
        return Err(NOT_A_NUMBER);
    }
    let (commas, points) = (text.matches(',').count(), text.matches('.').count());
    let three = |mark: char| {
        text.rsplit_once(mark)
            .is_some_and(|(whole, part)| part.len() == 3 && whole != "0")
    };
    let decimal = match (commas, points) {
        (0, 0) => None,
        (1.., 1..) if text.rfind(',') > text.rfind('.') => (commas == 1).then_some(','),
        (1.., 1..) => (points == 1).then_some('.'),
        (1, 0) if decimals == Decimals::Comma || !three(',') => Some(','),
        (1, 0) if decimals == Decimals::Point => None,
        (0, 1) if decimals != Decimals::Comma || !three('.') => Some('.'),
        (1, 0) | (0, 1) => {
            return Err("a number without doubt: is this mark for decimals or for thousands?");
        }
        _ => None,
    };
    let text: String = text
        .chars()
        .filter(|c| !matches!(c, ',' | '.') || Some(*c) == decimal)
        .map(|c| if Some(c) == decimal { '.' } else { c })
        .collect();
    let value: f64 = text.parse().map_err(|_| NOT_A_NUMBER)?;
    match (value.is_finite(), negative && value != 0.0) {
        (false, _) => Err("a finite number"),
        (_, true) => Err("0 or more"),
        _ => Ok(value),
    }
}

/// Largest `<` that still is a trace, in a unit: what labels round away. 1 g, 5 mg, 5 ug, 5 kcal.
///
/// Source: US Code of Federal Regulations, title 21, section 101.9(c): "less than 1 gram" for carbohydrate
/// and fibre, "less than 5 milligrams" for cholesterol, 5 kcal shown as zero; micrograms by analogy.
fn most_trace(unit: Unit) -> f64 {
    match unit {
        Unit::Gram => 1.0,
        Unit::Milligram | Unit::Microgram | Unit::Kilocalorie | Unit::InternationalUnit => 5.0,
        Unit::Kilojoule => 5.0 * crate::units::KJ_PER_KCAL,
    }
}

/// Most of anything in 100 g, in a unit: all of it, and the energy of pure fat. Of international units those of
/// vitamin D, which has the most in a microgram.
pub(super) fn most_in_100_g(unit: Unit) -> f64 {
    match unit {
        Unit::Kilocalorie => MOST_KCAL,
        Unit::Kilojoule => MOST_KCAL * crate::units::KJ_PER_KCAL,
        Unit::InternationalUnit => 1e8 * VITAMIN_D_IU_PER_UG,
        Unit::Gram | Unit::Milligram | Unit::Microgram => 100.0 * super::per_gram(unit).unwrap_or(1.0),
    }
}

fn is_blank(text: &str) -> bool {
    matches!(
        text.to_lowercase().as_str(),
        "" | "-" | "–" | "—" | "?" | "n/a" | "na" | "#n/a" | "n.a." | "unknown"
    )
}

/// An amount in a cell, as a content in the unit of its kind; what was expected when it is none.
fn content(text: &str, kind: Kind, unit: Unit, decimals: Decimals) -> Result<Content, String> {
    let text = text.trim();
    if is_blank(text) {
        return Ok(Content::Unknown);
    }
    if matches!(
        text.to_lowercase().as_str(),
        "trace" | "traces" | "tr" | "tr." | "(trace)"
    ) {
        return Ok(Content::Trace);
    }
    let (less, text) = match text.strip_prefix(['<', '≤']) {
        Some(rest) => (true, rest.trim()),
        None => (false, text),
    };
    let split = text.trim_end_matches(|c: char| c.is_alphabetic()).len();
    let (figure, word) = text.split_at(split);
    let unit = match word.to_lowercase().as_str() {
        "" => unit,
        word => {
            unit_of(word).ok_or_else(|| format!("a number, perhaps with a unit like {}", unit.symbol()))?
        }
    };
    let value = number(figure, decimals)?;
    if less {
        let most = most_trace(unit);
        return if value <= most {
            Ok(Content::Trace)
        } else {
            Err(format!("`<` with at most {most} {}, or a number", unit.symbol()))
        };
    }
    match kind.amount(value, unit) {
        Some(amount) => Ok(Content::Known(amount)),
        None => Err(format!("an amount in {} or a like unit", kind.unit().symbol())),
    }
}

/// The foods of a CSV, with ids `user:NAME` unless the file gives others, and every problem.
///
/// At most [`LARGEST`] bytes are read.
pub fn read(file: impl Read) -> Reading {
    let mut problems = Problems::default();
    let foods = match text_of(file) {
        Ok(text) => Table::of(&text, &mut problems).map_or_else(Vec::new, |table| table.foods(&mut problems)),
        Err(problem) => {
            problems.push(problem);
            Vec::new()
        }
    };
    Reading {
        foods,
        problems: problems.finish(),
    }
}

fn text_of(file: impl Read) -> Result<String, Diagnostic> {
    let save = "in the spreadsheet choose \"Save as\" and \"CSV UTF-8\"";
    let mut bytes = Vec::new();
    file.take(LARGEST as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| Diagnostic::error("foods-unreadable", format!("cannot be read: {e}")))?;
    // What a file is not shows in its first bytes, whatever its size.
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"\xD0\xCF\x11\xE0") {
        return Err(Diagnostic::error("foods-not-csv", "read a workbook, expected a CSV file").help(save));
    }
    if bytes.starts_with(b"\xFF\xFE") || bytes.starts_with(b"\xFE\xFF") {
        return Err(Diagnostic::error("foods-not-utf-8", "read UTF-16, expected UTF-8").help(save));
    }
    if bytes.iter().take(1 << 16).any(|&b| b == 0) {
        return Err(Diagnostic::error("foods-not-csv", "read binary data, expected a CSV file").help(save));
    }
    if bytes.len() > LARGEST {
        let message = format!("is larger than {} MiB, expected a list of foods", LARGEST >> 20);
        return Err(
            Diagnostic::error("foods-too-large", message).help("is this the right file? if so, part it")
        );
    }
    let text = match String::from_utf8(bytes) {
        Ok(text) => text,
        Err(error) => {
            let at = error.utf8_error().valid_up_to();
            let bytes = error.into_bytes();
            let line = 1 + bytes[..at].iter().filter(|&&b| b == b'\n').count();
            let message = format!("line {line}: read byte 0x{:02X}, expected UTF-8 text", bytes[at]);
            return Err(Diagnostic::error("foods-not-utf-8", message)
                .on_line(line)
                .help(save));
        }
    };
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(&text);
    if text.trim().is_empty() {
        return Err(empty());
    }
    Ok(text.to_owned())
}

fn empty() -> Diagnostic {
    Diagnostic::error(
        "foods-empty",
        "is empty, expected a head line and a food on each further line",
    )
    .help("start from the template foods/user-template.csv")
}

/// A file taken apart into cells.
struct Table {
    columns: Vec<(String, Column)>,
    rows: Vec<(usize, Vec<String>)>,
    separator: u8,
    decimals: Decimals,
}

impl Table {
    fn of(text: &str, problems: &mut Problems) -> Option<Table> {
        // Lone carriage returns end lines in some spreadsheets' exports.
        let text = if text.contains('\n') {
            text.to_owned()
        } else {
            text.replace('\r', "\n")
        };
        let first = text.lines().position(|l| !l.trim().is_empty())?;
        let head = text.lines().nth(first)?;
        let told = head.trim().strip_prefix("sep=").and_then(|s| s.bytes().next());
        let head = if told.is_some() {
            text.lines().nth(first + 1).unwrap_or("")
        } else {
            head
        };
        let outside = |mark: char| {
            head.split('"')
                .step_by(2)
                .map(|p| p.matches(mark).count())
                .sum::<usize>()
        };
        let separator = told.unwrap_or_else(|| match (outside('\t'), outside(';'), outside(',')) {
            (tabs, semicolons, commas) if tabs >= semicolons && tabs >= commas && tabs > 0 => b'\t',
            (_, semicolons, commas) if semicolons >= commas && semicolons > 0 => b';',
            _ => b',',
        });
        let mut reader = csv::ReaderBuilder::new()
            .flexible(true)
            .has_headers(false)
            .delimiter(separator)
            .from_reader(text.as_bytes());
        let mut rows: Vec<(usize, Vec<String>)> = Vec::new();
        let mut broken = false;
        for record in reader.records() {
            match record {
                Ok(record) => {
                    let line = record.position().map_or(0, |p| p.line() as usize);
                    let cells: Vec<String> = record.iter().map(|c| c.trim().to_owned()).collect();
                    let is_separator_line = told.is_some() && rows.is_empty() && cells[0].starts_with("sep=");
                    if cells.iter().any(|c| !c.is_empty()) && !is_separator_line {
                        rows.push((line, cells));
                    }
                }
                Err(error) => {
                    problems.push(Diagnostic::error(
                        "foods-unreadable",
                        format!("cannot be read on: {error}"),
                    ));
                    broken = true;
                    break;
                }
            }
        }
        if rows.is_empty() {
            // Separators and nothing between them.
            if !broken {
                problems.push(empty());
            }
            return None;
        }
        let (line, heads) = rows.remove(0);
        let columns = columns(line, heads, problems)?;
        if rows.is_empty() {
            problems.push(
                Diagnostic::error(
                    "foods-no-rows",
                    format!("line {line}: read a head and nothing more, expected foods"),
                )
                .on_line(line)
                .help("add one food a line"),
            );
        }
        let decimals = decimals_of(&rows, separator);
        Some(Table {
            columns,
            rows,
            separator,
            decimals,
        })
    }

    fn foods(&self, problems: &mut Problems) -> Vec<Food> {
        let mut foods: Vec<Food> = Vec::new();
        let mut lines: HashMap<FoodId, usize> = HashMap::new();
        for (line, cells) in &self.rows {
            let mut row = Row {
                table: self,
                line: *line,
                cells,
                errors: 0,
                problems,
            };
            let Some(food) = row.food() else { continue };
            if let Some(before) = lines.get(&food.id) {
                let read = food.id.to_string();
                row.error(
                    "id",
                    &read,
                    &format!("each food once; line {before} has this one"),
                    "give one another id",
                );
                continue;
            }
            lines.insert(food.id.clone(), *line);
            if let Some(mut warning) = super::atwater::warning(&food) {
                warning.message = format!("line {line}: {}", warning.message);
                problems.push(warning.on_line(*line));
            }
            foods.push(food);
        }
        foods
    }
}

/// The columns that the heads mean; `None` when there is no head or no name.
fn columns(line: usize, heads: Vec<String>, problems: &mut Problems) -> Option<Vec<(String, Column)>> {
    let found: Vec<Result<Column, String>> = heads.iter().map(|h| column_of(h)).collect();
    let known = found
        .iter()
        .filter(|c| c.as_ref().is_ok_and(|c| *c != Column::Ignored))
        .count();
    if known == 0 {
        let read: String = heads.join(" | ").chars().take(60).collect();
        problems.push(
            Diagnostic::error(
                "foods-no-header",
                format!("line {line}: read `{read}`, expected a head: name, energy..."),
            )
            .on_line(line)
            .help("name the columns in the first line, as in the template foods/user-template.csv"),
        );
        return None;
    }
    let mut columns: Vec<(String, Column)> = Vec::new();
    for (head, found) in heads.into_iter().zip(found) {
        let column = match found {
            Ok(column) => column,
            Err(why) => {
                let names = HEADS
                    .iter()
                    .map(|(h, _)| *h)
                    .chain(NUTRIENT_HEADS.iter().map(|(h, _)| *h));
                let ids = Nutrient::all()
                    .map(Nutrient::id)
                    .chain(OTHER_AMOUNTS.iter().map(|(h, _)| *h));
                let near = suggestion(&head_words(&head).join(" "), names.chain(ids));
                let message = format!("line {line}: column `{head}` is not known");
                problems.push(
                    match (why.is_empty(), near) {
                        (false, _) => Diagnostic::error(
                            "foods-column-unit",
                            format!("line {line}: column `{head}`: {why}"),
                        )
                        .help("state the column in a unit of the same kind"),
                        (_, Some(near)) => Diagnostic::error("foods-unknown-column", message).help(format!(
                            "do you mean `{near}`? call it that, or `note` to leave it aside"
                        )),
                        (_, None) => Diagnostic::warning(
                            "foods-unknown-column",
                            format!("{message} and is left aside"),
                        )
                        .help("the template foods/user-template.csv and docs/foods.md list the columns"),
                    }
                    .on_line(line),
                );
                Column::Ignored
            }
        };
        let twice = column != Column::Ignored && columns.iter().any(|(_, c)| *c == column);
        if twice {
            problems.push(
                Diagnostic::error(
                    "foods-column-twice",
                    format!("line {line}: column `{head}` comes twice"),
                )
                .on_line(line)
                .help("keep one of them"),
            );
        }
        columns.push((head, if twice { Column::Ignored } else { column }));
    }
    let mut missing = |code, what: &str, help: &str| {
        let message = format!("line {line}: there is no column {what}");
        problems.push(Diagnostic::error(code, message).on_line(line).help(help));
    };
    if !columns.iter().any(|(_, c)| matches!(c, Column::Amount(..))) {
        missing(
            "foods-no-nutrients",
            "of a nutrient",
            "add energy, protein, fat, carbohydrate...",
        );
    }
    if !columns.iter().any(|(_, c)| *c == Column::Name) {
        missing("foods-no-name", "`name`", "every food needs a name");
        return None;
    }
    Some(columns)
}

struct Row<'a> {
    table: &'a Table,
    line: usize,
    cells: &'a [String],
    errors: usize,
    problems: &'a mut Problems,
}

impl Row<'_> {
    fn error(&mut self, column: &str, read: &str, expected: &str, help: &str) {
        let read: String = read.chars().take(60).collect();
        let message = format!(
            "line {}, column `{column}`: read `{read}`, expected {expected}",
            self.line
        );
        self.errors += 1;
        self.problems.push(
            Diagnostic::error("foods-cell", message)
                .on_line(self.line)
                .help(help),
        );
    }

    fn warn(&mut self, code: &'static str, message: String, help: &str) {
        let message = format!("line {}: {message}", self.line);
        self.problems
            .push(Diagnostic::warning(code, message).on_line(self.line).help(help));
    }

    /// Head and text of the cell of a column; blank text when there is none.
    fn cell(&self, column: Column) -> (&str, &str) {
        let at = self.table.columns.iter().position(|(_, c)| *c == column);
        at.map_or(("", ""), |at| {
            let text = self.cells.get(at).map_or("", String::as_str);
            (&self.table.columns[at].0, if is_blank(text) { "" } else { text })
        })
    }

    fn figure(&mut self, column: Column, expected: &str, most: f64) -> Option<f64> {
        let (head, text) = self.cell(column);
        if text.is_empty() {
            return None;
        }
        let (head, text) = (head.to_owned(), text.to_owned());
        let figure = text.trim_end_matches(|c: char| c.is_alphabetic() || matches!(c, '%' | ' ' | '/'));
        match number(figure, self.table.decimals) {
            Ok(v) if v <= most => Some(v),
            _ => {
                self.error(&head, &text, expected, "correct the cell");
                None
            }
        }
    }

    fn food(&mut self) -> Option<Food> {
        let width = self.table.columns.len();
        if self.cells.iter().skip(width).any(|c| !c.is_empty()) {
            let message = format!(
                "line {}: read {} cells, expected {width} as in the head",
                self.line,
                self.cells.len()
            );
            let help = if self.table.separator == b',' {
                "with decimal commas put `;` between the columns, or quotation marks around the cells"
            } else {
                "is there a separator too many?"
            };
            self.problems.push(
                Diagnostic::error("foods-too-many-cells", message)
                    .on_line(self.line)
                    .help(help),
            );
            return None;
        }
        let name = self.cell(Column::Name).1.to_owned();
        if name.is_empty() {
            let head = self.cell(Column::Name).0.to_owned();
            self.error(
                &head,
                "nothing",
                "the name of the food",
                "name the food or delete the line",
            );
        }
        let id = self.id(&name);
        let source = match self.cell(Column::Source).1 {
            "" => "the user's own list".to_owned(),
            given => given.to_owned(),
        };
        let mut food = Food::new(id, name, source);
        food.common_names = self.cell(Column::CommonNames).1.to_owned();
        food.group = self.cell(Column::Group).1.to_owned();
        food.manufacturer = self.cell(Column::Manufacturer).1.to_owned();
        food.refuse_percent = self.figure(Column::Refuse, "a percentage from 0 to 100", 100.0);

        let serving = self.figure(
            Column::ServingGrams,
            "the grams of one serving, 10 kg at most",
            10_000.0,
        );
        let serving = serving.filter(|g| *g > 0.0);
        let serving_name = self.cell(Column::ServingName).1.to_owned();
        if let Some(grams) = serving {
            let measure = if serving_name.is_empty() {
                "serving".to_owned()
            } else {
                serving_name
            };
            food.portions.push(Portion {
                amount: 1.0,
                measure,
                grams,
            });
        }
        let basis = self.basis(serving);
        self.amounts(&mut food, basis);
        self.judge(&food);
        (self.errors == 0).then_some(food)
    }

    fn id(&mut self, name: &str) -> FoodId {
        let replaces = self.cell(Column::Replaces).1.to_owned();
        let given = self.cell(Column::Id).1.to_owned();
        if !replaces.is_empty() {
            if !replaces.contains(':') {
                let head = self.cell(Column::Replaces).0.to_owned();
                self.error(
                    &head,
                    &replaces,
                    "the id of a food, such as sr28:20045",
                    "look it up with `foods find`",
                );
            } else if !given.is_empty() && given != replaces {
                let message = format!("`id` {given} is not used, since the food replaces {replaces}");
                self.warn("foods-id-unused", message, "leave one of the two blank");
            }
            return FoodId::new(replaces);
        }
        let text = if given.is_empty() { slug(name) } else { given };
        if text.contains(char::is_whitespace) {
            let head = self.cell(Column::Id).0.to_owned();
            self.error(
                &head,
                &text,
                "an id without spaces, such as my-bread",
                "write it with hyphens",
            );
        }
        FoodId::new(if text.contains(':') {
            text
        } else {
            format!("user:{text}")
        })
    }

    /// The grams that the figures of the row are for.
    fn basis(&mut self, serving: Option<f64>) -> f64 {
        let (head, text) = self.cell(Column::Per);
        let (head, text) = (head.to_owned(), text.to_owned());
        let words = text.to_lowercase();
        let words = words.trim().trim_start_matches("per").trim();
        let split = words
            .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',' | ' ')))
            .unwrap_or(words.len());
        let (figure, unit) = (words[..split].trim(), words[split..].trim());
        let amount = if figure.is_empty() {
            Ok(1.0)
        } else {
            number(figure, self.table.decimals)
        };
        let expected = "`100 g`, `30 g`, `serving` or `250 ml`";
        let amount = match amount {
            Ok(amount) if amount > 0.0 && amount <= 10_000.0 => amount,
            _ => {
                self.error(&head, &text, expected, "say what the figures of the row are for");
                return 100.0;
            }
        };
        match unit {
            "" if figure.is_empty() => 100.0,
            "g" | "gram" | "grams" | "gm" if !figure.is_empty() => amount,
            "kg" if !figure.is_empty() => 1000.0 * amount,
            "serving" | "servings" | "portion" | "label" => match serving {
                Some(grams) => amount * grams,
                None => {
                    self.error(
                        &head,
                        &text,
                        "with it the grams of a serving",
                        "fill in the column `serving_g`",
                    );
                    100.0
                }
            },
            "ml" if !figure.is_empty() => {
                let density = self
                    .figure(Column::Density, "grams per ml, 0.2 to 3", 3.0)
                    .filter(|d| *d >= 0.2);
                match density {
                    Some(density) => amount * density,
                    None => {
                        let help = "fill in the column `density_g_per_ml` (water 1.0, milk 1.03, oil 0.92)";
                        self.error(&head, &text, "with it the density", help);
                        100.0
                    }
                }
            }
            _ => {
                self.error(&head, &text, expected, "say what the figures of the row are for");
                100.0
            }
        }
    }

    fn amounts(&mut self, food: &mut Food, basis: f64) {
        let mut available = Content::Unknown;
        for at in 0..self.table.columns.len() {
            let (head, Column::Amount(kind, unit)) = self.table.columns[at].clone() else {
                continue;
            };
            let text = self.cells.get(at).cloned().unwrap_or_default();
            let content = match content(&text, kind, unit, self.table.decimals) {
                Ok(Content::Known(amount)) => Content::Known(per_100(amount, basis)),
                Ok(other) => other,
                Err(expected) => {
                    self.error(
                        &head,
                        &text,
                        &expected,
                        "correct the cell, or leave it blank when it is not known",
                    );
                    continue;
                }
            };
            if let Content::Known(amount) = content {
                let most = most_in_100_g(kind.unit());
                if amount > most {
                    let expected = format!(
                        "at most {most} {} in 100 g; this makes {}",
                        kind.unit().symbol(),
                        (amount * 100.0).round() / 100.0
                    );
                    self.error(
                        &head,
                        &text,
                        &expected,
                        "check the unit of the column and the column `per`",
                    );
                    continue;
                }
            }
            let (nutrient, content) = match (kind, content) {
                (Kind::AvailableCarbohydrate, content) => {
                    available = content;
                    continue;
                }
                (Kind::Salt, Content::Known(grams)) => {
                    (Nutrient::SODIUM, Content::Known(grams * 1000.0 * SODIUM_IN_SALT))
                }
                (Kind::Salt, content) => (Nutrient::SODIUM, content),
                (Kind::Of(nutrient), content) => (nutrient, content),
            };
            self.put(food, nutrient, content, &head);
        }
        // Carbohydrate by difference, as the table counts it, holds the fibre.
        if let Content::Known(grams) = available {
            let total = food.content(Nutrient::CARBOHYDRATE);
            match (total, food.content(Nutrient::FIBRE)) {
                (Content::Known(_), _) => {}
                (_, Content::Known(fibre)) => food.set(Nutrient::CARBOHYDRATE, Content::Known(grams + fibre)),
                (_, Content::Trace) => food.set(Nutrient::CARBOHYDRATE, available),
                (_, Content::Unknown) => {
                    food.set(Nutrient::CARBOHYDRATE, available);
                    let message =
                        "fibre is not known, so that carbohydrate counts the available part only".to_owned();
                    self.warn("foods-fibre-unknown", message, "fill in the fibre");
                }
            }
        }
    }

    /// Sets a nutrient that two columns may give: energy in kcal and kJ, sodium and salt.
    fn put(&mut self, food: &mut Food, nutrient: Nutrient, content: Content, head: &str) {
        match (food.content(nutrient), content) {
            (_, Content::Unknown) => {}
            (Content::Known(before), Content::Known(now)) => {
                // Both are rounded on labels: 5 % and the last digit is as close as they get.
                let slack =
                    (0.05 * before.max(now)).max(if nutrient == Nutrient::ENERGY { 5.0 } else { 20.0 });
                if (before - now).abs() > slack {
                    let message = format!(
                        "column `{head}` makes {now:.0} {unit} of {nutrient} in 100 g, another column {before:.0} {unit}",
                        unit = nutrient.unit().symbol()
                    );
                    self.warn(
                        "foods-columns-disagree",
                        message,
                        "the other one was taken; correct one of them",
                    );
                }
            }
            (Content::Unknown | Content::Trace, content) => food.set(nutrient, content),
            (Content::Known(_), Content::Trace) => {}
        }
    }

    /// Checks what one cell alone cannot show.
    fn judge(&mut self, food: &Food) {
        let of = |nutrient: Nutrient| food.content(nutrient).counted();
        let parts = [
            Nutrient::WATER,
            Nutrient::PROTEIN,
            Nutrient::FAT,
            Nutrient::CARBOHYDRATE,
            Nutrient::ALCOHOL,
        ];
        let sum: f64 = parts.into_iter().map(of).sum();
        if sum > MOST_SUM_G {
            let message = format!(
                "line {}: water, protein, fat, carbohydrate and alcohol make {sum:.1} g in 100 g, expected {MOST_SUM_G} g at most",
                self.line
            );
            self.errors += 1;
            self.problems.push(
                Diagnostic::error("foods-sum", message)
                    .on_line(self.line)
                    .help("check the figures, the decimal marks and the column `per`"),
            );
        }
        let fats = of(Nutrient::SATURATED_FAT)
            + of(Nutrient::MONOUNSATURATED_FAT)
            + of(Nutrient::POLYUNSATURATED_FAT);
        for (part, part_name, whole) in [
            (fats, "the kinds of fat", Nutrient::FAT),
            (of(Nutrient::SUGARS), "sugars", Nutrient::CARBOHYDRATE),
            (of(Nutrient::FIBRE), "fibre", Nutrient::CARBOHYDRATE),
        ] {
            // Half a gram of rounding on either side.
            if food.content(whole).is_known() && part > of(whole) + 1.0 {
                let message = format!(
                    "{part_name} make {part:.1} g in 100 g, more than all {whole} ({:.1} g)",
                    of(whole)
                );
                self.warn("foods-part-over-whole", message, "check both figures");
            }
        }
        if self.errors == 0 && food.known().next().is_none() {
            self.warn(
                "foods-nothing-known",
                format!("nothing is known of {}", food.name),
                "fill in its figures",
            );
        } else if self.errors == 0 && food.content(Nutrient::ENERGY) == Content::Unknown {
            let message = format!("the energy of {} is not known", food.name);
            self.warn(
                "foods-no-energy",
                message,
                "a plan that needs energy cannot count this food; fill it in",
            );
        }
    }
}

/// Errors for foods that say they replace one which the table does not have.
pub fn replacing_nothing(foods: &[Food], table: &FoodTable) -> Vec<Diagnostic> {
    let strange = |f: &&Food| f.id.as_str().starts_with("sr28:") && !table.contains(&f.id);
    let error = |food: &Food| {
        let message = format!(
            "`{}` replaces {}, which the bundled table does not have",
            food.name, food.id
        );
        Diagnostic::error("foods-replaces-nothing", message).help("look the id up with `foods find WORDS`")
    };
    foods.iter().filter(strange).map(error).collect()
}

/// An amount for `basis` grams, for 100 g.
fn per_100(amount: f64, basis: f64) -> f64 {
    if basis == 100.0 {
        amount
    } else {
        amount * 100.0 / basis
    }
}

/// A name as an id: lower case, hyphens between words.
fn slug(name: &str) -> String {
    let words: Vec<String> = name
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .map(str::to_lowercase)
        .collect();
    words.join("-")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostic::any_error;

    fn clean(text: &str) -> Vec<Food> {
        let reading = read(text.as_bytes());
        assert!(!any_error(&reading.problems), "{:#?}", reading.problems);
        reading.foods
    }

    fn codes(bytes: &[u8]) -> Vec<&'static str> {
        read(bytes).problems.iter().map(|p| p.code).collect()
    }

    #[test]
    fn a_plain_file_is_read() {
        let foods = clean("name,energy,protein (g),fat_g,carbohydrate,iron\nMy bread,250,9.5,3,46,\n");
        let food = &foods[0];
        assert_eq!(food.id.as_str(), "user:my-bread");
        assert_eq!(food.content(Nutrient::PROTEIN), Content::Known(9.5));
        assert_eq!(food.content(Nutrient::IRON), Content::Unknown);
    }

    #[test]
    fn a_european_label_is_read() {
        let text = "\u{FEFF}Name;Per;Energy (kJ);of which sugars [g];Fat;Available carbohydrate;Fibre;Protein;Salt\r\n\
            Brot;100 g;1046;2,5;3,0;44,0;6,0;9,0;1,2\r\n";
        let food = &clean(text)[0];
        assert_eq!(food.content(Nutrient::ENERGY), Content::Known(250.0));
        assert_eq!(food.content(Nutrient::SUGARS), Content::Known(2.5));
        assert_eq!(food.content(Nutrient::CARBOHYDRATE), Content::Known(50.0));
        let Content::Known(sodium) = food.content(Nutrient::SODIUM) else {
            panic!()
        };
        approx::assert_abs_diff_eq!(sodium, 472.05, epsilon = 0.05);
    }

    #[test]
    fn a_label_per_serving_is_scaled_and_traces_are_kept_apart() {
        let text = "name\tper\tserving_g\tserving\tcalories\tprotein\tfibre\tiron\tsodium (mg)\tcholesterol\n\
            Bar\tserving\t40\t1 bar\t160\t8\t<1 g\ttrace\t0\t<5mg\n";
        let food = &clean(text)[0];
        assert_eq!(food.content(Nutrient::ENERGY), Content::Known(400.0));
        assert_eq!(food.content(Nutrient::PROTEIN), Content::Known(20.0));
        assert_eq!(food.content(Nutrient::FIBRE), Content::Trace);
        assert_eq!(food.content(Nutrient::IRON), Content::Trace);
        assert_eq!(food.content(Nutrient::CHOLESTEROL), Content::Trace);
        assert_eq!(food.content(Nutrient::SODIUM), Content::Known(0.0));
        assert_eq!(food.content(Nutrient::FAT), Content::Unknown);
        assert_eq!(food.portions[0].measure, "1 bar");
    }

    #[test]
    fn volumes_need_a_density() {
        let food = &clean("name,per,density_g_per_ml,kcal\nMilk,200 ml,1.03,130\n")[0];
        approx::assert_abs_diff_eq!(food.amount(Nutrient::ENERGY).unwrap(), 63.1, epsilon = 0.05);
        assert_eq!(codes(b"name,per,kcal\nMilk,200 ml,130\n"), ["foods-cell"]);
    }

    #[test]
    fn a_bad_row_is_reported_and_the_others_stay() {
        let text = "name,energy,protein,fat\nA,100,-1,x\nB,200,NaN,inf\nC,100,120,3\n,1,1,1\nGood,100,5,8\nGood,1,1,1\n";
        let reading = read(text.as_bytes());
        assert_eq!(reading.foods.len(), 1);
        assert_eq!(reading.foods[0].name, "Good");
        let lines: Vec<_> = reading
            .problems
            .iter()
            .filter(|p| p.is_error())
            .filter_map(|p| p.line)
            .collect();
        assert_eq!(lines, [2, 2, 3, 3, 4, 5, 7]);
        assert_eq!(
            reading.problems[0].message,
            "line 2, column `protein`: read `-1`, expected 0 or more"
        );
        assert!(reading.problems.iter().all(|p| p.help.is_some()));
    }

    #[test]
    fn a_sum_over_105_g_is_an_error() {
        assert_eq!(
            codes(b"name,kcal,water,protein,carbs\nA,300,50,10,50\n"),
            ["foods-sum"]
        );
    }

    #[test]
    fn columns_are_judged() {
        let reading = read(&b"name,kcal,protien,shelf,protein (kJ),kcal\nA,1,2,3,4,5\n"[..]);
        let codes: Vec<_> = reading.problems.iter().map(|p| (p.code, p.is_error())).collect();
        assert!(codes.contains(&("foods-unknown-column", true)));
        assert!(codes.contains(&("foods-unknown-column", false)));
        assert!(codes.contains(&("foods-column-unit", true)));
        assert!(codes.contains(&("foods-column-twice", true)));
        assert!(reading.problems[0].help.as_deref().unwrap().contains("`protein`"));
    }

    #[test]
    fn decimal_marks_are_told_apart() {
        assert_eq!(number("1.234,5", Decimals::Unclear), Ok(1234.5));
        assert_eq!(number("1,234.5", Decimals::Unclear), Ok(1234.5));
        assert_eq!(number("0,234", Decimals::Unclear), Ok(0.234));
        assert_eq!(number("1,234", Decimals::Comma), Ok(1.234));
        assert_eq!(number("1,234", Decimals::Point), Ok(1234.0));
        assert!(number("1,234", Decimals::Unclear).is_err());
        assert!(number("1.234", Decimals::Comma).is_err());
        assert_eq!(number("1 234", Decimals::Point), Ok(1234.0));
        assert_eq!(number("1e-2", Decimals::Point), Ok(0.01));
        assert!(number("1e999", Decimals::Point).is_err());
        assert!(number("", Decimals::Point).is_err());
        // Decimal commas without quotation marks in a file with commas between columns.
        assert_eq!(codes(b"name,kcal,fat\nA,100,3,5\n"), ["foods-too-many-cells"]);
    }

    #[test]
    fn units_in_cells_and_odd_ones_in_heads() {
        let food =
            &clean("name,calcium,vitamin d (IU),vitamin_a_iu,sodium g,energy\nA,0.1 g,80,50,0.4,418.4 kJ\n")
                [0];
        assert_eq!(food.content(Nutrient::CALCIUM), Content::Known(100.0));
        assert_eq!(food.content(Nutrient::VITAMIN_D), Content::Known(2.0));
        assert_eq!(food.content(Nutrient::SODIUM), Content::Known(400.0));
        approx::assert_abs_diff_eq!(food.amount(Nutrient::ENERGY).unwrap(), 100.0, epsilon = 1e-9);
        assert!(codes(b"name,vitamin e (IU)\nA,1\n").contains(&"foods-column-unit"));
    }

    #[test]
    fn a_food_may_replace_a_bundled_one() {
        let foods = clean("id,replaces,name,kcal\n,sr28:20045,My rice,130\nsr28:01001,,My butter,717\n");
        assert_eq!(foods[0].id.as_str(), "sr28:20045");
        assert_eq!(foods[1].id.as_str(), "sr28:01001");
        assert_eq!(replacing_nothing(&foods, &FoodTable::bundled()), vec![]);
        let strange = clean("replaces,name,kcal\nsr28:2045,My rice,130\n");
        assert_eq!(replacing_nothing(&strange, &FoodTable::bundled()).len(), 1);
    }

    #[test]
    fn what_is_no_list_of_foods_is_refused() {
        assert_eq!(codes(b""), ["foods-empty"]);
        assert_eq!(codes(b"\xEF\xBB\xBF\r\n \n"), ["foods-empty"]);
        assert_eq!(codes(b"Bread,250,9\nRice,130,2\n"), ["foods-no-header"]);
        assert_eq!(codes(b"name,kcal\n"), ["foods-no-rows"]);
        assert_eq!(codes(b"kcal,fat\n1,2\n"), ["foods-no-name"]);
        assert_eq!(codes(b"name,group\nA,b\n")[0], "foods-no-nutrients");
        assert_eq!(codes(b"name,kcal\nCr\xE8me,3\n"), ["foods-not-utf-8"]);
        assert_eq!(codes(b"\xFF\xFEn\0a\0"), ["foods-not-utf-8"]);
        assert_eq!(codes(b"PK\x03\x04..."), ["foods-not-csv"]);
        assert_eq!(codes(b"\x7fELF\0\0"), ["foods-not-csv"]);
    }

    #[test]
    fn garbage_without_end_is_refused_and_problems_are_counted() {
        assert_eq!(read(std::io::repeat(b'x')).problems[0].code, "foods-too-large");
        let text = format!("name,kcal\n{}", "A,x\n".repeat(5000));
        let problems = read(text.as_bytes()).problems;
        assert_eq!(problems.len(), super::super::text::MOST_PROBLEMS + 1);
        let last = problems.last().unwrap();
        assert!(last.is_error() && last.message.starts_with("4900 more"));
    }

    #[test]
    fn the_template_is_clean() {
        let reading = read(include_bytes!("../../foods/user-template.csv").as_slice());
        assert_eq!(reading.problems, vec![]);
        assert_eq!(reading.foods.len(), 3);
    }

    proptest::proptest! {
        #[test]
        fn nothing_makes_it_panic(bytes in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..300)) {
            read(bytes.as_slice());
        }

        #[test]
        fn no_cell_makes_it_panic(cells in "[ -~\n;,.<µé\"]{0,200}") {
            read(format!("name,per,energy,protein\n{cells}").as_bytes());
            read(format!("name;per;energy;protein\n{cells}").as_bytes());
        }
    }
}
