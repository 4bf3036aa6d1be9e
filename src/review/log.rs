//! The log: weigh-ins, and what was eaten, by date. Takes the text of a table as people keep it, gives
//! a [`Log`] or every mistake with its line.

pub mod edit;

use crate::diagnostic::{Diagnostic, any_error, suggestion};
use crate::units::{self, Kilograms, QuantityError};

/// Days since 1970-01-01.
pub type Day = i64;

/// A day of the log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entry {
    /// First line of the file that speaks of it.
    pub line: usize,
    /// Which day.
    pub day: Day,
    /// Body mass, kg.
    pub weight: Option<f64>,
    /// Energy eaten, kcal.
    pub intake: Option<f64>,
    /// Share of the planned energy that was eaten; `Some(None)` is a day that did not follow the plan.
    pub adherence: Option<Option<f64>>,
}

/// A log by rising day, one entry a day.
#[derive(Clone, Debug, PartialEq)]
pub struct Log {
    /// The days.
    pub entries: Vec<Entry>,
}

/// The day of a date of the Gregorian calendar; `None` when there is no such date.
///
/// Count of days by 400-year eras, from March on. Source: the calendar itself.
pub fn day_of(year: i64, month: i64, day: i64) -> Option<Day> {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let length = match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => return None,
    };
    if !(1..=length).contains(&day) || !(1900..=2200).contains(&year) {
        return None;
    }
    let y = if month <= 2 { year - 1 } else { year };
    let era = y.div_euclid(400);
    let of_era = y.rem_euclid(400);
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    Some(era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468)
}

/// The day of a date as written: `2026-03-01` or `01.03.2026`; `None` when it is no date or can be read in
/// two ways.
pub fn day(text: &str) -> Option<Day> {
    parse_date(text.trim(), Order::Unknown).ok()
}

/// The date of a day as `2026-03-01`.
pub fn date(day: Day) -> String {
    let z = day + 719_468;
    let (era, of_era) = (z.div_euclid(146_097), z.rem_euclid(146_097));
    let year = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let m = (5 * of_year + 2) / 153;
    let (d, month) = (
        of_year - (153 * m + 2) / 5 + 1,
        if m < 10 { m + 3 } else { m - 9 },
    );
    let year = year + era * 400 + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{d:02}")
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Column {
    Date,
    Weight,
    Intake,
    Adherence,
}

/// How a date with slashes is meant.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Order {
    DayFirst,
    MonthFirst,
    Unknown,
}

const NAMES: &[(&str, Column)] = &[
    ("date", Column::Date),
    ("day", Column::Date),
    ("weight", Column::Weight),
    ("mass", Column::Weight),
    ("intake", Column::Intake),
    ("energy", Column::Intake),
    ("eaten", Column::Intake),
    ("adherence", Column::Adherence),
    ("followed", Column::Adherence),
];

/// Largest distance between two weigh-ins of one day that are still averaged, kg (a choice of this
/// project: more than a full meal, water and clothes).
const SAME_DAY_KG: f64 = 3.0;

/// Whether numbers without a unit are pounds: their middle is about 2.2 times the weight of the brief.
pub fn reads_as_pounds(middle: f64, about: Kilograms) -> bool {
    (1.9..2.5).contains(&(middle / about.0))
}

