//! The forms that people take away: page, Markdown, spreadsheet, calendar, of the hand-made plan in `sample`.
//!
//! What needs a program beside cargo (LibreOffice, a browser) is ignored here and run by `.ci/run`.

mod sample;

use chrono::NaiveDate;
use insta::assert_snapshot;
use platewright::nutrient::Nutrient;
use platewright::plan::Plan;
use platewright::report::amount::Units;
use platewright::report::{calendar, html, markdown, sheet};
use sample::{conflicting, cooked, invented};
use std::collections::BTreeSet;
use std::fs;
use std::io::{Cursor, Read, Write};
use std::path::{Path, PathBuf};
use std::process::Command;

fn start() -> NaiveDate {
    NaiveDate::from_ymd_opt(2024, 2, 29).expect("a leap day")
}

fn week() -> Plan {
    let mut plan = cooked();
    let two = plan.days.clone();
    plan.days = (0..7)
        .map(|n| {
            let mut day = two[n % 2].clone();
            day.day = n as u32 + 1;
            day
        })
        .collect();
    plan
}

#[test]
fn page_of_a_plan() {
    let page = html::plan(&cooked(), Units::Metric, None);
    let (_, body) = page.split_once("</style>").expect("a style");
    assert_snapshot!("plan_html", body.replace("><", ">\n<"));
    for away in ["http:", "https:", "<script", "<link", "@import", "url("] {
        assert!(
            !page.contains(away),
            "{away}: the page takes nothing from elsewhere"
        );
    }
    assert!(html::plan(&week(), Units::Metric, None).len() < 300_000);
}

#[test]
fn markdown_of_a_plan() {
    assert_snapshot!("plan_markdown", markdown::plan(&cooked(), Units::Metric));
}

#[test]
fn all_forms_tell_why_there_is_no_plan() {
    let plan = conflicting();
    for page in [
        html::plan(&plan, Units::Metric, None),
        markdown::plan(&plan, Units::Metric),
    ] {
        for told in [
            "cannot hold together",
            "budget: the budget of the brief",
            "aise the budget to 8.13",
            "llow eggs",
            "no suggestion",
            "allergies of the brief",
            "What the nearest days miss",
            "What follows comes nearest",
        ] {
            assert!(page.contains(told), "{told} is not in\n{page}");
        }
    }
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    let plan = cooked();
    assert_eq!(
        sheet::plan(&plan).expect("a book"),
        sheet::plan(&plan).expect("a book")
    );
    assert_eq!(calendar::plan(&plan, start()), calendar::plan(&plan, start()));
    assert_eq!(
        html::plan(&plan, Units::Us, None),
        html::plan(&plan, Units::Us, None)
    );
}

fn part(book: &[u8], name: &str) -> String {
    let mut zip = zip::ZipArchive::new(Cursor::new(book)).expect("a zip");
    let mut text = String::new();
    let mut file = zip.by_name(name).expect(name);
    file.read_to_string(&mut text).expect("text");
    text
}

#[test]
fn sheets_have_names_formulas_and_frozen_heads() {
    let book = sheet::plan(&cooked()).expect("a book");
    let names: Vec<String> = part(&book, "xl/workbook.xml")
        .split("<sheet name=\"")
        .skip(1)
        .map(|s| s.split('"').next().expect("a name").to_string())
        .collect();
    assert_eq!(
        names,
        [
            "Week",
            "Totals",
            "Shopping",
            "Foods",
            "Targets",
            "Cooking",
            "Left over"
        ]
    );
    for n in 1..=names.len() {
        let xml = part(&book, &format!("xl/worksheets/sheet{n}.xml"));
        assert!(
            xml.contains("ySplit=\"3\"") && xml.contains("state=\"frozen\""),
            "sheet {n}"
        );
    }
    let week = part(&book, "xl/worksheets/sheet1.xml");
    assert!(week.contains("<f>$E4*Foods!$D$4</f>"));
    assert_eq!(
        week.matches("<f>").count(),
        9 * 7,
        "nine lines: grams, five nutrients, cost"
    );
    let totals = part(&book, "xl/worksheets/sheet2.xml");
    assert!(totals.contains("SUMIFS(") && totals.contains("AVERAGE(") && totals.contains("IF(AND("));
    assert!(part(&book, "xl/worksheets/sheet3.xml").contains("<f>SUM(I4:I8)</f>"));
    let plain = sheet::plan(&invented()).expect("a book");
    assert!(!part(&plain, "xl/workbook.xml").contains("Cooking"));
}

