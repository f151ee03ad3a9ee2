//! Every page of a listener is there for everyone: on a desktop and on a narrow phone, in light, dark and the system's own
//! colours, by keyboard, with doubled text, in a long language and in one that runs from right to left. An accessibility
//! engine finds nothing, nothing comes from elsewhere, and the page's own policy refuses nothing.

use serde_json::Value;
use serde_json::json;

use crate::browser_access::AXE;
use crate::browser_access::RUN_AXE;
use crate::browser_access::TOO_SMALL;
use crate::browser_access::TOO_WIDE;
use crate::browser_walk::FROM_RIGHT_TO_LEFT;
use crate::browser_walk::walk_everywhere;
use crate::languages::sentence;
use crate::support::Browser;
use crate::support::key;

/// What was loaded for this page: its bytes besides sound, as they came over the line, and every
/// address that is not the page's own host.
const LOADED: &str = "const all = [...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')];
    const bytes = all.filter((got) => !got.name.includes('/listen/sound/')).map((got) => got.encodedBodySize + 300);
    return [bytes.reduce((sum, one) => sum + one, 0), all.map((got) => got.name).filter((name) => !name.startsWith(location.origin))]";

/// Notes what the page's policy refuses, such as a style within the page.
const NOTE_REFUSALS: &str = "window.refused = [];
    document.addEventListener('securitypolicyviolation', (event) => window.refused.push(event.violatedDirective));";

/// What has the focus and does not show it.
const FOCUS_UNSEEN: &str = "const style = getComputedStyle(document.activeElement);
    return style.outlineStyle === 'none' || parseFloat(style.outlineWidth) < 2
      ? document.activeElement.outerHTML : null";

/// Fields, and links that stand in no sentence, that are smaller than 44 by 44.
const ALONE_TOO_SMALL: &str = "const inSentence = (link) => [...link.parentNode.childNodes].some((near) => near.nodeType === Node.TEXT_NODE && near.textContent.trim() !== '');
    return [...document.querySelectorAll('a, input[type=text], select')]
      .filter((target) => target.checkVisibility() && !(target.matches('a') && inSentence(target)))
      .map((target) => [target.textContent.trim() || target.id, target.getBoundingClientRect()])
      .filter(([, box]) => box.width < 44 || box.height < 44)
      .map(([name, box]) => `${name}: ${box.width} x ${box.height}`)";

/// Of every example in an empty field: its colour, its opacity, and what it stands on.
const PLACEHOLDERS: &str = "return [...document.querySelectorAll('[placeholder]')].map((field) => {
      const style = getComputedStyle(field, '::placeholder');
      return [style.color, style.opacity, getComputedStyle(field).backgroundColor];
    })";

/// Of what cannot be pressed, and of an answer that is chosen: what looks as if it were otherwise.
const ALIKE_IN_FORCED_COLOURS: &str = "const shown = [...document.querySelectorAll('.button, .answer')].filter((target) => target.checkVisibility());
    const chosen = (target) => target.getAttribute('aria-pressed') === 'true';
    const off = (target) => target.getAttribute('aria-disabled') === 'true' && !chosen(target);
    return shown.filter((target) => (getComputedStyle(target).borderTopStyle === 'dashed') !== off(target))
      .concat(shown.filter((target) => target.matches('.answer') && (parseFloat(getComputedStyle(target).borderTopWidth) >= 6) !== chosen(target)))
      .map((target) => target.outerHTML)";

/// What does not run from right to left, and what runs so and must not.
const NOT_MIRRORED: &str = "const wrong = [];
    const box = (element) => element.getBoundingClientRect();
    const all = (css) => [...document.querySelectorAll(css)].filter((element) => element.checkVisibility());
    const want = (fits, what) => { if (!fits) wrong.push(what); };
    want(document.documentElement.dir === 'rtl', 'the page');
    want(innerWidth - box(all('.masthead .name')[0]).right < 40, 'the name');
    for (const choice of all('label.choice')) want(box(choice.querySelector('input')).left > box(choice.querySelector('span')).left, choice.outerHTML);
    for (const list of all('ol.steps')) want(parseFloat(getComputedStyle(list).paddingRight) > 10, 'the steps');
    for (const notice of all('.notice')) want(parseFloat(getComputedStyle(notice).borderRightWidth) === 4, 'a notice');
    for (const text of all('.receipt, input.code')) want(getComputedStyle(text).direction === 'ltr', text.outerHTML);
    const answers = all('.answer');
    want(answers.every((answer, at) => at === 0 || box(answers[at - 1]).left <= box(answer).left), 'left is left for everyone');
    return wrong";

