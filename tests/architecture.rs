//! Holds the house together: which room may name which, what the core must not touch, which
//! sources each data file has, and that the page of mathematics tells every row of the model.
//!
//! Reads the source files as text. A message names file and line.

use std::fs;
use std::path::{Path, PathBuf};

/// Every room with the rooms that it may name. A room names only rooms above it, so no arrow goes
/// back; [`no_arrow_goes_back`] holds the order of this list itself.
const ROOMS: &[(&str, &[&str])] = &[
    // Words that everything shares; they know nothing of each other.
    ("units", &[]),
    ("nutrient", &[]),
    ("money", &[]),
    ("diagnostic", &[]),
    // Who, how much, what for.
    ("person", &["units"]),
    ("brief", &["units", "nutrient", "money", "diagnostic", "person"]),
    ("energy", &["units", "diagnostic", "person", "brief"]),
    (
        "targets",
        &["units", "nutrient", "diagnostic", "person", "brief", "energy"],
    ),
    ("household", &["diagnostic", "brief", "energy", "targets"]),
    // Months instead of a day.
    (
        "forecast",
        &[
            "units",
            "nutrient",
            "diagnostic",
            "person",
            "brief",
            "energy",
            "targets",
        ],
    ),
    ("appraise", &["units", "diagnostic", "person", "brief", "energy"]),
    ("review", &["units", "diagnostic", "brief", "energy", "targets"]),
    // What there is to eat.
    ("foods", &["units", "nutrient", "diagnostic"]),
    ("kitchen", &["units", "nutrient", "diagnostic", "foods"]),
    ("prices", &["units", "money", "diagnostic", "kitchen"]),
    // What must hold, and the answer.
    (
        "model",
        &[
            "units",
            "nutrient",
            "money",
            "diagnostic",
            "brief",
            "targets",
            "foods",
            "kitchen",
            "prices",
        ],
    ),
    ("solve", &["model"]),
    (
        "plan",
        &[
            "units",
            "nutrient",
            "money",
            "diagnostic",
            "person",
            "brief",
            "energy",
            "targets",
            "household",
            "foods",
            "kitchen",
            "prices",
            "model",
            "solve",
        ],
    ),
    (
        "swap",
        &[
            "units",
            "nutrient",
            "money",
            "diagnostic",
            "person",
            "brief",
            "energy",
            "targets",
            "foods",
            "kitchen",
            "prices",
            "model",
            "solve",
            "plan",
        ],
    ),
    (
        "why",
        &[
            "units",
            "nutrient",
            "diagnostic",
            "brief",
            "energy",
            "targets",
            "foods",
            "model",
            "solve",
            "plan",
        ],
    ),
    // The data loaded once, and a brief made ready for any answer.
    (
        "ready",
        &[
            "diagnostic",
            "brief",
            "energy",
            "targets",
            "household",
            "foods",
            "kitchen",
            "prices",
            "model",
            "plan",
            "why",
        ],
    ),
    (
        "report",
        &[
            "units",
            "nutrient",
            "money",
            "diagnostic",
            "person",
            "brief",
            "energy",
            "targets",
            "foods",
            "kitchen",
            "prices",
            "plan",
            "swap",
            "forecast",
            "appraise",
            "review",
            "why",
        ],
    ),
    // Many briefs at once.
    ("roster", &["diagnostic", "plan", "ready", "report"]),
];

/// Rooms at the edge: they may name every other, and nothing of the core names them.
const EDGE: &[&str] = &["cli", "page"];

/// What the core must not touch, and why.
const FORBIDDEN: &[(&str, &str)] = &[
    (
        "std::fs",
        "files belong to the command line; take `impl Read` or `&str`",
    ),
    (
        "fs::",
        "files belong to the command line; take `impl Read` or `&str`",
    ),
    (
        "File::open",
        "files belong to the command line; take `impl Read` or `&str`",
    ),
    ("std::env", "the environment belongs to the command line"),
    ("env::var", "the environment belongs to the command line"),
    (
        "std::process",
        "exit codes and processes belong to the command line",
    ),
    ("std::net", "the core opens no connection"),
    (
        "println!",
        "the core prints nothing; return a String or take `impl Write`",
    ),
    (
        "print!",
        "the core prints nothing; return a String or take `impl Write`",
    ),
    ("dbg!", "the core prints nothing"),
    (
        "stdout()",
        "the core prints nothing; return a String or take `impl Write`",
    ),
    (
        "stderr()",
        "the core prints nothing; return a String or take `impl Write`",
    ),
    ("stdin()", "the core reads no terminal; take `impl Read`"),
    ("SystemTime", "no clock: dates come in as arguments"),
    ("Instant", "no clock: effort is counted in moves"),
];