/// Reads a log. `about` is the weight of the brief, to notice columns in pounds.
///
/// Separators `,`, `;` and tab, decimal comma, a byte-order mark and CRLF are read; the columns are found
/// by their heading, or are date, weight, intake in that order when there is none.
pub fn read(text: &str, about: Kilograms) -> Result<(Log, Vec<Diagnostic>), Vec<Diagnostic>> {
    // One kind of line end, so that lines are counted as an editor counts them.
    let text = text
        .strip_prefix('\u{feff}')
        .unwrap_or(text)
        .replace("\r\n", "\n");
    let text = text.as_str();
    let mut diagnostics = Vec::new();
    let told = |l: &&str| !l.trim().is_empty() && !l.starts_with('#');
    let head = text.lines().find(told).unwrap_or("");
    let separator = [b';', b'\t', b',']
        .into_iter()
        .find(|s| head.as_bytes().contains(s))
        .unwrap_or(b',');
    let mut rows: Vec<(usize, Vec<String>)> = Vec::new();
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    for record in reader.records() {
        match record {
            Ok(r) => {
                let line = r.position().map_or(0, |p| p.line() as usize);
                if r.iter().any(|c| !c.is_empty()) && !r.get(0).is_some_and(|c| c.starts_with('#')) {
                    rows.push((line, r.iter().map(str::to_string).collect()));
                }
            }
            Err(e) => diagnostics.push(
                Diagnostic::error("log-not-a-table", format!("this line is no table row: {e}"))
                    .on_line(e.position().map_or(0, |p| p.line() as usize))
                    .help("one line a day: date, weight, intake"),
            ),
        }
    }
    let Some((first_line, first)) = rows.first().cloned() else {
        diagnostics.push(
            Diagnostic::error("log-empty", "the log holds no line")
                .help("begin it with a line `date,weight,intake` and write one line a day"),
        );
        return Err(diagnostics);
    };
    let headless = first
        .first()
        .is_some_and(|c| c.starts_with(|c: char| c.is_ascii_digit()));
    let columns = if headless {
        vec![Some(Column::Date), Some(Column::Weight), Some(Column::Intake)]
    } else {
        heading(first_line, &first, &mut diagnostics)
    };
    let headings = if headless { Vec::new() } else { first };
    let body = &rows[usize::from(!headless)..];
    let place = |wanted: Column| columns.iter().position(|c| *c == Some(wanted));
    let (Some(dates), Some(weights)) = (place(Column::Date), place(Column::Weight)) else {
        if !any_error(&diagnostics) {
            diagnostics.push(
                Diagnostic::error(
                    "log-column-missing",
                    "the log needs a column `date` and a column `weight`",
                )
                .on_line(first_line)
                .help(format!("the heading reads: {}", headings.join(", "))),
            );
        }
        return Err(diagnostics);
    };
    let unit_of = |column: usize| headings.get(column).map(|h| h.to_lowercase()).unwrap_or_default();
    let stated = |column: usize, units: &[&'static str]| -> Option<&'static str> {
        let text = unit_of(column);
        let words: Vec<&str> = text
            .split(|c: char| !c.is_ascii_alphanumeric() && c != '%')
            .collect();
        units.iter().find(|u| words.contains(*u)).copied()
    };
    let weight_unit = stated(weights, &["kg", "lb", "lbs"]);
    let order = slash_order(body.iter().filter_map(|(_, r)| r.get(dates)));
    let mut entries: Vec<Entry> = Vec::new();
    let mut bare: Vec<f64> = Vec::new();
    for (line, row) in body {
        let cell = |column: Option<usize>| column.and_then(|c| row.get(c)).map_or("", String::as_str);
        let mut wrong = |d: Diagnostic| diagnostics.push(d.on_line(*line));
        let day = match parse_date(cell(Some(dates)), order) {
            Ok(day) => Some(day),
            Err(d) => {
                wrong(*d);
                None
            }
        };
        let text = cell(Some(weights));
        let weight = match text {
            "" | "-" => None,
            text => match units::body_mass(text) {
                Err(QuantityError::NoUnit(_)) => {
                    let unit = weight_unit.map_or("kg", |u| if u == "kg" { "kg" } else { "lb" });
                    match units::body_mass(&format!("{text} {unit}")) {
                        Ok(kg) => {
                            if weight_unit.is_none() {
                                bare.push(kg.0);
                            }
                            Some((kg.0, weight_unit.is_none()))
                        }
                        Err(e) => {
                            wrong(bad("weight", text, &e, "61.2, or 135 lb"));
                            None
                        }
                    }
                }
                Ok(kg) => Some((kg.0, false)),
                Err(e) => {
                    wrong(bad("weight", text, &e, "61.2, or 135 lb"));
                    None
                }
            },
        };
        let intakes = place(Column::Intake);
        let text = cell(intakes);
        let intake = match text {
            "" | "-" => None,
            text => {
                let unit = intakes
                    .and_then(|c| stated(c, &["kcal", "kj", "mj"]))
                    .unwrap_or("kcal");
                let unit = match unit {
                    "kj" => "kJ",
                    "mj" => "MJ",
                    other => other,
                };
                let read = match units::energy(text) {
                    Err(QuantityError::NoUnit(_)) => units::energy(&format!("{text} {unit}")),
                    other => other,
                };
                match read {
                    Ok(k) if k.0 == 0.0 => {
                        wrong(
                            Diagnostic::warning("log-intake-zero", "an intake of 0 is read as not logged")
                                .help("leave the cell empty where nothing was logged"),
                        );
                        None
                    }
                    Ok(k) if !(100.0..=15_000.0).contains(&k.0) => {
                        wrong(
                            Diagnostic::error(
                                "log-intake-range",
                                format!("{:.0} kcal in a day is outside 100 to 15000", k.0),
                            )
                            .help("check the number and the unit of the column"),
                        );
                        None
                    }
                    Ok(k) => Some(k.0),
                    Err(e) => {
                        wrong(bad("intake", text, &e, "2350, or 9800 kJ"));
                        None
                    }
                }
            }
        };
        let followed = place(Column::Adherence);
        let text = cell(followed);
        let percent = followed.is_some_and(|c| unit_of(c).contains('%') || unit_of(c).contains("percent"));
        let adherence = match text.to_lowercase().as_str() {
            "" | "-" => None,
            "yes" | "y" => Some(Some(1.0)),
            "no" | "n" => Some(None),
            word => {
                let read = match units::share(word) {
                    Err(QuantityError::NoUnit(_)) if percent => units::share(&format!("{word} %")),
                    other => other,
                };
                match read {
                    Ok(share) if (0.0..=3.0).contains(&share) => Some(Some(share)),
                    _ => {
                        wrong(
                            Diagnostic::error(
                                "log-adherence",
                                format!("\"{}\" is no adherence", text.escape_debug()),
                            )
                            .help("write yes, no, or the share of the planned energy eaten: 90 %"),
                        );
                        None
                    }
                }
            }
        };
        if let Some((kg, unclear)) = weight
            && !unclear
            && !(25.0..=400.0).contains(&kg)
        {
            wrong(
                Diagnostic::error("log-weight-range", format!("{kg:.1} kg is outside 25 to 400 kg"))
                    .help("check the number and its unit"),
            );
        }
        if let Some(day) = day {
            entries.push(Entry {
                line: *line,
                day,
                weight: weight.map(|w| w.0),
                intake,
                adherence,
            });
        }
    }
    // A whole column of bare numbers about 2.2 times the weight of the brief is in pounds.
    bare.sort_by(f64::total_cmp);
    if let Some(middle) = bare.get(bare.len() / 2) {
        if reads_as_pounds(*middle, about) {
            for e in &mut entries {
                e.weight = e.weight.map(|w| {
                    if w / about.0 > 1.6 {
                        w * units::KG_PER_LB
                    } else {
                        w
                    }
                });
            }
            diagnostics.push(
                Diagnostic::warning(
                    "log-read-as-pounds",
                    "the weights have no unit and are read as pounds",
                )
                .on_line(first_line)
                .help("call the column weight_lb or weight_kg to be sure"),
            );
        }
        for e in entries
            .iter()
            .filter(|e| e.weight.is_some_and(|w| !(25.0..=400.0).contains(&w)))
        {
            diagnostics.push(
                Diagnostic::error(
                    "log-weight-range",
                    format!(
                        "a weight of {:.1} is outside 25 to 400 kg",
                        e.weight.unwrap_or(0.0)
                    ),
                )
                .on_line(e.line)
                .help("check the number and its unit"),
            );
        }
    }
    entries.sort_by_key(|e| (e.day, e.line));
    let entries = one_a_day(entries, &mut diagnostics);
    if let (Some(a), Some(z)) = (entries.first(), entries.last())
        && z.day - a.day > 800
    {
        diagnostics.push(
            Diagnostic::error(
                "log-too-long",
                format!(
                    "the log spans {} days, from {} to {}",
                    z.day - a.day,
                    date(a.day),
                    date(z.day)
                ),
            )
            .on_line(z.line)
            .help("check the years, or give the part since the brief's first phase began"),
        );
    }
    if !any_error(&diagnostics) && entries.iter().all(|e| e.weight.is_none()) {
        diagnostics.push(
            Diagnostic::error("log-no-weights", "the log holds no weigh-in").help("fill the column `weight`"),
        );
    }
    diagnostics.sort_by_key(|d| d.line);
    if any_error(&diagnostics) {
        Err(diagnostics)
    } else {
        Ok((Log { entries }, diagnostics))
    }
}

fn bad(what: &str, text: &str, error: &QuantityError, example: &str) -> Diagnostic {
    Diagnostic::error(
        "log-unreadable",
        format!("the {what} \"{}\" cannot be read: {error}", text.escape_debug()),
    )
    .help(format!(
        "write {example}; leave the cell empty where there is none"
    ))
}

/// What each column is. Headings are compared by their first word.
fn heading(line: usize, cells: &[String], diagnostics: &mut Vec<Diagnostic>) -> Vec<Option<Column>> {
    let mut columns: Vec<Option<Column>> = Vec::new();
    for cell in cells {
        let lower = cell.to_lowercase();
        let mut words = lower
            .split(|c: char| !c.is_alphanumeric())
            .filter(|w| !w.is_empty());
        let word = match words.next() {
            Some("body") => words.next().unwrap_or("body"),
            other => other.unwrap_or(""),
        };
        let found = NAMES.iter().find(|(name, _)| *name == word).map(|(_, c)| *c);
        if let Some(column) = found
            && columns.contains(&Some(column))
        {
            diagnostics.push(
                Diagnostic::error("log-column-twice", format!("the column `{cell}` stands twice"))
                    .on_line(line)
                    .help("keep one of them"),
            );
        }
        if found.is_none()
            && let Some(near) = suggestion(word, NAMES.iter().map(|(n, _)| *n))
        {
            diagnostics.push(
                Diagnostic::error("log-column-unknown", format!("the column `{cell}` is not known"))
                    .on_line(line)
                    .help(format!("did you mean `{near}`?")),
            );
        }
        columns.push(found);
    }
    columns
}

fn slash_order<'a>(dates: impl Iterator<Item = &'a String>) -> Order {
    let (mut day_first, mut month_first) = (false, false);
    for date in dates.filter(|d| d.contains('/')) {
        let parts: Vec<i64> = date.split('/').filter_map(|p| p.trim().parse().ok()).collect();
        if let [a, b, _] = parts[..]
            && a <= 31
        {
            day_first |= a > 12;
            month_first |= b > 12;
        }
    }
    match (day_first, month_first) {
        (true, false) => Order::DayFirst,
        (false, true) => Order::MonthFirst,
        _ => Order::Unknown,
    }
}

