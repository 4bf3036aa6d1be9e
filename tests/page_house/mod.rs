//! A page that is served for a test, and plain requests to it.
#![allow(dead_code, missing_docs)]

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use tempfile::TempDir;

pub struct Page {
    child: Child,
    pub address: SocketAddr,
    /// What was said on standard error until the address was told and some lines after.
    pub told: Vec<String>,
    folder: TempDir,
    options: Vec<String>,
}

pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }
    pub fn header(&self, name: &str) -> Option<String> {
        let mut lines = self.head.lines();
        lines.find_map(|l| {
            let (n, v) = l.split_once(": ")?;
            (n == name).then(|| v.to_string())
        })
    }
}

fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_platewright"))
}

fn start(folder: &Path, options: &[String]) -> (Child, SocketAddr, Vec<String>) {
    let mut child = program()
        .arg("serve")
        .arg(folder)
        .args(["--port", "0"])
        .args(options)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.as_mut().unwrap())
        .read_line(&mut line)
        .unwrap();
    let address = line.trim().trim_start_matches("http://").trim_end_matches('/');
    let address = address.parse().unwrap_or_else(|_| panic!("no address: {line:?}"));
    let mut err = BufReader::new(child.stderr.take().unwrap());
    // One line always; with lists for the house a head and a line for each brief.
    let house = options.iter().any(|o| o == "--lists-on");
    let briefs = fs::read_dir(folder).unwrap().flatten();
    let briefs = briefs
        .filter(|f| f.path().extension().is_some_and(|e| e == "toml"))
        .count();
    let mut told = Vec::new();
    for _ in 0..if house { 2 + briefs } else { 1 } {
        let mut line = String::new();
        err.read_line(&mut line).unwrap();
        told.push(line.trim_end().to_string());
    }
    (child, address, told)
}

impl Page {
    pub fn serve(files: &[(&str, &str)], options: &[&str]) -> Page {
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in files {
            fs::write(folder.path().join(name), text).unwrap();
        }
        let options: Vec<String> = options.iter().map(|o| o.to_string()).collect();
        let (child, address, told) = start(folder.path(), &options);
        Page {
            child,
            address,
            told,
            folder,
            options,
        }
    }

    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Ends the program and starts it again over the same folder.
    pub fn again(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
        (self.child, self.address, self.told) = start(self.folder.path(), &self.options);
    }

    pub fn file(&self, name: &str) -> String {
        fs::read_to_string(self.folder.path().join(name)).unwrap()
    }

    /// The command line in the folder of the page; what it wrote to standard output.
    pub fn command_bytes(&self, arguments: &[&str]) -> Vec<u8> {
        program()
            .current_dir(self.folder.path())
            .args(arguments)
            .output()
            .unwrap()
            .stdout
    }

    pub fn command(&self, arguments: &[&str]) -> String {
        String::from_utf8(self.command_bytes(arguments)).unwrap()
    }

    pub fn get(&self, path: &str) -> Answer {
        ask(
            self.address,
            "GET",
            path,
            &[("Host", &self.address.to_string())],
            "",
        )
    }

    pub fn post(&self, path: &str, body: &str) -> Answer {
        let host = self.address.to_string();
        let origin = format!("http://{host}");
        ask(
            self.address,
            "POST",
            path,
            &[("Host", &host), ("Origin", &origin)],
            body,
        )
    }
}

impl Drop for Page {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// One request with just these headers.
pub fn ask(to: SocketAddr, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
    let mut stream = TcpStream::connect(to).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(120))).unwrap();
    let mut text = format!("{method} {path} HTTP/1.1\r\nConnection: close\r\n");
    for (name, value) in headers {
        text += &format!("{name}: {value}\r\n");
    }
    if !body.is_empty() || method == "POST" {
        text += &format!(
            "Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n",
            body.len()
        );
    }
    text += "\r\n";
    text += body;
    stream.write_all(text.as_bytes()).unwrap();
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).unwrap();
    let at = bytes.windows(4).position(|w| w == b"\r\n\r\n").expect("a head");
    let head = String::from_utf8(bytes[..at].to_vec()).unwrap().to_lowercase();
    let status = head[9..12].parse().unwrap();
    let mut body = bytes[at + 4..].to_vec();
    if head.contains("transfer-encoding: chunked") {
        body = unchunked(&body);
    }
    Answer { status, head, body }
}

fn unchunked(mut bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    while let Some(at) = bytes.windows(2).position(|w| w == b"\r\n") {
        let length = usize::from_str_radix(std::str::from_utf8(&bytes[..at]).unwrap().trim(), 16).unwrap();
        if length == 0 {
            break;
        }
        out.extend(&bytes[at + 2..at + 2 + length]);
        bytes = &bytes[at + 4 + length..];
    }
    out
}

/// A form as its bytes (application/x-www-form-urlencoded).
pub fn form(fields: &[(&str, &str)]) -> String {
    let escaped = |text: &str| -> String {
        text.bytes()
            .map(|b| match b {
                b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' => char::from(b).to_string(),
                _ => format!("%{b:02X}"),
            })
            .collect()
    };
    let one = |(n, v): &(&str, &str)| format!("{}={}", escaped(n), escaped(v));
    fields.iter().map(one).collect::<Vec<_>>().join("&")
}

/// The value of the first hidden field of a name.
pub fn hidden(html: &str, name: &str) -> String {
    let start = format!("<input type=\"hidden\" name=\"{name}\" value=\"");
    let rest = html
        .split(&start)
        .nth(1)
        .unwrap_or_else(|| panic!("no field {name} in\n{html}"));
    rest.split('"').next().unwrap().to_string()
}
