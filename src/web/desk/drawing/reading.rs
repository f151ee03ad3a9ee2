//! The form of a draw as a plan: the same type that `assign --plan` reads from a file.

use std::collections::BTreeMap;

use super::kind::DesignKind;
use crate::app::DrawMaterial;
use crate::study::AssignmentPlan;
use crate::study::ChildCode;
use crate::study::Condition;
use crate::study::Design;
use crate::study::Drawn;
use crate::study::Enrolled;
use crate::study::How;
use crate::study::Trait;
use crate::study::WordLists;
use crate::web::desk::form::FieldProblem;
use crate::web::desk::form::Reader;
use crate::web::desk::form::Values;
use crate::web::desk::form::contrast;
use crate::web::desk::form::sentence;

/// Reads a form; nothing where the study has no phase. With problems, the plan is not to be drawn.
pub(super) fn read(
    design: DesignKind,
    values: &Values,
    material: &DrawMaterial,
) -> (Option<AssignmentPlan>, Vec<FieldProblem>) {
    let mut reader = Reader::new(values);
    let children = children(&mut reader);
    let words = WordLists {
        treated: words(&reader.text_if_any("treated").unwrap_or_default()),
        control: words(&reader.text_if_any("control").unwrap_or_default()),
    };
    let draw = match design {
        DesignKind::Cohorts => cohorts(&mut reader, material),
        DesignKind::StartPoints => start_points(&mut reader),
        DesignKind::Alternating => alternating(&mut reader),
        DesignKind::WordSets => Design::WordSets {
            conditions: conditions(&mut reader),
            sets: sets(&mut reader, true),
        },
    };
    let contrast = contrast::read(&mut reader, &material.phases);
    let looks = reader.whole("looks", 1);
    let plan = contrast.map(|contrast| AssignmentPlan {
        children,
        draw,
        words: (words != WordLists::default()).then_some(words),
        contrast,
        looks,
    });
    (plan, reader.problems)
}

fn children(reader: &mut Reader<'_>) -> Vec<Enrolled> {
    let text = reader.text("children", "List the children, one code a line.");
    let mut children = Vec::new();
    for line in lines(&text) {
        match enrolled(line) {
            Ok(child) => children.push(child),
            Err(said) => reader.say("children", said),
        }
    }
    children
}

/// A line such as `C01, 74, severe`.
fn enrolled(line: &str) -> Result<Enrolled, String> {
    let mut cells = line.splitn(3, ',').map(str::trim);
    let code = cells.next().unwrap_or_default();
    let code = ChildCode::new(code).map_err(|refused| sentence(&format!("“{line}”: {refused}")))?;
    let age = cells.next().filter(|age| !age.is_empty());
    let age_months = age
        .map(|age| {
            age.parse()
                .map_err(|_| format!("“{line}”: write the age in whole months after the code."))
        })
        .transpose()?;
    let severity = cells.next().filter(|severity| !severity.is_empty());
    Ok(Enrolled {
        code,
        age_months,
        severity: severity.map(str::to_owned),
    })
}

fn cohorts(reader: &mut Reader<'_>, material: &DrawMaterial) -> Design {
    let known = |name: &str| {
        let mut cohorts = material.cohorts.iter();
        cohorts.find(|cohort| cohort.as_str() == name).cloned()
    };
    let cohorts = reader.several("cohorts", known);
    if cohorts.len() < 2 {
        reader.say("cohorts", "Choose two ways of treating or more.");
    }
    let how = reader.choice(
        "how",
        &[
            ("simple", How::Simple),
            ("blocked", How::Blocked),
            ("stratified", How::Stratified),
            ("minimised", How::Minimised),
        ],
        How::Simple,
    );
    let by = reader.several("by", |name| match name {
        "age" => Some(Trait::Age),
        "severity" => Some(Trait::Severity),
        _ => None,
    });
    Design::Cohorts {
        cohorts,
        how,
        blocks: if how == How::Blocked {
            blocks(reader)
        } else {
            Vec::new()
        },
        by: if matches!(how, How::Stratified | How::Minimised) {
            by
        } else {
            Vec::new()
        },
        age_bounds: if how == How::Stratified {
            numbers(reader, "age-bounds")
        } else {
            Vec::new()
        },
        keep: reader.whole("keep", 2) as usize,
    }
}

