//! The months and the log on the page, over HTTP against the real program.
#![cfg(feature = "page")]

mod page_client;

use page_client::{Served, hidden, serve};
use platewright::review::{brought_up_to, log, next_review};
use std::fs;
use std::process::Command;

const BRIEF: &str = include_str!("../examples/gain-then-lean/brief.toml");
const LOG: &str = include_str!("../examples/gain-then-lean/log.csv");

fn page(log: Option<&str>) -> Served {
    let page = serve(&[("one", BRIEF)]);
    if let Some(text) = log {
        fs::write(page.folder.path().join("one.log.csv"), text).unwrap();
    }
    page
}

/// The command line in the folder of the page; what it wrote to standard output.
fn command(page: &Served, arguments: &[&str]) -> String {
    let program = Command::new(env!("CARGO_BIN_EXE_platewright"))
        .current_dir(page.folder.path())
        .args(arguments)
        .output();
    String::from_utf8(program.unwrap().stdout).unwrap()
}

#[test]
fn the_forecast_is_drawn_and_told_as_the_command_line_does() {
    let page = page(None);
    let shown = page.get("/b/one/months?show=energy");
    assert_eq!(shown.status, 200);
    let body = &shown.body;
    assert!(body.contains("<svg") && !body.contains("<style") && !body.contains(" style="));
    assert!(body.contains("Energy a day, kcal"), "the chart that was chosen");
    // The last week of the table is that of the command line's.
    let csv = command(&page, &["forecast", "one.toml", "--format", "csv"]);
    let last: Vec<&str> = csv.lines().last().unwrap().split(',').collect();
    let middle: f64 = last[3].parse().unwrap();
    assert!(
        body.contains(&format!("After {} weeks <strong>{middle:.1} kg", last[0])),
        "{last:?}"
    );
    assert!(shown.header("content-security-policy").is_some());
}

#[test]
fn a_weigh_in_is_written_and_all_else_kept() {
    let own = "# my list\r\ndate;weight_kg;mood\r\n2026-03-02;68.3;\"good; tired\"\r\n# travelled\r\n2026-03-05;68.6;fine\r\n";
    let page = page(Some(own));
    let seen = hidden(&page.get("/b/one/months").body, "seen");
    let sent = page.post(
        "/b/one/months/log",
        &[
            ("seen", &seen),
            ("date", "2026-03-04"),
            ("weight", "68,5"),
            ("unit", "kg"),
            ("intake", "2900"),
            ("adherence", ""),
        ],
    );
    assert_eq!(sent.status, 303, "{}", sent.body);
    assert!(
        sent.header("location")
            .unwrap()
            .starts_with("/b/one/months?done=added")
    );
    assert_eq!(
        page.file("one.log.csv"),
        "# my list\r\ndate;weight_kg;mood;intake_kcal\r\n2026-03-02;68.3;\"good; tired\"\r\n2026-03-04;68,5;;2900\r\n# travelled\r\n2026-03-05;68.6;fine\r\n"
    );
    let again = page.get("/b/one/months?done=added").body;
    assert!(again.contains("The day was added to the log."));

    // The same page once more: the file is another by now.
    let late = page.post(
        "/b/one/months/log",
        &[
            ("seen", &seen),
            ("date", "2026-03-06"),
            ("weight", "68.5"),
            ("unit", "kg"),
        ],
    );
    assert_eq!(late.status, 400);
    assert!(late.body.contains("changed elsewhere") && !page.file("one.log.csv").contains("2026-03-06"));

    // A line is corrected, in pounds, and another taken out.
    let asked = page.get("/b/one/months?line=3").body;
    assert!(asked.contains("Correct line 3") && asked.contains("value=\"2026-03-02\""));
    let seen = hidden(&asked, "seen");
    let sent = page.post(
        "/b/one/months/log",
        &[
            ("seen", &seen),
            ("line", "3"),
            ("date", "2026-03-02"),
            ("weight", "150"),
            ("unit", "lb"),
        ],
    );
    assert_eq!(sent.status, 303, "{}", sent.body);
    let seen = hidden(&page.get("/b/one/months").body, "seen");
    let sent = page.post("/b/one/months/log/take", &[("seen", &seen), ("line", "6")]);
    assert_eq!(sent.status, 303, "{}", sent.body);
    assert_eq!(
        page.file("one.log.csv"),
        "# my list\r\ndate;weight_kg;mood;intake_kcal\r\n2026-03-02;150 lb;\"good; tired\";\r\n2026-03-04;68,5;;2900\r\n# travelled\r\n"
    );
}

