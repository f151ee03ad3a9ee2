//! What only Chromium's own tools can do to a page, through its driver.

use std::time::Duration;
use std::time::Instant;

use axum::body::Body;
use axum::body::to_bytes;
use axum::http::Request;
use hyper_util::client::legacy::Client;
use hyper_util::rt::TokioExecutor;
use serde_json::Value;
use serde_json::json;

use super::Browser;
use super::browser::PATIENCE;

/// Makes every word last eight seconds, its own sound first, so that there is time to do something
/// while it sounds; `soundingSince` tells when it began.
const LONG_WORDS: &str = "
    const plain = OfflineAudioContext.prototype.decodeAudioData;
    OfflineAudioContext.prototype.decodeAudioData = async function (bytes) {
      const word = await plain.call(this, bytes);
      const long = new AudioBuffer({ length: 8 * word.sampleRate, sampleRate: word.sampleRate });
      long.copyToChannel(word.getChannelData(0), 0);
      return long;
    };
    const start = AudioBufferSourceNode.prototype.start;
    AudioBufferSourceNode.prototype.start = function (when) {
      start.call(this, when);
      const look = () => {
        if (this.context.currentTime > when) window.soundingSince = performance.now();
        else setTimeout(look, 10);
      };
      if (!this.loop) { window.soundingSince = Infinity; look(); }
    };";

impl Browser {
    /// Runs a script in every page from the next one on, before the page's own.
    pub(crate) async fn before_every_page(&self, script: &str) {
        let script = json!({ "source": script });
        self.tools("Page.addScriptToEvaluateOnNewDocument", script)
            .await;
    }

    /// Loads the page again; from now on every word lasts eight seconds.
    pub(crate) async fn with_long_words(&self) {
        self.before_every_page(LONG_WORDS).await;
        self.client.refresh().await.unwrap();
    }

    /// Cuts the browser's own connection, or gives it back.
    pub(crate) async fn set_offline(&self, offline: bool) {
        let conditions = json!({
            "offline": offline, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1,
        });
        self.tools("Network.emulateNetworkConditions", conditions)
            .await;
    }

    /// Stops the page as a closed lid does, or lets it go on.
    pub(crate) async fn set_frozen(&self, frozen: bool) {
        let state = if frozen { "frozen" } else { "active" };
        self.tools("Page.setWebLifecycleState", json!({ "state": state }))
            .await;
    }

    /// Shows pages to a person who wants them so, such as dark ones; nothing: as the browser is.
    pub(crate) async fn set_media(&self, wanted: &[(&str, &str)]) {
        let features: Vec<_> = wanted
            .iter()
            .map(|(name, value)| json!({ "name": name, "value": value }))
            .collect();
        let media = json!({ "media": "", "features": features });
        self.tools("Emulation.setEmulatedMedia", media).await;
        for (name, value) in wanted {
            self.until(&format!("return matchMedia('({name}: {value})').matches"))
                .await;
        }
    }

    /// Makes the window this wide, or as wide as it was.
    pub(crate) async fn set_width(&self, width: Option<u32>) {
        let Some(width) = width else {
            self.tools("Emulation.clearDeviceMetricsOverride", json!({}))
                .await;
            return;
        };
        let metrics = json!({
            "width": width, "height": 900, "deviceScaleFactor": 1, "mobile": false,
        });
        self.tools("Emulation.setDeviceMetricsOverride", metrics)
            .await;
        self.until(&format!("return innerWidth === {width}")).await;
    }

    /// A picture of the whole page, in PNG.
    pub(crate) async fn picture(&self) -> Vec<u8> {
        let size = self
            .js("return [document.documentElement.clientWidth, document.documentElement.scrollHeight]")
            .await;
        let wanted = json!({
            "captureBeyondViewport": true,
            "clip": { "x": 0, "y": 0, "width": size[0], "height": size[1], "scale": 1 },
        });
        let taken = self.tools("Page.captureScreenshot", wanted).await;
        let data = taken["value"]["data"].as_str().unwrap();
        data_encoding::BASE64.decode(data.as_bytes()).unwrap()
    }

    /// Waits until the page is such to a screen reader: the browser tells it of a change some time after the page shows
    /// it.
    pub(crate) async fn until_a_screen_reader_meets(
        &self,
        what: &str,
        fits: impl Fn(&[String]) -> bool,
    ) {
        let begun = Instant::now();
        loop {
            let met = self.heard_by_a_screen_reader().await;
            if fits(&met) {
                return;
            }
            assert!(begun.elapsed() < PATIENCE, "{what}: {met:#?}");
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
    }

    /// The page as a screen reader meets it: role and name of each thing, in order, with its state.
    async fn heard_by_a_screen_reader(&self) -> Vec<String> {
        let tree = self.tools("Accessibility.getFullAXTree", json!({})).await;
        let nodes = tree["value"]["nodes"].as_array().unwrap().iter();
        nodes
            .filter(|node| node["ignored"] != json!(true))
            .map(|node| {
                let states = node["properties"].as_array().into_iter().flatten();
                let on = states
                    .filter(|state| {
                        ["disabled", "pressed"]
                            .iter()
                            .any(|name| state["name"] == *name)
                    })
                    .filter(|state| state["value"]["value"].as_str() != Some("false"))
                    .filter(|state| state["value"]["value"] != json!(false))
                    .map(|state| format!(", {}", state["name"].as_str().unwrap()));
                let role = node["role"]["value"].as_str().unwrap_or_default();
                let name = node["name"]["value"].as_str().unwrap_or_default();
                format!("{role}: {}{}", name.trim(), on.collect::<String>())
            })
            .collect()
    }

    async fn tools(&self, command: &str, parameters: Value) -> Value {
        let session = self.client.session_id().await.unwrap().unwrap();
        let address = self.driver_address();
        let request = Request::post(format!("{address}/session/{session}/goog/cdp/execute"))
            .header("content-type", "application/json")
            .body(Body::from(
                json!({ "cmd": command, "params": parameters }).to_string(),
            ))
            .unwrap();
        let client = Client::builder(TokioExecutor::new()).build_http::<Body>();
        let answer = client.request(request).await.unwrap();
        assert_eq!(answer.status().as_u16(), 200, "{command}");
        let body = to_bytes(Body::new(answer.into_body()), usize::MAX).await;
        serde_json::from_slice(&body.unwrap()).unwrap()
    }
}