#[test]
fn calendar_of_a_plan() {
    let mut plan = cooked();
    assert_snapshot!(
        "plan_ics",
        calendar::plan(&plan, start()).expect("dates").replace('\r', "")
    );
    plan.title = "Semicolons; commas, back\\slashes\nand lines — दाल".into();
    plan.days[0].meals[0].form = "Bowl, with; a \\ and ".to_string() + &"दाल ".repeat(40);
    let text = calendar::plan(&plan, start()).expect("dates");
    assert!(text.ends_with("\r\n") && !text.replace("\r\n", "").contains(['\r', '\n']));
    for line in text.split("\r\n") {
        assert!(line.len() <= 75, "{} octets: {line}", line.len());
    }
    // Read by a library that shares nothing with the writer.
    let calendars: Vec<_> = ical::IcalParser::new(text.as_bytes())
        .collect::<Result<_, _>>()
        .expect("the calendar parses");
    assert_eq!(calendars.len(), 1);
    let events = &calendars[0].events;
    assert_eq!(
        events.len(),
        plan.days.iter().map(|d| d.meals.len()).sum::<usize>()
    );
    let of = |n: usize, name: &str| {
        let p = events[n].properties.iter().find(|p| p.name == name);
        p.and_then(|p| p.value.clone()).expect(name)
    };
    assert_eq!(of(0, "DTSTART"), "20240229T073000");
    assert_eq!(of(0, "DTEND"), "20240229T080000");
    assert_eq!(of(2, "DTSTART"), "20240301T073000");
    assert_eq!(of(3, "DTSTART"), "20240301T190000");
    let uids: BTreeSet<String> = (0..events.len()).map(|n| of(n, "UID")).collect();
    assert_eq!(uids.len(), events.len());
    let summary = of(0, "SUMMARY");
    assert!(
        summary.starts_with("Breakfast: Bowl\\, with\\; a \\\\ and दाल"),
        "{summary}"
    );
    assert!(of(0, "DESCRIPTION").contains("\\nTo cook today: Lentils"));
    assert!(of(3, "DESCRIPTION").contains("reheated\\, from the pot of day 1"));
    assert!(calendar::plan(&plan, NaiveDate::MAX).is_none());
}

// What follows needs LibreOffice.

const ALWAYS: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>"#;

/// The sheet `Totals` after LibreOffice has computed every formula anew.
fn recalculated(book: &[u8]) -> Vec<Vec<String>> {
    let dir = tempfile::tempdir().expect("a folder");
    let user = dir.path().join("profile/user");
    fs::create_dir_all(&user).expect("a profile");
    fs::write(user.join("registrymodifications.xcu"), ALWAYS).expect("settings");
    fs::write(dir.path().join("plan.xlsx"), book).expect("the book");
    let out = Command::new("soffice")
        .arg(format!(
            "-env:UserInstallation=file://{}",
            dir.path().join("profile").display()
        ))
        .args(["--headless", "--convert-to"])
        .arg("csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1")
        .arg("plan.xlsx")
        .current_dir(dir.path())
        .output()
        .expect("soffice starts");
    let text = fs::read_to_string(dir.path().join("plan-Totals.csv"))
        .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&out.stderr)));
    csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes())
        .records()
        .map(|r| r.expect("a row").iter().map(String::from).collect())
        .collect()
}

fn cell(rows: &[Vec<String>], name: &str, column: usize) -> f64 {
    let row = rows.iter().find(|r| r[0] == name).expect(name);
    row[column]
        .parse()
        .unwrap_or_else(|e| panic!("{name}, column {column}: {e}, {:?}", row[column]))
}

