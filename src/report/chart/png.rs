//! A chart as a picture for print: 300 dots an inch, on white.

use std::sync::Arc;
use std::sync::LazyLock;

use resvg::tiny_skia::Color;
use resvg::tiny_skia::Pixmap;
use resvg::tiny_skia::Transform;
use resvg::usvg::Options;
use resvg::usvg::Tree;
use resvg::usvg::fontdb::Database;

/// The font of every picture: no machine's own is looked at, so that equal charts give equal bytes everywhere.
const FONT: &[u8] = include_bytes!("fonts/DejaVuSans.ttf");

const FAMILY: &str = "DejaVu Sans";

/// Dots for one unit of a chart, which is a ninety-sixth of an inch: 300 an inch.
const DOTS: f32 = 300.0 / 96.0;

/// What a picture says of its density: 11,811 dots a metre either way, which are 300 an inch (PNG, third edition, 11.3.4.3); the
/// last four bytes are the chunk's CRC-32.
const DENSITY: [u8; 21] = [
    0, 0, 0, 9, b'p', b'H', b'Y', b's', 0, 0, 0x2e, 0x23, 0, 0, 0x2e, 0x23, 1, 0x78, 0xa5, 0x3f,
    0x76,
];

/// Signature and header of a PNG: what comes before the chunk of its density.
const HEAD: usize = 8 + 25;

static DATABASE: LazyLock<Arc<Database>> = LazyLock::new(|| {
    let mut fonts = Database::new();
    fonts.load_font_data(FONT.to_vec());
    fonts.set_sans_serif_family(FAMILY);
    Arc::new(fonts)
});

/// A chart of this module as PNG.
///
/// # Errors
/// A sentence where the text is no SVG, or is too large to be drawn.
pub fn png(svg: &str) -> Result<Vec<u8>, String> {
    let options = Options {
        font_family: FAMILY.to_owned(),
        fontdb: Arc::clone(&DATABASE),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).map_err(|error| error.to_string())?;
    let scaled = tree
        .size()
        .to_int_size()
        .scale_by(DOTS)
        .ok_or("the chart has no size")?;
    let mut picture =
        Pixmap::new(scaled.width(), scaled.height()).ok_or("the chart is too large to be drawn")?;
    picture.fill(Color::WHITE);
    resvg::render(
        &tree,
        Transform::from_scale(DOTS, DOTS),
        &mut picture.as_mut(),
    );
    let mut bytes = picture.encode_png().map_err(|error| error.to_string())?;
    bytes.splice(HEAD..HEAD, DENSITY);
    Ok(bytes)
}