fn blocks(reader: &mut Reader<'_>) -> Vec<Vec<ChildCode>> {
    let text = reader.text("blocks", "List the blocks, the codes of one a line.");
    let mut blocks = Vec::new();
    for line in lines(&text) {
        let codes = pieces(line).map(ChildCode::new).collect::<Result<_, _>>();
        match codes {
            Ok(codes) => blocks.push(codes),
            Err(refused) => reader.say("blocks", sentence(&refused.to_string())),
        }
    }
    blocks
}

fn start_points(reader: &mut Reader<'_>) -> Design {
    let text = reader.text("allowed", "Say for each child when treatment may begin.");
    let mut allowed = BTreeMap::new();
    for line in lines(&text) {
        let read = line.split_once(':').and_then(|(case, sessions)| {
            let sessions = pieces(sessions).map(str::parse::<usize>);
            let sessions = sessions.collect::<Result<Vec<_>, _>>().ok()?;
            (!sessions.is_empty()).then(|| (case.trim().to_owned(), sessions))
        });
        match read {
            Some((case, sessions)) => {
                if allowed.insert(case.clone(), sessions).is_some() {
                    reader.say("allowed", format!("“{case}” stands here twice."));
                }
            }
            None => reader.say(
                "allowed",
                format!("“{line}” does not fit here. Write the case, a colon and its sessions: “C01: 4 5 6”."),
            ),
        }
    }
    Design::StartPoints {
        drawn: reader.choice(
            "drawn",
            &[
                ("starts", Drawn::Starts),
                ("cases", Drawn::Cases),
                ("both", Drawn::Both),
            ],
            Drawn::Starts,
        ),
        sets: sets(reader, false),
        allowed,
    }
}

fn alternating(reader: &mut Reader<'_>) -> Design {
    let order = reader.choice(
        "order",
        &[
            ("pairs", "pairs"),
            ("longest-run", "longest-run"),
            ("any", "any"),
        ],
        "pairs",
    );
    Design::Alternating {
        conditions: conditions(reader),
        sessions: reader.whole("sessions", 2) as usize,
        longest_run: (order == "longest-run").then(|| reader.whole("longest-run", 1) as usize),
        pairs: order == "pairs",
    }
}

fn conditions(reader: &mut Reader<'_>) -> Vec<Condition> {
    let made = ["condition-1", "condition-2"]
        .map(|field| reader.made(field, "Give the condition a short label.", Condition::new));
    made.into_iter().flatten().collect()
}

/// Lines such as `a: sail, sun`.
fn sets(reader: &mut Reader<'_>, needed: bool) -> BTreeMap<String, Vec<String>> {
    let text = if needed {
        reader.text("sets", "List the sets, one a line with its words.")
    } else {
        reader.text_if_any("sets").unwrap_or_default()
    };
    let mut sets = BTreeMap::new();
    for line in lines(&text) {
        match line.split_once(':') {
            Some((name, list)) if !name.trim().is_empty() => {
                sets.insert(name.trim().to_owned(), words(list));
            }
            _ => reader.say(
                "sets",
                format!("“{line}” does not fit here. Write a name, a colon and the words: “a: sail, sun”."),
            ),
        }
    }
    sets
}

fn numbers(reader: &mut Reader<'_>, field: &str) -> Vec<u32> {
    let text = reader.text_if_any(field).unwrap_or_default();
    let numbers = pieces(&text).map(str::parse).collect::<Result<_, _>>();
    numbers.unwrap_or_else(|_| {
        reader.say(
            field,
            format!("“{text}” does not fit here. Write whole numbers: “72, 96”."),
        );
        Vec::new()
    })
}

/// Words between commas or line breaks.
fn words(text: &str) -> Vec<String> {
    let words = text.split([',', '\n']).map(str::trim);
    words
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect()
}

fn lines(text: &str) -> impl Iterator<Item = &str> {
    text.lines().map(str::trim).filter(|line| !line.is_empty())
}

fn pieces(text: &str) -> impl Iterator<Item = &str> {
    text.split([',', ' ', '\t'])
        .filter(|piece| !piece.is_empty())
}
