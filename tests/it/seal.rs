//! What was sealed is found as it was, or the change is named.

use std::collections::BTreeMap;

use fairhearing::seal::Canonical;
use fairhearing::seal::CanonicalError;
use fairhearing::seal::Chain;
use fairhearing::seal::ChainBreak;
use fairhearing::seal::Digest;
use fairhearing::seal::Event;
use fairhearing::seal::Head;
use fairhearing::seal::ReceiptHead;
use fairhearing::seal::Salt;
use fairhearing::seal::commit;
use fairhearing::seal::link;
use fairhearing::seal::seal_of;
use fairhearing::seal::verify_chain;
use proptest::prelude::*;
use serde_json::Value;
use serde_json::json;

fn canonical(value: &Value) -> String {
    Canonical::of(value).unwrap().to_string()
}

/// FIPS 180-4, example values published by NIST: one block, two blocks, a million times "a".
#[test]
fn digests_are_those_of_the_standard() {
    let million = "a".repeat(1_000_000);
    for (text, expected) in [
        (
            "abc",
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        ),
        (
            "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (
            million.as_str(),
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0",
        ),
    ] {
        let digest = Digest::of(text.as_bytes());
        assert_eq!(digest.to_string(), expected);
        assert_eq!(expected.parse(), Ok(digest));
        assert_eq!(serde_json::to_value(digest).unwrap(), json!(expected));
        assert_eq!(
            serde_json::from_value::<Digest>(json!(expected)).unwrap(),
            digest
        );
    }
}

#[test]
fn a_digest_has_one_spelling() {
    let upper = Digest::of(b"abc").to_string().to_uppercase();
    assert!(upper.parse::<Digest>().is_err());
    assert!("abc".parse::<Digest>().is_err());
}

/// RFC 8785, section 3.2.2 (input) and 3.2.4 (the bytes).
#[test]
fn canonical_bytes_are_those_of_rfc_8785() {
    let input = json!({
        "numbers": ["333333333.33333329".parse::<f64>().unwrap(), 1E30, 4.50, 2e-3, 1e-27],
        "string": "\u{20ac}$\u{f}\u{a}A'\u{42}\u{22}\u{5c}\\\"/",
        "literals": [null, true, false]
    });
    let bytes = "7b 22 6c 69 74 65 72 61 6c 73 22 3a 5b 6e 75 6c 6c 2c 74 72 \
                 75 65 2c 66 61 6c 73 65 5d 2c 22 6e 75 6d 62 65 72 73 22 3a \
                 5b 33 33 33 33 33 33 33 33 33 2e 33 33 33 33 33 33 33 2c 31 \
                 65 2b 33 30 2c 34 2e 35 2c 30 2e 30 30 32 2c 31 65 2d 32 37 \
                 5d 2c 22 73 74 72 69 6e 67 22 3a 22 e2 82 ac 24 5c 75 30 30 \
                 30 66 5c 6e 41 27 42 5c 22 5c 5c 5c 5c 5c 22 2f 22 7d";
    let expected: Vec<u8> = bytes
        .split_whitespace()
        .map(|byte| u8::from_str_radix(byte, 16).unwrap())
        .collect();
    assert_eq!(canonical(&input).into_bytes(), expected);
}

/// RFC 8785, section 3.2.3: keys by UTF-16 code units, so that the emoji stands before the Hebrew.
#[test]
fn keys_are_sorted_as_in_rfc_8785() {
    let input = json!({
        "\u{20ac}": "Euro Sign",
        "\r": "Carriage Return",
        "\u{fb33}": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\u{1f600}": "Emoji: Grinning Face",
        "\u{80}": "Control",
        "\u{f6}": "Latin Small Letter O With Diaeresis"
    });
    let text = canonical(&input);
    let places: Vec<usize> = [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]
    .iter()
    .map(|value| text.find(value).unwrap())
    .collect();
    assert!(places.is_sorted(), "{text}");
}

