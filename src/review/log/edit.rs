//! A log's text changed in single lines, with its own columns, comments and line ends kept.
//!
//! Takes the text and what was typed, gives the changed text. Whether the figures can be is for [`read`](super::read)
//! to say of the changed text.

use super::{Column, Day, Order, heading, parse_date, slash_order};
use crate::diagnostic::Diagnostic;

/// The heading of a log that begins here; the weights stand in the unit of the first.
const HEADING: [&str; 4] = ["date", "weight", "intake_kcal", "adherence"];

/// What stands in a line, as typed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cells {
    /// `2026-03-01`.
    pub date: String,
    /// `61.2 kg`.
    pub weight: String,
    /// `2350`, or with its unit.
    pub intake: String,
    /// `yes`, `no` or `90 %`.
    pub adherence: String,
}

/// A line of the log that speaks of a day.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Which line of the text, from 1.
    pub line: usize,
    /// The day; `None` when the date cannot be read.
    pub day: Option<Day>,
    /// What stands in it.
    pub cells: Cells,
}

/// A log's text that is being changed.
#[derive(Clone, Debug)]
pub struct Book {
    /// Each with its line end; a byte-order mark stands in the first.
    lines: Vec<String>,
    /// Line of the heading, from 0.
    head: Option<usize>,
    heads: Vec<String>,
    columns: Vec<Option<Column>>,
    separator: u8,
    order: Order,
}

fn cannot(message: &str) -> Diagnostic {
    Diagnostic::error("log-edit", message.to_string()).help("change the file by hand")
}

/// Whether a line is a row of the table.
fn is_row(line: &str) -> bool {
    let bare = line.trim_start_matches('\u{feff}').trim();
    !bare.is_empty() && !bare.starts_with('#')
}

fn split(line: &str, separator: u8) -> Vec<String> {
    let line = line.trim_start_matches('\u{feff}');
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(separator)
        .trim(csv::Trim::All)
        .from_reader(line.as_bytes());
    let first = reader.records().next();
    first.map_or_else(Vec::new, |r| {
        r.map_or_else(|_| Vec::new(), |r| r.iter().map(str::to_string).collect())
    })
}

/// A row as text, without its line end.
fn joined(cells: &[String], separator: u8) -> Result<String, Diagnostic> {
    let fail = || cannot("this line cannot be written as a table row");
    let mut writer = csv::WriterBuilder::new()
        .delimiter(separator)
        .from_writer(Vec::new());
    writer.write_record(cells).map_err(|_| fail())?;
    let bytes = writer.into_inner().map_err(|_| fail())?;
    let text = String::from_utf8(bytes).map_err(|_| fail())?;
    Ok(text.trim_end_matches(['\r', '\n']).to_string())
}

impl Book {
    /// A log to change; an empty text is one that begins.
    ///
    /// # Errors
    /// A table whose columns cannot be told, and one with cells over several lines.
    pub fn read(text: &str) -> Result<Book, Diagnostic> {
        let lines: Vec<String> = text.split_inclusive('\n').map(str::to_string).collect();
        let rows: Vec<usize> = (0..lines.len()).filter(|n| is_row(&lines[*n])).collect();
        if let Some(broken) = rows.iter().find(|n| lines[**n].matches('"').count() % 2 == 1) {
            return Err(cannot("a cell goes over several lines").on_line(broken + 1));
        }
        let first = rows.first().map_or("", |n| lines[*n].as_str());
        let separator = [b';', b'\t', b',']
            .into_iter()
            .find(|s| first.as_bytes().contains(s))
            .unwrap_or(b',');
        let mut book = Book {
            head: None,
            heads: Vec::new(),
            columns: Vec::new(),
            separator,
            order: Order::Unknown,
            lines,
        };
        let Some(at) = rows.first().copied() else {
            return Ok(book);
        };
        let cells = split(&book.lines[at], separator);
        if cells
            .first()
            .is_some_and(|c| c.starts_with(|c: char| c.is_ascii_digit()))
        {
            book.columns = vec![Some(Column::Date), Some(Column::Weight), Some(Column::Intake)];
        } else {
            book.columns = heading(at + 1, &cells, &mut Vec::new());
            book.heads = cells;
            book.head = Some(at);
        }
        if book.place(Column::Date).is_none() || book.place(Column::Weight).is_none() {
            return Err(cannot("the log needs a column `date` and a column `weight`").on_line(at + 1));
        }
        let dates: Vec<String> = book.rows().into_iter().map(|r| r.cells.date).collect();
        book.order = slash_order(dates.iter());
        Ok(book)
    }

    fn place(&self, column: Column) -> Option<usize> {
        self.columns.iter().position(|c| *c == Some(column))
    }

