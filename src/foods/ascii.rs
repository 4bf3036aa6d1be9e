//! Reads an original USDA ASCII release (Standard Reference): fields parted by `^`, text in `~`.
//!
//! Takes the files as readers, gives foods and every problem. Opens no file itself.
//! Format: USDA ARS, "USDA National Nutrient Database for Standard Reference, Release 28,
//! Documentation and User Guide", 2015, section "Relational Files". The files are ASCII but for a
//! few letters and quotation marks in Windows-1252, and both that and UTF-8 are understood.
//! Every value of a release is a number: it marks no trace. What is not there is unknown.

use std::collections::HashMap;
use std::io::Read;
use std::sync::Arc;

use super::text::{Lines, Problems, decode};
use super::{Code, Content, Food, FoodId, Footnote, NoteSubject, Portion, Provenance, Reading, convert};
use crate::diagnostic::Diagnostic;
use crate::nutrient::{Nutrient, Unit};

/// The files of a release. The three that nothing can be read without are not optional.
pub struct Release<'a> {
    /// `FOOD_DES.txt`, the descriptions.
    pub food_des: Box<dyn Read + 'a>,
    /// `NUTR_DEF.txt`, number, unit and name of each nutrient.
    pub nutr_def: Box<dyn Read + 'a>,
    /// `NUT_DATA.txt`, the values.
    pub nut_data: Box<dyn Read + 'a>,
    /// `FD_GROUP.txt`, names of the food groups.
    pub fd_group: Option<Box<dyn Read + 'a>>,
    /// `WEIGHT.txt`, household measures.
    pub weight: Option<Box<dyn Read + 'a>>,
    /// `FOOTNOTE.txt`, remarks.
    pub footnote: Option<Box<dyn Read + 'a>>,
    /// `DERIV_CD.txt`, meaning of the derivation codes.
    pub deriv_cd: Option<Box<dyn Read + 'a>>,
    /// `SRC_CD.txt`, meaning of the source codes.
    pub src_cd: Option<Box<dyn Read + 'a>>,
}