/// RFC 8785, appendix B: every finite number of its table.
#[test]
fn numbers_are_those_of_rfc_8785() {
    for (bits, expected) in [
        (0x0000_0000_0000_0000, "0"),
        (0x8000_0000_0000_0000, "0"),
        (0x0000_0000_0000_0001, "5e-324"),
        (0x8000_0000_0000_0001, "-5e-324"),
        (0x7fef_ffff_ffff_ffff, "1.7976931348623157e+308"),
        (0xffef_ffff_ffff_ffff, "-1.7976931348623157e+308"),
        (0x4340_0000_0000_0000, "9007199254740992"),
        (0xc340_0000_0000_0000, "-9007199254740992"),
        (0x4430_0000_0000_0000, "295147905179352830000"),
        (0x44b5_2d02_c7e1_4af5, "9.999999999999997e+22"),
        (0x44b5_2d02_c7e1_4af6, "1e+23"),
        (0x44b5_2d02_c7e1_4af7, "1.0000000000000001e+23"),
        (0x444b_1ae4_d6e2_ef4e, "999999999999999700000"),
        (0x444b_1ae4_d6e2_ef4f, "999999999999999900000"),
        (0x444b_1ae4_d6e2_ef50, "1e+21"),
        (0x3eb0_c6f7_a0b5_ed8c, "9.999999999999997e-7"),
        (0x3eb0_c6f7_a0b5_ed8d, "0.000001"),
        (0x41b3_de43_5555_5553, "333333333.3333332"),
        (0x41b3_de43_5555_5554, "333333333.33333325"),
        (0x41b3_de43_5555_5555, "333333333.3333333"),
        (0x41b3_de43_5555_5556, "333333333.3333334"),
        (0x41b3_de43_5555_5557, "333333333.33333343"),
        (0xbecb_f647_612f_3696, "-0.0000033333333333333333"),
        (0x4314_3ff3_c1cb_0959, "1424953923781206.2"),
    ] {
        assert_eq!(canonical(&json!(f64::from_bits(bits))), expected);
    }
}

/// The bound is that of RFC 7493 (I-JSON), section 2.2.
#[test]
fn an_integer_that_readers_would_round_is_refused() {
    assert_eq!(
        canonical(&json!(9_007_199_254_740_991_u64)),
        "9007199254740991"
    );
    let refusal = Canonical::of(&json!([-9_007_199_254_740_992_i64])).unwrap_err();
    assert_eq!(
        refusal,
        CanonicalError::Integer("-9007199254740992".to_owned())
    );
    assert!(Canonical::of(&json!(u64::MAX)).is_err());
}

/// Each expected value by `sha256sum` (GNU coreutils 9.1) over the bytes that the documentation
/// states: `printf 'fairhearing seal 1\n{"a":1}' | sha256sum`, and so on.
#[test]
fn anybody_can_redo_a_seal_a_commitment_and_a_link() {
    let value = Canonical::of(&json!({"a": 1})).unwrap();
    assert_eq!(seal_of(&value).to_string(), SEAL_BY_HAND);
    let salt = Salt::new(*b"0123456789abcdef");
    assert_eq!(commit(&salt, &value).to_string(), COMMITMENT_BY_HAND);
    let event = Event {
        seq: 1,
        at_utc_ms: 1_700_000_000_000,
        kind: "close".to_owned(),
        body: value,
    };
    assert_eq!(link(&Digest::GENESIS, &event).to_string(), LINK_BY_HAND);
}

const SEAL_BY_HAND: &str = "5937dbbb295d773219ac19691cd465e2f06bb7f0b6671c08edb866b2a40cb32c";
const COMMITMENT_BY_HAND: &str = "4837331707f0de18441c559860f41579c3116cf2c8e41daa38dd4f8048161dab";
const LINK_BY_HAND: &str = "1f564f4f24b54769c6f5ece346c0e282a456530da03fbe5f6150cc19b8fcdabe";

#[test]
fn another_salt_makes_another_commitment() {
    let value = Canonical::of(&json!("C01")).unwrap();
    let one = commit(&Salt::new([1; 16]), &value);
    assert_ne!(one, commit(&Salt::new([2; 16]), &value));
    assert_eq!(format!("{:?}", Salt::new([1; 16])), "Salt(…)");
}

