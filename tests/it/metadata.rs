//! Nothing but the sound reaches a listener: every chunk and tag that could carry a name is gone. Each
//! fixture carries a marker in each of them.

use fairhearing::audio::decode;
use fairhearing::audio::flac;
use fairhearing::audio::prepare;
use serde_json::Value;

use crate::sound;

const MARKER: &str = "Marker_Merle_Quandt_7421";
const TOPIC: &str = include_str!("../reference/expected/17_wav_riff.json");

#[test]
fn no_chunk_of_a_wav_file_survives() {
    let plain = sound::fixture("original.wav");
    let wav = with_every_chunk(&data_of(&plain));
    let markers = wav
        .windows(MARKER.len())
        .filter(|part| *part == MARKER.as_bytes())
        .count();
    assert_eq!(markers, 10, "the fixture carries its marker in every place");
    check_clean("a WAV file with every chunk", &wav);
    let recording = decode(&wav).unwrap();
    let expected = decode(&plain).unwrap();
    assert_eq!(
        recording.fingerprint(),
        expected.fingerprint(),
        "and the sound is the same"
    );
}

#[test]
fn no_tag_of_any_other_kind_survives() {
    for name in [
        "named.flac",
        "named.mp3",
        "named.m4a",
        "named.ogg",
        "named.aiff",
    ] {
        let bytes = sound::fixture(name);
        assert!(holds_marker(&bytes), "{name} carries its marker");
        check_clean(name, &bytes);
    }
}

#[test]
fn the_worked_cases_of_the_container_decode_to_their_frames() {
    for id in ["wav_all_chunks", "wav_trailing_bytes"] {
        let case = case(id);
        let file = bytes_of(&case["expected"]["file_hex"]);
        let stripped = bytes_of(&case["expected"]["stripped_hex"]);
        let (recording, plain) = (decode(&file).unwrap(), decode(&stripped).unwrap());
        assert_eq!(
            recording.n_frames() as u64,
            case["expected"]["frames"].as_u64().unwrap()
        );
        assert_eq!(
            u64::from(recording.rate_hz()),
            case["expected"]["sample_rate"].as_u64().unwrap()
        );
        assert_eq!(recording.channels(), plain.channels(), "{id}");
        assert_eq!(recording.fingerprint(), plain.fingerprint(), "{id}");
        // What the case strips a file to is what we write: 44 bytes of header, then the data.
        assert_eq!(chunks(&stripped), chunks(&prepared_of("original.wav")));
    }
}

#[test]
fn a_token_as_flac_is_the_very_same_sound_without_tags() {
    let wav = prepared_of("original.wav");
    let flac = flac::of_wav(&wav).unwrap();
    assert_eq!(decode(&flac).unwrap().mono(), sound::pcm_of(&wav));
    assert_eq!(
        flac,
        flac::of_wav(&wav).unwrap(),
        "the same bytes each time"
    );
    // After the four bytes of the mark, the first block (type 0, 34 bytes) is also the last (RFC 9639, 8.1).
    assert_eq!(&flac[..8], b"fLaC\x80\x00\x00\x22");
    assert!(flac.len() < wav.len());
    assert!(flac::of_wav(&wav[..wav.len() - 1]).is_err());
    assert!(flac::of_wav(b"RIFF").is_err());
}

#[track_caller]
fn check_clean(what: &str, bytes: &[u8]) {
    let wav = prepare(&decode(bytes).unwrap(), -27.0).unwrap().wav;
    assert!(
        !holds_marker(&wav),
        "{what}: the marker is in the prepared file"
    );
    assert_eq!(chunks(&wav), ["fmt ", "data"], "{what}");
    let flac = flac::of_wav(&wav).unwrap();
    assert!(
        !holds_marker(&flac),
        "{what}: the marker is in the FLAC file"
    );
}

fn holds_marker(bytes: &[u8]) -> bool {
    bytes
        .windows(MARKER.len())
        .any(|part| part == MARKER.as_bytes())
}