/// The foods of a release, with ids `PREFIX:NUMBER` (`sr28:01001`), and every problem of the files.
///
/// `source` is the citation printed with each food.
pub fn read(release: Release<'_>, prefix: &str, source: &str) -> Reading {
    let mut problems = Problems::default();
    let groups = codes(release.fd_group, "FD_GROUP", &mut problems);
    let derivations = codes(release.deriv_cd, "DERIV_CD", &mut problems);
    let sources = codes(release.src_cd, "SRC_CD", &mut problems);
    let nutrients = nutrients(release.nutr_def, &mut problems);

    let mut foods: Vec<Food> = Vec::new();
    let mut index: HashMap<String, usize> = HashMap::new();
    rows(release.food_des, "FOOD_DES", 14, &mut problems, |row| {
        let number = row.text(0).trim().to_owned();
        if number.is_empty() {
            return row.fault("NDB_No", "nothing", "the number of a food");
        }
        if row.text(2).is_empty() {
            return row.fault("Long_Desc", "nothing", "the description of the food");
        }
        let mut food = Food::new(
            FoodId::new(format!("{prefix}:{number}")),
            row.text(2),
            source.to_owned(),
        );
        food.group = groups
            .get(row.text(1))
            .cloned()
            .unwrap_or_else(|| row.text(1).to_owned());
        food.common_names = row.text(4).to_owned();
        food.manufacturer = row.text(5).to_owned();
        food.in_survey = row.text(6) == "Y";
        food.refuse = row.text(7).to_owned();
        food.refuse_percent = row.number(8, "Refuse", Some(100.0))?;
        food.scientific_name = row.text(9).to_owned();
        food.factors.nitrogen = row.number(10, "N_Factor", None)?;
        food.factors.protein = row.number(11, "Pro_Factor", None)?;
        food.factors.fat = row.number(12, "Fat_Factor", None)?;
        food.factors.carbohydrate = row.number(13, "CHO_Factor", None)?;
        if index.contains_key(&number) {
            return row.fault("NDB_No", &number, "each food once; this number came before");
        }
        index.insert(number, foods.len());
        foods.push(food);
        Ok(())
    });

    let mut provenances: Vec<Provenance> = Vec::new();
    let mut provenance_index: HashMap<(String, String), u16> = HashMap::new();
    rows(release.nut_data, "NUT_DATA", 7, &mut problems, |row| {
        let food = *index
            .get(row.text(0))
            .ok_or(())
            .or_else(|()| row.unknown_food())?;
        let Some(known) = nutrients.get(row.text(1)) else {
            return row.fault("Nutr_No", row.text(1), "a number that NUTR_DEF lists");
        };
        let value = row.number(2, "Nutr_Val", None)?;
        let points = row.number(3, "Num_Data_Pts", None)?.unwrap_or(0.0);
        let (Some((nutrient, unit)), Some(value)) = (known, value) else {
            return Ok(());
        };
        let Some(value) = convert(value, *unit, nutrient.unit()) else {
            return Ok(());
        };
        if foods[food].content(*nutrient).is_known() {
            return row.fault(
                "Nutr_No",
                row.text(1),
                "each nutrient of a food once; this one came before",
            );
        }
        let pair = (row.text(5).to_owned(), row.text(6).to_owned());
        let provenance = match provenance_index.get(&pair) {
            Some(&known) => known,
            None => {
                let code = |code: &str, names: &HashMap<String, String>| {
                    (!code.is_empty()).then(|| Code {
                        code: code.to_owned().into(),
                        meaning: names.get(code).cloned().unwrap_or_default().into(),
                    })
                };
                let Ok(next) = u16::try_from(provenances.len()) else {
                    return row.fault(
                        "Src_Cd",
                        row.text(5),
                        "at most 65,536 kinds of source and derivation",
                    );
                };
                provenances.push(Provenance {
                    source: code(&pair.0, &sources),
                    derivation: code(&pair.1, &derivations),
                });
                provenance_index.insert(pair, next);
                next
            }
        };
        foods[food].set(*nutrient, Content::Known(value));
        foods[food].detail(*nutrient, points as u32, provenance);
        Ok(())
    });

    if let Some(weight) = release.weight {
        rows(weight, "WEIGHT", 5, &mut problems, |row| {
            let food = *index
                .get(row.text(0))
                .ok_or(())
                .or_else(|()| row.unknown_food())?;
            let (amount, grams) = (row.number(2, "Amount", None)?, row.number(4, "Gm_Wgt", None)?);
            let Some(grams) = grams else {
                return row.fault("Gm_Wgt", "nothing", "grams");
            };
            let measure = row.text(3).to_owned();
            foods[food].portions.push(Portion {
                amount: amount.unwrap_or(1.0),
                measure,
                grams,
            });
            Ok(())
        });
    }
    if let Some(footnote) = release.footnote {
        rows(footnote, "FOOTNOTE", 5, &mut problems, |row| {
            let food = *index
                .get(row.text(0))
                .ok_or(())
                .or_else(|()| row.unknown_food())?;
            let subject = match row.text(2) {
                "M" => NoteSubject::Measure,
                "N" => NoteSubject::Value(row.text(3).parse().ok().and_then(Nutrient::from_number)),
                _ => NoteSubject::Description,
            };
            foods[food].footnotes.push(Footnote {
                subject,
                text: row.text(4).to_owned(),
            });
            Ok(())
        });
    }
    let provenances = Arc::new(provenances);
    for food in &mut foods {
        food.provenances = Arc::clone(&provenances);
    }
    Reading {
        foods,
        problems: problems.finish(),
    }
}

/// Unit text of a USDA file; `None` for units that no nutrient of ours has.
pub(super) fn unit(text: &str) -> Option<Unit> {
    Some(match text.trim().to_lowercase().as_str() {
        "g" => Unit::Gram,
        "mg" => Unit::Milligram,
        "ug" | "µg" | "μg" | "mcg" => Unit::Microgram,
        "kcal" => Unit::Kilocalorie,
        "kj" => Unit::Kilojoule,
        "iu" => Unit::InternationalUnit,
        _ => return None,
    })
}

/// Numbers of NUTR_DEF; `None` for a number that is in the file but not of our list.
type Numbers = HashMap<String, Option<(Nutrient, Unit)>>;

