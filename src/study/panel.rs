//! Who was kept after screening, and with which weight.

/// The listeners of a round after screening.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Panel {
    /// One row a listener.
    pub rows: Vec<PanelRow>,
}

/// One listener after screening.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelRow {
    /// The listener's code.
    pub listener: String,
    /// Whether the rules kept her.
    pub kept: bool,
    /// Her weight where judgements are weighted by quality; absent: not given.
    pub weight: Option<f64>,
}
