//! `foods find`, `foods show` and `foods check`: draws what [`crate::foods`] knows.

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use clap::{Subcommand, ValueEnum};
use serde_json::{Value, json};

use crate::diagnostic::{Diagnostic, Severity, suggestion};
use crate::foods::{
    Content, Food, FoodId, FoodTable, NoteSubject, Reading, ascii, atwater, fdc, search, user,
};
use crate::nutrient::Nutrient;

/// Columns that text output keeps to.
const WIDTH: usize = 80;

/// What to do with foods.
#[derive(Debug, Subcommand)]
pub enum FoodsCommand {
    /// Find foods by words, best first
    Find {
        /// Words of the name, in any order: yogurt low fat
        #[arg(required = true)]
        words: Vec<String>,
        /// Most foods to list
        #[arg(long, short, default_value_t = 10)]
        limit: usize,
        /// Form of the output
        #[arg(long, value_enum, default_value_t = ListFormat::Text)]
        format: ListFormat,
        /// CSV files of your own foods to search as well
        #[arg(long = "foods", value_name = "FILE")]
        own: Vec<PathBuf>,
    },
    /// Show everything known about a food, with sources
    Show {
        /// Id of the food: sr28:20045
        id: String,
        /// Form of the output
        #[arg(long, value_enum, default_value_t = ShowFormat::Text)]
        format: ShowFormat,
        /// CSV files of your own foods to look in as well
        #[arg(long = "foods", value_name = "FILE")]
        own: Vec<PathBuf>,
    },
    /// Report every problem of a list of foods
    Check {
        /// A CSV of your own, `-` for standard input, or the folder of an unpacked USDA ASCII release or
        /// FoodData Central CSV download
        file: PathBuf,
    },
}

/// Forms of a list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ListFormat {
    /// For people
    Text,
    /// For programs
    Json,
    /// For spreadsheets
    Csv,
}

/// Forms of one food.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ShowFormat {
    /// For people
    Text,
    /// For programs
    Json,
}

/// Runs a command: the result on `out`, the rest on `err`. Returns 0, or 2 for bad input.
pub fn run(command: FoodsCommand, out: &mut dyn Write, err: &mut dyn Write) -> io::Result<u8> {
    match command {
        FoodsCommand::Find {
            words,
            limit,
            format,
            own,
        } => {
            let Some(table) = table_with(&own, err)? else {
                return Ok(2);
            };
            find(&table, &words.join(" "), limit, format, out, err)
        }
        FoodsCommand::Show { id, format, own } => {
            let Some(table) = table_with(&own, err)? else {
                return Ok(2);
            };
            show(&table, &id, format, out, err)
        }
        FoodsCommand::Check { file } => check(&file, out, err),
    }
}

/// The bundled table with the user's own foods over it; `None`, all problems printed, when one of the
/// files has an error.
pub fn table_with(own: &[PathBuf], err: &mut dyn Write) -> io::Result<Option<FoodTable>> {
    let mut table = FoodTable::bundled();
    let mut good = true;
    for path in own {
        match read(path) {
            Ok((mut reading, _)) => {
                reading
                    .problems
                    .extend(user::replacing_nothing(&reading.foods, &table));
                good &= !crate::diagnostic::any_error(&reading.problems);
                print_problems(path, &reading.problems, err)?;
                table.add(reading.foods);
            }
            Err(message) => {
                good = false;
                writeln!(err, "error: {message}")?;
            }
        }
    }
    Ok(good.then_some(table))
}

