//! Lists, ticks and files on the page, and the listener for the house, over HTTP against the real program.
#![cfg(feature = "page")]

mod page_client;

use page_client::{Answer, Served, encoded, hidden, raw_to, serve};
use std::fs;
use std::io::{BufRead, BufReader};
use std::net::{SocketAddr, TcpStream};
use std::process::{Child, Command, Stdio};

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

fn served() -> Served {
    serve(&[("one", &brief())])
}

/// The command line in the folder of the page; what it wrote to standard output.
fn command(page: &Served, arguments: &[&str]) -> Vec<u8> {
    let program = Command::new(env!("CARGO_BIN_EXE_platewright"))
        .current_dir(page.folder.path())
        .args(arguments)
        .output();
    program.unwrap().stdout
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
    let page = served();
    let none = page.get("/b/one/lists");
    assert_eq!(none.status, 200);
    assert!(none.body.contains("No week yet") && boxes(&none.body).is_empty());
    let sent = page.post("/b/one/lists/plan", &[]);
    assert_eq!(
        (sent.status, sent.header("location")),
        (303, Some("/b/one/lists"))
    );
    let lists = page.get("/b/one/lists").body;
    // As many lines to buy as the command line's list has.
    let csv = String::from_utf8(command(&page, &["plan", "one.toml", "--format", "shopping-csv"])).unwrap();
    let lines = csv.lines().skip(1).filter(|l| !l.is_empty()).count();
    let buy = boxes(&lists).iter().filter(|b| b.0.starts_with("buy.")).count();
    assert!(lines > 5 && buy == lines, "{buy} boxes for {lines} lines");
    assert!(!lists.contains(" style=") && lists.contains("Save the ticks"));
}

#[test]
fn ticks_stay_over_a_new_start_and_go_with_another_week() {
    let mut page = served();
    page.post("/b/one/lists/plan", &[]);
    let shown = |page: &Served| page.get("/b/one/lists").body;
    let lists = shown(&page);
    let all: Vec<String> = boxes(&lists).into_iter().map(|b| b.0).collect();
    let list = hidden(&lists, "list");
    assert!(ticked(&lists).is_empty());

    // With scripts: one line at a time.
    let post = |page: &Served, fields: &[(&str, &str)]| page.post("/b/one/lists/ticks", fields).status;
    let on = |page: &Served, id: &str| post(page, &[("list", &list), ("id", id), ("tick", id)]);
    assert_eq!(on(&page, &all[0]), 204);
    assert_eq!(on(&page, &all[2]), 204);
    assert_eq!(post(&page, &[("list", &list), ("id", &all[2])]), 204);
    assert_eq!(on(&page, "buy.nothing-of-the-kind"), 204);
    let first = shown(&page);
    assert_eq!(ticked(&first), [all[0].clone()]);

    // Without: all at once, and what another phone ticked meanwhile stays.
    assert_eq!(on(&page, &all[1]), 204);
    let was = hidden(&first, "was");
    assert_eq!(
        post(&page, &[("list", &list), ("was", &was), ("tick", &all[3])]),
        303
    );
    assert_eq!(ticked(&shown(&page)), [all[1].clone(), all[3].clone()]);

    // The other phone asks again: nothing while nothing changed, else the lists.
    let body = shown(&page);
    let again = body.split("hx-get=\"").nth(1).unwrap().split('"').next().unwrap();
    let again = again.replace("&amp;", "&");
    assert_eq!(page.get(&again).status, 204);
    on(&page, &all[4]);
    let fresh = page.get(&again);
    assert_eq!((fresh.status, ticked(&fresh.body).len()), (200, 3));

    page.again();
    assert_eq!(ticked(&shown(&page)).len(), 3, "after a new start");

    // Another week: three days of it.
    let more = page.file("one.toml").replace("days = 2", "days = 3");
    fs::write(page.folder.path().join("one.toml"), more).unwrap();
    page.post("/b/one/lists/plan", &[]);
    let other = shown(&page);
    assert!(!boxes(&other).is_empty() && ticked(&other).is_empty());
    assert_eq!(on(&page, &all[0]), 400, "a tick on lists that are no more");
    assert!(ticked(&shown(&page)).is_empty());
}