    /// The unit that a column's heading states, as it stands there in small letters.
    fn unit(&self, column: Column, known: &[&'static str]) -> Option<&'static str> {
        let head = self.heads.get(self.place(column)?)?.to_lowercase();
        let mut words = head.split(|c: char| !c.is_ascii_alphanumeric());
        words.find_map(|w| known.iter().find(|k| **k == w).copied())
    }

    /// `kg` or `lb` when the heading states the unit of the weights.
    pub fn weight_unit(&self) -> Option<&'static str> {
        let stated = self.unit(Column::Weight, &["kg", "lb", "lbs"]);
        stated.map(|u| if u == "kg" { "kg" } else { "lb" })
    }

    /// The unit of the intakes: that of the heading, else kcal.
    pub fn intake_unit(&self) -> &'static str {
        match self.unit(Column::Intake, &["kcal", "kj", "mj"]) {
            Some("kj") => "kJ",
            Some("mj") => "MJ",
            _ => "kcal",
        }
    }

    /// The lines that speak of a day, in the order of the text.
    pub fn rows(&self) -> Vec<Row> {
        let at = |n: &usize| Some(*n) != self.head && is_row(&self.lines[*n]);
        let rows = (0..self.lines.len()).filter(at);
        rows.map(|n| {
            let cells = split(&self.lines[n], self.separator);
            let cell = |column| {
                let text = self.place(column).and_then(|c| cells.get(c));
                text.cloned().unwrap_or_default()
            };
            let date = cell(Column::Date);
            Row {
                line: n + 1,
                day: parse_date(&date, self.order).ok(),
                cells: Cells {
                    weight: cell(Column::Weight),
                    intake: cell(Column::Intake),
                    adherence: cell(Column::Adherence),
                    date,
                },
            }
        })
        .collect()
    }

    /// Without the unit that the column has anyway.
    fn fitting(&self, column: Column, text: &str) -> String {
        let text = text.trim();
        let units: &[&str] = match column {
            Column::Weight => match self.weight_unit() {
                Some("kg") => &["kg"],
                Some(_) => &["lbs", "lb"],
                None => &[],
            },
            Column::Intake => &[self.intake_unit()],
            _ => &[],
        };
        let bare = units.iter().find_map(|u| {
            let (number, unit) = text.split_at_checked(text.len().checked_sub(u.len())?)?;
            unit.eq_ignore_ascii_case(u).then(|| number.trim_end())
        });
        let number = |n: &&str| n.ends_with(|c: char| c.is_ascii_digit());
        bare.filter(number).unwrap_or(text).to_string()
    }

