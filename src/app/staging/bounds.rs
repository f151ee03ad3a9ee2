//! How much may be staged; every figure here is ours.

/// The most bytes of one part of an upload.
pub const CHUNK_BYTES: usize = 4 << 20;

/// The most bytes that one import may hold before it is prepared: 20,000 words of a second at 96 kHz stereo.
pub const MOST_STAGED_BYTES: u64 = 8_000_000_000;

/// The most files of one import.
pub(super) const MOST_FILES: usize = 20_000;

/// The largest archive.
pub(super) const MOST_ARCHIVE_BYTES: u64 = 4_000_000_000;

/// The largest manifest.
pub(super) const MOST_MANIFEST_BYTES: u64 = 20_000_000;

/// How many times its packed size an archive may unpack to; speech packs to a half, digital silence to a thousandth.
pub(super) const MOST_UNPACKED_TIMES: u64 = 200;

/// What any archive may unpack to, however small it is.
pub(super) const ALWAYS_UNPACKED_BYTES: u64 = 50_000_000;