/// Of both answers: the shape of the mark, its colour, and the word.
const ANSWERS: &str = "return [...document.querySelectorAll('.answer')].map((answer) => {
      const mark = answer.querySelector('svg');
      const drawn = mark.firstElementChild;
      return [drawn.tagName + (drawn.getAttribute('d') ?? ''), getComputedStyle(drawn).stroke, answer.querySelector('span').textContent];
    })";

/// Words on the answers, and receipts, that do not fit a line.
const BROKEN_WORDS: &str = "return [...document.querySelectorAll('.answer > span, section[aria-labelledby=receipt] .receipt')].filter((shown) => {
      const text = document.createRange();
      text.selectNodeContents(shown);
      return !shown.textContent.trim().includes(' ') && text.getClientRects().length > 1;
    }).map((shown) => shown.textContent)";

/// The colours of a picture at these shares of its width, half-way down.
const COLOURS: &str = "const [picture, shares, done] = arguments;
    const bytes = Uint8Array.from(atob(picture), (one) => one.charCodeAt(0));
    createImageBitmap(new Blob([bytes])).then((bitmap) => {
      const canvas = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
      canvas.drawImage(bitmap, 0, 0);
      done(shares.map((share) => [...canvas.getImageData(Math.floor(bitmap.width * share), Math.floor(bitmap.height / 2), 1, 1).data].join(' ')));
    });";

/// What people like their pages to be.
const SCHEMES: [&str; 2] = ["light", "dark"];

/// Looks at pages in a browser.
struct Eye<'a> {
    browser: &'a Browser,
    axe: String,
    /// What pictures of this walk are called.
    walk: &'a str,
}

#[tokio::test]
async fn on_a_desktop_every_page_is_for_everyone() {
    let browser = Browser::open().await;
    browser.before_every_page(NOTE_REFUSALS).await;
    let eye = Eye::new(&browser, "desktop");
    let halts = walk_everywhere(&browser, "en", async |page| {
        eye.finds_it_light_and_by_its_policy(page).await;
        eye.sees_the_focus(page).await;
        eye.finds_room_for_text_of_twice_the_size(page).await;
        eye.tells_things_apart_in_forced_colours(page).await;
        eye.has_nothing_to_find(page, &SCHEMES).await;
        match page {
            "questions" => eye.is_not_needed_for_the_questions().await,
            "sound check" => eye.is_not_needed_for_the_sound_check().await,
            "the sitting, before the word" => eye.tells_the_answers_apart_without_colour().await,
            _ => {}
        }
    })
    .await;
    assert_eq!(halts, ["A little more practice", "Time for a breath"]);
    browser.close().await;
}

#[tokio::test]
async fn on_a_narrow_phone_every_page_fits_in_the_longer_language() {
    let browser = Browser::open_phone(320).await;
    let eye = Eye::new(&browser, "phone");
    walk_everywhere(&browser, "es", async |page| {
        eye.finds_it_narrow_with_targets_for_a_thumb(page).await;
        assert_eq!(browser.js(BROKEN_WORDS).await, json!([]), "{page}");
        eye.has_nothing_to_find(page, &SCHEMES).await;
    })
    .await;
    browser.close().await;
}

#[tokio::test]
async fn a_language_from_right_to_left_is_served_so_on_every_page() {
    let browser = Browser::open_phone(320).await;
    let eye = Eye::new(&browser, "from-right-to-left");
    walk_everywhere(&browser, FROM_RIGHT_TO_LEFT, async |page| {
        assert_eq!(browser.js(NOT_MIRRORED).await, json!([]), "{page}");
        eye.finds_it_narrow_with_targets_for_a_thumb(page).await;
        eye.has_nothing_to_find(page, &["light"]).await;
    })
    .await;
    browser.close().await;
}

impl<'a> Eye<'a> {
    fn new(browser: &'a Browser, walk: &'a str) -> Self {
        let axe = std::fs::read_to_string(AXE)
            .expect("the accessibility engine is here: scripts/test installs it with npm");
        Self { browser, axe, walk }
    }