#[test]
fn a_log_begins_with_the_first_day() {
    let page = page(None);
    let first = page.get("/b/one/months").body;
    let seen = hidden(&first, "seen");
    // The form begins with today.
    let today = first.split("type=\"date\" value=\"").nth(1).unwrap()[..10].to_string();
    let sent = page.post(
        "/b/one/months/log",
        &[
            ("seen", &seen),
            ("date", &today),
            ("weight", "150.5"),
            ("unit", "lb"),
            ("adherence", "yes"),
        ],
    );
    assert_eq!(sent.status, 303, "{}", sent.body);
    let (read, told) = log::read(&page.file("one.log.csv"), platewright::units::Kilograms(68.0)).unwrap();
    assert!(told.is_empty() && read.entries.len() == 1);
    // 1 lb is 0.45359237 kg, the international pound.
    assert!((read.entries[0].weight.unwrap() - 150.5 * 0.453_592_37).abs() < 1e-9);
    assert_eq!(read.entries[0].adherence, Some(Some(1.0)));
    // The third week ends twenty days after its first.
    let next = log::date(log::day(&today).unwrap() + 20);
    let told = format!("Next review on {next}.");
    assert!(page.get("/b/one/months").body.contains(&told), "{told}");
}

#[test]
fn a_bad_weigh_in_is_told_beside_its_field_and_not_written() {
    let page = page(Some(LOG));
    let seen = hidden(&page.get("/b/one/months").body, "seen");
    for (field, typed, told) in [
        ("weight", ["2026-04-20", "6.84", ""], "outside 25 to 400 kg"),
        ("weight", ["2026-04-20", "heavy", ""], "cannot be read"),
        ("weight", ["2026-04-20", "", ""], "nothing is said of the day"),
        ("date", ["2026-02-30", "68.4", ""], "is no date"),
        ("date", ["2126-03-01", "68.4", ""], "has not come yet"),
        ("date", ["2026-03-02", "68.4", ""], "already"),
        ("intake", ["2026-04-20", "68.4", "23"], "outside 100 to 15000"),
    ] {
        let [date, weight, intake] = typed;
        let sent = page.post(
            "/b/one/months/log",
            &[
                ("seen", &seen),
                ("date", date),
                ("weight", weight),
                ("unit", "kg"),
                ("intake", intake),
            ],
        );
        assert_eq!(sent.status, 422, "{typed:?}");
        let body = sent.body;
        let about = format!("id=\"entry-{field}-about\"");
        let beside = body
            .split(&about)
            .nth(1)
            .and_then(|rest| rest.split("</div>").next());
        assert!(beside.is_some_and(|b| b.contains(told)), "{typed:?}: {beside:?}");
        assert!(
            body.contains(&format!("value=\"{date}\"")),
            "what was typed stays"
        );
        assert_eq!(page.file("one.log.csv"), LOG);
    }
    let sent = page.post("/b/one/months/log/take", &[("seen", &seen), ("line", "1")]);
    assert_eq!(sent.status, 400, "a comment is no day");
}