/// The book with every remembered result of a formula replaced by nonsense, and one amount changed.
fn changed(book: &[u8], amount: Option<(&str, &str)>) -> Vec<u8> {
    let mut zip = zip::ZipArchive::new(Cursor::new(book)).expect("a zip");
    let mut out = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for n in 0..zip.len() {
        let mut file = zip.by_index(n).expect("a part");
        let name = file.name().to_string();
        let mut text = Vec::new();
        file.read_to_end(&mut text).expect("bytes");
        if name.ends_with("sheet1.xml") || name.ends_with("sheet2.xml") {
            let mut xml = String::from_utf8(text).expect("text");
            if let Some((from, to)) = amount.filter(|_| name.ends_with("sheet1.xml")) {
                assert_eq!(xml.matches(from).count(), 1, "{from}");
                xml = xml.replace(from, to);
            }
            let mut parts = xml.split("</f><v>");
            let mut all = parts.next().expect("a head").to_string();
            for p in parts {
                all += "</f><v>-7777";
                all += &p[p.find("</v>").expect("a value")..];
            }
            text = all.into_bytes();
        }
        out.start_file(name, zip::write::SimpleFileOptions::default())
            .expect("a part");
        out.write_all(&text).expect("bytes");
    }
    out.finish().expect("a zip").into_inner()
}

#[test]
#[ignore = "needs LibreOffice; run by .ci/run"]
fn libreoffice_computes_the_same_totals() {
    let mut plan = cooked();
    // Totals that are the sums of their items, as those of a real plan are.
    for day in &mut plan.days {
        for n in [Nutrient::ENERGY, Nutrient::PROTEIN] {
            let items = day.meals.iter().flat_map(|m| &m.items);
            day.totals[n.index()] = items.map(|i| i.amounts[n.index()]).sum();
        }
    }
    // The same item has the same contents a serving wherever it is eaten.
    let book = sheet::plan(&plan).expect("a book");
    let one = |id: &str| {
        let mut all = plan.days.iter().flat_map(|d| &d.meals).flat_map(|m| &m.items);
        all.find(|i| i.id == id).expect("an item")
    };
    let day = |n: usize, of: fn(&platewright::plan::Eaten) -> f64| -> f64 {
        let items = plan.days[n].meals.iter().flat_map(|m| &m.items);
        items
            .map(|i| i.servings * of(one(&i.id)) / one(&i.id).servings)
            .sum()
    };
    let kcal = |n| day(n, |i| i.amounts[Nutrient::ENERGY.index()]);
    let protein = |n| day(n, |i| i.amounts[Nutrient::PROTEIN.index()]);
    let near = |a: f64, b: f64, what: &str| {
        assert!(
            (a - b).abs() <= 1e-6 * b.abs().max(1e-9),
            "{what}: {a} against {b}"
        );
    };
    let rows = recalculated(&changed(&book, None));
    for n in 0..2 {
        near(cell(&rows, "energy", 2 + n), kcal(n), "energy of a day");
        near(cell(&rows, "protein", 2 + n), protein(n), "protein of a day");
    }
    near(cell(&rows, "energy", 4), (kcal(0) + kcal(1)) / 2.0, "mean energy");
    // A coach doubles the banana of day 1.
    let xml = part(&book, "xl/worksheets/sheet1.xml");
    let at = xml.find("r=\"E5\"").expect("the banana");
    let end = at + xml[at..].find("</c>").expect("its cell");
    let banana = &xml[at..end];
    let twice = banana.replace("<v>1</v>", "<v>2</v>");
    assert_ne!(banana, twice);
    let rows = recalculated(&changed(&book, Some((banana, &twice))));
    near(cell(&rows, "energy", 2), kcal(0) + 105.0, "energy after a change");
    near(cell(&rows, "energy", 3), kcal(1), "energy of the other day");
    near(
        cell(&rows, "energy", 4),
        (kcal(0) + kcal(1) + 105.0) / 2.0,
        "mean after a change",
    );
}