    async fn finds_it_light_and_by_its_policy(&self, page: &str) {
        let loaded = self.browser.js(LOADED).await;
        let bytes = loaded[0].as_u64().unwrap();
        assert!((1_000..60_000).contains(&bytes), "{page}: {bytes} bytes");
        assert_eq!(loaded[1], json!([]), "{page}");
        let refused = self.browser.js("return window.refused").await;
        assert_eq!(refused, json!([]), "{page}");
    }

    async fn sees_the_focus(&self, page: &str) {
        self.browser.js("document.activeElement?.blur()").await;
        for _ in 0..8 {
            self.browser.press(key::TAB).await;
            let nowhere = "return document.activeElement === document.body";
            if self.browser.js(nowhere).await == json!(true) {
                break;
            }
            let unseen = self.browser.js(FOCUS_UNSEEN).await;
            assert_eq!(unseen, json!(null), "{page}");
        }
        self.browser.js("document.activeElement?.blur()").await;
    }

    /// As on a page of half of 1280 pixels, so that a phone's user is counted in.
    async fn finds_room_for_text_of_twice_the_size(&self, page: &str) {
        self.browser.set_width(Some(640)).await;
        let twice = "document.documentElement.style.fontSize = '200%'";
        self.browser.js(twice).await;
        let too_wide = self.browser.js(TOO_WIDE).await;
        assert_eq!(too_wide, json!(false), "{page} is wider than its window");
        self.browser
            .js("document.documentElement.style.fontSize = ''")
            .await;
        self.browser.set_width(None).await;
    }

    async fn finds_it_narrow_with_targets_for_a_thumb(&self, page: &str) {
        let too_wide = self.browser.js(TOO_WIDE).await;
        assert_eq!(too_wide, json!(false), "{page} is wider than 320 px");
        for small in [TOO_SMALL, ALONE_TOO_SMALL] {
            assert_eq!(self.browser.js(small).await, json!([]), "{page}");
        }
    }

    async fn tells_things_apart_in_forced_colours(&self, page: &str) {
        self.browser.set_media(&[("forced-colors", "active")]).await;
        let alike = self.browser.js(ALIKE_IN_FORCED_COLOURS).await;
        assert_eq!(alike, json!([]), "{page}");
        let half = "const bar = document.querySelector('progress'); const was = bar?.value; if (bar) bar.value = bar.max / 2; return was";
        let was = self.browser.js(half).await;
        if was != json!(null) {
            let colours = self.colours_across("progress", &[0.25, 0.75]).await;
            assert_ne!(colours[0], colours[1], "{page}: how far it is");
            let back = format!("document.querySelector('progress').value = {was}");
            self.browser.js(&back).await;
        }
        self.take_a_picture(page, "forced").await;
        self.browser.set_media(&[]).await;
    }

    /// The colours of an element at these shares of its width.
    async fn colours_across(&self, css: &str, shares: &[f64]) -> Value {
        let locator = fantoccini::Locator::Css(css);
        let element = self.browser.client.find(locator).await.unwrap();
        let picture = data_encoding::BASE64.encode(&element.screenshot().await.unwrap());
        self.browser
            .client
            .execute_async(COLOURS, vec![json!(picture), json!(shares)])
            .await
            .unwrap()
    }

    async fn has_nothing_to_find(&self, page: &str, schemes: &[&str]) {
        self.browser.js(&self.axe).await;
        for scheme in schemes {
            self.browser
                .set_media(&[("prefers-color-scheme", scheme)])
                .await;
            let client = &self.browser.client;
            let found = client.execute_async(RUN_AXE, vec![]).await.unwrap();
            assert_eq!(found, json!([]), "{page}, {scheme}");
            for example in self.browser.js(PLACEHOLDERS).await.as_array().unwrap() {
                let contrast = contrast_of(example);
                assert!(contrast >= 4.5, "{page}, {scheme}: {contrast} of {example}");
            }
            self.take_a_picture(page, scheme).await;
        }
        self.browser.set_media(&[]).await;
    }

    async fn is_not_needed_for_the_questions(&self) {
        for part in [
            ("heading", "title"),
            // She agreed as somebody under age, and is not asked for it again.
            ("group", "hearing"),
            ("radio", "hearing_no_difficulty"),
            ("group", "acquaintance"),
            ("radio", "acquaintance_perhaps"),
            ("radio", "not_said"),
            ("button", "go_on"),
        ] {
            self.tree_tells("questions", part, "").await;
        }
    }

