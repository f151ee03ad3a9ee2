//! For how wide a sheet a chart is drawn: lengths in units of which one is a pixel where the chart is shown at its own width.

/// The measures of a chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Format {
    pub(super) width: f64,
    pub(super) left: f64,
    pub(super) right: f64,
    /// Of the only panel.
    pub(super) one_height: f64,
    /// Of each panel where several stand under each other.
    pub(super) stacked_height: f64,
    pub(super) between_panels: f64,
    pub(super) labels: Labels,
    /// What stands among the chart's classes.
    pub(super) class: &'static str,
}

/// Where a panel is labelled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Labels {
    /// All labels in the right margin.
    Beside,
    /// The child's code above the panel; what the series and the band are stands in the caption.
    Above,
}

impl Format {
    /// For a page, a report, a picture.
    pub const WIDE: Self = Self {
        width: 720.0,
        left: 44.0,
        right: 578.0,
        one_height: 230.0,
        stacked_height: 116.0,
        between_panels: 30.0,
        labels: Labels::Beside,
        class: "chart",
    };

    /// For a phone.
    pub const NARROW: Self = Self {
        width: 348.0,
        left: 34.0,
        right: 342.0,
        one_height: 210.0,
        stacked_height: 112.0,
        between_panels: 34.0,
        labels: Labels::Above,
        class: "chart narrow",
    };
}