/// Names that one file alone may hold.
const ONLY_IN: &[(&str, &str)] = &[
    ("good_lp", "src/solve/engine.rs"),
    ("microlp", "src/solve/engine.rs"),
    ("fastrand", "src/solve/search.rs"),
    ("toml_edit", "src/brief/edit.rs"),
    ("sr28.bin", "src/foods/table.rs"),
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// All files below a folder of the repository, in order.
fn files(folder: &str) -> Vec<PathBuf> {
    let mut out = Vec::new();
    let mut open = vec![root().join(folder)];
    while let Some(folder) = open.pop() {
        let Ok(entries) = fs::read_dir(&folder) else {
            continue;
        };
        for entry in entries {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path)
            } else {
                out.push(path)
            }
        }
    }
    out.sort();
    out
}

fn has_ending(path: &Path, endings: &[&str]) -> bool {
    path.extension()
        .and_then(|e| e.to_str())
        .is_some_and(|e| endings.contains(&e))
}

/// A path as it stands in the repository, with forward slashes.
fn shown(path: &Path) -> String {
    let parts = path.strip_prefix(root()).unwrap().components();
    parts
        .map(|c| c.as_os_str().to_string_lossy())
        .collect::<Vec<_>>()
        .join("/")
}

struct File {
    path: String,
    room: String,
    /// Code without comments and without the test module at the end; lines keep their places.
    code: String,
}

impl File {
    fn line(&self, at: usize) -> usize {
        self.code[..at].matches('\n').count() + 1
    }
    fn in_core(&self) -> bool {
        self.room != "main" && !EDGE.contains(&self.room.as_str())
    }
}

fn sources() -> Vec<File> {
    let files: Vec<File> = files("src")
        .into_iter()
        .filter(|p| has_ending(p, &["rs"]))
        .map(|p| {
            let path = shown(&p);
            let inside = path.strip_prefix("src/").unwrap();
            let room = inside.split(['/', '.']).next().unwrap().to_string();
            File {
                code: code(&fs::read_to_string(&p).unwrap()),
                path,
                room,
            }
        })
        .collect();
    assert!(files.len() > 20, "found only {} source files", files.len());
    files
}

/// Blanks out comments and everything from the test module on.
fn code(text: &str) -> String {
    let mut out = String::new();
    let mut lines = text.lines().peekable();
    while let Some(line) = lines.next() {
        let next = lines.peek().map_or("", |l| l.trim_start());
        if line.trim() == "#[cfg(test)]" && next.starts_with("mod ") && next.ends_with('{') {
            break;
        }
        let bare = line.trim_start();
        if !bare.starts_with("//") {
            out.push_str(line.split(" // ").next().unwrap_or(""));
        }
        out.push('\n');
    }
    out
}

fn is_word(c: char) -> bool {
    c.is_ascii_alphanumeric() || c == '_'
}

/// Every place where `needle` stands and is not the end of a longer word.
fn places(code: &str, needle: &str) -> Vec<usize> {
    let whole = |at: &usize| !code[..*at].chars().next_back().is_some_and(is_word);
    code.match_indices(needle)
        .map(|(at, _)| at)
        .filter(whole)
        .collect()
}

fn first_word(text: &str) -> &str {
    let text = text.trim_start();
    &text[..text.find(|c| !is_word(c)).unwrap_or(text.len())]
}

/// The first word of each name after `crate::`, also of `crate::{a::B, c}`, with its place.
fn named(code: &str, start: &str) -> Vec<(usize, String)> {
    let mut out = Vec::new();
    for at in places(code, start) {
        let rest = &code[at + start.len()..];
        if let Some(group) = rest.strip_prefix('{') {
            let (mut depth, mut from) = (0, 0);
            for (n, c) in group.char_indices() {
                match c {
                    '{' => depth += 1,
                    '}' if depth > 0 => depth -= 1,
                    ',' | '}' if depth == 0 => {
                        out.push((at, first_word(&group[from..n]).to_string()));
                        from = n + 1;
                        if c == '}' {
                            break;
                        }
                    }
                    _ => {}
                }
            }
        } else {
            out.push((at, first_word(rest).to_string()));
        }
    }
    out
}

fn fail_on(faults: Vec<String>) {
    assert!(
        faults.is_empty(),
        "{} faults:\n{}",
        faults.len(),
        faults.join("\n")
    );
}

fn rooms_of(name: &str) -> Option<&'static [&'static str]> {
    ROOMS.iter().find(|r| r.0 == name).map(|r| r.1)
}