fn nutrients(file: Box<dyn Read + '_>, problems: &mut Problems) -> Numbers {
    let mut found = HashMap::new();
    rows(file, "NUTR_DEF", 6, problems, |row| {
        let Ok(number) = row.text(0).parse::<u16>() else {
            return row.fault("Nutr_No", row.text(0), "the number of a nutrient");
        };
        let known = match Nutrient::from_number(number) {
            None => None,
            Some(nutrient) => match unit(row.text(1)) {
                Some(unit) if convert(1.0, unit, nutrient.unit()).is_some() => Some((nutrient, unit)),
                _ => {
                    return row.fault(
                        "Units",
                        row.text(1),
                        &format!("{} or a like unit", nutrient.unit().symbol()),
                    );
                }
            },
        };
        found.insert(row.text(0).to_owned(), known);
        Ok(())
    });
    found
}

fn codes(
    file: Option<Box<dyn Read + '_>>,
    name: &'static str,
    problems: &mut Problems,
) -> HashMap<String, String> {
    let mut found = HashMap::new();
    if let Some(file) = file {
        rows(file, name, 2, problems, |row| {
            found.insert(row.text(0).to_owned(), row.text(1).to_owned());
            Ok(())
        });
    }
    found
}

/// One line taken apart, and where it stands.
struct Row<'a> {
    file: &'static str,
    line: usize,
    fields: &'a [String],
    problems: &'a mut Problems,
}

impl<'a> Row<'a> {
    /// The text of a field; empty when the line ends before it.
    fn text(&self, field: usize) -> &'a str {
        self.fields.get(field).map_or("", String::as_str)
    }

    /// The number in a field, `None` when it is blank; it must be finite, at least 0 and at most `most`.
    fn number(&mut self, field: usize, column: &str, most: Option<f64>) -> Result<Option<f64>, ()> {
        let text = self.text(field).trim();
        if text.is_empty() {
            return Ok(None);
        }
        match text.parse::<f64>() {
            Ok(v) if v.is_finite() && v >= 0.0 && most.is_none_or(|m| v <= m) => Ok(Some(v)),
            _ => {
                let expected = most.map_or("a number of 0 or more".to_owned(), |m| {
                    format!("a number from 0 to {m}")
                });
                self.fault(column, text, &expected).map(|()| None)
            }
        }
    }

    /// Reports that the food of this line is not described.
    fn unknown_food<T>(&mut self) -> Result<T, ()> {
        let number = self.text(0);
        match self.fault("NDB_No", number, "a food that FOOD_DES describes") {
            Ok(()) | Err(()) => Err(()),
        }
    }

    fn fault(&mut self, column: &str, read: &str, expected: &str) -> Result<(), ()> {
        let read: String = read.chars().take(60).collect();
        self.problems.push(
            Diagnostic::error(
                "foods-ascii-field",
                format!(
                    "{}, line {}, {column}: read `{read}`, expected {expected}",
                    self.file, self.line
                ),
            )
            .on_line(self.line)
            .help("the line was left out; compare it with the original release"),
        );
        Err(())
    }
}