fn parse_date(text: &str, order: Order) -> Result<Day, Box<Diagnostic>> {
    let unreadable = || {
        Box::new(
            Diagnostic::error("log-date", format!("\"{}\" is no date", text.escape_debug()))
                .help("write 2026-03-01; also 01.03.2026 is read"),
        )
    };
    // A time of day after the date says nothing here.
    let bare = text.split(['T', ' ']).next().unwrap_or("");
    let separator = ['-', '.', '/']
        .into_iter()
        .find(|c| bare.contains(*c))
        .ok_or_else(unreadable)?;
    let parts: Option<Vec<i64>> = bare.split(separator).map(|p| p.trim().parse().ok()).collect();
    let parts = parts.ok_or_else(unreadable)?;
    let &[a, b, c] = parts.as_slice() else {
        return Err(unreadable());
    };
    let date = match (separator, order) {
        _ if a > 31 => day_of(a, b, c),
        ('.', _) | ('/', Order::DayFirst) | ('-', _) => day_of(c, b, a),
        ('/', Order::MonthFirst) => day_of(c, a, b),
        _ if a == b => day_of(c, a, b),
        _ => {
            return Err(Box::new(
                Diagnostic::error(
                    "log-date-ambiguous",
                    format!("\"{}\" can be read in two ways", text.escape_debug()),
                )
                .help("write the year first: 2026-03-01"),
            ));
        }
    };
    date.ok_or_else(unreadable)
}

