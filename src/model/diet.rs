//! The plain diet problem: a table of foods and a table of requirements as a linear program.
//!
//! Takes the text of two CSV tables, gives a [`Linear`]: how much of each food to buy so that every
//! floor and ceiling holds at the least cost. No meals, no servings: the textbook problem, to study
//! what a constraint costs. Solves nothing.

use super::Class;
use super::linear::{Constraint, Linear};
use crate::diagnostic::{Diagnostic, suggestion};
use std::collections::HashSet;

/// Columns of the food table that are not nutrients.
const FOOD_COLUMNS: [&str; 4] = ["food", "price", "least", "most"];

/// A requirement as read.
struct Requirement {
    nutrient: String,
    unit: String,
    floor: Option<f64>,
    ceiling: Option<f64>,
    line: usize,
}

/// The least-cost diet as a program: a variable a food (what is bought) and a row a requirement.
///
/// `foods` is a CSV table with a column `food` and a column for each nutrient that `requirements`
/// names: the amount in what one unit of money buys. With a column `price` the amounts are those of
/// one unit of food at that price instead. `least` and `most` bound a food; both may be blank.
/// Other columns are left alone. A blank amount is unknown: it never helps a floor, and is a
/// mistake where the nutrient has a ceiling.
///
/// `requirements` is a CSV table with the columns `nutrient`, `floor` and, when wanted, `ceiling`
/// and `unit`; a requirement states a floor, a ceiling or both.
///
/// A food without a `most` is bounded at twice what would meet every floor it helps on its own (and
/// no lower than its `least`), which no cheapest diet exceeds.
///
/// # Errors
/// Every mistake of both tables.
///
/// ```
/// let foods = "food,iron_mg\nbeans,20\nspinach,50\n";
/// let requirements = "nutrient,unit,floor\niron_mg,mg,10\n";
/// let diet = platewright::model::diet::read(foods, requirements).unwrap();
/// let best = platewright::solve::engine::minimise(&diet).unwrap();
/// assert!((best.value - 0.2).abs() < 1e-9);
/// ```
pub fn read(foods: &str, requirements: &str) -> Result<Linear, Vec<Diagnostic>> {
    let mut out = Vec::new();
    let wanted = read_requirements(requirements, &mut out);
    let lp = read_foods(foods, &wanted, &mut out);
    if out.is_empty() { Ok(lp) } else { Err(out) }
}

/// A table in text: header and records with their 1-based lines.
struct Table<'a> {
    name: &'a str,
    header: Vec<String>,
    records: Vec<(usize, csv::StringRecord)>,
}

impl<'a> Table<'a> {
    fn read(name: &'a str, text: &str, out: &mut Vec<Diagnostic>) -> Self {
        let text = text.trim_start_matches('\u{feff}');
        let mut reader = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .flexible(true)
            .from_reader(text.as_bytes());
        let header: Vec<String> = reader
            .headers()
            .map(|h| h.iter().map(str::to_string).collect())
            .unwrap_or_default();
        let mut table = Table {
            name,
            header,
            records: Vec::new(),
        };
        let mut seen = HashSet::new();
        for h in table.header.iter().filter(|h| !h.is_empty()) {
            if !seen.insert(h) {
                out.push(
                    Diagnostic::error(
                        "diet-column-twice",
                        format!("{name}: the column `{h}` stands twice"),
                    )
                    .on_line(1)
                    .help("keep one of them"),
                );
            }
        }
        for record in reader.records() {
            match record {
                Ok(r) => {
                    let line = r.position().map_or(0, |p| p.line() as usize);
                    if r.iter().all(str::is_empty) {
                        continue;
                    }
                    if r.len() == table.header.len() {
                        table.records.push((line, r));
                    } else {
                        out.push(
                            Diagnostic::error(
                                "diet-row-length",
                                format!(
                                    "{name}: read {} values, expected {} as in the first line",
                                    r.len(),
                                    table.header.len()
                                ),
                            )
                            .on_line(line)
                            .help("put a text that holds a comma in double quotes"),
                        );
                    }
                }
                Err(e) => out.push(
                    Diagnostic::error("diet-not-csv", format!("{name}: {e}"))
                        .help("save the table as CSV in UTF-8"),
                ),
            }
        }
        table
    }