fn rows(
    file: Box<dyn Read + '_>,
    name: &'static str,
    least: usize,
    problems: &mut Problems,
    mut each: impl FnMut(&mut Row<'_>) -> Result<(), ()>,
) {
    let mut lines = Lines::new(file);
    let mut fields: Vec<String> = Vec::new();
    let mut read_any = false;
    loop {
        let (line, bytes) = match lines.next() {
            Ok(Some(next)) => next,
            Ok(None) => break,
            Err(error) => {
                problems.push(
                    Diagnostic::error("foods-unreadable", format!("{name}: {error}"))
                        .help("is this the file of an ASCII release, unpacked?"),
                );
                return;
            }
        };
        if bytes.iter().all(u8::is_ascii_whitespace) {
            continue;
        }
        read_any = true;
        fields.clear();
        for field in bytes.split(|&b| b == b'^') {
            let field = field.strip_prefix(b"~").unwrap_or(field);
            fields.push(decode(field.strip_suffix(b"~").unwrap_or(field)));
        }
        if fields.len() < least {
            problems.push(
                Diagnostic::error(
                    "foods-ascii-fields",
                    format!(
                        "{name}, line {line}: read {} fields parted by `^`, expected {least} or more",
                        fields.len()
                    ),
                )
                .on_line(line)
                .help("the line was left out; is this the file of an ASCII release?"),
            );
            continue;
        }
        // A fault has been reported by the row itself; the next line is read all the same.
        let _ = each(&mut Row {
            file: name,
            line,
            fields: &fields,
            problems,
        });
    }
    if !read_any {
        problems
            .push(Diagnostic::error("foods-empty", format!("{name} is empty")).help("give the whole file"));
    }
}

/// The file of a release that a file name means: `nut_data.TXT` is `NUT_DATA`; `None` for another.
pub fn file_of(file_name: &str) -> Option<&'static str> {
    const FILES: [&str; 8] = [
        "FOOD_DES", "NUTR_DEF", "NUT_DATA", "FD_GROUP", "WEIGHT", "FOOTNOTE", "DERIV_CD", "SRC_CD",
    ];
    let stem = file_name
        .rsplit_once('.')
        .filter(|(_, end)| end.eq_ignore_ascii_case("txt"))?
        .0;
    FILES.into_iter().find(|f| f.eq_ignore_ascii_case(stem))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn small(values: &'static [u8]) -> Reading {
        let des = b"~00001~^~0100~^~Test food~^~T~^~other~^~~^~Y~^~Peel~^10^~~^^3.36^8.37^3.60\r\n";
        let def = b"~203~^~g~^~PROCNT~^~Protein~^~2~^~600~\r\n~320~^~\xb5g~^~VITA~^~Vit A~^~0~^~7420~\r\n";
        read(
            Release {
                food_des: Box::new(&des[..]),
                nutr_def: Box::new(&def[..]),
                nut_data: Box::new(values),
                fd_group: None,
                weight: None,
                footnote: None,
                deriv_cd: None,
                src_cd: None,
            },
            "t",
            "test",
        )
    }

    #[test]
    fn latin_1_units_and_zero_are_read() {
        let reading = small(b"~00001~^~203~^1.50^3^^~1~^~A~\r\n~00001~^~320~^0^0^^~7~^~Z~\r\n");
        assert_eq!(reading.problems, vec![]);
        let food = &reading.foods[0];
        assert_eq!(food.content(Nutrient::PROTEIN), Content::Known(1.5));
        assert_eq!(food.content(Nutrient::VITAMIN_A), Content::Known(0.0));
        assert_eq!(food.content(Nutrient::FAT), Content::Unknown);
        assert_eq!(
            food.value_detail(Nutrient::PROTEIN).map(|d| d.data_points),
            Some(3)
        );
        assert_eq!(food.refuse_percent, Some(10.0));
    }

    #[test]
    fn every_bad_line_is_reported_and_the_rest_is_read() {
        let reading = small(
            b"~00001~^~203~^x^3^^~1~^~A~\n~00009~^~203~^1^3^^~1~^~A~\n~00001~^~999~^1^3^^~1~^~A~\n~1~\n~00001~^~320~^-1^^^^\n~00001~^~203~^2^3^^~1~^~A~\n",
        );
        let lines: Vec<_> = reading.problems.iter().map(|p| p.line).collect();
        assert_eq!(lines, [Some(1), Some(2), Some(3), Some(4), Some(5)]);
        assert_eq!(reading.foods[0].content(Nutrient::PROTEIN), Content::Known(2.0));
    }

    #[test]
    fn a_food_that_stands_twice_is_reported_and_its_values_are_those_of_the_first() {
        let des = b"~1~^~~^~One~^^^^^^^^^^^\n~1~^~~^~Again~^^^^^^^^^^^\n";
        let reading = read(
            Release {
                food_des: Box::new(&des[..]),
                nutr_def: Box::new(&b"~203~^~g~^~PROCNT~^~Protein~^~2~^~600~\n"[..]),
                nut_data: Box::new(&b"~1~^~203~^1.5^3^^~1~^~A~\n"[..]),
                fd_group: None,
                weight: None,
                footnote: None,
                deriv_cd: None,
                src_cd: None,
            },
            "t",
            "test",
        );
        assert_eq!(reading.problems.len(), 1, "{:?}", reading.problems);
        assert_eq!(reading.foods.len(), 1);
        assert_eq!(reading.foods[0].name, "One");
        assert_eq!(reading.foods[0].content(Nutrient::PROTEIN), Content::Known(1.5));
    }

    #[test]
    fn file_names_are_recognised() {
        assert_eq!(file_of("nut_data.TXT"), Some("NUT_DATA"));
        assert_eq!(file_of("readme.txt"), None);
    }
}