#[test]
fn a_review_leads_to_a_brief_that_parses_and_to_its_meals() {
    let page = page(Some(LOG));
    let body = page.get("/b/one/months").body;
    // The same brief as `review --write` makes, and the lines that change are shown before.
    command(
        &page,
        &["review", "one.toml", "one.log.csv", "--write", "next.txt"],
    );
    let next = page.file("next.txt");
    for line in next.lines().filter(|l| !BRIEF.contains(l)) {
        assert!(body.contains(&line.replace('"', "&quot;")), "{line}");
    }
    let (seen, log_seen) = (
        hidden(body.split("months/next").nth(1).unwrap(), "seen"),
        hidden(&body, "log"),
    );
    let late = page.post("/b/one/months/next", &[("seen", "0"), ("log", &log_seen)]);
    assert_eq!(late.status, 409);
    assert_eq!(page.file("one.toml"), BRIEF);
    let sent = page.post("/b/one/months/next", &[("seen", &seen), ("log", &log_seen)]);
    assert_eq!((sent.status, sent.header("location")), (303, Some("/b/one/week")));
    assert_eq!(page.file("one.toml"), next);
    let (brief, _) = platewright::brief::parse(&next).expect("a brief");
    assert!(platewright::ready::ready(&next, None, None).is_ok());
    // The log's last weigh-in is of 2026-03-29: its four weeks are behind this brief.
    let (read, _) = log::read(LOG, brief.person.weight).unwrap();
    let last = read.entries.last().unwrap().day;
    assert_eq!(brought_up_to(&next), Some(last));
    assert!(page.get("/b/one/months").body.contains("already"));
    // Three weeks of weigh-ins again before the next: science.md 2.8, never fewer than four a week over three weeks.
    assert_eq!(next_review(&brief, &next, &read, last + 1), Some(last + 21));
}

#[test]
fn the_next_review_ends_a_week_with_enough_weigh_ins() {
    let (brief, _) = platewright::brief::parse(BRIEF).unwrap();
    let days = |days: &[i64]| log::Log {
        entries: days
            .iter()
            .map(|d| log::Entry {
                line: 1,
                day: *d,
                weight: Some(68.0),
                intake: None,
                adherence: None,
            })
            .collect(),
    };
    let next = |log: &[i64], today| next_review(&brief, BRIEF, &days(log), today);
    assert_eq!(next(&[], 0), None, "before the first weigh-in");
    // Day 0 begins the phase of 16 weeks; the third week ends on day 20.
    let daily: Vec<i64> = (0..21).collect();
    assert_eq!(next(&daily[..1], 0), Some(20));
    assert_eq!(next(&daily, 20), Some(20), "due");
    assert_eq!(next(&daily, 21), Some(27), "a week after");
    // Six weigh-ins by day 20: six more at four a week take eleven days, to the end of the fifth week.
    assert_eq!(next(&[0, 3, 7, 10, 14, 20], 20), Some(34));
    // After 32 weeks of phases there is none.
    assert_eq!(next(&daily, 7 * 32), None);
}

#[test]
fn a_claim_is_appraised_with_messages_beside_the_fields() {
    let page = page(None);
    let asked = "/b/one/months?claim=1&start=78+kg&start_fat=17+%25&weeks=16&end=87+kg&end_fat=14+%25&eaten=3900+kcal&training=intermediate&activity=";
    let body = page.get(asked).body;
    assert!(body.contains("+9.0 kg claimed"), "87 less 78 kg");
    assert!(body.contains("mostly fat") && body.contains("omposition not supported"));
    let bad =
        page.get("/b/one/months?claim=1&start=78+kg&weeks=300&end=87&eaten=&training=&activity=unknown");
    assert_eq!(bad.status, 200);
    for field in ["weeks", "end"] {
        let body = &bad.body;
        let beside = body.split(&format!("id=\"claim-{field}-about\"")).nth(1);
        let beside = beside
            .and_then(|b| b.split("</div>").next())
            .unwrap_or("")
            .to_string();
        assert!(beside.contains("class=\"wrong\""), "{field}: {beside}");
    }
    assert_eq!(
        fs::read_dir(page.folder.path())
            .unwrap()
            .flatten()
            .filter(|f| f.path().is_file())
            .count(),
        1
    );
}