    fn ending(&self) -> &'static str {
        let first = self.lines.first();
        if first.is_some_and(|l| l.ends_with("\r\n")) {
            "\r\n"
        } else {
            "\n"
        }
    }

    /// A column for what is typed, made when the log has none for it.
    fn column(&mut self, column: Column, name: &str) -> Result<usize, Diagnostic> {
        if let Some(at) = self.place(column) {
            return Ok(at);
        }
        let Some(head) = self.head else {
            return Err(cannot(&format!(
                "the log has no heading, and so no column `{name}`"
            )));
        };
        let line = &self.lines[head];
        let bare = line.trim_end_matches(['\r', '\n']).len();
        let (text, end) = line.split_at(bare);
        self.lines[head] = format!("{text}{}{name}{end}", char::from(self.separator));
        self.heads.push(name.to_string());
        self.columns.push(Some(column));
        Ok(self.columns.len() - 1)
    }

    /// A line with the typed cells put into those it had.
    fn line(&mut self, mut old: Vec<String>, typed: &Cells) -> Result<String, Diagnostic> {
        let all = [
            (Column::Date, HEADING[0], &typed.date),
            (Column::Weight, HEADING[1], &typed.weight),
            (Column::Intake, HEADING[2], &typed.intake),
            (Column::Adherence, HEADING[3], &typed.adherence),
        ];
        for (column, name, text) in all {
            let text = self.fitting(column, text);
            if text.is_empty() && self.place(column).is_none() {
                continue;
            }
            let at = self.column(column, name)?;
            if old.len() <= at {
                old.resize(at + 1, String::new());
            }
            old[at] = text;
        }
        if old.len() < self.columns.len() {
            old.resize(self.columns.len(), String::new());
        }
        joined(&old, self.separator)
    }

    /// Adds a line for a day, in its place among days that rise or fall; its line, from 1.
    ///
    /// # Errors
    /// A value for which a log without heading has no column.
    pub fn add(&mut self, typed: &Cells) -> Result<usize, Diagnostic> {
        if self.columns.is_empty() {
            let pounds = typed.weight.trim_end().to_lowercase();
            let unit = if pounds.ends_with("lb") || pounds.ends_with("lbs") {
                "lb"
            } else {
                "kg"
            };
            self.heads = HEADING.map(String::from).to_vec();
            self.heads[1] = format!("weight_{unit}");
            self.columns = vec![
                Some(Column::Date),
                Some(Column::Weight),
                Some(Column::Intake),
                Some(Column::Adherence),
            ];
            self.close();
            self.head = Some(self.lines.len());
            self.lines
                .push(format!("{}{}", self.heads.join(","), self.ending()));
        }
        let text = self.line(Vec::new(), typed)?;
        let rows = self.rows();
        let day = parse_date(typed.date.trim(), self.order).ok();
        let days: Vec<Day> = rows.iter().filter_map(|r| r.day).collect();
        let falling = matches!((days.first(), days.last()), (Some(a), Some(z)) if a > z);
        let earlier = |r: &&Row| matches!((r.day, day), (Some(there), Some(new)) if there < new);
        // Lines of the text count from 1, so the line of a row is the place after it.
        let at = if falling {
            rows.iter().find(earlier).map(|r| r.line - 1)
        } else {
            let after = rows.iter().rfind(earlier).map(|r| r.line);
            after.or(rows.first().map(|r| r.line - 1))
        };
        self.close();
        let at = at.unwrap_or(self.lines.len()).min(self.lines.len());
        let end = self.ending();
        self.lines.insert(at, format!("{text}{end}"));
        Ok(at + 1)
    }

    /// The last line ends like the others.
    fn close(&mut self) {
        let end = self.ending();
        if let Some(last) = self.lines.last_mut().filter(|l| !l.ends_with('\n')) {
            last.push_str(end);
        }
    }

    fn row_at(&self, line: usize) -> Result<usize, Diagnostic> {
        let known = self.rows().iter().any(|r| r.line == line);
        known
            .then(|| line - 1)
            .ok_or_else(|| cannot(&format!("line {line} of the log speaks of no day")))
    }

    /// Puts what is typed into a line, which keeps its other cells.
    ///
    /// # Errors
    /// A line that speaks of no day, and as [`Book::add`].
    pub fn correct(&mut self, line: usize, typed: &Cells) -> Result<(), Diagnostic> {
        let at = self.row_at(line)?;
        let old = split(&self.lines[at], self.separator);
        let text = self.line(old, typed)?;
        let bare = self.lines[at].trim_end_matches(['\r', '\n']).len();
        let end = self.lines[at].split_off(bare);
        self.lines[at] = text + &end;
        Ok(())
    }

    /// Takes a line away.
    ///
    /// # Errors
    /// A line that speaks of no day.
    pub fn take(&mut self, line: usize) -> Result<(), Diagnostic> {
        let at = self.row_at(line)?;
        self.lines.remove(at);
        Ok(())
    }

    /// The changed text.
    pub fn text(&self) -> String {
        self.lines.concat()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(date: &str, weight: &str) -> Cells {
        Cells {
            date: date.into(),
            weight: weight.into(),
            ..Cells::default()
        }
    }

    const KEPT: &str = "\u{feff}# mine\r\nDatum;x\r\n";

    #[test]
    fn own_columns_and_comments_stay() {
        let text =
            "# mine\r\ndate;mood;weight_kg\r\n2026-03-01;\"so; so\";68.3\r\n# a gap\r\n2026-03-04;good;68.4";
        let mut book = Book::read(text).unwrap();
        assert_eq!(book.add(&cells("2026-03-02", "68,5 kg")).unwrap(), 4);
        book.correct(6, &cells("2026-03-04", "150 lb")).unwrap();
        assert_eq!(
            book.text(),
            "# mine\r\ndate;mood;weight_kg\r\n2026-03-01;\"so; so\";68.3\r\n2026-03-02;;68,5\r\n# a gap\r\n2026-03-04;good;150 lb\r\n"
        );
        book.take(4).unwrap();
        book.correct(5, &cells("2026-03-04", "68.4")).unwrap();
        assert_eq!(book.text(), format!("{text}\r\n"));
        assert!(book.take(4).is_err() && book.take(2).is_err() && book.take(99).is_err());
    }

    #[test]
    fn a_log_begins_with_a_heading_in_the_unit_typed() {
        let mut book = Book::read("").unwrap();
        book.add(&cells("2026-03-01", "150 lb")).unwrap();
        book.add(&cells("2026-02-28", "151.5 lb")).unwrap();
        assert_eq!(
            book.text(),
            "date,weight_lb,intake_kcal,adherence\n2026-02-28,151.5,,\n2026-03-01,150,,\n"
        );
    }

    #[test]
    fn a_column_is_made_where_it_is_needed() {
        let mut book = Book::read("date,weight\n2026-03-01,61.2 kg\n").unwrap();
        let typed = Cells {
            adherence: "yes".into(),
            ..cells("2026-03-02", "61.3 kg")
        };
        book.add(&typed).unwrap();
        assert_eq!(
            book.text(),
            "date,weight,adherence\n2026-03-01,61.2 kg\n2026-03-02,61.3 kg,yes\n"
        );
        let mut bare = Book::read("2026-03-01,61.2,2300\n").unwrap();
        assert!(bare.add(&typed).is_err(), "no heading to add a column to");
        assert_eq!(bare.rows()[0].cells.intake, "2300");
    }

    #[test]
    fn what_is_no_log_is_refused() {
        assert!(Book::read(KEPT).is_err());
        assert!(Book::read("date,weight\n2026-03-01,\"61\n").is_err());
        assert_eq!(Book::read("# only a note\n").unwrap().rows(), []);
    }
}
