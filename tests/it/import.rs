//! Import: everything or nothing, and a sentence for everything that is wrong.

use crate::support::Study;
use crate::support::With;
use crate::support::spoken;
use crate::support::wav_16_bit;

fn small() -> With {
    Study::with().children(1).words(2)
}

#[test]
fn importing_the_same_again_adds_nothing() {
    let study = small().made();
    assert_eq!(study.import().unwrap().added, 10);
    let again = study.import().unwrap();
    assert_eq!((again.added, again.known), (0, 10));
}

#[test]
fn one_sound_under_two_labels_is_refused() {
    let study = small().made();
    std::fs::write(study.audio().join("word2.wav"), wav_16_bit(&spoken(1))).unwrap();
    let said = study.import().unwrap_err().to_string();
    assert!(said.contains("manifest.csv:3:file"), "{said}");
    assert!(said.contains("the same as in line 2"), "{said}");
}
