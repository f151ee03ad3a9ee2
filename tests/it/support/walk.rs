//! Every page of a listener, one after the other, in a browser.

use serde_json::Value;

use super::Browser;
use super::browser::key;

impl Browser {
    /// Goes through every page and has a look at each.
    pub(crate) async fn walk(&self, link: &str, look: impl AsyncFn(&str)) {
        self.go(link).await;
        look("consent").await;
        self.click("[name=agreed]").await;
        self.click("form button").await;
        self.until("return document.getElementById('play') !== null")
            .await;
        self.click("[name=heard][value=no]").await;
        look("sound check").await;
        self.click("#play").await;
        self.until(
            "return document.getElementById('play').getAttribute('aria-disabled') === 'true'",
        )
        .await;
        self.until(
            "return document.getElementById('play').getAttribute('aria-disabled') === 'false'",
        )
        .await;
        self.click("[name=device]").await;
        self.click("[name=heard]").await;
        self.click("form button:not([type=button])").await;
        self.until("return document.querySelector('[action=\"/listen/begin\"]') !== null")
            .await;
        look("what to judge").await;
        self.click("form button").await;
        self.until("return document.getElementById('number')?.textContent.length > 0")
            .await;
        for details in ["aside", "settings"] {
            self.js(&format!("document.getElementById({details:?}).open = true"))
                .await;
        }
        look("the sitting, before the word").await;
        let mut number = 0;
        while self.hear().await {
            number += 1;
            if number == 1 {
                look("the sitting, after the word").await;
            }
            self.press(key::LEFT).await;
            self.all_saved().await;
            if number == 1 {
                look("the sitting, answered").await;
            }
        }
        self.until("return document.querySelector('form[action=\"/listen/closing\"]') !== null")
            .await;
        look("closing").await;
        self.click("form .button").await;
        self.until("return document.querySelector('.receipt') !== null")
            .await;
        look("thanks").await;
        let there = self.js("return location.origin").await;
        let Value::String(origin) = there else {
            panic!("a page has an origin")
        };
        self.go(&format!("{origin}/l/unknown")).await;
        look("an error").await;
    }
}
