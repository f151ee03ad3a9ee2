//! The form of a draw: its parts and lines.

use super::kind::DesignKind;
use crate::app::DrawMaterial;
use crate::study::Cohort;
use crate::web::desk::form::FieldProblem;
use crate::web::desk::form::Line;
use crate::web::desk::form::Part;
use crate::web::desk::form::Values;
use crate::web::desk::form::contrast;

/// The parts of the form with what stands in them and what is wrong with it.
pub(super) fn parts(
    design: DesignKind,
    values: &Values,
    material: &DrawMaterial,
    wrong: &[FieldProblem],
) -> Vec<Part> {
    let drawn = match design {
        DesignKind::Cohorts => cohorts(material),
        DesignKind::StartPoints => start_points(),
        DesignKind::Alternating => alternating(),
        DesignKind::WordSets => word_sets(),
    };
    let mut parts = vec![children(design), drawn, compared(material)];
    for part in &mut parts {
        part.fill(values, wrong);
    }
    parts
}

/// What stands in a form that nobody has filled in yet.
pub(super) fn fresh(design: DesignKind, material: &DrawMaterial) -> Values {
    let mut values = Values::default();
    let codes: Vec<_> = material.children.iter().map(ToString::to_string).collect();
    values.set("children", &codes.join("\n"));
    values.set("smallest-change", "15");
    values.set("looks", "1");
    if let Some(second) = material.phases.get(1) {
        values.set("contrast-to", second.as_str());
    }
    match design {
        DesignKind::Cohorts => {
            values.set("keep", "20");
            for cohort in &material.cohorts {
                values.add("cohorts", cohort.as_str());
            }
        }
        DesignKind::StartPoints => {
            let cases: Vec<_> = codes.iter().map(|code| format!("{code}: ")).collect();
            values.set("allowed", &cases.join("\n"));
        }
        DesignKind::Alternating | DesignKind::WordSets => {}
    }
    values
}

fn children(design: DesignKind) -> Part {
    let hint = if design == DesignKind::Cohorts {
        "One a line: code, then age in months and severity where they are to be balanced. “C01, 74, severe”."
    } else {
        "One code a line."
    };
    Part {
        title: "The children",
        lead: "By code, never by name. All of them, before the first is treated.".to_owned(),
        lines: vec![Line::paragraphs("children", "Children").hint(hint)],
        more: "Lists of words",
        further: vec![
            Line::paragraphs("treated", "Words practised in treatment")
                .hint("Without brackets, with commas or one a line. Empty: not fixed now."),
            Line::paragraphs("control", "Words never practised")
                .hint("They show what changes without practice."),
        ],
    }
}

fn cohorts(material: &DrawMaterial) -> Part {
    let names: Vec<_> = material.cohorts.iter().map(Cohort::as_str).collect();
    let names: Vec<_> = names.iter().map(|name| (*name, *name)).collect();
    Part {
        title: "The cohorts",
        lead: if names.len() < 2 {
            "The study names fewer than two ways of treating. Add them in its settings first."
                .to_owned()
        } else {
            "As equal in size as can be.".to_owned()
        },
        lines: vec![
            Line::several("cohorts", "Ways of treating", &names),
            Line::one(
                "how",
                "How children are dealt",
                &[
                    ("simple", "All together"),
                    ("blocked", "Inside blocks that you list"),
                    ("stratified", "Inside groups of like age or severity"),
                    ("minimised", "One of the ways that balance best"),
                ],
            )
            .hint(
                "With fewer than about ten children the best balanced ways keep the cohorts alike.",
            ),
        ],
        more: "Blocks, groups, balance",
        further: vec![
            Line::paragraphs("blocks", "Blocks")
                .hint("One a line: the codes of the children in it."),
            Line::several(
                "by",
                "What is balanced",
                &[("age", "age"), ("severity", "severity")],
            ),
            Line::words("age-bounds", "Age groups begin at, in months")
                .hint("For groups of like age: “72, 96”."),
            Line::number("keep", "Best balanced ways to draw among", "ways")
                .hint("At least 20, or p cannot reach .05."),
        ],
    }
}

fn start_points() -> Part {
    Part {
        title: "The starts",
        lead: "Sessions are counted from 1. Leave at least three for the baseline.".to_owned(),
        lines: vec![
            Line::paragraphs("allowed", "Sessions at which treatment may begin")
                .hint("One case a line: “C01: 4 5 6”. A case is a child, or a child and a set of words: “C01/a: 4 5”."),
            Line::one(
                "drawn",
                "What is drawn",
                &[
                    ("starts", "The start of each case"),
                    ("cases", "Which case gets which start"),
                    ("both", "Which case gets which sessions, then the start"),
                ],
            )
            .hint("Among its own sessions, or dealt to the cases. For “which case gets which start” each line above holds one session."),
        ],
        more: "Sets of words that start apart",
        further: vec![sets()],
    }
}

fn alternating() -> Part {
    let mut lines = conditions();
    lines.extend([
        Line::number("sessions", "Sessions of each child", "sessions"),
        Line::one(
            "order",
            "The order",
            &[
                ("pairs", "Drawn inside each pair of sessions"),
                ("longest-run", "Any, with a longest run"),
                ("any", "Any"),
            ],
        ),
        Line::number("longest-run", "Longest run of one condition", "sessions")
            .hint("For “any, with a longest run”."),
    ]);
    Part {
        title: "The conditions",
        lead: "Each has half of the sessions.".to_owned(),
        lines,
        more: "",
        further: Vec::new(),
    }
}

fn word_sets() -> Part {
    let mut lines = conditions();
    lines.push(sets());
    Part {
        title: "The conditions and their words",
        lead: "The sets should be alike in difficulty: chance decides which is treated how."
            .to_owned(),
        lines,
        more: "",
        further: Vec::new(),
    }
}

fn conditions() -> Vec<Line> {
    vec![
        Line::words("condition-1", "First condition").hint("A short label: “cued”."),
        Line::words("condition-2", "Second condition"),
    ]
}

fn sets() -> Line {
    Line::paragraphs("sets", "Sets of words")
        .hint("One a line, without brackets: “a: sail, sun, soup”.")
}

fn compared(material: &DrawMaterial) -> Part {
    Part {
        title: "What will be compared",
        lead: "Sealed with the draw, so that no comparison is picked afterwards.".to_owned(),
        lines: contrast::lines(&material.phases),
        more: "Sessions, words, looks",
        further: {
            let mut further = contrast::further();
            further.push(
                Line::number("looks", "How often results are looked at", "times")
                    .hint("The last time counts too. More looks, more ‘improved’ by chance alone."),
            );
            further
        },
    }
}