fn find(
    table: &FoodTable,
    words: &str,
    limit: usize,
    format: ListFormat,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> io::Result<u8> {
    let hits = search::find(table, words, limit);
    let foods: Vec<Food> = hits.iter().filter_map(|h| table.food(&h.id)).collect();
    let figure = |food: &Food, n: Nutrient| match food.content(n) {
        Content::Known(v) => json!(v),
        _ => Value::Null,
    };
    match format {
        ListFormat::Text => {
            if foods.is_empty() {
                writeln!(
                    err,
                    "No food has words like `{words}`. Try fewer or plainer words."
                )?;
                return Ok(0);
            }
            writeln!(out, "{:<12}{:>5}  {:>9}  name (group)", "id", "kcal", "protein g")?;
            for food in &foods {
                let lead = format!(
                    "{:<12}{:>5}  {:>9}  ",
                    food.id.as_str(),
                    plain(food.content(Nutrient::ENERGY), 0),
                    plain(food.content(Nutrient::PROTEIN), 1)
                );
                let name = if food.group.is_empty() {
                    food.name.clone()
                } else {
                    format!("{} ({})", food.name, food.group)
                };
                write_wrapped(out, &lead, &name)?;
            }
            writeln!(
                out,
                "Per 100 g edible portion; `?` is not known. `foods show ID` tells all."
            )?;
        }
        ListFormat::Json => {
            let list: Vec<Value> = foods
                .iter()
                .map(|f| {
                    json!({
                        "id": f.id.as_str(), "name": f.name, "group": f.group,
                        "energy": figure(f, Nutrient::ENERGY), "protein": figure(f, Nutrient::PROTEIN),
                    })
                })
                .collect();
            writeln!(out, "{:#}", json!({ "schema": 1, "words": words, "foods": list }))?;
        }
        ListFormat::Csv => {
            let mut csv = csv::Writer::from_writer(out);
            csv.write_record(["id", "name", "group", "energy_kcal", "protein_g"])?;
            for food in &foods {
                let text = |n| match figure(food, n) {
                    Value::Null => String::new(),
                    v => v.to_string(),
                };
                let (energy, protein) = (text(Nutrient::ENERGY), text(Nutrient::PROTEIN));
                csv.write_record([food.id.as_str(), &food.name, &food.group, &energy, &protein])?;
            }
            csv.flush()?;
        }
    }
    Ok(0)
}

fn show(
    table: &FoodTable,
    id: &str,
    format: ShowFormat,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> io::Result<u8> {
    let Some(food) = table.food(&FoodId::new(id)).or_else(|| {
        // The number alone, as the USDA tables print it, is the bundled table's.
        let number = id.parse().ok().filter(|n: &u32| *n < 100_000)?;
        table.food(&FoodId::sr28(number))
    }) else {
        write!(err, "error: there is no food `{id}`")?;
        let ids: Vec<FoodId> = table.ids().collect();
        match suggestion(id, ids.iter().map(FoodId::as_str)).filter(|_| id.contains(':')) {
            Some(near) => writeln!(err, "; `{near}` comes nearest")?,
            None => writeln!(err, "; look it up with `foods find WORDS`")?,
        }
        return Ok(2);
    };
    match format {
        ShowFormat::Text => show_text(&food, out)?,
        ShowFormat::Json => writeln!(out, "{:#}", food_json(&food))?,
    }
    Ok(0)
}

fn show_text(food: &Food, out: &mut dyn Write) -> io::Result<()> {
    write_wrapped(out, "", &food.name)?;
    let refuse = food.refuse_percent.map(|percent| match food.refuse.as_str() {
        "" => format!("{percent} % of the bought mass"),
        what => format!("{percent} % of the bought mass: {what}"),
    });
    let f = &food.factors;
    let factors: Vec<String> = [
        ("g protein per g nitrogen", f.nitrogen),
        ("kcal per g protein", f.protein),
        ("kcal per g fat", f.fat),
        ("kcal per g carbohydrate", f.carbohydrate),
    ]
    .into_iter()
    .filter_map(|(what, factor)| Some(format!("{} {what}", factor?)))
    .collect();
    for (what, text) in [
        ("id", food.id.as_str()),
        ("group", &food.group),
        ("also", &food.common_names),
        ("scientific", &food.scientific_name),
        ("maker", &food.manufacturer),
        ("refuse", refuse.as_deref().unwrap_or("not known")),
        ("factors", &factors.join("; ")),
        ("source", &food.source),
    ] {
        if !text.is_empty() {
            write_wrapped(out, &format!("{what:<12}"), text)?;
        }
    }
    if let Some(found) = atwater::check(food) {
        let text = format!(
            "{:.0} kcal stated, {:.0} to {:.0} kcal from protein, fat, carbohydrate and alcohol{}",
            found.stated_kcal,
            found.least_kcal,
            found.most_kcal,
            if found.agrees() { "" } else { ": they disagree" }
        );
        write_wrapped(out, &format!("{:<12}", "energy"), &text)?;
    }
    if !food.portions.is_empty() {
        writeln!(out, "\nHousehold measures")?;
        for portion in &food.portions {
            write_wrapped(
                out,
                &format!("{:>9} g  ", portion.grams),
                &format!("{} {}", portion.amount, portion.measure),
            )?;
        }
    }
    writeln!(out, "\nIn 100 g edible portion (n: number of data points)")?;
    for (nutrient, content) in food.known() {
        let detail = food.value_detail(nutrient);
        let points = detail
            .map(|d| d.data_points)
            .filter(|n| *n > 0)
            .map_or(String::new(), |n| format!("n={n}"));
        let origin = detail.map_or_else(String::new, |d| {
            let p = d.provenance;
            let code = p.derivation.as_ref().or(p.source.as_ref());
            code.map_or_else(String::new, |c| {
                if c.meaning.is_empty() {
                    c.code.to_string()
                } else {
                    c.meaning.to_string()
                }
            })
        });
        let amount = match content {
            Content::Known(v) => v.to_string(),
            _ => "trace".to_owned(),
        };
        let lead = format!(
            "{:<26} {amount:>8} {:<4} {points:>6}  ",
            nutrient.name(),
            nutrient.unit().label()
        );
        write_wrapped(out, &lead, &origin)?;
    }
    let unknown: Vec<&str> = Nutrient::all()
        .filter(|n| !food.content(*n).is_known())
        .map(Nutrient::name)
        .collect();
    if !unknown.is_empty() {
        writeln!(out)?;
        write_wrapped(out, "Not known: ", &unknown.join(", "))?;
    }
    if !food.footnotes.is_empty() {
        writeln!(out, "\nFootnotes")?;
        for note in &food.footnotes {
            let about = match note.subject {
                NoteSubject::Description | NoteSubject::Value(None) => String::new(),
                NoteSubject::Measure => "measures: ".to_owned(),
                NoteSubject::Value(Some(nutrient)) => format!("{nutrient}: "),
            };
            write_wrapped(out, "- ", &format!("{about}{}", note.text))?;
        }
    }
    Ok(())
}

fn food_json(food: &Food) -> Value {
    let nutrients: Vec<Value> = food
        .known()
        .map(|(nutrient, content)| {
            let detail = food.value_detail(nutrient);
            let code =
                |c: Option<&crate::foods::Code>| c.map(|c| json!({ "code": c.code, "meaning": c.meaning }));
            json!({
                "nutrient": nutrient.id(),
                "unit": nutrient.unit().symbol(),
                "value": if let Content::Known(v) = content { json!(v) } else { Value::Null },
                "trace": content == Content::Trace,
                "data_points": detail.map(|d| d.data_points),
                "derivation": detail.and_then(|d| code(d.provenance.derivation.as_ref())),
                "source": detail.and_then(|d| code(d.provenance.source.as_ref())),
            })
        })
        .collect();
    json!({
        "schema": 1,
        "id": food.id.as_str(),
        "name": food.name,
        "group": food.group,
        "common_names": food.common_names,
        "scientific_name": food.scientific_name,
        "manufacturer": food.manufacturer,
        "refuse_percent": food.refuse_percent,
        "refuse": food.refuse,
        "factors": {
            "nitrogen": food.factors.nitrogen,
            "protein_kcal_per_g": food.factors.protein,
            "fat_kcal_per_g": food.factors.fat,
            "carbohydrate_kcal_per_g": food.factors.carbohydrate,
        },
        "portions": food.portions.iter()
            .map(|p| json!({ "amount": p.amount, "measure": p.measure, "grams": p.grams }))
            .collect::<Vec<_>>(),
        "per_100_g": nutrients,
        "unknown": Nutrient::all().filter(|n| !food.content(*n).is_known()).map(Nutrient::id).collect::<Vec<_>>(),
        "footnotes": food.footnotes.iter().map(|n| &n.text).collect::<Vec<_>>(),
        "source": food.source,
    })
}

fn check(path: &Path, out: &mut dyn Write, err: &mut dyn Write) -> io::Result<u8> {
    let (reading, kind) = match read(path) {
        Ok(read) => read,
        Err(message) => {
            writeln!(err, "error: {message}")?;
            return Ok(2);
        }
    };
    let mut problems = reading.problems;
    if kind == Kind::UserCsv {
        problems.extend(user::replacing_nothing(&reading.foods, &FoodTable::bundled()));
    } else {
        // The CSV reader has looked at the energy of its rows already.
        let odd = reading
            .foods
            .iter()
            .filter(|f| atwater::warning(f).is_some())
            .count();
        if odd > 0 {
            let message = format!("{odd} foods state an energy that their macronutrients do not make");
            problems.push(Diagnostic::note("foods-energy-mismatch", message));
        }
    }
    print_problems(path, &problems, err)?;
    let count = |severity| problems.iter().filter(|p| p.severity == severity).count();
    writeln!(
        out,
        "{}: {}, {} foods read, {} errors, {} warnings",
        path.display(),
        kind.words(),
        reading.foods.len(),
        count(Severity::Error),
        count(Severity::Warning)
    )?;
    Ok(if crate::diagnostic::any_error(&problems) {
        2
    } else {
        0
    })
}

fn print_problems(path: &Path, problems: &[Diagnostic], err: &mut dyn Write) -> io::Result<()> {
    for problem in problems {
        let severity = match problem.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
            Severity::Note => "note",
        };
        writeln!(
            err,
            "{severity}[{}]: {}: {}",
            problem.code,
            path.display(),
            problem.message
        )?;
        if let Some(help) = &problem.help {
            writeln!(err, "  help: {help}")?;
        }
    }
    Ok(())
}

/// What a path holds.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    UserCsv,
    Ascii,
    Fdc,
}

