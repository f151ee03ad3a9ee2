//! A round for a terminal, and the note that lies beside its tables.

use std::fmt::Write;

use super::columns::columns;
use super::columns::counted;
use super::columns::number;
use crate::analysis::RoundFindings;
use crate::analysis::Words;
use crate::report::number::percent;
use crate::report::number::percent_limits;
use crate::report::number::points_1;
use crate::report::number::points_limits_1;
use crate::study::plan::WordSet;
use crate::study::record::KnownAnswers;
use crate::study::record::Look;

/// What a round shows, short: agreement, listeners, and each child's change in a sentence.
pub fn round(found: &RoundFindings) -> String {
    let mut text = String::new();
    let agreement = &found.agreement;
    let kept = found
        .listeners
        .listeners
        .iter()
        .filter(|row| row.kept)
        .count();
    // Writing to a String cannot fail.
    let _ = writeln!(
        text,
        "\nAgreement of the {kept} listeners whom the sealed rules keep (of {}):\n  \
         percent {}, Krippendorff's alpha {}, Gwet's AC1 {}",
        found.listeners.listeners.len(),
        agreement
            .percent_agreement
            .estimate
            .map(percent)
            .unwrap_or_default(),
        number(agreement.krippendorff_alpha.estimate),
        number(agreement.gwet_ac1.estimate),
    );
    for row in found.listeners.listeners.iter().filter(|row| !row.kept) {
        let _ = writeln!(text, "  left out {}: {}", row.rater, row.why.join("; "));
    }
    let _ = write!(text, "\n{}", sessions(found));
    let mut changes: Vec<_> = found.outcome.changes.iter().collect();
    changes.retain(|row| row.words == Words::All);
    changes.sort_by(|one, other| one.child.cmp(&other.child));
    for change in changes {
        let _ = writeln!(
            text,
            "\n{}: {} points {}, {}\n  {}",
            change.child,
            points_1(change.difference),
            points_limits_1(change.ci),
            change.verdict.replace('_', " "),
            change.sentence,
        );
    }
    text.push_str(&over_rounds(found));
    text
}

/// All rounds on one scale, where there are several.
fn over_rounds(found: &RoundFindings) -> String {
    let Some(over) = &found.over_rounds else {
        return String::new();
    };
    let mut text = format!(
        "\nOver the rounds, on the scale of round {}:\n",
        over.reference
    );
    // Writing to a String cannot fail.
    for round in &over.rounds {
        let _ = writeln!(text, "  {}", round.sentence);
    }
    if let Some(why) = over.reasons.of("sessions") {
        let _ = writeln!(text, "  No joined graph: {why}.");
    }
    for change in &over.changes {
        let _ = writeln!(
            text,
            "\n{}: {} points {}, {}\n  {}",
            change.child,
            points_1(Some(change.difference)),
            points_limits_1(Some(change.ci)),
            change.verdict.replace('_', " "),
            change.sentence,
        );
    }
    text
}

fn sessions(found: &RoundFindings) -> String {
    let head = [
        "child",
        "session",
        "phase",
        "heard as correct",
        "interval",
        "words",
    ];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    let mut sessions: Vec<_> = found.outcome.sessions.iter().collect();
    sessions.retain(|row| row.words == Words::All);
    // Within a child the sessions come in their order already.
    sessions.sort_by(|one, other| one.child.cmp(&other.child));
    for session in sessions {
        rows.push(vec![
            session.child.clone(),
            session.session.to_string(),
            session.phase.clone(),
            session.proportion_correct.map(percent).unwrap_or_default(),
            percent_limits(session.ci),
            session.tokens.to_string(),
        ]);
    }
    columns(&rows)
}

/// By how many people the known answers of a round are known, as half a sentence.
pub fn known_answers(counts: KnownAnswers) -> String {
    let words = |n: usize| counted(n, "word");
    let KnownAnswers {
        by_two,
        by_one,
        with_a_reason,
    } = counts;
    match (by_two, by_one) {
        (0, 0) => "none were needed".to_owned(),
        (_, 0) => format!("{} by two people", words(by_two)),
        _ => {
            let two = match by_two {
                0 => String::new(),
                _ => format!("{} by two people, ", words(by_two)),
            };
            let noted = match with_a_reason {
                0 => String::new(),
                _ => format!(" (a reason is noted for {with_a_reason})"),
            };
            format!("{two}{} by one person{noted}", words(by_one))
        }
    }
}

/// The note beside the tables of a round that are to be given away.
pub fn shared_readme(found: &RoundFindings) -> String {
    format!(
        "{}\nTo be shared: children and words have other codes than in the study, days are counted from the first\n\
         recording, ages are in half-years, and nothing that somebody typed freely is here but the study's name and its\n\
         texts for listeners, which stand in the seal. sealed.json commits to children and recordings by salted digests.\n",
        readme(found)
    )
}

/// The note that lies beside the tables of a round.
pub fn readme(found: &RoundFindings) -> String {
    let contrast = &found.plan.contrast;
    let confidence = found.plan.analysis.confidence.level();
    let seed = found.plan.analysis.seed;
    let last = contrast
        .last
        .map(|last| format!(" --last {last}"))
        .unwrap_or_default();
    let simulated = if found.round.simulated {
        "The panel of this round was SIMULATED: these figures are a demonstration.\n\n"
    } else {
        ""
    };
    format!(
        "Round {round}\n\n{simulated}\
         Every column is explained in data_dictionary.csv. An empty cell is missing. Voices and codes are coded, not\n\
         anonymous: local rules on children's records come first.\n\n\
         seal     {seal}\n\
         log      {events} events at the close, head {head}\n\
         orders   seed {order_seed}\n\
         program  {program} (sealed by {sealed_by})\n\n\
         plan.toml is the plan that was sealed, sealed.json the sealed document: the seal is the SHA-256 of the line\n\
         \"fairhearing seal 1\" and this file. seeds.json holds the seeds of orders and of resampling; SHA256SUMS lists every\n\
         other file. tables.xlsx holds the tables once more.\n\n\
         The same figures from these files:\n\n  \
         fairhearing agreement ratings.csv --categories correct,distorted --tokens tokens.csv --panel panel.csv --confidence {confidence} --seed {seed}\n  \
         fairhearing listeners ratings.csv --key key.csv --rules rules.toml --confidence {confidence}\n  \
         fairhearing consensus ratings.csv --confidence {confidence}\n  \
         fairhearing outcome ratings.csv --tokens tokens.csv --panel panel.csv --baseline {from:?} --treatment {to:?}{last} \
         --smallest-change {smallest}{words}{look}{assignment} --confidence {confidence} --seed {seed}\n",
        round = found.round.round,
        seal = found.round.seal,
        events = found.round.events,
        head = found.round.head,
        order_seed = found.round.seed,
        program = found.program,
        sealed_by = found.round.sealed_by,
        from = contrast.from.as_str(),
        to = contrast.to.as_str(),
        smallest = contrast.smallest_change.get(),
        words = match contrast.words {
            WordSet::All => "",
            WordSet::Treated => " --words treated",
            WordSet::Untreated => " --words untreated",
        },
        look = look(found.round.look),
        assignment = found
            .record
            .assignment
            .as_ref()
            .map_or("", |_| " --assignment assignment.json"),
    )
}

/// The arguments that tell which look this is.
fn look(look: Look) -> String {
    if look.is_the_only_one() {
        return String::new();
    }
    let planned = look
        .planned
        .map_or_else(String::new, |planned| format!(" --looks {planned}"));
    format!(" --look {}{planned}", look.taken)
}
