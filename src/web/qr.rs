//! A QR code as a picture that stands in a page: dark on white on any ground, as cameras want it.

use std::fmt::Write;

use fast_qr::QRBuilder;

/// White around the code, in modules, as ISO/IEC 18004 asks for.
const MARGIN: usize = 4;

/// The picture of a text, with a name for those who do not see it; `None` for a text that is too long.
pub(crate) fn svg(text: &str, name: &str) -> Option<String> {
    let code = QRBuilder::new(text).build().ok()?;
    let size = code.size;
    let mut path = String::new();
    for (y, row) in code.data.chunks(size).take(size).enumerate() {
        for (x, _) in row.iter().enumerate().filter(|(_, module)| module.value()) {
            // Writing to a string never fails.
            let _ = write!(path, "M{} {}h1v1h-1z", x + MARGIN, y + MARGIN);
        }
    }
    let whole = size + 2 * MARGIN;
    let name = name
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('"', "&quot;");
    Some(format!(
        "<svg class=\"qr\" viewBox=\"0 0 {whole} {whole}\" role=\"img\" aria-label=\"{name}\" shape-rendering=\"crispEdges\">\
         <rect width=\"{whole}\" height=\"{whole}\" fill=\"#ffffff\"/><path d=\"{path}\" fill=\"#000000\"/></svg>"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_begins_with_its_finder_inside_a_white_margin() {
        // Version 1 has 21 modules a side (ISO/IEC 18004): with the margin 29.
        let picture = svg("HTTP://A", "a \"<test>\"").unwrap();
        assert!(picture.contains("aria-label=\"a &quot;&lt;test>&quot;\""));
        assert!(picture.contains("viewBox=\"0 0 29 29\""), "{picture}");
        // The upper edge of the finder pattern is seven dark modules, then a light one.
        for x in 4..11 {
            assert!(picture.contains(&format!("M{x} 4h1")), "{x}");
        }
        assert!(!picture.contains("M11 4h1") && !picture.contains("M3 4h1"));
        assert!(svg(&"x".repeat(5_000), "too long").is_none());
    }
}