impl Kind {
    fn words(self) -> &'static str {
        match self {
            Kind::UserCsv => "a list of foods",
            Kind::Ascii => "a USDA ASCII release",
            Kind::Fdc => "a FoodData Central download",
        }
    }
}

/// Reads whatever a path holds; a message when it cannot be opened or is neither of the three.
fn read(path: &Path) -> Result<(Reading, Kind), String> {
    let name = path.display();
    if path == Path::new("-") {
        return Ok((user::read(io::stdin().lock()), Kind::UserCsv));
    }
    let open = |path: &Path| File::open(path).map_err(|e| format!("{}: {e}", path.display()));
    if !path.is_dir() {
        return Ok((user::read(open(path)?), Kind::UserCsv));
    }
    let mut files: Vec<PathBuf> = Vec::new();
    for entry in std::fs::read_dir(path).map_err(|e| format!("{name}: {e}"))? {
        files.push(entry.map_err(|e| format!("{name}: {e}"))?.path());
    }
    files.sort();
    let named = |wanted: &dyn Fn(&str) -> bool| {
        files
            .iter()
            .find(|f| f.file_name().and_then(|n| n.to_str()).is_some_and(wanted))
    };
    let boxed = |path: &PathBuf| -> Result<Box<dyn Read>, String> { Ok(Box::new(open(path)?)) };
    let optional = |path: Option<&PathBuf>| path.map(boxed).transpose();
    let needed = |path: Option<&PathBuf>, what: &str| match path {
        Some(path) => boxed(path),
        None => Err(format!(
            "{name}: there is no file {what}; unpack the whole download"
        )),
    };

    let text = |file: &'static str| named(&move |n| ascii::file_of(n) == Some(file));
    if ["FOOD_DES", "NUT_DATA", "NUTR_DEF"]
        .into_iter()
        .any(|f| text(f).is_some())
    {
        let release = ascii::Release {
            food_des: needed(text("FOOD_DES"), "FOOD_DES.txt")?,
            nutr_def: needed(text("NUTR_DEF"), "NUTR_DEF.txt")?,
            nut_data: needed(text("NUT_DATA"), "NUT_DATA.txt")?,
            fd_group: optional(text("FD_GROUP"))?,
            weight: optional(text("WEIGHT"))?,
            footnote: optional(text("FOOTNOTE"))?,
            deriv_cd: optional(text("DERIV_CD"))?,
            src_cd: optional(text("SRC_CD"))?,
        };
        return Ok((
            ascii::read(release, "usda", "a USDA ASCII release given by the user"),
            Kind::Ascii,
        ));
    }
    let table = |file: &'static str| named(&move |n| n.eq_ignore_ascii_case(file));
    if ["food.csv", "food_nutrient.csv", "nutrient.csv"]
        .into_iter()
        .any(|f| table(f).is_some())
    {
        let download = fdc::Download {
            food: needed(table("food.csv"), "food.csv")?,
            nutrient: needed(table("nutrient.csv"), "nutrient.csv")?,
            food_nutrient: needed(table("food_nutrient.csv"), "food_nutrient.csv")?,
            foundation_food: optional(table("foundation_food.csv"))?,
            food_category: optional(table("food_category.csv"))?,
            food_portion: optional(table("food_portion.csv"))?,
            measure_unit: optional(table("measure_unit.csv"))?,
            food_nutrient_derivation: optional(table("food_nutrient_derivation.csv"))?,
        };
        let source = "US Department of Agriculture, FoodData Central, download given by the user";
        return Ok((fdc::read(download, source), Kind::Fdc));
    }
    Err(format!(
        "{name}: holds neither a USDA ASCII release (FOOD_DES.txt...) nor a FoodData Central download (food.csv...)"
    ))
}

