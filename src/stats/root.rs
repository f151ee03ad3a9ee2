//! The zero of a rising function inside a bracket.

/// The zero of `f`, which rises from `low` to `high`: a secant that cannot stall (the Illinois rule), with a
/// bisection at every third step. Where `f` has one sign throughout, the end that is nearer to zero's side.
pub(super) fn rising(low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (low, high);
    let (mut f_low, mut f_high) = (f(low), f(high));
    if f_low >= 0.0 {
        return low;
    }
    if f_high <= 0.0 {
        return high;
    }
    for step in 0..300 {
        let middle = next_try(step, (low, f_low), (high, f_high));
        if middle <= low || middle >= high {
            break;
        }
        let value = f(middle);
        if value < 0.0 {
            (low, f_low) = (middle, value);
            f_high *= 0.5;
        } else if value > 0.0 {
            (high, f_high) = (middle, value);
            f_low *= 0.5;
        } else {
            return middle;
        }
        if high - low <= 2.0 * f64::EPSILON * low.abs().max(high.abs()).max(f64::MIN_POSITIVE) {
            break;
        }
    }
    f64::midpoint(low, high)
}

fn next_try(step: u32, low: (f64, f64), high: (f64, f64)) -> f64 {
    let secant = high.0 - high.1 * (high.0 - low.0) / (high.1 - low.1);
    if step % 3 != 2 && secant > low.0 && secant < high.0 {
        secant
    } else {
        f64::midpoint(low.0, high.0)
    }
}
