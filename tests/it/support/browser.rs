//! A real browser without a window, driven as a person would: by keys and clicks.

use std::process::Command;
use std::process::Stdio;
use std::time::Duration;
use std::time::Instant;

use fantoccini::Client;
use fantoccini::ClientBuilder;
use fantoccini::Locator;
use fantoccini::actions::InputSource;
use fantoccini::actions::KeyAction;
use fantoccini::actions::KeyActions;
use hyper_timeout::TimeoutConnector;
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::Value;
use serde_json::json;

use super::engine::Driver;
use super::engine::Engine;

/// How long a page may take on a busy machine.
pub(super) const PATIENCE: Duration = Duration::from_secs(40);

/// How long a browser may leave one command without an answer before it counts as hung: a script that
/// waits for a promise is given up by the browser itself after 30 s.
const ANSWERS_WITHIN: Duration = Duration::from_secs(100);

/// Keys as `WebDriver` writes them.
pub(crate) mod key {
    pub(crate) const TAB: char = '\u{E004}';
    pub(crate) const ENTER: char = '\u{E007}';
    pub(crate) const SPACE: char = ' ';
    pub(crate) const LEFT: char = '\u{E012}';
    pub(crate) const UP: char = '\u{E013}';
    pub(crate) const RIGHT: char = '\u{E014}';
}

/// A browser and its driver; both end when this is closed or dropped.
pub(crate) struct Browser {
    /// The browser's own process, as its driver tells it.
    process: Option<u64>,
    /// The browser.
    pub(crate) client: Client,
    driver: Driver,
}

impl Browser {
    /// Opens a browser with a window of 1280 by 900.
    pub(crate) async fn open() -> Self {
        Self::open_with(&["--window-size=1280,900"], json!({})).await
    }

    /// The same, where the person likes dark pages.
    pub(crate) async fn open_dark() -> Self {
        let browser = Self::open_with(&["--force-dark-mode"], json!({})).await;
        let dark = "return matchMedia('(prefers-color-scheme: dark)').matches";
        assert_eq!(browser.js(dark).await, json!(true));
        browser
    }

    /// The same, where the person likes pages that keep still.
    pub(crate) async fn open_still() -> Self {
        Self::open_with(&["--force-prefers-reduced-motion"], json!({})).await
    }

    /// A phone of this width.
    pub(crate) async fn open_phone(width: u32) -> Self {
        let metrics = json!({ "width": width, "height": 844, "pixelRatio": 1.0 });
        Self::open_with(&[], json!({ "deviceMetrics": metrics })).await
    }

    /// A browser of this engine.
    pub(crate) async fn open_in(engine: Engine) -> Self {
        Self::of(engine, engine.wanted(&["--window-size=1280,900"])).await
    }

    /// One that takes any certificate, that of the tests too.
    pub(crate) async fn open_trusting() -> Self {
        Self::open_with(&["--ignore-certificate-errors"], json!({})).await
    }

    async fn open_with(more: &[&str], phone: Value) -> Self {
        let mut wanted = Engine::Chromium.wanted(more);
        if phone != json!({}) {
            wanted["goog:chromeOptions"]["mobileEmulation"] = phone;
        }
        Self::of(Engine::Chromium, wanted).await
    }

    async fn of(engine: Engine, wanted: Value) -> Self {
        let driver = engine.drive();
        let mut connector = TimeoutConnector::new(HttpConnector::new());
        connector.set_read_timeout(Some(ANSWERS_WITHIN));
        let client = ClientBuilder::new(connector)
            .capabilities(wanted.as_object().unwrap().clone())
            .connect(&driver.address)
            .await
            .unwrap();
        let process = client.capabilities().and_then(|told| {
            let told = told
                .get("goog:processID")
                .or_else(|| told.get("moz:processID"));
            told.and_then(Value::as_u64)
        });
        Self {
            process,
            client,
            driver,
        }
    }

    /// Where its driver listens.
    pub(super) fn driver_address(&self) -> &str {
        &self.driver.address
    }

    /// Goes to an address.
    pub(crate) async fn go(&self, address: &str) {
        self.client.goto(address).await.unwrap();
    }

    /// Presses a key, wherever the focus is.
    pub(crate) async fn press(&self, value: char) {
        let keys = KeyActions::new("keyboard".to_owned())
            .then(KeyAction::Down { value })
            .then(KeyAction::Up { value });
        self.client.perform_actions(keys).await.unwrap();
    }

    /// Moves the focus by the tab key until it is on an element.
    pub(crate) async fn tab_to(&self, css: &str) {
        for _ in 0..40 {
            self.press(key::TAB).await;
            let there = format!("return document.activeElement?.matches({css:?}) ?? false");
            if self.js(&there).await == json!(true) {
                return;
            }
        }
        panic!("the tab key does not reach {css}");
    }

    /// Clicks an element. One that a script sets anew between the look and the click is looked for again.
    pub(crate) async fn click(&self, css: &str) {
        let begun = Instant::now();
        loop {
            let element = self.client.find(Locator::Css(css)).await.unwrap();
            match element.click().await {
                Err(error) if error.is_stale_element_reference() && begun.elapsed() < PATIENCE => {}
                done => return done.unwrap(),
            }
        }
    }

    /// What a script returns.
    pub(crate) async fn js(&self, script: &str) -> Value {
        self.client.execute(script, vec![]).await.unwrap()
    }

    /// Waits until the page is there as a whole, its scripts too, and a script returns true.
    pub(crate) async fn until(&self, script: &str) {
        self.until_within(PATIENCE, script).await;
    }

    /// The same for long work, such as the preparing of a hundred recordings.
    pub(crate) async fn until_within(&self, patience: Duration, script: &str) {
        let script = format!("if (document.readyState !== 'complete') return false;\n{script}");
        let begun = Instant::now();
        // While a page gives way to the next, a script can fail.
        while !matches!(
            self.client.execute(&script, vec![]).await,
            Ok(Value::Bool(true))
        ) {
            assert!(
                begun.elapsed() < patience,
                "never came true: {script}\n{}",
                self.page().await
            );
            tokio::time::sleep(Duration::from_millis(30)).await;
        }
    }

    /// The text of the page, for a failing test to show.
    pub(crate) async fn page(&self) -> String {
        let text = self
            .client
            .execute("return document.body.innerText", vec![])
            .await;
        text.map_or_else(|error| error.to_string(), |text| text.to_string())
    }

    /// Ends the browser.
    pub(crate) async fn close(self) {
        self.client.clone().close().await.unwrap();
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // A test that failed has not closed its browser, and the driver does not take it along.
        if let Some(process) = self.process {
            let _ = Command::new("kill")
                .arg(process.to_string())
                .stderr(Stdio::null())
                .status();
        }
    }
}
