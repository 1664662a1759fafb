//! Debian's chromium, driven by its own driver over loopback.

use std::io::{BufRead as _, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use base64::Engine as _;
use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder, Locator};
use serde_json::{Value, json};
use url::{ParseError, Url};

/// Nothing on a page may take longer to show.
const WITHIN_MS: u64 = 20_000;

/// A browser of its own: driver, profile and window go with it.
pub struct Browser {
    client: Client,
    driver: Child,
    _profile: tempfile::TempDir,
}

/// Milliseconds of life.
pub async fn moment(millis: u64) {
    tokio::time::timeout(Duration::from_millis(millis), std::future::pending::<()>()).await.unwrap_err();
}

/// A command of the browser's own protocol.
#[derive(Debug)]
struct Devtools {
    name: &'static str,
    with: Value,
}

impl WebDriverCompatibleCommand for Devtools {
    fn endpoint(&self, base: &Url, session: Option<&str>) -> Result<Url, ParseError> {
        base.join(&format!("session/{}/goog/cdp/execute", session.unwrap_or_default()))
    }

    fn method_and_body(&self, _: &Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(json!({ "cmd": self.name, "params": self.with }).to_string()))
    }
}

fn start_driver(profile: &std::path::Path) -> (Child, u16) {
    let mut driver = Command::new("chromedriver")
        .arg("--port=0")
        .env("TMPDIR", profile)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("chromedriver is missing: run tests/pages.sh, which installs it");
    let mut lines = BufReader::new(driver.stdout.take().unwrap()).lines().map_while(Result::ok);
    // It first says the port that it was given, 0.
    let port = |line: &str| line.rsplit_once("successfully on port ")?.1.trim_end_matches('.').parse().ok();
    if let Some(port) = lines.by_ref().find_map(|line| port(&line)) {
        // What it says later is read away, so that it never waits for a reader.
        std::thread::spawn(move || lines.for_each(drop));
        return (driver, port);
    }
    let ended = driver.wait();
    panic!("chromedriver ended without saying its port: {ended:?}");
}

impl Browser {
    /// Opens a window. Without script, pages have to do without.
    pub async fn open(script: bool) -> Self {
        let profile = tempfile::tempdir().unwrap();
        let (driver, port) = start_driver(profile.path());
        let folder = profile.path().join("profile");
        let mut args: Vec<String> = [
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--hide-scrollbars",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--disable-dev-shm-usage",
        ]
        .map(str::to_owned)
        .into();
        args.push(format!("--user-data-dir={}", folder.display()));
        let mut options = json!({ "args": args });
        if !script {
            options["prefs"] = json!({ "profile.managed_default_content_settings.javascript": 2 });
        }
        let Value::Object(wanted) = json!({ "goog:chromeOptions": options }) else { unreachable!() };
        let client = ClientBuilder::new(hyper_util::client::legacy::connect::HttpConnector::new())
            .capabilities(wanted)
            .connect(&format!("http://127.0.0.1:{port}"))
            .await
            .unwrap();
        Self { client, driver, _profile: profile }
    }

    /// Ends the browser and its driver.
    pub async fn close(self) {
        self.client.clone().close().await.unwrap();
    }

    async fn devtools(&self, name: &'static str, with: Value) -> Value {
        self.client.issue_cmd(Devtools { name, with }).await.unwrap()
    }

    /// Width and height of the window, and light or dark.
    pub async fn look(&self, width: u32, height: u32, dark: bool) {
        let size = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        self.devtools("Emulation.setDeviceMetricsOverride", size).await;
        let scheme = if dark { "dark" } else { "light" };
        let media = json!({ "media": "", "features": [{ "name": "prefers-color-scheme", "value": scheme }] });
        self.devtools("Emulation.setEmulatedMedia", media).await;
    }

    pub async fn goto(&self, address: &str) {
        self.client.goto(address).await.unwrap();
    }

    pub async fn address(&self) -> String {
        self.client.current_url().await.unwrap().to_string()
    }

    /// What a reader sees of the page.
    pub async fn text(&self) -> String {
        self.client.find(Locator::Css("body")).await.unwrap().text().await.unwrap()
    }