#[test]
fn every_file_has_the_bytes_of_the_command_line() {
    let page = served();
    page.post("/b/one/lists/plan", &[]);
    let here = page.folder.path();
    let options = [
        "--start",
        "2026-03-02",
        "--units",
        "metric",
        "--leftovers",
        "left",
        "--model",
        "model.mps",
    ];
    command(
        &page,
        &[&["plan", "one.toml", "--output", "set/"], options.as_slice()].concat(),
    );
    command(&page, &["plan", "one.toml", "--model", "model.lp"]);
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
        let got = page.get(&format!("/b/one/lists/file/{file}?units=metric&start=2026-03-02"));
        assert_eq!(got.status, 200, "{file}");
        assert!(got.header("content-type").unwrap().starts_with(media), "{file}");
        let to_save = got.header("content-disposition").unwrap();
        assert!(
            to_save.starts_with(&format!("attachment; filename=\"one-{file}\"")),
            "{to_save}"
        );
        assert!(
            got.bytes == fs::read(here.join("set").join(file)).unwrap(),
            "{file} differs"
        );
    }
    for (file, bytes) in [
        ("leftovers.toml", fs::read(here.join("left")).unwrap()),
        ("model.mps", fs::read(here.join("model.mps")).unwrap()),
        ("model.lp", fs::read(here.join("model.lp")).unwrap()),
        ("brief.toml", fs::read(here.join("one.toml")).unwrap()),
        (
            "cooking.csv",
            command(&page, &["plan", "one.toml", "--format", "cooking-csv"]),
        ),
        ("targets.txt", command(&page, &["targets", "one.toml"])),
        (
            "targets.json",
            command(&page, &["targets", "one.toml", "--format", "json"]),
        ),
        ("why.txt", command(&page, &["why", "one.toml"])),
        (
            "why.json",
            command(&page, &["why", "one.toml", "--format", "json"]),
        ),
        ("forecast.txt", command(&page, &["forecast", "one.toml"])),
        (
            "forecast.csv",
            command(&page, &["forecast", "one.toml", "--format", "csv"]),
        ),
        (
            "forecast.json",
            command(&page, &["forecast", "one.toml", "--format", "json"]),
        ),
        (
            "forecast.svg",
            command(&page, &["forecast", "one.toml", "--format", "svg"]),
        ),
    ] {
        let got = page.get(&format!("/b/one/lists/file/{file}"));
        assert_eq!(got.status, 200, "{file}: {}", got.body);
        assert!(!bytes.is_empty() && got.bytes == bytes, "{file} differs");
    }
    let fat = command(
        &page,
        &["forecast", "one.toml", "--format", "svg", "--show", "fat"],
    );
    assert!(page.get("/b/one/lists/file/forecast.svg?show=fat").bytes == fat);
    // All of them are on the page.
    let lists = page.get("/b/one/lists").body;
    assert_eq!(lists.matches("href=\"/b/one/lists/file/").count(), 10 + 12);
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
    let page = served();
    let address: SocketAddr = page.host.parse().unwrap();
    assert_eq!(address.ip().to_string(), "127.0.0.1");
    // A listener on all addresses would take this one too: all of 127/8 is this machine (RFC 1122, 3.2.1.3).
    let other: SocketAddr = format!("127.0.0.2:{}", address.port()).parse().unwrap();
    assert!(
        TcpStream::connect(other).is_err(),
        "it listens on more than 127.0.0.1"
    );
}

/// A page whose lists are open to the house, and the addresses that it told on standard error.
struct Opened {
    child: Child,
    home: String,
    lists: String,
}

