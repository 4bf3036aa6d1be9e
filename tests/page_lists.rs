//! Lists, ticks and files on the page, and the listener for the house, over HTTP against the real program.
#![cfg(feature = "page")]

mod page_house;

use page_house::{Page, ask, form, hidden};
use std::net::{SocketAddr, TcpStream};

/// Two days, so that a week takes little time.
fn brief() -> String {
    let text = include_str!("../examples/surplus-on-a-budget/brief.toml");
    let short = text
        .lines()
        .filter(|l| !l.starts_with("days =") && !l.starts_with("budget"))
        .map(|l| format!("{l}\n"))
        .collect::<String>();
    format!("days = 2\n{short}")
}

fn served(options: &[&str]) -> Page {
    Page::serve(&[("one.toml", &brief())], options)
}

/// The values of the boxes, and which of them are ticked.
fn boxes(html: &str) -> Vec<(String, bool)> {
    let inputs = html
        .split("<input type=\"checkbox\" name=\"tick\" value=\"")
        .skip(1);
    inputs
        .map(|rest| {
            let tag = rest.split('>').next().unwrap();
            (
                tag.split('"').next().unwrap().to_string(),
                tag.contains(" checked"),
            )
        })
        .collect()
}

fn ticked(html: &str) -> Vec<String> {
    boxes(html).into_iter().filter(|b| b.1).map(|b| b.0).collect()
}

#[test]
fn a_brief_without_a_week_offers_to_plan_it() {
    let page = served(&[]);
    let none = page.get("/b/one/lists");
    assert_eq!(none.status, 200);
    assert!(none.text().contains("No week yet") && boxes(&none.text()).is_empty());
    let sent = page.post("/b/one/lists/plan", "");
    assert_eq!(
        (sent.status, sent.header("location").as_deref()),
        (303, Some("/b/one/lists"))
    );
    let lists = page.get("/b/one/lists").text();
    // As many lines to buy as the command line's list has, and each by its product.
    let csv = page.command(&["plan", "one.toml", "--format", "shopping-csv"]);
    let lines = csv.lines().skip(1).filter(|l| !l.is_empty()).count();
    let buy = boxes(&lists).iter().filter(|b| b.0.starts_with("buy.")).count();
    assert!(lines > 5 && buy == lines, "{buy} boxes for {lines} lines");
    assert!(!lists.contains(" style=") && lists.contains("Save the ticks"));
}