    /// Waits until the page says something.
    pub async fn waits_for(&self, what: &str) {
        let mut seen = String::new();
        for _ in 0..WITHIN_MS / 50 {
            // Between two pages there may be none.
            if let Ok(body) = self.client.find(Locator::Css("body")).await {
                seen = body.text().await.unwrap_or_default();
            }
            if seen.contains(what) {
                return;
            }
            moment(50).await;
        }
        panic!("the page at {} never said `{what}`:\n{seen}", self.address().await);
    }

    /// Presses the first button with these words, as a person would.
    pub async fn press(&self, words: &str) {
        let path = format!("//button[normalize-space()='{words}']");
        self.client
            .find(Locator::XPath(&path))
            .await
            .unwrap_or_else(|_| panic!("no button `{words}`"))
            .click()
            .await
            .unwrap();
    }

    /// Follows the first link with these words.
    pub async fn follow(&self, words: &str) {
        self.client
            .find(Locator::LinkText(words))
            .await
            .unwrap_or_else(|_| panic!("no link `{words}`"))
            .click()
            .await
            .unwrap();
    }

    pub async fn fill(&self, field: &str, text: &str) {
        self.client.find(Locator::Css(field)).await.unwrap().send_keys(text).await.unwrap();
    }

    pub async fn choose(&self, field: &str, label: &str) {
        self.client.find(Locator::Css(field)).await.unwrap().select_by_label(label).await.unwrap();
    }

    /// Whether the page is wider than its window.
    pub async fn overflows(&self) -> bool {
        let script = "return document.documentElement.scrollWidth > document.documentElement.clientWidth";
        self.client.execute(script, Vec::new()).await.unwrap().as_bool().unwrap()
    }

    /// What axe-core has to say against the page, as sentences.
    pub async fn complaints(&self, axe: &str) -> Vec<String> {
        self.client.execute(axe, Vec::new()).await.unwrap();
        let run = "const done = arguments[arguments.length - 1]; axe.run(document, { runOnly: { type: 'tag', values: \
                   ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa'] } }).then(r => done({ passes: r.passes.length, violations: \
                   r.violations.map(v => v.id + ': ' + v.help + ': ' + v.nodes.map(n => n.html + ' ' + \
                   (n.any[0] ? n.any[0].message : '')).join(' | ')) }))";
        let said = self.client.execute_async(run, Vec::new()).await.unwrap();
        assert!(said["passes"].as_u64().unwrap() > 8, "axe-core looked at next to nothing: {said}");
        said["violations"].as_array().unwrap().iter().map(|one| one.as_str().unwrap().to_owned()).collect()
    }

    /// How many sheets the page takes on paper, and the sheets themselves.
    pub async fn paper(&self) -> (usize, Vec<u8>) {
        let printed = self
            .devtools("Page.printToPDF", json!({ "paperWidth": 8.5, "paperHeight": 11, "printBackground": false }))
            .await;
        let pdf = base64::engine::general_purpose::STANDARD.decode(printed["data"].as_str().unwrap()).unwrap();
        let text = String::from_utf8_lossy(&pdf);
        (text.matches("/Type /Page\n").count(), pdf)
    }

    /// A picture of the whole page, kept when BROWLINE_SHOTS names a folder.
    pub async fn shot(&self, name: &str) {
        let Ok(folder) = std::env::var("BROWLINE_SHOTS") else { return };
        let taken = self.devtools("Page.captureScreenshot", json!({ "captureBeyondViewport": true })).await;
        let png = base64::engine::general_purpose::STANDARD.decode(taken["data"].as_str().unwrap()).unwrap();
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(format!("{folder}/{name}.png"), png).unwrap();
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // A test that fails leaves no browser behind: it is the driver's child, and does not end with it.
        let driver = self.driver.id();
        let children = std::fs::read_to_string(format!("/proc/{driver}/task/{driver}/children")).unwrap_or_default();
        for child in children.split_whitespace().chain([driver.to_string().as_str()]) {
            let _ = Command::new("kill").arg(child).status();
        }
        let _ = self.driver.wait();
    }
}
