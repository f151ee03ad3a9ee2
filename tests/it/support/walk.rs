//! Every page of a listener, one after the other, in a browser.

use serde_json::Value;
use serde_json::json;

use super::Browser;
use super::browser::key;

impl Browser {
    /// Goes through every page that the study's plan makes, and has a look at each. Says what came
    /// between the words, each title once.
    pub(crate) async fn walk(&self, link: &str, look: impl AsyncFn(&str)) -> Vec<String> {
        self.go(link).await;
        self.walk_to_the_words(&look).await;
        for details in ["aside", "settings"] {
            self.js(&format!("document.getElementById({details:?}).open = true"))
                .await;
        }
        look("the sitting, before the word").await;
        let (mut number, mut halts) = (0, Vec::new());
        while self.goes_on(&look, &mut halts).await {
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
        self.until("return document.querySelector('form[action^=\"/listen/closing\"]') !== null")
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
        self.go(&format!("{origin}/listen/later")).await;
        look("until another day").await;
        self.go(&format!("{origin}/l/unknown")).await;
        look("an error").await;
        halts
    }

    async fn walk_to_the_words(&self, look: impl AsyncFn(&str)) {
        look("consent").await;
        if self.shows("[name=age]").await {
            self.click("[name=age][value=minor]").await;
            look("consent of a minor").await;
            self.click("[name=guardian]").await;
        }
        self.click("[name=agreed]").await;
        self.click("form button").await;
        self.until("return document.querySelector('.questions, #play') !== null")
            .await;
        if self.shows(".questions").await {
            look("questions").await;
            self.js("for (const not of document.querySelectorAll('[value=not-said]')) not.click()")
                .await;
            self.click("form .button").await;
            self.until("return document.getElementById('play') !== null")
                .await;
        }
        self.walk_through_the_sound_check(&look).await;
        self.until("return document.querySelector('[action^=\"/listen/begin\"]') !== null")
            .await;
        look("what to judge").await;
        self.click("form button").await;
        self.until("return document.getElementById('number')?.textContent.length > 0")
            .await;
    }

    async fn walk_through_the_sound_check(&self, look: impl AsyncFn(&str)) {
        self.click("[name=heard][value=no]").await;
        look("sound check").await;
        self.hear_the_loudest(async || self.click("#play").await)
            .await;
        self.click("[name=device]").await;
        self.click("[name=heard]").await;
        if self.shows("[data-check=first]").await {
            self.do_check("first", &[0, 1, 0]).await;
            look("sound check, done once").await;
        }
        if self.shows("[data-check=headphones]").await {
            // The tones take half a minute: a test of their own hears them.
            self.js("document.getElementById('check').submit()").await;
        } else {
            self.click("form button:not([type=button])").await;
        }
    }

    /// Plays the next word; past a halt, once it was looked at. False when the sitting is over.
    async fn goes_on(&self, look: impl AsyncFn(&str), halts: &mut Vec<String>) -> bool {
        while !self.hear().await {
            if !self.shows("[action^='/listen/go-on']").await {
                return false;
            }
            let title = self.js("return document.title").await;
            let title = title.as_str().unwrap().to_owned();
            look(&title).await;
            if !halts.contains(&title) {
                halts.push(title);
            }
            self.click("form .button").await;
            self.until("return document.getElementById('number')?.textContent.length > 0")
                .await;
        }
        true
    }

    /// Does the sound check of this device without hearing it, where the page asks for one.
    pub(crate) async fn check_sound_if_asked(&self) {
        if self.shows("#play").await {
            self.js("document.querySelector('[name=device]').click(); document.querySelector('[name=heard]').click(); document.getElementById('check').submit()")
                .await;
            self.until("return document.getElementById('play') === null")
                .await;
        }
    }

    async fn shows(&self, css: &str) -> bool {
        let script = format!("return document.querySelector({css:?}) !== null");
        self.js(&script).await == json!(true)
    }
}
