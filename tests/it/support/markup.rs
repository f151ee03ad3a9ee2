//! Well-formed markup read into a list of elements; anything else is refused.

use std::collections::BTreeMap;

/// An element.
#[derive(Debug, Clone)]
pub(crate) struct Element {
    pub(crate) name: String,
    pub(crate) attributes: BTreeMap<String, String>,
    /// Its own text, without that of elements in it.
    pub(crate) text: String,
    /// Its number in the document.
    pub(crate) place: usize,
    /// The numbers of the elements that it stands in, the outermost first.
    pub(crate) within: Vec<usize>,
}

impl Element {
    pub(crate) fn class(&self) -> &str {
        self.attributes.get("class").map_or("", String::as_str)
    }

    pub(crate) fn has(&self, attribute: &str) -> bool {
        self.attributes.contains_key(attribute)
    }

    #[track_caller]
    pub(crate) fn number(&self, attribute: &str) -> f64 {
        self.attributes[attribute].parse().expect("a number")
    }
}

/// Elements of HTML that are never closed.
const VOID: [&str; 3] = ["meta", "br", "link"];

/// The elements of a document in the order of their start.
///
/// # Panics
/// If a tag is not closed, or closed in the wrong order; if an attribute has no quotes or comes twice; if a sign that must be
/// written as a reference stands bare.
#[track_caller]
pub(crate) fn elements(document: &str) -> Vec<Element> {
    let mut found: Vec<Element> = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    let mut rest = document.strip_prefix("<!doctype html>").unwrap_or(document);
    while let Some(start) = rest.find('<') {
        let (text, from_tag) = rest.split_at(start);
        if let Some(inner) = open.last() {
            found[*inner].text.push_str(&unescaped(text));
        } else {
            assert!(text.trim().is_empty(), "text outside of everything: {text}");
        }
        let end = from_tag.find('>').expect("a tag ends");
        let tag = &from_tag[1..end];
        rest = &from_tag[end + 1..];
        if let Some(name) = tag.strip_prefix('/') {
            let inner = open.pop().expect("something is open");
            assert_eq!(found[inner].name, name.trim(), "closed in the wrong order");
            continue;
        }
        let element = element(tag, found.len(), &open);
        let closed = tag.ends_with('/') || VOID.contains(&element.name.as_str());
        if element.name == "style" {
            let end = rest.find("</style>").expect("a style ends");
            rest = &rest[end + "</style>".len()..];
            found.push(element);
            continue;
        }
        if !closed {
            open.push(element.place);
        }
        found.push(element);
    }
    assert!(
        open.is_empty(),
        "left open: {:?}",
        open.iter().map(|i| &found[*i].name).collect::<Vec<_>>()
    );
    for element in &mut found {
        element.text = element.text.trim().to_owned();
    }
    found
}

fn element(tag: &str, place: usize, open: &[usize]) -> Element {
    let tag = tag.trim_end_matches('/').trim();
    let (name, mut rest) = tag.split_once(char::is_whitespace).unwrap_or((tag, ""));
    let mut attributes = BTreeMap::new();
    while let Some((name, after)) = rest.split_once('=') {
        let value = after.strip_prefix('"').expect("an attribute is quoted");
        let (value, after) = value.split_once('"').expect("a quote is closed");
        assert!(!value.contains('<'), "a bare < in {value}");
        let before = attributes.insert(name.trim().to_owned(), unescaped(value));
        assert!(before.is_none(), "{name} comes twice in {tag}");
        rest = after;
    }
    assert!(rest.trim().is_empty(), "strange attribute {rest} in {tag}");
    Element {
        name: name.to_owned(),
        attributes,
        text: String::new(),
        place,
        within: open.to_vec(),
    }
}

fn unescaped(text: &str) -> String {
    for (at, _) in text.match_indices('&') {
        let after = &text[at + 1..];
        let end = after.find(';').expect("a reference ends");
        let name = &after[..end];
        let known = ["amp", "lt", "gt", "quot"].contains(&name) || name.starts_with('#');
        assert!(known, "a bare & before {name}");
    }
    [
        ("&lt;", "<"),
        ("&#60;", "<"),
        ("&gt;", ">"),
        ("&#62;", ">"),
        ("&quot;", "\""),
        ("&#34;", "\""),
        ("&#39;", "'"),
        ("&amp;", "&"),
        ("&#38;", "&"),
    ]
    .iter()
    .fold(text.to_owned(), |text, (reference, sign)| {
        text.replace(reference, sign)
    })
}