/// Days that stand more than once become one: the mean of their weights, the sum of nothing else.
fn one_a_day(entries: Vec<Entry>, diagnostics: &mut Vec<Diagnostic>) -> Vec<Entry> {
    let mut out: Vec<Entry> = Vec::new();
    let mut rest = entries.as_slice();
    while let Some(first) = rest.first() {
        let count = rest.iter().take_while(|e| e.day == first.day).count();
        let (same, after) = rest.split_at(count);
        rest = after;
        let mut one = *first;
        if count > 1 {
            let weights: Vec<f64> = same.iter().filter_map(|e| e.weight).collect();
            let least = weights.iter().copied().fold(f64::INFINITY, f64::min);
            let most = weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            one.weight = (!weights.is_empty()).then(|| weights.iter().sum::<f64>() / weights.len() as f64);
            one.intake = same.iter().find_map(|e| e.intake);
            one.adherence = same.iter().find_map(|e| e.adherence);
            let lines: Vec<String> = same.iter().map(|e| e.line.to_string()).collect();
            let word = if most - least > SAME_DAY_KG {
                one.weight = None;
                "their weights are too far apart and none is used"
            } else {
                "their mean is used"
            };
            diagnostics.push(
                Diagnostic::warning(
                    "log-day-twice",
                    format!("{} stands in lines {}: {word}", date(first.day), lines.join(", ")),
                )
                .on_line(first.line)
                .help("one line a day is enough"),
            );
            let intakes: Vec<f64> = same.iter().filter_map(|e| e.intake).collect();
            if intakes.windows(2).any(|w| w[0] != w[1]) {
                one.intake = None;
                diagnostics.push(
                    Diagnostic::warning(
                        "log-intake-twice",
                        format!("{} has more than one intake: none is used", date(first.day)),
                    )
                    .on_line(first.line)
                    .help("write the day's total in one line"),
                );
            }
        }
        out.push(one);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The calendar: days known by heart (2000-02-29 was a leap day, 1970-01-01 is day 0).
    #[test]
    fn dates_there_and_back() {
        assert_eq!(day_of(1970, 1, 1), Some(0));
        assert_eq!(day_of(2000, 3, 1), Some(11_017));
        assert_eq!(day_of(2000, 2, 29), Some(11_016));
        assert_eq!(day_of(2026, 2, 29), None);
        assert_eq!(day_of(1900, 2, 29), None);
        for day in (-20_000..60_000).step_by(37) {
            let text = date(day);
            let parts: Vec<i64> = text.split('-').map(|p| p.parse().unwrap()).collect();
            assert_eq!(day_of(parts[0], parts[1], parts[2]), Some(day), "{text}");
        }
    }
}