#[test]
fn ticks_stay_over_a_new_start_and_go_with_another_week() {
    let mut page = served(&[]);
    page.post("/b/one/lists/plan", "");
    let lists = page.get("/b/one/lists").text();
    let all: Vec<String> = boxes(&lists).into_iter().map(|b| b.0).collect();
    let list = hidden(&lists, "list");
    assert!(ticked(&lists).is_empty());

    // With scripts: one line at a time.
    let on = |id: &str| form(&[("list", &list), ("id", id), ("tick", id)]);
    assert_eq!(page.post("/b/one/lists/ticks", &on(&all[0])).status, 204);
    assert_eq!(page.post("/b/one/lists/ticks", &on(&all[2])).status, 204);
    assert_eq!(
        page.post("/b/one/lists/ticks", &form(&[("list", &list), ("id", &all[2])]))
            .status,
        204
    );
    assert_eq!(
        page.post("/b/one/lists/ticks", &on("buy.nothing-of-the-kind"))
            .status,
        204
    );
    let first = page.get("/b/one/lists").text();
    assert_eq!(ticked(&first), [all[0].clone()]);

    // Without: all at once, and what another phone ticked meanwhile stays.
    assert_eq!(page.post("/b/one/lists/ticks", &on(&all[1])).status, 204);
    let was = hidden(&first, "was");
    let sent = page.post(
        "/b/one/lists/ticks",
        &form(&[("list", &list), ("was", &was), ("tick", &all[3])]),
    );
    assert_eq!(sent.status, 303);
    assert_eq!(
        ticked(&page.get("/b/one/lists").text()),
        [all[1].clone(), all[3].clone()]
    );

    // The other phone asks again: nothing while nothing changed, else the lists.
    let shown = page.get("/b/one/lists").text();
    let again = shown
        .split("hx-get=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap()
        .replace("&amp;", "&");
    assert_eq!(page.get(&again).status, 204);
    page.post("/b/one/lists/ticks", &on(&all[4]));
    let fresh = page.get(&again);
    assert_eq!((fresh.status, ticked(&fresh.text()).len()), (200, 3));

    page.again();
    assert_eq!(
        ticked(&page.get("/b/one/lists").text()).len(),
        3,
        "after a new start"
    );

    // Another week: three days of it.
    let more = page.file("one.toml").replace("days = 2", "days = 3");
    std::fs::write(page.folder().join("one.toml"), more).unwrap();
    page.post("/b/one/lists/plan", "");
    let other = page.get("/b/one/lists").text();
    assert!(!boxes(&other).is_empty() && ticked(&other).is_empty());
    let late = page.post("/b/one/lists/ticks", &on(&all[0]));
    assert_eq!(late.status, 400, "a tick on lists that are no more");
    assert!(ticked(&page.get("/b/one/lists").text()).is_empty());
}

#[test]
fn every_file_has_the_bytes_of_the_command_line() {
    let page = served(&[]);
    page.post("/b/one/lists/plan", "");
    let set = page.folder().join("set");
    page.command(&[
        "plan",
        "one.toml",
        "--output",
        "set/",
        "--start",
        "2026-03-02",
        "--units",
        "metric",
        "--leftovers",
        "left.toml",
        "--model",
        "model.mps",
    ]);
    page.command(&["plan", "one.toml", "--model", "model.lp"]);
    let ask = "?units=metric&start=2026-03-02";
    let mut seen = 0;
    for (file, media) in [
        ("week.txt", "text/plain"),
        ("plan.csv", "text/csv"),
        ("totals.csv", "text/csv"),
        ("shopping.csv", "text/csv"),
        ("plan.json", "application/json"),
        ("week.html", "text/html"),
        ("week.md", "text/markdown"),
        ("week.xlsx", "application/vnd"),
        ("week.ics", "text/calendar"),
    ] {
        let got = page.get(&format!("/b/one/lists/file/{file}{ask}"));
        assert_eq!(got.status, 200, "{file}");
        assert!(got.header("content-type").unwrap().starts_with(media), "{file}");
        let to_save = got.header("content-disposition").unwrap();
        assert!(
            to_save.starts_with(&format!("attachment; filename=\"one-{file}\"")),
            "{to_save}"
        );
        assert!(
            got.body == std::fs::read(set.join(file)).unwrap(),
            "{file} differs"
        );
        seen += 1;
    }
    assert_eq!(seen, 9);
    let command = |arguments: &[&str]| page.command(arguments);
    for (file, bytes) in [
        ("leftovers.toml", page.file("left.toml")),
        ("model.mps", page.file("model.mps")),
        ("model.lp", page.file("model.lp")),
        ("brief.toml", page.file("one.toml")),
        (
            "cooking.csv",
            command(&["plan", "one.toml", "--format", "cooking-csv"]),
        ),
        ("targets.txt", command(&["targets", "one.toml"])),
        (
            "targets.json",
            command(&["targets", "one.toml", "--format", "json"]),
        ),
        ("why.txt", command(&["why", "one.toml"])),
        ("why.json", command(&["why", "one.toml", "--format", "json"])),
        ("forecast.txt", command(&["forecast", "one.toml"])),
        (
            "forecast.csv",
            command(&["forecast", "one.toml", "--format", "csv"]),
        ),
        (
            "forecast.json",
            command(&["forecast", "one.toml", "--format", "json"]),
        ),
        (
            "forecast.svg",
            command(&["forecast", "one.toml", "--format", "svg"]),
        ),
    ] {
        let got = page.get(&format!("/b/one/lists/file/{file}"));
        assert_eq!(got.status, 200, "{file}: {}", got.text());
        assert!(!bytes.is_empty() && got.text() == bytes, "{file} differs");
    }
    let fat = command(&["forecast", "one.toml", "--format", "svg", "--show", "fat"]);
    assert_eq!(page.get("/b/one/lists/file/forecast.svg?show=fat").text(), fat);
    // Every link of the page leads to a file.
    let lists = page.get("/b/one/lists").text();
    let links: Vec<&str> = lists.split("href=\"/b/one/lists/file/").skip(1).collect();
    assert_eq!(links.len(), 10 + 12);
    for file in ["other.txt", "..%2Fone.toml", "week.exe"] {
        assert_eq!(
            page.get(&format!("/b/one/lists/file/{file}")).status,
            404,
            "{file}"
        );
    }
    assert_eq!(page.get("/b/one/lists/file/week.ics?start=soon").status, 400);
    assert_eq!(page.get("/b/one/lists/file/week.txt?units=stone").status, 400);
}

#[test]
fn without_the_flag_only_this_machine_is_answered() {
    let page = served(&[]);
    assert_eq!(page.address.ip().to_string(), "127.0.0.1");
    assert_eq!(page.told.len(), 1, "{:?}", page.told);
    // A listener on all addresses would take this one too: all of 127/8 is this machine (RFC 1122, 3.2.1.3).
    let other: SocketAddr = format!("127.0.0.2:{}", page.address.port()).parse().unwrap();
    assert!(
        TcpStream::connect(other).is_err(),
        "it listens on more than 127.0.0.1"
    );
}

#[test]
fn the_house_sees_lists_and_nothing_else() {
    let page = served(&["--lists-on", "127.0.0.1:0"]);
    page.post("/b/one/lists/plan", "");
    let line = page.told.last().unwrap();
    let (name, address) = line.trim().split_once(": http://").unwrap();
    assert_eq!(name, "one");
    let (host, key) = address.split_once('/').unwrap();
    let to: SocketAddr = host.parse().unwrap();
    assert_ne!(to, page.address);
    assert!(
        key.len() == 32 && key.chars().all(|c| c.is_ascii_hexdigit()),
        "{key}"
    );
    let own = [("Host", host)];
    let get = |path: &str| ask(to, "GET", path, &own, "");

    let lists = get(&format!("/{key}"));
    assert_eq!(lists.status, 200);
    let body = lists.text();
    assert!(!boxes(&body).is_empty());
    assert!(lists.head.contains("content-security-policy: default-src 'none'"));
    // It leads to itself alone.
    for start in ["href=\"", "src=\"", "action=\"", "hx-get=\"", "hx-post=\""] {
        for link in body
            .split(start)
            .skip(1)
            .map(|rest| rest.split('"').next().unwrap())
        {
            let inside = link.starts_with(&format!("/{key}")) || link == "data:,";
            assert!(inside, "{start}{link}");
        }
    }
    for file in ["page.css", "htmx.js", "page.js"] {
        assert_eq!(get(&format!("/{key}/assets/{file}")).status, 200, "{file}");
    }

    // Everything else is shut, whether there is such a thing or not.
    let wrong = format!("{}{}", if key.starts_with('0') { '1' } else { '0' }, &key[1..]);
    for path in [
        "/".to_string(),
        "/b/one/lists".into(),
        "/b/one/brief".into(),
        "/b/one/months".into(),
        "/b/one/lists/file/brief.toml".into(),
        "/assets/page.css".into(),
        format!("/{wrong}"),
        format!("/{}", &key[..31]),
        format!("/{wrong}/ticks"),
        format!("/{key}/b/one/brief"),
        format!("/{key}/file/brief.toml"),
        format!("/{key}/assets/other"),
        format!("/{key}/"),
    ] {
        let shut = get(&path);
        assert_eq!(shut.status, 404, "{path}");
        assert_eq!(shut.text(), "Nothing is here.\n", "{path}");
    }

    // Asked for by a name, by another address or another port: nothing. A name could be pointed here by any site.
    let port = to.port();
    for other in [
        format!("localhost:{port}"),
        format!("house.example:{port}"),
        format!("127.0.0.1.example:{port}"),
        "127.0.0.1".into(),
        format!("127.0.0.1:{}", page.address.port()),
        format!("127.0.0.2:{port}"),
        String::new(),
    ] {
        let got = ask(to, "GET", &format!("/{key}"), &[("Host", &other)], "");
        assert_ne!(got.status, 200, "{other}");
    }

    // Ticks are written with the key and from its own page only.
    let all = boxes(&body);
    let tick = form(&[
        ("list", &hidden(&body, "list")),
        ("id", &all[0].0),
        ("tick", &all[0].0),
    ]);
    let ticks = format!("/{key}/ticks");
    let origin = format!("http://{host}");
    for foreign in ["http://house.example", "null", "https://127.0.0.1", ""] {
        let mut headers = own.to_vec();
        if !foreign.is_empty() {
            headers.push(("Origin", foreign));
        }
        assert_eq!(ask(to, "POST", &ticks, &headers, &tick).status, 403, "{foreign}");
    }
    let with = [("Host", host), ("Origin", origin.as_str())];
    for path in [
        format!("/{wrong}/ticks"),
        "/b/one/lists/ticks".into(),
        "/b/one/lists/plan".into(),
    ] {
        assert_eq!(ask(to, "POST", &path, &with, &tick).status, 404, "{path}");
    }
    assert_eq!(ask(to, "POST", &format!("/{key}"), &with, &tick).status, 405);
    assert!(ticked(&get(&format!("/{key}")).text()).is_empty());
    assert_eq!(ask(to, "POST", &ticks, &with, &tick).status, 204);
    // The page at home and the phone see the same.
    assert_eq!(ticked(&get(&format!("/{key}")).text()), [all[0].0.clone()]);
    assert_eq!(ticked(&page.get("/b/one/lists").text()), [all[0].0.clone()]);
}