fn event(seq: u64, body: &Value) -> Event {
    Event {
        seq,
        at_utc_ms: 1_700_000_000_000 + i64::try_from(seq).unwrap(),
        kind: "judgement".to_owned(),
        body: Canonical::of(body).unwrap(),
    }
}

/// A log of so many events, as a store would give it back.
fn log(n_events: u64) -> Vec<(Event, String)> {
    let mut head = Head::EMPTY;
    (1..=n_events)
        .map(|seq| {
            let event = event(seq, &json!({"place": seq, "answer": "correct"}));
            head = head.after(&event);
            (event, head.digest.to_string())
        })
        .collect()
}

fn whole(n_events: u64) -> Chain {
    verify_chain(log(n_events)).unwrap()
}

#[test]
fn a_whole_log_verifies_and_keeps_every_head() {
    let chain = whole(5);
    assert_eq!(chain.head().count, 5);
    assert_eq!(chain.head_at(0), Some(Head::EMPTY));
    assert_eq!(chain.head_at(3), Some(whole(3).head()));
    assert_eq!(chain.head_at(6), None);
    assert_eq!(whole(0).head(), Head::EMPTY);
}

#[test]
fn a_removed_a_moved_and_an_inserted_event_are_found() {
    let mut removed = log(5);
    removed.remove(2);
    let found = verify_chain(removed).unwrap_err();
    assert_eq!(
        found,
        ChainBreak::Order {
            expected: 3,
            found: 4
        }
    );

    let mut moved = log(5);
    moved.swap(1, 3);
    let found = verify_chain(moved).unwrap_err();
    assert_eq!(
        found,
        ChainBreak::Order {
            expected: 2,
            found: 4
        }
    );

    let mut moved_and_renumbered = log(5);
    moved_and_renumbered.swap(1, 3);
    moved_and_renumbered[1].0.seq = 2;
    moved_and_renumbered[3].0.seq = 4;
    let found = verify_chain(moved_and_renumbered).unwrap_err();
    assert_eq!(found, ChainBreak::Changed { seq: 2 });

    let mut inserted = log(5);
    let doubled = inserted[2].clone();
    inserted.insert(3, doubled);
    let found = verify_chain(inserted).unwrap_err();
    assert_eq!(
        found,
        ChainBreak::Order {
            expected: 4,
            found: 3
        }
    );
}

#[test]
fn a_shortened_log_is_found_by_a_later_receipt_alone() {
    let receipt = whole(5).head().receipt();
    let shortened = whole(4);
    assert_eq!(
        shortened.holds(&receipt),
        Err(ChainBreak::Shortened {
            count: 4,
            receipt: 5
        })
    );
    assert_eq!(whole(9).holds(&receipt), Ok(()));
    assert_eq!(whole(9).holds(&Head::EMPTY.receipt()), Ok(()));
}

#[test]
fn a_log_written_anew_is_found_by_a_receipt() {
    let receipt = whole(5).head().receipt();
    let mut head = Head::EMPTY;
    let rewritten = (1..=6).map(|seq| {
        let event = event(seq, &json!({"place": seq, "answer": "distorted"}));
        head = head.after(&event);
        (event, head.digest.to_string())
    });
    let chain = verify_chain(rewritten).unwrap();
    assert_eq!(
        chain.holds(&receipt),
        Err(ChainBreak::OtherThanReceipt { receipt: 5 })
    );
}

#[test]
fn a_line_end_in_a_kind_cannot_imitate_another_event() {
    let plain = |kind: &str, body: &str| Event {
        seq: 1,
        at_utc_ms: 0,
        kind: kind.to_owned(),
        body: Canonical::stored(body),
    };
    assert_ne!(
        link(&Digest::GENESIS, &plain("a\"\nb", "c")),
        link(&Digest::GENESIS, &plain("a", "b\"\nc"))
    );
}

#[test]
fn a_receipt_survives_being_typed() {
    let receipt = whole(37).head().receipt();
    let printed = receipt.to_string();
    assert!(printed.starts_with("37-"), "{printed}");
    assert_eq!(printed.parse(), Ok(receipt));
    let typed = format!(" {} ", printed.to_lowercase().replace('o', "0"));
    assert_eq!(typed.parse(), Ok(receipt));
}

