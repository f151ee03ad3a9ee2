//! How much a listener's judgement weighs.

/// A listener's quality weight: how far she is from guessing.
///
/// ```text
/// w = max(0, sensitivity + specificity − 1)
/// ```
///
/// Youden's index of her latent-class error rates: 0 for somebody who guesses, whatever her leaning, and for somebody who answers
/// against the others; 1 for somebody without error. Simple, bounded from 0 to 1, and without a gain for leaning either way. Log odds, the
/// likelihood's own weights, grow without bound for a listener without a visible error and are not used.
///
/// Youden (1950), Cancer 3, 32–35.
pub fn quality_weight(sensitivity: f64, specificity: f64) -> f64 {
    (sensitivity + specificity - 1.0).clamp(0.0, 1.0)
}