fn prepared_of(name: &str) -> Vec<u8> {
    prepare(&decode(&sound::fixture(name)).unwrap(), -27.0)
        .unwrap()
        .wav
}

/// The ids of the chunks, whose sizes must fill the file exactly.
#[track_caller]
fn chunks(wav: &[u8]) -> Vec<String> {
    let size_at = |at: usize| u32::from_le_bytes(wav[at..at + 4].try_into().unwrap()) as usize;
    assert_eq!((&wav[..4], &wav[8..12]), (&b"RIFF"[..], &b"WAVE"[..]));
    assert_eq!(size_at(4) + 8, wav.len(), "no byte after the end");
    let mut ids = Vec::new();
    let mut at = 12;
    while at < wav.len() {
        ids.push(String::from_utf8(wav[at..at + 4].to_vec()).unwrap());
        at += 8 + size_at(at + 4).next_multiple_of(2);
    }
    ids
}

fn data_of(wav: &[u8]) -> Vec<u8> {
    let at = wav.windows(4).position(|id| id == b"data").unwrap();
    wav[at + 8..].to_vec()
}

/// A WAV file with a marker in INFO, bext, iXML, ID3, cue labels and notes, an unknown chunk, padding,
/// and behind its end. Layouts: `reference/expected/17_wav_riff.json`.
fn with_every_chunk(data: &[u8]) -> Vec<u8> {
    let marked = |len: usize| {
        let mut text = MARKER.as_bytes().to_vec();
        text.resize(len, 0);
        text
    };
    let mut body = b"WAVE".to_vec();
    let mut bext = marked(256);
    bext.resize(602, 0);
    bext.extend(marked(25));
    push(&mut body, b"bext", &bext);
    push(&mut body, b"JUNK", &marked(28));
    let mut fmt = Vec::new();
    for half in [1_u16, 1] {
        fmt.extend(half.to_le_bytes());
    }
    for word in [44_100_u32, 88_200] {
        fmt.extend(word.to_le_bytes());
    }
    fmt.extend([2, 0, 16, 0]);
    push(&mut body, b"fmt ", &fmt);
    let mut info = b"INFO".to_vec();
    push(&mut info, b"IART", &marked(25));
    push(&mut info, b"INAM", &marked(26));
    push(&mut body, b"LIST", &info);
    push(&mut body, b"data", data);
    push(
        &mut body,
        b"iXML",
        format!("<BWFXML><NOTE>{MARKER}</NOTE></BWFXML>").as_bytes(),
    );
    let mut cue = 1_u32.to_le_bytes().to_vec();
    cue.extend([0; 24]);
    push(&mut body, b"cue ", &cue);
    let mut adtl = b"adtl".to_vec();
    push(&mut adtl, b"labl", &[&[0; 4][..], &marked(25)].concat());
    push(&mut body, b"LIST", &adtl);
    push(
        &mut body,
        b"id3 ",
        &[
            b"ID3\x03\0\0\0\0\0\x24TIT2\0\0\0\x1a\0\0\0",
            MARKER.as_bytes(),
        ]
        .concat(),
    );
    push(&mut body, b"zzzz", &marked(25));
    let mut file = Vec::new();
    push(&mut file, b"RIFF", &body);
    file.extend(MARKER.as_bytes());
    file
}

fn push(into: &mut Vec<u8>, id: &[u8], body: &[u8]) {
    into.extend(id);
    into.extend(u32::try_from(body.len()).unwrap().to_le_bytes());
    into.extend(body);
    into.resize(into.len().next_multiple_of(2), 0);
}

fn case(id: &str) -> Value {
    let cases: Vec<Value> = serde_json::from_str(TOPIC).unwrap();
    cases.into_iter().find(|case| case["id"] == id).unwrap()
}

fn bytes_of(hex: &Value) -> Vec<u8> {
    data_encoding::HEXLOWER
        .decode(hex.as_str().unwrap().as_bytes())
        .unwrap()
}
