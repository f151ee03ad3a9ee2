//! A slip of paper for one listener: an address, its code for a camera, and nothing of the study.

use crate::web::qr;

/// One slip.
pub(super) struct Slip {
    /// The number of the link, so that the desk can tell who has which.
    pub(super) name: String,
    /// The address.
    pub(super) address: String,
    /// The address as a code; empty where it is too long for one.
    pub(super) picture: String,
    /// Until when it opens; empty: as long as there is anything to hear.
    pub(super) until: String,
    /// Whether several listeners may use it.
    pub(super) is_open: bool,
}

impl Slip {
    pub(super) fn new(name: String, address: String, until: String, words: &SlipWords) -> Self {
        Self {
            picture: qr::svg(&address, words.code).unwrap_or_default(),
            is_open: name.starts_with("open"),
            name,
            address,
            until,
        }
    }
}

/// What stands on a slip, in the language of the listener's page. Nothing of it tells the sound, a child or a phase.
pub(super) struct SlipWords {
    pub(super) lang: &'static str,
    pub(super) title: &'static str,
    pub(super) what: &'static str,
    pub(super) how: &'static str,
    pub(super) yours: &'static str,
    pub(super) until: &'static str,
    pub(super) code: &'static str,
}

impl SlipWords {
    /// The words of a language; English where there are none.
    pub(super) const fn of(language: &str) -> Self {
        match language.as_bytes() {
            b"es" => Self {
                lang: "es",
                title: "Le invitamos a escuchar",
                what: "Oirá palabras cortas y dirá de cada una cómo suena. Use auriculares y busque un lugar tranquilo.",
                how: "Abra esta dirección o apunte al código con la cámara.",
                yours: "Este enlace es solo suyo: no lo pase a nadie.",
                until: "Se abre hasta el",
                code: "La dirección como código QR",
            },
            _ => Self {
                lang: "en",
                title: "You are invited to listen",
                what: "You will hear short words and say how each one sounds. Take headphones and a quiet place.",
                how: "Open this address, or point a camera at the code.",
                yours: "This link is yours alone: please do not pass it on.",
                until: "It opens until",
                code: "The address as a QR code",
            },
        }
    }
}
