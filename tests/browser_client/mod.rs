//! A real browser on a served folder: chromium through its driver, without a window.
#![allow(dead_code)]

use fantoccini::elements::Element;
use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Looks at a page as a reader with a small screen, a keyboard or a screen reader would.
const PROBE: &str = include_str!("../sample/probe.js");

/// The checks of the axe library (MPL 2.0, by the checks of .ci/run), where it is there.
const AXE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/target/axe/package/axe.min.js");

/// Asks it for what breaks the guidelines WCAG 2.2, levels A and AA.
const ASK_AXE: &str = "const done = arguments[arguments.length - 1]; \
    axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] }) \
    .then((r) => done(r.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.html.slice(0, 120)).join(' | ')).join('; ') || 'none'), (e) => done(String(e)));";

/// A browser; it ends with this value.
pub struct Browser {
    driver: Child,
    _profile: tempfile::TempDir,
    pub page: Client,
    host: String,
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}

/// A command of the driver beyond the standard ones.
#[derive(Debug)]
struct Extra {
    path: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for Extra {
    fn endpoint(&self, base: &url::Url, session: Option<&str>) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/{}", session.unwrap_or_default(), self.path))
    }
    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(self.body.to_string()))
    }
}

impl Browser {
    /// Starts a browser for the pages of `host`.
    pub async fn open(host: &str) -> Browser {
        let mut driver = Command::new("chromedriver")
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("chromedriver is installed");
        let lines = BufReader::new(driver.stdout.take().unwrap()).lines();
        let port = lines
            .map_while(Result::ok)
            .find_map(|l| {
                let (_, port) = l.split_once("started successfully on port ")?;
                port.trim_end_matches('.').parse::<u16>().ok()
            })
            .expect("the driver tells its port");
        let profile = tempfile::tempdir().unwrap();
        let options = json!({
            "goog:loggingPrefs": { "browser": "ALL" },
            "goog:chromeOptions": { "args": [
                "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                "--disable-background-networking", "--disable-component-update", "--disable-sync",
                format!("--user-data-dir={}", profile.path().display()), "--window-size=1280,1000",
            ] },
        });
        let page = ClientBuilder::new(HttpConnector::new())
            .capabilities(options.as_object().unwrap().clone())
            .connect(&format!("http://127.0.0.1:{port}"))
            .await
            .expect("a browser starts");
        Browser {
            driver,
            _profile: profile,
            page,
            host: host.to_string(),
        }
    }

    /// Goes to a page and waits until all of it is there: the driver may tell so while it is still being read.
    pub async fn go(&self, path: &str) {
        self.page
            .goto(&format!("http://{}{path}", self.host))
            .await
            .unwrap();
        let script = "return location.href !== 'about:blank' && document.readyState === 'complete'";
        self.until("the page", script).await;
    }

    /// Runs a script of the test in the page and gives what it returns.
    pub async fn run(&self, script: &str) -> Value {
        self.page.execute(script, vec![]).await.unwrap()
    }

    /// Waits until a script of the test returns something true, and gives it.
    pub async fn until(&self, what: &str, script: &str) -> Value {
        let begun = Instant::now();
        loop {
            if let Ok(value) = self.page.execute(script, vec![]).await
                && !matches!(value, Value::Null | Value::Bool(false))
            {
                return value;
            }
            if begun.elapsed() > Duration::from_secs(60) {
                panic!("waited in vain for {what} on {}", self.place().await);
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }

    /// What a selector finds first.
    async fn find(&self, selector: &str) -> Element {
        match self.page.find(Locator::Css(selector)).await {
            Ok(found) => found,
            Err(e) => panic!("{selector} on {}: {e}", self.place().await),
        }
    }

    /// Where the browser is and what it shows.
    async fn place(&self) -> String {
        let script = "return location.href + '\\n' + document.body.innerText";
        self.run(script).await.as_str().unwrap_or_default().to_string()
    }

    /// Clicks what a selector finds first.
    pub async fn click(&self, selector: &str) {
        self.find(selector).await.click().await.unwrap();
    }

    /// Types into a field in the place of what stood there.
    pub async fn fill(&self, selector: &str, text: &str) {
        let field = self.find(selector).await;
        field.clear().await.unwrap();
        field.send_keys(text).await.unwrap();
    }

    /// The text that the page shows.
    pub async fn text(&self) -> String {
        let text = self.run("return document.body.innerText").await;
        text.as_str().unwrap_or_default().to_string()
    }

    /// A command of the browser's own protocol.
    pub async fn browser(&self, command: &str, parameters: Value) -> Value {
        let body = json!({ "cmd": command, "params": parameters });
        let path = "goog/cdp/execute";
        self.page.issue_cmd(Extra { path, body }).await.unwrap()
    }

    /// A screen of another size, light or dark.
    pub async fn screen(&self, width: u32, height: u32, dark: bool) {
        let size = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600 });
        self.browser("Emulation.setDeviceMetricsOverride", size).await;
        let scheme = if dark { "dark" } else { "light" };
        let features = json!({ "features": [{ "name": "prefers-color-scheme", "value": scheme }] });
        self.browser("Emulation.setEmulatedMedia", features).await;
    }

    /// Fails when the console of the browser told an error or a warning since the last call.
    pub async fn quiet(&self) {
        self.quiet_but(None).await;
    }

    /// As [`Browser::quiet`], where the server has to answer once with this code: chromium tells that as an error.
    /// Fails too when it was not told.
    pub async fn refused(&self, code: u16) {
        self.quiet_but(Some(format!("the server responded with a status of {code}")))
            .await;
    }

    async fn quiet_but(&self, refusal: Option<String>) {
        let body = json!({ "type": "browser" });
        let told = self.page.issue_cmd(Extra { path: "se/log", body }).await.unwrap();
        let bad: Vec<&Value> = told
            .as_array()
            .into_iter()
            .flatten()
            .filter(|l| l["level"] == "SEVERE" || l["level"] == "WARNING")
            .collect();
        let is = |l: &&Value| {
            let text = l["message"].as_str().unwrap_or_default();
            refusal.as_ref().is_some_and(|r| text.contains(r.as_str()))
        };
        let (told, bad): (Vec<&Value>, Vec<&Value>) = bad.into_iter().partition(is);
        assert!(bad.is_empty(), "the console tells {bad:#?}");
        assert_eq!(told.len(), usize::from(refusal.is_some()), "{told:#?}");
    }

    /// Fails when the probe finds fault with the page, and when the axe library does where it is there.
    pub async fn sound(&self, place: &str) {
        let faults = self.faults(place).await;
        assert!(faults.is_empty(), "{faults}");
    }

    /// What [`Browser::sound`] fails on; empty when there is nothing.
    pub async fn faults(&self, place: &str) -> String {
        let (probe, _) = PROBE.rsplit_once("parent.postMessage").unwrap();
        let script = format!("{probe} return faults.join(' | ') || 'none';");
        let mut told = vec![self.run(&script).await];
        if let Ok(axe) = std::fs::read_to_string(AXE) {
            self.run(&axe).await;
            told.push(self.page.execute_async(ASK_AXE, vec![]).await.unwrap());
        }
        let faults = told.iter().filter_map(Value::as_str).filter(|t| *t != "none");
        faults.map(|f| format!("{place}: {f}\n")).collect()
    }

    /// Ends the session.
    pub async fn close(self) {
        self.quiet().await;
        let _ = self.page.clone().close().await;
    }
}