// What follows needs a browser.

const PROBE: &str = include_str!("sample/probe.js");

fn browser(args: &[&str], page: &Path) -> (String, String) {
    let name = std::env::var("BROWSER_FOR_TESTS").unwrap_or_else(|_| "chromium".into());
    let profile = tempfile::tempdir().expect("a folder");
    let out = Command::new(name)
        .args([
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
        ])
        .args([
            "--no-first-run",
            "--hide-scrollbars",
            "--enable-logging=stderr",
            "--log-level=0",
        ])
        .arg(format!("--user-data-dir={}", profile.path().display()))
        .args(args)
        .arg(format!("file://{}", page.display()))
        .output()
        .expect("the browser starts");
    (
        String::from_utf8_lossy(&out.stdout).into_owned(),
        String::from_utf8_lossy(&out.stderr).into_owned(),
    )
}

fn pages(dir: &Path) -> Vec<(&'static str, PathBuf)> {
    let mut stopped = conflicting();
    stopped.days.clear();
    stopped.shopping.clear();
    [("week", week()), ("nearest", conflicting()), ("stopped", stopped)]
        .into_iter()
        .map(|(name, plan)| {
            let path = dir.join(format!("{name}.html"));
            fs::write(&path, html::plan(&plan, Units::Metric, None)).expect("a page");
            (name, path)
        })
        .collect()
}

#[test]
#[ignore = "needs Chromium; run by .ci/run"]
fn a_browser_finds_no_fault() {
    let dir = tempfile::tempdir().expect("a folder");
    for (name, path) in pages(dir.path()) {
        let page = fs::read_to_string(&path).expect("the page");
        for dark in [false, true] {
            // The page in a frame of each width, so that no least width of a window matters.
            let probed = page.replace("</body>", &format!("<script>{PROBE}</script></body>"));
            let at = dir.path().join(format!("{name}-probe.html"));
            fs::write(&at, probed).expect("the probe");
            for width in [360, 1280] {
                let frame = dir.path().join("frame.html");
                let scheme = if dark { "dark" } else { "light" };
                fs::write(
                    &frame,
                    format!("<!doctype html><html lang=en><meta name=color-scheme content={scheme}><title>frame</title><body style='margin:0;color-scheme:{scheme}'><iframe title=page style='border:0;color-scheme:{scheme}' width={width} height=900 src='{name}-probe.html'></iframe><pre id=probe></pre><script>onmessage=e=>document.getElementById('probe').textContent=e.data</script>"),
                )
                .expect("the frame");
                let setting = format!("--blink-settings=preferredColorScheme={}", u8::from(!dark));
                let (dom, log) = browser(
                    &[
                        "--dump-dom",
                        "--allow-file-access-from-files",
                        "--virtual-time-budget=4000",
                        "--window-size=1400,1000",
                        &setting,
                    ],
                    &frame,
                );
                assert!(!log.contains("CONSOLE"), "{name} at {width}: {log}");
                let told = dom
                    .split("<pre id=\"probe\">")
                    .nth(1)
                    .and_then(|s| s.split("</pre>").next());
                let told = told.unwrap_or_default();
                assert_eq!(told, format!("width {width} {scheme}; faults: none"), "{name}");
            }
        }
    }
}

#[test]
#[ignore = "needs Chromium; run by .ci/run"]
fn a_week_prints_on_two_sheets() {
    let dir = tempfile::tempdir().expect("a folder");
    let (_, path) = pages(dir.path()).remove(0);
    let pdf = dir.path().join("week.pdf");
    browser(
        &[
            "--no-pdf-header-footer",
            &format!("--print-to-pdf={}", pdf.display()),
        ],
        &path,
    );
    let bytes = fs::read(&pdf).expect("a PDF");
    let text = String::from_utf8_lossy(&bytes);
    let sheets = text.matches("/Type /Page").count() - text.matches("/Type /Pages").count();
    assert_eq!(sheets, 2);
}