/// A content with so many decimals; `?` when unknown, `tr` for a trace.
fn plain(content: Content, decimals: usize) -> String {
    match content {
        Content::Known(v) => format!("{v:.decimals$}"),
        Content::Trace => "tr".to_owned(),
        Content::Unknown => "?".to_owned(),
    }
}

/// Writes text after a lead, broken between words so that lines keep to [`WIDTH`] and start below it.
fn write_wrapped(out: &mut dyn Write, lead: &str, text: &str) -> io::Result<()> {
    use unicode_width::UnicodeWidthStr;
    let indent = lead.width().min(WIDTH / 2);
    let mut line = lead.to_owned();
    let mut empty = true;
    for word in text.split_whitespace() {
        if !empty && line.width() + 1 + word.width() > WIDTH {
            writeln!(out, "{}", line.trim_end())?;
            line = " ".repeat(indent);
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    writeln!(out, "{}", line.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn output(command: FoodsCommand) -> (u8, String, String) {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let code = run(command, &mut out, &mut err).unwrap();
        (
            code,
            String::from_utf8(out).unwrap(),
            String::from_utf8(err).unwrap(),
        )
    }

    fn find_in(words: &str, format: ListFormat) -> (u8, String, String) {
        let words = words.split(' ').map(str::to_owned).collect();
        output(FoodsCommand::Find {
            words,
            limit: 5,
            format,
            own: vec![],
        })
    }

    #[test]
    fn lists_fit_the_terminal() {
        for words in ["chick pea", "milk", "pork", "cereal"] {
            let (code, out, _) = find_in(words, ListFormat::Text);
            assert_eq!(code, 0);
            assert!(out.lines().all(|l| l.chars().count() <= WIDTH), "{out}");
        }
    }

    #[test]
    fn every_food_shown_fits_the_terminal() {
        for id in ["sr28:20045", "sr28:09520", "13361", "sr28:08121"] {
            let (code, out, _) = output(FoodsCommand::Show {
                id: id.into(),
                format: ShowFormat::Text,
                own: vec![],
            });
            assert_eq!(code, 0);
            assert!(out.lines().all(|l| l.chars().count() <= WIDTH), "{out}");
        }
    }

    #[test]
    fn json_states_unknown_as_null() {
        let (_, out, _) = find_in("chapati", ListFormat::Json);
        let value: Value = serde_json::from_str(&out).unwrap();
        assert_eq!(value["foods"][0]["id"], "sr28:28306");
        let (_, out, _) = find_in("chapati", ListFormat::Csv);
        assert!(out.starts_with("id,name,group,energy_kcal,protein_g\n"));
    }

    #[test]
    fn an_unknown_id_is_bad_input() {
        let (code, out, err) = output(FoodsCommand::Show {
            id: "sr28:2004".into(),
            format: ShowFormat::Text,
            own: vec![],
        });
        assert_eq!((code, out.as_str()), (2, ""));
        assert!(err.contains("comes nearest"), "{err}");
    }

    #[test]
    fn a_file_is_checked_as_a_whole() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("foods.csv");
        std::fs::write(&path, "name,kcal\nA,x\nB,-1\nC,10\n").unwrap();
        let (code, out, err) = output(FoodsCommand::Check { file: path });
        assert_eq!(code, 2);
        assert!(out.contains("1 foods read, 2 errors"), "{out}");
        assert_eq!(err.matches("error[foods-cell]").count(), 2, "{err}");
        let (code, _, err) = output(FoodsCommand::Check {
            file: folder.path().join("absent.csv"),
        });
        assert_eq!(code, 2);
        assert!(err.contains("absent.csv"));
        assert_eq!(
            output(FoodsCommand::Check {
                file: folder.path().into()
            })
            .0,
            2
        );
    }
}