    fn column(&self, name: &str) -> Option<usize> {
        self.header.iter().position(|h| h == name)
    }

    /// The column, or a mistake when there is none.
    fn needed(&self, name: &str, out: &mut Vec<Diagnostic>) -> Option<usize> {
        let at = self.column(name);
        if at.is_none() {
            let near = suggestion(name, self.header.iter().map(String::as_str));
            out.push(
                Diagnostic::error("diet-no-column", format!("{}: no column `{name}`", self.name))
                    .on_line(1)
                    .help(near.map_or_else(
                        || format!("add a column `{name}`"),
                        |n| format!("is `{n}` meant?"),
                    )),
            );
        }
        at
    }

    /// A number that is not negative; `None` when blank or, with a mistake, when it is none.
    fn number(
        &self,
        line: usize,
        record: &csv::StringRecord,
        column: Option<usize>,
        out: &mut Vec<Diagnostic>,
    ) -> Option<f64> {
        let column = column?;
        let text = record.get(column).unwrap_or("");
        if text.is_empty() {
            return None;
        }
        match text.parse::<f64>() {
            Ok(x) if x.is_finite() && x >= 0.0 => Some(x),
            _ => {
                out.push(
                    Diagnostic::error(
                        "diet-number",
                        format!(
                            "{}: column `{}`: read `{text}`, expected a number of 0 or more",
                            self.name, self.header[column]
                        ),
                    )
                    .on_line(line)
                    .help("write it with a decimal point, or leave it blank when it is not known"),
                );
                None
            }
        }
    }
}

fn read_requirements(text: &str, out: &mut Vec<Diagnostic>) -> Vec<Requirement> {
    let table = Table::read("requirements", text, out);
    let nutrient = table.needed("nutrient", out);
    let floor = table.needed("floor", out);
    let (ceiling, unit) = (table.column("ceiling"), table.column("unit"));
    let Some(nutrient) = nutrient else {
        return Vec::new();
    };
    let mut all: Vec<Requirement> = Vec::new();
    for (line, r) in &table.records {
        let line = *line;
        let before = out.len();
        let row = Requirement {
            nutrient: r.get(nutrient).unwrap_or("").to_string(),
            unit: unit.and_then(|u| r.get(u)).unwrap_or("").to_string(),
            floor: table.number(line, r, floor, out),
            ceiling: table.number(line, r, ceiling, out),
            line,
        };
        let name = &row.nutrient;
        if name.is_empty() {
            out.push(
                Diagnostic::error("diet-no-name", "requirements: a row without a nutrient")
                    .on_line(line)
                    .help("name a nutrient column of the food table"),
            );
        } else if FOOD_COLUMNS.contains(&name.as_str()) {
            out.push(
                Diagnostic::error(
                    "diet-not-a-nutrient",
                    format!("requirements: `{name}` is not a nutrient column"),
                )
                .on_line(line)
                .help("name a nutrient column of the food table"),
            );
        } else if let Some(first) = all.iter().find(|o| o.nutrient == *name) {
            out.push(
                Diagnostic::error(
                    "diet-twice",
                    format!("requirements: `{name}` stands on line {} already", first.line),
                )
                .on_line(line)
                .help("state floor and ceiling in one row"),
            );
        }
        match (row.floor, row.ceiling) {
            (Some(f), Some(c)) if f > c => {
                out.push(
                    Diagnostic::error(
                        "diet-floor-over-ceiling",
                        format!("requirements: `{name}` has its floor {f} over its ceiling {c}"),
                    )
                    .on_line(line)
                    .help("exchange the two"),
                );
            }
            (None, None) if out.len() == before && floor.is_some() => {
                out.push(
                    Diagnostic::error(
                        "diet-no-bound",
                        format!("requirements: `{name}` has neither floor nor ceiling"),
                    )
                    .on_line(line)
                    .help("state one, or leave the row out"),
                );
            }
            _ => {}
        }
        all.push(row);
    }
    if table.records.is_empty() && floor.is_some() {
        out.push(
            Diagnostic::error("diet-empty", "requirements: no rows")
                .help("add a row for each nutrient that is asked for"),
        );
    }
    all
}