#[test]
fn no_arrow_goes_back() {
    let place = |room: &str| ROOMS.iter().position(|r| r.0 == room);
    for (n, (room, may)) in ROOMS.iter().enumerate() {
        for other in *may {
            assert!(
                place(other).is_some_and(|p| p < n),
                "`{room}` may name `{other}`, which does not stand above it"
            );
        }
    }
}

#[test]
fn rooms_name_only_what_they_may() {
    let mut faults = Vec::new();
    for file in sources() {
        if !file.in_core() || file.room == "lib" {
            continue;
        }
        let Some(may) = rooms_of(&file.room) else {
            faults.push(format!(
                "{}: `{}` is a new room; add it to ROOMS with what it may name",
                file.path, file.room
            ));
            continue;
        };
        // From a room's own file `super` is the whole crate, from a file inside it `super::super`.
        let up = if file.path.matches('/').count() == 1 {
            "super::"
        } else {
            "super::super::"
        };
        for (at, other) in named(&file.code, "crate::")
            .into_iter()
            .chain(named(&file.code, up))
        {
            let is_room = rooms_of(&other).is_some() || EDGE.contains(&other.as_str());
            if is_room && other != file.room && !may.contains(&other.as_str()) {
                faults.push(format!(
                    "{}:{}: `{}` must not know `{other}`",
                    file.path,
                    file.line(at),
                    file.room
                ));
            }
        }
    }
    fail_on(faults);
}

#[test]
fn solving_sees_the_plain_model_only() {
    let mut faults = Vec::new();
    for file in sources().iter().filter(|f| f.room == "solve") {
        for (at, part) in named(&file.code, "crate::model::") {
            if part == "build" {
                faults.push(format!(
                    "{}:{}: `model::build` knows food, `solve` must not",
                    file.path,
                    file.line(at)
                ));
            }
        }
        for word in [
            "Nutrient",
            "FoodId",
            "FoodTable",
            "Item",
            "Catalogue",
            "kcal",
            "protein",
            "recipe",
        ] {
            // `Item` of an iterator is a word of the language.
            for at in places(&file.code, word)
                .into_iter()
                .filter(|&at| !file.code[..at].ends_with("Iterator<"))
            {
                faults.push(format!(
                    "{}:{}: `{word}` is a word of food",
                    file.path,
                    file.line(at)
                ));
            }
        }
    }
    fail_on(faults);
}

#[test]
fn the_core_touches_no_file_environment_terminal_or_clock() {
    let mut faults = Vec::new();
    for file in sources().iter().filter(|f| f.in_core()) {
        for (needle, why) in FORBIDDEN {
            for at in places(&file.code, needle) {
                faults.push(format!("{}:{}: `{needle}`: {why}", file.path, file.line(at)));
            }
        }
        for needle in ["eprintln!", "eprint!"] {
            for at in places(&file.code, needle) {
                faults.push(format!(
                    "{}:{}: `{needle}`: return a diagnostic",
                    file.path,
                    file.line(at)
                ));
            }
        }
    }
    fail_on(faults);
}

#[test]
fn one_file_alone_names_each_outside_engine() {
    let mut faults = Vec::new();
    for file in sources() {
        for (name, home) in ONLY_IN {
            for at in places(&file.code, name) {
                if file.path != *home {
                    faults.push(format!(
                        "{}:{}: only {home} may name `{name}`",
                        file.path,
                        file.line(at)
                    ));
                }
            }
        }
    }
    fail_on(faults);
}

/// Functions whose last digits differ between machines have no place where a plan is chosen.
#[test]
fn the_search_uses_no_system_mathematics() {
    let mut faults = Vec::new();
    for file in sources()
        .iter()
        .filter(|f| f.room == "solve" || f.room == "model")
    {
        for call in [
            ".ln()", ".exp()", ".powf(", ".log10()", ".log2()", ".sin()", ".cos()", ".tanh()", ".cbrt()",
        ] {
            for (at, _) in file.code.match_indices(call) {
                faults.push(format!(
                    "{}:{}: `{call}` differs between machines; use `libm`",
                    file.path,
                    file.line(at)
                ));
            }
        }
    }
    fail_on(faults);
}

#[test]
fn every_module_says_what_it_is() {
    let mut faults = Vec::new();
    for path in files("src").iter().filter(|p| has_ending(p, &["rs"])) {
        let text = fs::read_to_string(path).unwrap();
        if !text.starts_with("//!") {
            faults.push(format!(
                "{}:1: a module opens with its place in the pipeline",
                shown(path)
            ));
        }
    }
    fail_on(faults);
}

#[test]
fn every_example_brief_reads() {
    let mut faults = Vec::new();
    for path in files("examples").iter().filter(|p| p.ends_with("brief.toml")) {
        if let Err(problems) = platewright::brief::parse(&fs::read_to_string(path).unwrap()) {
            let said: Vec<&str> = problems.iter().map(|d| d.message.as_str()).collect();
            faults.push(format!("{}: {}", shown(path), said.join("; ")));
        }
    }
    fail_on(faults);
}