/// What one flipped bit can hit in a stored row.
#[derive(Debug, Clone, Copy)]
enum Field {
    Seq,
    At,
    Kind,
    Body,
    Digest,
}

fn a_field() -> impl Strategy<Value = Field> {
    prop_oneof![
        Just(Field::Seq),
        Just(Field::At),
        Just(Field::Kind),
        Just(Field::Body),
        Just(Field::Digest),
    ]
}

/// The text with one of the low seven bits of one byte flipped; it stays ASCII.
fn flipped(text: &str, at: usize, bit: u32) -> String {
    let mut bytes = text.as_bytes().to_vec();
    let at = at % bytes.len();
    bytes[at] ^= 1 << (bit % 7);
    String::from_utf8(bytes).unwrap()
}

fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        (-9_007_199_254_740_991_i64..=9_007_199_254_740_991).prop_map(Value::from),
        any::<String>().prop_map(Value::from),
    ];
    leaf.prop_recursive(4, 40, 6, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
            prop::collection::btree_map(any::<String>(), inner, 0..6)
                .prop_map(|fields| Value::Object(fields.into_iter().collect())),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(256) })]

    #[test]
    fn one_flipped_bit_anywhere_in_a_log_is_found(
        n_events in 1_u64..12, row in any::<prop::sample::Index>(),
        field in a_field(), at in 0_usize..200, bit in 0_u32..63,
    ) {
        let mut rows = log(n_events);
        let index = row.index(rows.len());
        let seq = rows[index].0.seq;
        let (event, digest) = &mut rows[index];
        match field {
            Field::Seq => event.seq ^= 1 << bit,
            Field::At => event.at_utc_ms ^= 1 << bit,
            Field::Kind => event.kind = flipped(&event.kind, at, bit),
            Field::Body => event.body = Canonical::stored(flipped(event.body.as_str(), at, bit)),
            Field::Digest => *digest = flipped(digest, at, bit),
        }
        let expected = match field {
            Field::Seq => ChainBreak::Order { expected: seq, found: event.seq },
            _ => ChainBreak::Changed { seq },
        };
        prop_assert_eq!(verify_chain(rows), Err(expected));
    }

    #[test]
    fn one_mistyped_sign_of_a_receipt_is_found(
        count in 0_u64..1_000_000, bytes in any::<[u8; 8]>(), at in any::<prop::sample::Index>(), other in any::<prop::sample::Index>(),
    ) {
        let receipt = Head { count, digest: Digest::of(&bytes) }.receipt();
        let printed = receipt.to_string();
        let at = at.index(printed.len());
        let signs: Vec<char> = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-".chars().collect();
        let mut typed: Vec<char> = printed.chars().collect();
        typed[at] = signs[other.index(signs.len())];
        let typed: String = typed.into_iter().collect();
        let read = typed.parse::<ReceiptHead>();
        prop_assert!(read.is_err() || read == Ok(receipt), "{} read as {}", printed, typed);
    }

    #[test]
    fn canonical_text_read_back_is_its_own_canonical_text(value in any_json()) {
        let text = canonical(&value);
        let read: Value = serde_json::from_str(&text).unwrap();
        prop_assert_eq!(&read, &value);
        prop_assert_eq!(canonical(&read), text);
    }

    #[test]
    fn a_canonical_number_reads_back_as_the_same_float(float in prop::num::f64::NORMAL | prop::num::f64::SUBNORMAL) {
        prop_assert_eq!(canonical(&json!(float)).parse::<f64>().unwrap().to_bits(), float.to_bits());
    }

    #[test]
    fn keys_stand_in_order_whatever_order_they_came_in(keys in prop::collection::hash_set("[a-z]{1,4}", 0..8)) {
        let object: BTreeMap<&String, u8> = keys.iter().map(|key| (key, 1)).collect();
        let fields: Vec<String> = object.keys().map(|key| format!("\"{key}\":1")).collect();
        let value = Value::Object(keys.iter().map(|key| (key.clone(), json!(1))).collect());
        prop_assert_eq!(canonical(&value), format!("{{{}}}", fields.join(",")));
    }
}