fn read_foods(text: &str, wanted: &[Requirement], out: &mut Vec<Diagnostic>) -> Linear {
    let table = Table::read("foods", text, out);
    let mut lp = Linear {
        title: "diet problem: least cost".into(),
        ..Linear::default()
    };
    let food = table.needed("food", out);
    let nutrients: Vec<Option<usize>> = wanted
        .iter()
        .map(|w| {
            if w.nutrient.is_empty() || FOOD_COLUMNS.contains(&w.nutrient.as_str()) {
                None
            } else {
                table.needed(&w.nutrient, out)
            }
        })
        .collect();
    let (price, least, most) = (table.column("price"), table.column("least"), table.column("most"));
    let Some(food) = food else { return lp };
    let mut names: Vec<(String, usize)> = Vec::new();
    let mut used = HashSet::new();
    let mut terms: Vec<Vec<(usize, f64)>> = vec![Vec::new(); wanted.len()];
    for (line, r) in &table.records {
        let line = *line;
        let name = r.get(food).unwrap_or("").to_string();
        if name.is_empty() {
            out.push(
                Diagnostic::error("diet-no-name", "foods: a row without a food")
                    .on_line(line)
                    .help("name it, or leave the row out"),
            );
        } else if let Some((_, first)) = names.iter().find(|(n, _)| *n == name) {
            out.push(
                Diagnostic::error(
                    "diet-twice",
                    format!("foods: `{name}` stands on line {first} already"),
                )
                .on_line(line)
                .help("give one of them another name"),
            );
        }
        let cost = match price {
            None => 1.0,
            Some(p) if r.get(p).is_none_or(str::is_empty) => {
                out.push(
                    Diagnostic::error("diet-no-price", format!("foods: `{name}` has no price"))
                        .on_line(line)
                        .help("a food without a price is never free: state it, or leave the row out"),
                );
                0.0
            }
            Some(_) => table.number(line, r, price, out).unwrap_or(0.0),
        };
        let v = lp.variables.len();
        let mut enough = 0.0f64;
        for ((w, &column), terms) in wanted.iter().zip(&nutrients).zip(&mut terms) {
            let blank = column.is_some_and(|c| r.get(c).is_none_or(str::is_empty));
            if blank && let Some(ceiling) = w.ceiling {
                out.push(
                    Diagnostic::error(
                        "diet-unknown",
                        format!(
                            "foods: `{name}` has no amount of `{}`, which has the ceiling {ceiling}",
                            w.nutrient
                        ),
                    )
                    .on_line(line)
                    .help("write 0 when it has none; what is not known cannot be kept under a ceiling"),
                );
            }
            if let Some(k) = table.number(line, r, column, out)
                && k > 0.0
            {
                terms.push((v, k));
                enough = enough.max(w.floor.unwrap_or(0.0) / k);
            }
        }
        let lo = table.number(line, r, least, out).unwrap_or(0.0);
        let hi = table
            .number(line, r, most, out)
            .unwrap_or_else(|| (2.0 * enough).max(lo));
        if lo > hi {
            out.push(
                Diagnostic::error(
                    "diet-least-over-most",
                    format!("foods: `{name}` has its least {lo} over its most {hi}"),
                )
                .on_line(line)
                .help("exchange the two"),
            );
        }
        lp.variable(identifier(&name, &mut used), lo, hi, cost, false);
        names.push((name, line));
    }
    if table.records.is_empty() {
        out.push(Diagnostic::error("diet-empty", "foods: no rows").help("add a row for each food"));
    }
    let mut used = HashSet::new();
    for (w, terms) in wanted.iter().zip(terms) {
        lp.rows.push(Constraint {
            name: identifier(&w.nutrient, &mut used),
            group: w.nutrient.clone(),
            note: format!(
                "{}; required",
                if w.unit.is_empty() {
                    "unit of the food table"
                } else {
                    &w.unit
                }
            ),
            terms,
            lo: w.floor,
            hi: w.ceiling,
            class: Class::Must,
            row: None,
        });
    }
    lp
}

