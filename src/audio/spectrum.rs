//! Short-time power in bands: what the noise floor, the trimming and the bandwidth are told from.
#![expect(
    clippy::indexing_slicing,
    reason = "frames and bins have fixed sizes; iterators would hide which bin goes to which band"
)]

use realfft::RealFftPlanner;

/// Samples a frame: 20 ms at 48 kHz, so that a bin is 50 Hz wide.
pub(super) const FRAME: usize = 960;
/// Samples from one frame to the next: 10 ms.
pub(super) const HOP: usize = 480;
/// Hertz a bin.
pub(super) const BIN_HZ: f64 = 50.0;

/// How many bands a frame is split into.
pub(super) const N_BANDS: usize = 6;
/// The bands' edges in bins: 150, 500, 1500, 3500, 7000, 12000, 18000 Hz. Below lie hum and rumble;
/// an /s/ lies in the fourth and fifth, a vowel in the first three.
const EDGES: [usize; N_BANDS + 1] = [3, 10, 30, 70, 140, 240, 360];
/// Bins a cell of the fine grid: 500 Hz.
const CELL: usize = 10;
/// Cells of the fine grid, up to 24 kHz.
const N_CELLS: usize = FRAME / 2 / CELL;

/// The width of a band in hertz.
pub(super) fn width_hz(band: usize) -> f64 {
    (EDGES[band + 1] - EDGES[band]) as f64 * BIN_HZ
}

/// Short-time power of a recording at 48 kHz.
pub(super) struct Spectrum {
    /// For each frame the mean square in each band; full scale is 1.
    pub(super) bands: Vec<[f64; N_BANDS]>,
    /// For each 500 Hz from 0 the largest mean square a hertz that any 50 ms reach.
    pub(super) peak_density: Vec<f64>,
}

impl Spectrum {
    /// Frames of 20 ms under a Hann window, 10 ms apart, whole frames only (one frame, filled up
    /// with silence, where the recording is shorter).
    pub(super) fn of(samples: &[f64]) -> Self {
        let fft = RealFftPlanner::<f64>::new().plan_fft_forward(FRAME);
        let window = hann();
        let scale = 2.0 / (FRAME as f64 * window.iter().map(|w| w * w).sum::<f64>());
        let mut input = fft.make_input_vec();
        let mut output = fft.make_output_vec();
        let n_frames = samples.len().saturating_sub(FRAME) / HOP + 1;
        let mut bands = Vec::with_capacity(n_frames);
        let mut cells = Vec::with_capacity(n_frames);
        for frame in 0..n_frames {
            let part = &samples[frame * HOP..samples.len().min(frame * HOP + FRAME)];
            input.fill(0.0);
            for ((slot, sample), w) in input.iter_mut().zip(part).zip(&window) {
                *slot = sample * w;
            }
            // The lengths are the plan's own, so the transform cannot refuse them.
            let _ = fft.process(&mut input, &mut output);
            let power: Vec<f64> = output.iter().map(|bin| bin.norm_sqr() * scale).collect();
            bands.push(std::array::from_fn(|band| {
                power[EDGES[band]..EDGES[band + 1]].iter().sum()
            }));
            cells.push(std::array::from_fn::<f64, N_CELLS, _>(|cell| {
                power[cell * CELL..(cell + 1) * CELL].iter().sum::<f64>() / (CELL as f64 * BIN_HZ)
            }));
        }
        let peak_density = (0..N_CELLS)
            .map(|cell| {
                let over_time: Vec<f64> = cells.iter().map(|c| c[cell]).collect();
                smooth(&over_time).into_iter().fold(0.0, f64::max)
            })
            .collect();
        Self {
            bands,
            peak_density,
        }
    }

    /// The power of one band over time.
    pub(super) fn band(&self, band: usize) -> Vec<f64> {
        self.bands.iter().map(|frame| frame[band]).collect()
    }

    /// The power of each frame over all bands.
    pub(super) fn total(&self) -> Vec<f64> {
        self.bands.iter().map(|frame| frame.iter().sum()).collect()
    }
}

/// The mean over five frames (50 ms) around each, fewer at the ends.
pub(super) fn smooth(power: &[f64]) -> Vec<f64> {
    (0..power.len())
        .map(|at| {
            let around = &power[at.saturating_sub(2)..power.len().min(at + 3)];
            around.iter().sum::<f64>() / around.len() as f64
        })
        .collect()
}

fn hann() -> Vec<f64> {
    (0..FRAME)
        .map(|n| 0.5 - 0.5 * (std::f64::consts::TAU * (n as f64 + 0.5) / FRAME as f64).cos())
        .collect()
}
