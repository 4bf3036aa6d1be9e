//! The page against whoever means it no good, and the list of briefs.
#![cfg(feature = "page")]

mod page_client;

use page_client::{DAY, serve};
use std::fs;
use std::time::{Duration, Instant};

#[test]
fn it_listens_on_this_machine_alone() {
    let s = serve(&[]);
    assert!(s.host.starts_with("127.0.0.1:"), "{}", s.host);
}

#[test]
fn it_answers_only_under_its_own_address() {
    let s = serve(&[("a", DAY)]);
    let port = s.host.rsplit(':').next().unwrap();
    let ask = |host: &str| {
        s.raw(format!("GET / HTTP/1.1\r\n{host}Connection: close\r\n\r\n").as_bytes())
            .status
    };
    for own in [
        format!("127.0.0.1:{port}"),
        format!("localhost:{port}"),
        format!("[::1]:{port}"),
    ] {
        assert_eq!(ask(&format!("Host: {own}\r\n")), 200, "{own}");
    }
    for other in [
        "evil.example".to_string(),
        format!("evil.example:{port}"),
        format!("127.0.0.1.evil.example:{port}"),
        "127.0.0.1".to_string(),
        format!("localhost:{port}1"),
    ] {
        assert_eq!(ask(&format!("Host: {other}\r\n")), 421, "{other}");
    }
    // Two hosts, and none.
    assert_eq!(ask(&format!("Host: {}\r\nHost: {}\r\n", s.host, s.host)), 421);
    assert!(matches!(ask(""), 400 | 421));
}

#[test]
fn another_site_changes_nothing() {
    let s = serve(&[("a", DAY)]);
    let own = format!("Origin: http://{}\r\n", s.host);
    let port = s.host.rsplit(':').next().unwrap();
    for headers in [
        String::new(),
        "Origin: null\r\n".into(),
        "Origin: http://evil.example\r\n".into(),
        format!("Origin: https://{}\r\n", s.host),
        // Another name of this machine is another origin than the one that is asked.
        format!("Origin: http://localhost:{port}\r\n"),
        format!("{own}Sec-Fetch-Site: cross-site\r\n"),
        format!("{own}{own}"),
    ] {
        let answer = s.post_from("/all/plan", &[], &headers);
        assert_eq!(answer.status, 403, "{headers}");
    }
    assert!(!s.folder.path().join(".platewright").exists());
    let framed = s.raw(
        format!(
            "GET / HTTP/1.1\r\nHost: {}\r\nSec-Fetch-Site: cross-site\r\nSec-Fetch-Mode: no-cors\r\nConnection: close\r\n\r\n",
            s.host
        )
        .as_bytes(),
    );
    assert_eq!(framed.status, 403);
}

#[test]
fn every_answer_carries_the_policy() {
    let s = serve(&[("a", DAY)]);
    for path in [
        "/",
        "/nothing",
        "/b/none/week",
        "/assets/page.css",
        "/assets/page.js",
    ] {
        let answer = s.get(path);
        let policy = answer.header("content-security-policy").unwrap();
        assert!(policy.contains("default-src 'none'"), "{path}");
        assert!(!policy.contains("unsafe"), "{path}");
        assert!(policy.contains("frame-ancestors 'none'"), "{path}");
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"), "{path}");
    }
}

#[test]
fn paths_stay_in_the_folder() {
    let s = serve(&[("a", DAY)]);
    let outside = tempfile::tempdir().unwrap();
    let secret = outside.path().join("secret.toml");
    fs::write(&secret, DAY.replace("One day", "Secret")).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink(&secret, s.folder.path().join("link.toml")).unwrap();
    for name in [
        "..%2Fsecret",
        "%2e%2e/secret",
        "../secret",
        "..%5Csecret",
        "link",
        "a%00",
        ".hidden",
        "%2Fetc%2Fpasswd",
    ] {
        for room in ["brief", "week", "give-and-take", "months", "lists"] {
            let answer = s.get(&format!("/b/{name}/{room}"));
            assert_eq!(answer.status, 404, "{name} {room}");
            assert!(!answer.body.contains("Secret"));
        }
    }
    assert!(!s.get("/").body.contains("Secret"));
}

#[test]
fn a_post_of_a_hundred_megabytes_is_refused_before_it_is_read() {
    let s = serve(&[("a", DAY)]);
    let head = format!(
        "POST /all/plan HTTP/1.1\r\nHost: {h}\r\nOrigin: http://{h}\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 104857600\r\nConnection: close\r\n\r\n",
        h = s.host
    );
    let mut bytes = head.into_bytes();
    bytes.resize(bytes.len() + (1 << 16), b'a');
    assert_eq!(s.raw(&bytes).status, 413);
    assert_eq!(s.get("/").status, 200);
}

#[test]
fn script_in_a_brief_shows_as_text() {
    let hostile = DAY.replace("One day", "<script>alert(1)</script><img src=x onerror=alert(1)>");
    let s = serve(&[("hostile", &hostile)]);
    for path in ["/", "/b/hostile/brief", "/b/hostile/week", "/b/hostile/months"] {
        let page = s.get(path).body;
        assert!(!page.contains("<script>alert"), "{path}");
        assert!(!page.contains("<img"), "{path}");
    }
    assert!(s.get("/").body.contains("&lt;script&gt;alert(1)"));
}

#[test]
fn briefs_are_told_from_other_files_and_show_how_they_stand() {
    let broken = DAY.replace("[[phase]]", "[[phase");
    let claim = "title = \"A claim\"\nweeks = 4\n";
    let s = serve(&[("a", DAY), ("broken", &broken), ("claim", claim)]);
    let page = s.get("/").body;
    assert!(
        page.contains("One day") && page.contains("not planned yet"),
        "{page}"
    );
    assert!(
        page.contains("broken.toml") && page.contains("has mistakes"),
        "{page}"
    );
    assert!(!page.contains("A claim"), "{page}");
}

#[test]
fn all_that_wait_are_planned_and_stale_ones_again() {
    let second = DAY.replace("One day", "Another day");
    let mut s = serve(&[("a", DAY), ("b", &second)]);
    assert_eq!(s.post("/all/plan", &[]).status, 303);
    wait(&s, |page| page.matches(">planned<").count() == 2);
    // After a new start they still stand as they did.
    s.again();
    assert_eq!(s.get("/").body.matches(">planned<").count(), 2);
    fs::write(s.folder.path().join("a.toml"), DAY.replace("61 kg", "62 kg")).unwrap();
    assert!(s.get("/").body.contains("changed since it was planned"));
}

fn wait(s: &page_client::Served, done: impl Fn(&str) -> bool) {
    let begun = Instant::now();
    while !done(&s.get("/").body) {
        assert!(begun.elapsed() < Duration::from_secs(120), "{}", s.get("/").body);
        std::thread::sleep(Duration::from_millis(100));
    }
}