/// A name of letters, digits and `_` that begins with a letter, unlike all before.
fn identifier(name: &str, used: &mut HashSet<String>) -> String {
    let words: Vec<&str> = name
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|w| !w.is_empty())
        .collect();
    let mut id = words.join("_");
    if !id.starts_with(|c: char| c.is_ascii_alphabetic()) {
        id.insert_str(0, "n_");
    }
    let stem = id.clone();
    let mut n = 2;
    while !used.insert(id.clone()) {
        id = format!("{stem}_{n}");
        n += 1;
    }
    id
}

#[cfg(test)]
mod tests {
    use super::*;

    fn codes(foods: &str, requirements: &str) -> Vec<(&'static str, Option<usize>)> {
        read(foods, requirements)
            .expect_err("a mistake")
            .iter()
            .map(|d| (d.code, d.line))
            .collect()
    }

    const IRON: &str = "nutrient,unit,floor\niron,mg,10\n";

    #[test]
    fn every_mistake_at_once() {
        let foods = "food,price,least,most,iron,salt\nbeans,1,,,5,0\nbeans,1,,,5,0\noats,,,,4,0\nrye,1,3,2,4,0\nham,1,,,x,\n,1,,,-2,0\neggs,1\n";
        let requirements =
            "nutrient,floor,ceiling\niron,10,\nsalt,,6\niron,5,4\nzinc,1,\nprice,1,\ncopper,,\n";
        let found = codes(foods, requirements);
        for expected in [
            ("diet-twice", Some(4)),
            ("diet-floor-over-ceiling", Some(4)),
            ("diet-not-a-nutrient", Some(6)),
            ("diet-no-bound", Some(7)),
            ("diet-no-column", Some(1)),
            ("diet-twice", Some(3)),
            ("diet-no-price", Some(4)),
            ("diet-least-over-most", Some(5)),
            ("diet-number", Some(6)),
            ("diet-unknown", Some(6)),
            ("diet-no-name", Some(7)),
            ("diet-row-length", Some(8)),
        ] {
            assert!(found.contains(&expected), "{expected:?} in {found:?}");
        }
    }

    #[test]
    fn empty_texts_are_refused() {
        assert!(codes("", "").iter().any(|c| c.0 == "diet-no-column"));
        assert!(codes("food,iron\n", IRON).contains(&("diet-empty", None)));
        assert!(codes("food,iron\nbeans,1\n", "nutrient,floor\n").contains(&("diet-empty", None)));
    }

    #[test]
    fn a_misspelt_column_is_suggested() {
        let found = read("food,irons\nbeans,5\n", IRON).expect_err("no such column");
        assert_eq!(found[0].help.as_deref(), Some("is `irons` meant?"));
    }

    #[test]
    fn a_blank_helps_no_floor() {
        let lp = read("food,iron\nbeans,5\noats,\n", IRON).expect("a table");
        assert_eq!(lp.rows[0].terms, [(0, 5.0)]);
    }

    #[test]
    fn names_are_single_words_and_differ() {
        let lp = read(
            "food,iron\n\"Peas, dry\",5\nPeas (dry),4\n7 grains,3\nदाल,2\n",
            IRON,
        )
        .expect("a table");
        let names: Vec<&str> = lp.variables.iter().map(|v| v.name.as_str()).collect();
        assert_eq!(names, ["Peas_dry", "Peas_dry_2", "n_7_grains", "n_"]);
    }
}