impl Drop for Opened {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn opened(page: &Served) -> Opened {
    let mut child = Command::new(env!("CARGO_BIN_EXE_platewright"))
        .arg("serve")
        .arg(page.folder.path())
        .args(["--port", "0", "--lists-on", "127.0.0.1:0"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut home = String::new();
    BufReader::new(child.stdout.take().unwrap())
        .read_line(&mut home)
        .unwrap();
    let mut told = BufReader::new(child.stderr.take().unwrap()).lines();
    let lists = told.find_map(|l| l.unwrap().trim().strip_prefix("one: http://").map(String::from));
    Opened {
        child,
        home: home
            .trim()
            .trim_start_matches("http://")
            .trim_end_matches('/')
            .to_string(),
        lists: lists.unwrap(),
    }
}

/// A request with just these headers.
fn ask(to: &str, method: &str, path: &str, headers: &[(&str, &str)], fields: &[(&str, &str)]) -> Answer {
    let head: String = headers.iter().map(|(n, v)| format!("{n}: {v}\r\n")).collect();
    let one = |(n, v): &(&str, &str)| format!("{}={}", encoded(n), encoded(v));
    let body = fields.iter().map(one).collect::<Vec<_>>().join("&");
    let kind = "Content-Type: application/x-www-form-urlencoded";
    let length = body.len();
    let text = format!(
        "{method} {path} HTTP/1.1\r\n{head}Connection: close\r\n{kind}\r\nContent-Length: {length}\r\n\r\n{body}"
    );
    raw_to(to, text.as_bytes())
}

#[test]
fn the_house_sees_lists_and_nothing_else() {
    let page = served();
    page.post("/b/one/lists/plan", &[]);
    let opened = opened(&page);
    let (host, key) = opened.lists.split_once('/').unwrap();
    assert_ne!(host, opened.home);
    assert!(
        key.len() == 32 && key.chars().all(|c| c.is_ascii_hexdigit()),
        "{key}"
    );
    let own = [("Host", host)];
    let get = |path: &str| ask(host, "GET", path, &own, &[]);

    let lists = get(&format!("/{key}"));
    assert_eq!(lists.status, 200);
    let body = lists.body.as_str();
    assert!(!boxes(body).is_empty());
    assert!(
        lists
            .header("content-security-policy")
            .unwrap()
            .starts_with("default-src 'none'")
    );
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
    let first = if key.starts_with('0') { '1' } else { '0' };
    let wrong = format!("{first}{}", &key[1..]);
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
        format!("/{wrong}/assets/page.css"),
        format!("/{key}/b/one/brief"),
        format!("/{key}/file/brief.toml"),
        format!("/{key}/assets/other"),
        format!("/{key}/"),
    ] {
        let shut = get(&path);
        assert_eq!(
            (shut.status, shut.body.as_str()),
            (404, "Nothing is here.\n"),
            "{path}"
        );
    }

    // Asked for by a name, by another address or another port: nothing. A name could be pointed here by any site.
    let port = host.split(':').nth(1).unwrap();
    for other in [
        format!("localhost:{port}"),
        format!("house.example:{port}"),
        format!("127.0.0.1.example:{port}"),
        "127.0.0.1".into(),
        opened.home.clone(),
        format!("127.0.0.2:{port}"),
        String::new(),
    ] {
        let got = ask(host, "GET", &format!("/{key}"), &[("Host", &other)], &[]);
        assert!(got.status == 421 || got.status == 400, "{other}: {}", got.status);
        assert!(!got.body.contains("tick"), "{other}");
    }

    // Ticks are written with the key and from its own page only.
    let line = boxes(body)[0].0.clone();
    let list = hidden(body, "list");
    let tick = [("list", list.as_str()), ("id", &line), ("tick", &line)];
    let ticks = format!("/{key}/ticks");
    for foreign in ["http://house.example", "null", "https://127.0.0.1", ""] {
        let mut headers = own.to_vec();
        headers.extend((!foreign.is_empty()).then_some(("Origin", foreign)));
        assert_eq!(
            ask(host, "POST", &ticks, &headers, &tick).status,
            403,
            "{foreign}"
        );
    }
    let origin = format!("http://{host}");
    let with = [("Host", host), ("Origin", origin.as_str())];
    let post = |path: &str| ask(host, "POST", path, &with, &tick).status;
    for path in [
        &format!("/{wrong}/ticks"),
        "/b/one/lists/ticks",
        "/b/one/lists/plan",
    ] {
        assert_eq!(post(path), 404, "{path}");
    }
    assert_eq!(post(&format!("/{key}")), 405);
    assert!(ticked(&get(&format!("/{key}")).body).is_empty());
    assert_eq!(post(&ticks), 204);
    // The page at home and the phone see the same.
    assert_eq!(ticked(&get(&format!("/{key}")).body), std::slice::from_ref(&line));
    let home = [("Host", opened.home.as_str())];
    let at_home = ask(&opened.home, "GET", "/b/one/lists", &home, &[]);
    assert_eq!(ticked(&at_home.body), [line]);
}

#[test]
fn the_house_is_opened_on_addresses_of_this_machine_only() {
    // 192.0.2.0/24 is for documents and nobody's (RFC 5737).
    for (on, told) in [
        ("192.0.2.1:0", "cannot be opened"),
        ("localhost:8418", "give an IP address"),
        ("127.0.0.1", "give an IP address"),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let out = Command::new(env!("CARGO_BIN_EXE_platewright"))
            .arg("serve")
            .arg(folder.path())
            .args(["--port", "0", "--lists-on", on])
            .output()
            .unwrap();
        assert_eq!(out.status.code(), Some(2), "{on}");
        assert!(String::from_utf8_lossy(&out.stderr).contains(told), "{on}");
        assert!(out.stdout.is_empty(), "nothing is announced");
    }
}
