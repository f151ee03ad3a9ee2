//! The words of the sample audio and the sounds that they are made of.
//!
//! Vowels by their first three formants for children (Peterson & Barney 1952; from memory), other
//! sounds by what tells them apart to the ear; common practice in formant synthesis (Klatt 1980).

/// A word: as it is written with the judged letters marked, a name for files, the target's place, and
/// its sounds.
pub(super) struct Word {
    pub(super) marked: &'static str,
    pub(super) name: &'static str,
    pub(super) position: &'static str,
    pub(super) treated: bool,
    pub(super) sounds: &'static [Sound],
}

/// One sound.
#[derive(Clone, Copy)]
pub(super) enum Sound {
    /// Voice through three formants in hertz; length in ms; loudness.
    Voiced([f64; 3], f64, f64),
    /// From one set of formants to another.
    Glide([f64; 3], [f64; 3], f64),
    /// Voice with the mouth closed: low formant, little above.
    Nasal([f64; 3], f64),
    /// A closure, then a burst at this frequency, then so many ms of breath.
    Stop(f64, f64),
    /// Breath shaped by the sound that follows.
    Breath(f64),
    /// The sound under treatment.
    Target(f64),
}

use Sound::{Breath, Glide, Nasal, Stop, Target, Voiced};

const IY: [f64; 3] = [370.0, 3200.0, 3730.0];
const IH: [f64; 3] = [530.0, 2730.0, 3600.0];
const EH: [f64; 3] = [690.0, 2610.0, 3570.0];
const AE: [f64; 3] = [1010.0, 2320.0, 3320.0];
const AA: [f64; 3] = [1030.0, 1370.0, 3170.0];
const AO: [f64; 3] = [680.0, 1060.0, 3180.0];
const UW: [f64; 3] = [430.0, 1170.0, 3260.0];
const AH: [f64; 3] = [850.0, 1590.0, 3360.0];
const L: [f64; 3] = [420.0, 1350.0, 3500.0];
const M: [f64; 3] = [300.0, 1100.0, 2700.0];
const N: [f64; 3] = [300.0, 1700.0, 3000.0];
const T: Sound = Stop(5_500.0, 35.0);

const TREATED: bool = true;
const UNTREATED: bool = false;

/// The probe: the same six words in every session, and more for other uses.
pub(super) const PROBE: &[Word] = &[
    word(
        "[s]ail",
        "sail",
        "initial",
        TREATED,
        &[Target(150.0), Glide(EH, IY, 190.0), Voiced(L, 90.0, 0.5)],
    ),
    word(
        "mu[ss]el",
        "mussel",
        "medial",
        TREATED,
        &[
            Nasal(M, 70.0),
            Voiced(AH, 110.0, 1.0),
            Target(130.0),
            Voiced(AH, 50.0, 0.6),
            Voiced(L, 100.0, 0.5),
        ],
    ),
    word(
        "ma[s]t",
        "mast",
        "cluster",
        TREATED,
        &[Nasal(M, 70.0), Voiced(AE, 160.0, 1.0), Target(130.0), T],
    ),
    word(
        "hou[s]e",
        "house",
        "final",
        TREATED,
        &[Breath(60.0), Glide(AA, UW, 210.0), Target(170.0)],
    ),
    word(
        "[s]alt",
        "salt",
        "initial",
        UNTREATED,
        &[
            Target(150.0),
            Voiced(AO, 150.0, 1.0),
            Voiced(L, 60.0, 0.5),
            T,
        ],
    ),
    word(
        "ne[s]t",
        "nest",
        "cluster",
        UNTREATED,
        &[Nasal(N, 70.0), Voiced(EH, 150.0, 1.0), Target(130.0), T],
    ),
];

/// Words for checks, practice, warm-up and examples.
pub(super) const OTHERS: &[Word] = &[
    word(
        "[s]eal",
        "seal",
        "initial",
        UNTREATED,
        &[Target(150.0), Voiced(IY, 180.0, 1.0), Voiced(L, 90.0, 0.5)],
    ),
    word(
        "bu[s]",
        "bus",
        "final",
        UNTREATED,
        &[Stop(1_200.0, 8.0), Voiced(AH, 150.0, 1.0), Target(170.0)],
    ),
    word(
        "[s]and",
        "sand",
        "initial",
        UNTREATED,
        &[
            Target(150.0),
            Voiced(AE, 170.0, 1.0),
            Nasal(N, 90.0),
            Stop(4_500.0, 10.0),
        ],
    ),
    word(
        "[s]oup",
        "soup",
        "initial",
        UNTREATED,
        &[Target(150.0), Voiced(UW, 160.0, 1.0), Stop(1_200.0, 30.0)],
    ),
    word(
        "whi[s]tle",
        "whistle",
        "medial",
        UNTREATED,
        &[
            Glide(UW, IH, 130.0),
            Target(130.0),
            Voiced(AH, 50.0, 0.6),
            Voiced(L, 100.0, 0.5),
        ],
    ),
    word(
        "i[c]e",
        "ice",
        "final",
        UNTREATED,
        &[Glide(AA, IH, 210.0), Target(170.0)],
    ),
];

const fn word(
    marked: &'static str,
    name: &'static str,
    position: &'static str,
    treated: bool,
    sounds: &'static [Sound],
) -> Word {
    Word {
        marked,
        name,
        position,
        treated,
        sounds,
    }
}