/// Data from outside must say where it comes from: each file is named in docs/sources.md, or in a
/// SOURCE page of its own folder. A folder named there stands for its files, but each price list is
/// named by itself.
#[test]
fn every_data_file_has_a_source() {
    let list = fs::read_to_string(root().join("docs/sources.md")).unwrap();
    let mut faults = Vec::new();
    let data = ["foods", "src", "tests/truth"].into_iter().flat_map(files);
    for path in data.filter(|p| has_ending(p, &["csv", "toml", "txt", "7z", "bin"])) {
        let name = path.file_name().unwrap().to_string_lossy().to_string();
        let folder = path.parent().unwrap();
        let mut pages = list.clone();
        for page in fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()) {
            if has_ending(&page, &["md"]) {
                pages.push_str(&fs::read_to_string(page).unwrap());
            }
        }
        let whole = shown(folder);
        let by_folder = !whole.ends_with("/prices");
        let told = pages.contains(&format!("`{name}`"))
            || list.contains(&format!("`{}`", shown(&path)))
            || by_folder && list.contains(&format!("`{whole}/`"));
        if !told {
            faults.push(format!(
                "{}: neither docs/sources.md nor a page beside it says where it comes from",
                shown(&path)
            ));
        }
    }
    fail_on(faults);
}

/// The text of each string literal that directly follows `start`.
fn literals<'a>(code: &'a str, start: &str) -> Vec<(usize, &'a str)> {
    code.match_indices(start)
        .filter_map(|(at, _)| {
            let rest = code[at + start.len()..].trim_start().strip_prefix('"')?;
            Some((at, &rest[..rest.find('"')?]))
        })
        .collect()
}

/// The fixed beginnings of names in the linear program, `x_` of `x_{}`, and whole fixed names.
fn names_of_the_program() -> Vec<(String, String)> {
    let mut out = Vec::new();
    for file in sources()
        .iter()
        .filter(|f| f.room == "model" || f.path == "src/solve/bound.rs")
    {
        for (at, text) in literals(&file.code, "format!(") {
            let Some((start, _)) = text.split_once('{') else {
                continue;
            };
            let is_name = start.ends_with('_') && start.chars().all(|c| c.is_ascii_lowercase() || c == '_');
            if is_name {
                out.push((start.to_string(), format!("{}:{}", file.path, file.line(at))));
            }
        }
        for start in [".row(", ".variable("] {
            for (at, text) in literals(&file.code, start) {
                out.push((text.to_string(), format!("{}:{}", file.path, file.line(at))));
            }
        }
    }
    assert!(out.len() > 25, "found only {} names", out.len());
    out
}

#[test]
fn the_page_of_mathematics_tells_every_name() {
    let page = fs::read_to_string(root().join("docs/math.md")).unwrap();
    let names = names_of_the_program();
    let mut faults: Vec<String> = names
        .iter()
        .filter(|(name, _)| !page.contains(&format!("`{name}")))
        .map(|(name, at)| format!("{at}: docs/math.md does not tell `{name}`"))
        .collect();
    // The other way round: the first cell of a table row is a name that the code still writes.
    for (n, line) in page.lines().enumerate() {
        let Some(cell) = line.strip_prefix("| `").and_then(|l| l.split('`').next()) else {
            continue;
        };
        let start = cell.split(['<', '(']).next().unwrap_or(cell);
        if start.contains('_') && !names.iter().any(|(name, _)| name == start) {
            faults.push(format!(
                "docs/math.md:{}: `{start}` is written by no file of the model",
                n + 1
            ));
        }
    }
    fail_on(faults);
}

#[test]
fn the_reader_of_sources_sees_what_it_must() {
    let text = "use crate::{foods::{FoodId, Food}, money::Currency};\n// crate::cli\nlet a = x; // crate::cli\nfn f() { crate::solve::go() }\n#[cfg(test)]\nmod tests {\n    use crate::cli;\n}\n";
    let code = code(text);
    let found: Vec<(usize, String)> = named(&code, "crate::");
    let words: Vec<&str> = found.iter().map(|f| f.1.as_str()).collect();
    assert_eq!(words, ["foods", "money", "solve"]);
    let file = File {
        path: String::new(),
        room: String::new(),
        code,
    };
    assert_eq!(file.line(found[2].0), 4);
    assert_eq!(literals("format!(\n   \"x_{}\", 1)", "format!("), [(0, "x_{}")]);
    assert!(places("eprintln!()", "println!").is_empty());
}
