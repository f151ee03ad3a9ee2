//! Graphs as pictures: what a PNG says of itself, and that nothing of a graph is lost on the way.

use std::collections::BTreeMap;

use fairhearing::report;
use fairhearing::report::Picture;
use fairhearing::report::chart;
use resvg::tiny_skia::Pixmap;
use resvg::tiny_skia::PremultipliedColorU8;

use crate::support::heard_round;

/// The chunks of a PNG in their order, each held against its checksum.
#[track_caller]
fn chunks(picture: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut rest = picture.strip_prefix(b"\x89PNG\r\n\x1a\n").expect("a PNG");
    let mut found = Vec::new();
    while !rest.is_empty() {
        let length = u32::from_be_bytes(rest[..4].try_into().unwrap()) as usize;
        let (kind, data) = (&rest[4..8], &rest[8..8 + length]);
        let told = u32::from_be_bytes(rest[8 + length..12 + length].try_into().unwrap());
        assert_eq!(told, crc32(&rest[4..8 + length]), "{kind:?}");
        found.push((String::from_utf8(kind.to_vec()).unwrap(), data.to_vec()));
        rest = &rest[12 + length..];
    }
    found
}

/// CRC-32 as the PNG specification writes it out (third edition, annex D), bit by bit.
fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for byte in bytes {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 {
                0xedb8_8320 ^ (crc >> 1)
            } else {
                crc >> 1
            };
        }
    }
    !crc
}

fn pictures() -> Vec<Picture> {
    report::pictures(&heard_round())
}

#[test]
fn a_picture_says_300_dots_an_inch_before_its_pixels_and_is_seven_and_a_half_inches_wide() {
    // The check value of CRC-32 for this text is common practice (from memory).
    assert_eq!(crc32(b"123456789"), 0xcbf4_3926);
    for picture in pictures() {
        let drawn = chart::png(&picture.svg).unwrap();
        let chunks = chunks(&drawn);
        let names: Vec<&str> = chunks.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!((names[0], names[1]), ("IHDR", "pHYs"));
        assert_eq!(names.last(), Some(&"IEND"));
        let chunks: BTreeMap<_, _> = chunks.into_iter().collect();
        // Dots a metre: 300 / 0.0254 = 11,811.02.
        assert_eq!(chunks["pHYs"], [0, 0, 0x2e, 0x23, 0, 0, 0x2e, 0x23, 1]);
        let width = u32::from_be_bytes(chunks["IHDR"][..4].try_into().unwrap());
        assert_eq!(width, 2_250, "{}", picture.name);
    }
}

#[test]
fn equal_graphs_give_equal_pictures() {
    let [one, other] = [pictures(), pictures()];
    assert_eq!(one, other);
    let first = &one[0].svg;
    assert_eq!(chart::png(first).unwrap(), chart::png(first).unwrap());
}

/// Without its letters, its classes' colours or its paths a picture is another one: each of them is drawn from the markup alone.
#[test]
fn letters_lines_and_points_are_in_the_picture() {
    let svg = &pictures()[1].svg;
    let whole = chart::png(svg).unwrap();
    for (element, end) in [
        ("<text ", "</text>"),
        ("<path class=\"run", "/>"),
        ("<circle ", "/>"),
        ("<line class=\"phase", "/>"),
    ] {
        let mut without = svg.clone();
        while let Some(start) = without.find(element) {
            let stop = start + without[start..].find(end).unwrap() + end.len();
            without.replace_range(start..stop, "");
        }
        assert_ne!(&without, svg, "{element}");
        assert_ne!(chart::png(&without).unwrap(), whole, "{element}");
    }
    let bare = chart::png("<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 10 10\"/>");
    assert!(bare.is_ok());
    assert!(chart::png("<svg").is_err());
}

#[test]
fn there_is_a_picture_for_all_and_for_each_child_under_a_name_that_every_system_takes() {
    let names: Vec<String> = pictures().into_iter().map(|picture| picture.name).collect();
    assert_eq!(
        names,
        [
            "graph-all-children",
            "graph-1-C01",
            "graph-2-C02",
            "graph-3-C03",
            "graph-4-C04"
        ]
    );
}

/// The dots of a picture that are darker than half.
fn dark(picture: &[u8]) -> Vec<(usize, usize)> {
    let decoded = Pixmap::decode_png(picture).unwrap();
    let width = decoded.width() as usize;
    let dark = |dot: &PremultipliedColorU8| dot.red().max(dot.green()).max(dot.blue()) < 128;
    let dots = decoded.pixels().iter().enumerate();
    dots.filter(|(_, dot)| dark(dot))
        .map(|(place, _)| (place % width, place / width))
        .collect()
}

#[test]
fn words_are_drawn_where_they_stand_and_nothing_where_nothing_stands() {
    // 96 units an inch and 300 dots an inch: a text of 40 units with its foot at (30, 50) lies left and above of there.
    let drawn = |inside: &str| {
        let svg = format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 192 96" font-family="system-ui, sans-serif" font-size="40">{inside}</svg>"#
        );
        dark(&chart::png(&svg).unwrap())
    };
    assert_eq!(drawn(""), []);
    let letters = drawn(r##"<text x="30" y="50" fill="#000000">HH</text>"##);
    assert!(letters.len() > 1_000, "{}", letters.len());
    let dots = |units: usize| units * 300 / 96;
    for (x, y) in letters {
        assert!(
            (dots(30)..dots(100)).contains(&x) && (dots(15)..=dots(51)).contains(&y),
            "{x} {y}"
        );
    }
}
