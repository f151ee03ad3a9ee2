//! Chance for the sample audio: a generator by name, so that the same code makes the same files.

use libm::cos;
use libm::log;
use libm::sqrt;

/// xorshift64* (Vigna 2016).
pub(super) struct Chance(u64);

impl Chance {
    /// A generator for one purpose, told by its label.
    pub(super) fn of(label: &str) -> Self {
        // FNV-1a, 64 bits.
        let hash = label.bytes().fold(0xCBF2_9CE4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01B3)
        });
        Self(hash | 1)
    }

    /// Evenly between −1 and 1.
    pub(super) fn even(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let bits = self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11;
        bits as f64 / (1_u64 << 52) as f64 - 1.0
    }

    /// Normal with mean 0 and standard deviation 1 (Box and Muller 1958).
    pub(super) fn normal(&mut self) -> f64 {
        let (u, v) = (f64::midpoint(self.even(), 1.0), self.even());
        sqrt(-2.0 * log(u.max(1e-12))) * cos(std::f64::consts::PI * v)
    }
}
