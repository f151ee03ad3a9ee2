//! Synthetic words, made in memory: a hiss, a tone of its own pitch and a hiss, in a quiet room.

/// The sample rate of the words, in hertz.
pub(crate) const RATE_HZ: u32 = 48_000;

/// A word that sounds like no other: `number` sets its pitch and its noise. Full scale is 1.
pub(crate) fn spoken(number: u32) -> Vec<f64> {
    let mut noise = Noise(u64::from(number) * 2 + 1);
    let pitch_hz = 180.0 + 3.7 * f64::from(number % 40);
    let mut samples = Vec::new();
    let mut part = |ms: u32, hiss: f64, tone: f64| {
        let n = RATE_HZ * ms / 1_000;
        for i in 0..n {
            let t = f64::from(i) / f64::from(RATE_HZ);
            let edge = f64::from(i.min(n - 1 - i)) / f64::from(RATE_HZ) / 0.01;
            let voice: f64 = (1..=3)
                .map(|k| (std::f64::consts::TAU * pitch_hz * f64::from(k) * t).sin() / f64::from(k))
                .sum();
            samples
                .push(edge.min(1.0) * (hiss * noise.next() + tone * voice) + 2e-4 * noise.next());
        }
    };
    part(150, 0.0, 0.0);
    part(90, 0.03, 0.0);
    part(140 + 5 * (number % 7), 0.0, 0.08);
    part(60, 0.02, 0.0);
    part(180, 0.0, 0.0);
    samples
}

/// A mono WAV file of 16-bit samples.
pub(crate) fn wav_16_bit(samples: &[f64]) -> Vec<u8> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut file = std::io::Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut file, spec).unwrap();
    for sample in samples {
        #[expect(clippy::cast_possible_truncation, reason = "a sample lies within ±1")]
        writer
            .write_sample((sample * 32_767.0).round() as i16)
            .unwrap();
    }
    writer.finalize().unwrap();
    file.into_inner()
}

/// Xorshift64, scaled to ±1.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    }
}
