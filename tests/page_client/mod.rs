//! The page as a program that speaks plain HTTP sees it: the binary serving a folder, and requests of any kind.
#![allow(dead_code)]

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// A brief that plans quickly: one day.
pub const DAY: &str = "# An invented person.\ntitle = \"One day\"\nregion = \"us\"\ndays = 1\n\n[person]\nsex = \"female\"\nage = 30\nheight = \"168 cm\"\nweight = \"61 kg\"\n\n[activity]\nlevel = \"active\"\n\n[[phase]]\nkind = \"gain\"\nsurplus = \"300 kcal\" # slowly\nweeks = 8\n";

/// The binary serving a folder; it ends with this value.
pub struct Served {
    child: Child,
    /// `127.0.0.1:PORT`
    pub host: String,
    /// The folder.
    pub folder: tempfile::TempDir,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// What came back.
pub struct Answer {
    pub status: u16,
    pub headers: Vec<(String, String)>,
    pub body: String,
    /// The body as it came.
    pub bytes: Vec<u8>,
}

impl Answer {
    pub fn header(&self, name: &str) -> Option<&str> {
        let found = self.headers.iter().find(|(n, _)| n == name);
        found.map(|(_, v)| v.as_str())
    }
}

/// Serves a folder with these briefs, `(name, text)`.
pub fn serve(briefs: &[(&str, &str)]) -> Served {
    serve_with(briefs, &[])
}

/// As [`serve`], with further options.
pub fn serve_with(briefs: &[(&str, &str)], options: &[&str]) -> Served {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in briefs {
        fs::write(folder.path().join(format!("{name}.toml")), text).unwrap();
    }
    let (child, host) = start(folder.path(), options);
    Served { child, host, folder }
}

fn start(folder: &Path, options: &[&str]) -> (Child, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_platewright"))
        .arg("serve")
        .arg(folder)
        .args(["--port", "0"])
        .args(options)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap())
        .read_line(&mut line)
        .unwrap();
    let host = line.trim().trim_start_matches("http://").trim_end_matches('/');
    (child, host.to_string())
}

impl Served {
    /// Ends the process and starts another over the same folder.
    pub fn again(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
        (self.child, self.host) = start(self.folder.path(), &[]);
    }

    /// The text of a file of the folder.
    pub fn file(&self, name: &str) -> String {
        fs::read_to_string(self.folder.path().join(name)).unwrap()
    }

    /// Sends bytes as they are and reads the answer.
    pub fn raw(&self, bytes: &[u8]) -> Answer {
        raw_to(&self.host, bytes)
    }

    /// A page.
    pub fn get(&self, path: &str) -> Answer {
        self.raw(
            format!(
                "GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
                self.host
            )
            .as_bytes(),
        )
    }

    /// A form sent from the page itself.
    pub fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        self.post_from(path, fields, &format!("Origin: http://{}\r\n", self.host))
    }

    /// A form sent with these headers instead of the page's own origin.
    pub fn post_from(&self, path: &str, fields: &[(&str, &str)], headers: &str) -> Answer {
        let body: Vec<String> = fields
            .iter()
            .map(|(k, v)| format!("{}={}", encoded(k), encoded(v)))
            .collect();
        let body = body.join("&");
        self.raw(
            format!(
                "POST {path} HTTP/1.1\r\nHost: {}\r\n{headers}Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
                self.host,
                body.len()
            )
            .as_bytes(),
        )
    }

    /// The digest that a page's forms carry.
    pub fn seen(&self, path: &str) -> String {
        let page = self.get(path).body;
        let at = page.find("name=\"seen\"").expect("a form with `seen`");
        let value = &page[at..];
        let from = value.find("value=\"").unwrap() + 7;
        value[from..].split('"').next().unwrap().to_string()
    }
}

/// Sends bytes as they are to a host and reads the answer.
pub fn raw_to(host: &str, bytes: &[u8]) -> Answer {
    let mut stream = TcpStream::connect(host).unwrap();
    // A guard against waiting for ever, not a limit on speed: fifty plans of an unoptimised build take over a
    // minute on a slow machine.
    stream.set_read_timeout(Some(Duration::from_secs(600))).unwrap();
    // A server that refuses early may close before all is sent.
    let _ = stream.write_all(bytes);
    let mut all = Vec::new();
    let read = stream.read_to_end(&mut all);
    assert!(
        !all.is_empty(),
        "no answer from the page ({read:?}) to {}",
        String::from_utf8_lossy(bytes).lines().next().unwrap_or_default()
    );
    let at = all
        .windows(4)
        .position(|w| w == b"\r\n\r\n")
        .map_or(all.len(), |n| n + 4);
    let text = String::from_utf8_lossy(&all).into_owned();
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((text.as_str(), ""));
    let mut lines = head.lines();
    let status = lines.next().and_then(|l| l.split(' ').nth(1)?.parse().ok());
    let headers: Vec<(String, String)> = lines
        .filter_map(|l| l.split_once(": "))
        .map(|(n, v)| (n.to_lowercase(), v.to_string()))
        .collect();
    let chunked = headers
        .iter()
        .any(|(n, v)| n == "transfer-encoding" && v == "chunked");
    assert!(!chunked, "pages are sent whole");
    Answer {
        status: status.unwrap_or(0),
        headers,
        body: body.to_string(),
        bytes: all[all.len().min(at)..].to_vec(),
    }
}

/// The value of the first hidden field of a name.
pub fn hidden(html: &str, name: &str) -> String {
    let start = format!("<input type=\"hidden\" name=\"{name}\" value=\"");
    let rest = html
        .split(&start)
        .nth(1)
        .unwrap_or_else(|| panic!("no field {name}"));
    rest.split('"').next().unwrap().to_string()
}

/// Text in a form (WHATWG URL, application/x-www-form-urlencoded).
pub fn encoded(text: &str) -> String {
    text.bytes()
        .map(|b| match b {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'*' => char::from(b).to_string(),
            b' ' => "+".into(),
            _ => format!("%{b:02X}"),
        })
        .collect()
}