    async fn is_not_needed_for_the_sound_check(&self) {
        for part in [
            ("heading", "title"),
            ("button", "play"),
            ("slider", "level"),
            ("group", "device"),
            ("radio", "device_wireless"),
            ("group", "heard"),
            ("radio", "heard_no"),
            ("button", "first_play"),
            ("button", "headphones_play"),
            ("button", "go_on"),
        ] {
            self.tree_tells("check", part, "").await;
        }
        for answer in ["first_with", "first_without", "headphones_third"] {
            self.tree_tells("check", ("button", answer), ", disabled")
                .await;
        }
    }

    /// A screen reader meets a thing of this role by the name of this sentence, in this state.
    async fn tree_tells(&self, section: &str, (role, name): (&str, &str), state: &str) {
        let part = format!("{role}: {}{state}", sentence("en", section, name));
        self.browser
            .until_a_screen_reader_meets(&part, |all| all.contains(&part))
            .await;
    }

    async fn tells_the_answers_apart_without_colour(&self) {
        let answers = self.browser.js(ANSWERS).await;
        let [left, right] = answers.as_array().unwrap().as_slice() else {
            panic!("two answers: {answers}")
        };
        assert_ne!(left[0], right[0], "the marks are of other shapes");
        assert_eq!(left[1], right[1], "and of one colour");
        assert_ne!(left[2], right[2], "beside other words");
    }

    /// Keeps a picture of the page where `FAIRHEARING_PICTURES` names a folder.
    async fn take_a_picture(&self, page: &str, look: &str) {
        let Some(folder) = std::env::var_os("FAIRHEARING_PICTURES") else {
            return;
        };
        let name: String = page
            .chars()
            .map(|sign| if sign.is_alphanumeric() { sign } else { '-' })
            .collect();
        let file = format!("{}-{look}-{name}.png", self.walk);
        let path = std::path::Path::new(&folder).join(file);
        std::fs::create_dir_all(folder).unwrap();
        std::fs::write(path, self.browser.picture().await).unwrap();
    }
}

/// The contrast of a text with what it stands on, by WCAG 2.2, "contrast ratio" and "relative luminance".
fn contrast_of(text: &Value) -> f64 {
    let [colour, ground] = [&text[0], &text[2]].map(|colour| rgb(colour.as_str().unwrap()));
    let opacity: f64 = text[1].as_str().unwrap().parse().unwrap();
    let mixed = [0, 1, 2].map(|at| colour[at] * opacity + ground[at] * (1.0 - opacity));
    contrast(mixed, ground)
}

fn contrast(one: [f64; 3], other: [f64; 3]) -> f64 {
    let [one, other] = [one, other].map(luminance);
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

fn luminance(colour: [f64; 3]) -> f64 {
    let [red, green, blue] = colour.map(|value| {
        let share = value / 255.0;
        if share <= 0.04045 {
            share / 12.92
        } else {
            ((share + 0.055) / 1.055).powf(2.4)
        }
    });
    0.2126 * red + 0.7152 * green + 0.0722 * blue
}

/// The three numbers of `rgb(1, 2, 3)`.
fn rgb(written: &str) -> [f64; 3] {
    let inner = written
        .strip_prefix("rgb(")
        .and_then(|rest| rest.strip_suffix(')'));
    let numbers = inner.unwrap_or_else(|| panic!("an opaque colour: {written}"));
    let numbers: Vec<f64> = numbers
        .split(',')
        .map(|number| number.trim().parse().unwrap())
        .collect();
    numbers.try_into().unwrap()
}

#[test]
fn contrast_is_that_of_the_standard() {
    // 21:1 is the most that there is (WCAG 2.2, "contrast ratio"); #767676 is the lightest grey on white that has 4.5:1
    // (common practice, from memory: 4.54).
    assert!((contrast([0.0; 3], [255.0; 3]) - 21.0).abs() < 1e-9);
    let grey = contrast([118.0; 3], [255.0; 3]);
    assert!((grey - 4.54).abs() < 0.005, "{grey}");
    let lighter = contrast([119.0; 3], [255.0; 3]);
    assert!(lighter < 4.5, "{lighter}");
}
