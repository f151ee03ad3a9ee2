//! Masked visual analysis: unnamed graphs are judged between the close and unlocking, by one person, and the log tells it all.

use fairhearing::app;
use fairhearing::app::AppError;
use fairhearing::app::MaskedState;
use fairhearing::app::Now;
use fairhearing::app::Workspace;
use fairhearing::study::ChildCode;
use fairhearing::study::GraphMark;
use fairhearing::study::Judgement::Correct;
use fairhearing::study::Judgement::Distorted;
use fairhearing::study::MaskedMark;
use fairhearing::study::RoundName;
use fairhearing::study::Sureness;
use rusqlite::Connection;

use crate::program::run;
use crate::support::Desk;
use crate::support::Labels;
use crate::support::Study;
use crate::support::account;
use crate::support::deviations_of;
use crate::support::listen;

pub(crate) fn spring() -> RoundName {
    RoundName::new("spring").unwrap()
}

/// Three children in six sessions, heard and closed; the account of a researcher comes with it.
pub(crate) fn closed(labels: Labels) -> (Study, String) {
    closed_with(labels, "")
}

fn closed_with(labels: Labels, more: &str) -> (Study, String) {
    let study = Study::with()
        .labels(labels)
        .children(3)
        .peers(1)
        .sessions(6)
        .screening(format!("rules = []\n{more}"))
        .sealed();
    let mut turn = 0;
    for link in study.links() {
        listen(&study.workspace, link, |_| {
            turn += 1;
            if turn % 3 == 0 { Distorted } else { Correct }
        });
    }
    app::close(&study.workspace, &spring(), Now::read()).unwrap();
    let code = account(&study, "Ada", "researcher", &[]);
    (study, code)
}

pub(crate) fn begin(study: &Study, analyst: &str) -> Result<MaskedState, AppError> {
    app::begin_masked(&study.workspace, &spring(), analyst, None, Now::read())
}

fn mark(study: &Study, graph: u32, before: Option<u32>) -> Result<MaskedState, AppError> {
    let marks = [GraphMark {
        graph,
        mark: MaskedMark {
            before,
            sure: Sureness::Probable,
        },
    }];
    app::mark_masked(&study.workspace, &spring(), &marks, None, Now::read())
}

fn finish(study: &Study) -> Result<MaskedState, AppError> {
    app::finish_masked(&study.workspace, &spring(), None, Now::read())
}

#[track_caller]
pub(crate) fn nothing_is_wrong_with(study: &Study) {
    let findings = app::verify(&study.workspace, &[]).unwrap().findings;
    assert_eq!(findings, Vec::<String>::new());
}

#[track_caller]
fn refusal<T: std::fmt::Debug>(done: Result<T, AppError>) -> String {
    let refused = done.unwrap_err();
    assert!(refused.is_the_askers(), "{refused:?}");
    refused.to_string()
}

#[test]
fn marks_come_between_the_close_and_unlocking_and_each_is_in_the_log() {
    let (study, ada) = closed(Labels::plain());
    assert_eq!(begin(&study, &ada).unwrap().begun.unwrap().graphs, 3);
    assert!(refusal(begin(&study, &ada)).contains("has a masked analysis already"));
    nothing_is_wrong_with(&study);
    let graphs = app::masked_graphs(&study.workspace, &spring(), &ada).unwrap();
    let shape: Vec<_> = graphs.iter().map(|g| (g.number, g.shares.len())).collect();
    assert_eq!(shape, [(1, 6), (2, 6), (3, 6)]);
    for (graph, before) in [(4, Some(3)), (1, Some(1)), (1, Some(7)), (1, Some(0))] {
        refusal(mark(&study, graph, before));
    }
    mark(&study, 1, Some(4)).unwrap();
    mark(&study, 2, None).unwrap();
    // Said again it is not written again; said otherwise it takes the place of the first.
    mark(&study, 1, Some(4)).unwrap();
    assert!(refusal(finish(&study)).contains("1 of 3 graphs are not marked yet"));
    mark(&study, 1, Some(5)).unwrap();
    mark(&study, 3, Some(2)).unwrap();
    nothing_is_wrong_with(&study);
    assert!(finish(&study).unwrap().begun.unwrap().finished);
    assert!(refusal(mark(&study, 1, Some(2))).contains("is finished"));
    app::unlock(&study.workspace, &spring(), Now::read()).unwrap();
    assert!(refusal(mark(&study, 1, Some(2))).contains("is unlocked"));
    nothing_is_wrong_with(&study);

    let told: Vec<_> = study
        .events()
        .into_iter()
        .filter(|event| event.kind.starts_with("masked"))
        .collect();
    let kinds: Vec<_> = told.iter().map(|event| event.kind.as_str()).collect();
    assert_eq!(
        kinds,
        [
            "masked analysis begun",
            "masked marks",
            "masked marks",
            "masked marks",
            "masked marks",
            "masked analysis finished"
        ]
    );
    for event in &told {
        let body = event.body.as_str();
        assert!(!body.contains("C0") && !body.contains("before"), "{body}");
    }
    let unlocked = app::unlocked(&study.workspace, &spring()).unwrap();
    let found = app::findings(&study.workspace, &unlocked).unwrap().round;
    let masked = found.masked.clone().unwrap();
    assert_eq!((masked.analyst, masked.marked), (ada, 3));
    // Six sessions, the first three of them in the first phase.
    assert!(masked.graphs.iter().all(|graph| graph.start == Some(4)));
    let by_number = |number| {
        let graph = masked.graphs.iter().find(|graph| graph.graph == number);
        (graph.unwrap().late_by, graph.unwrap().within_one)
    };
    assert_eq!(by_number(1), (Some(1), Some(true)));
    assert_eq!(by_number(2), (None, Some(false)));
    assert_eq!(by_number(3), (Some(-2), Some(false)));
    let deviations = deviations_of(&found);
    assert!(
        deviations.contains("a masked visual analysis was begun that was not planned"),
        "{deviations}"
    );
}

#[test]
fn the_order_of_the_graphs_can_be_rebuilt_from_its_seed() {
    let (study, ada) = closed(Labels::plain());
    begin(&study, &ada).unwrap();
    let file = Connection::open(study.database()).unwrap();
    let seed: [u8; 32] = file
        .query_row("SELECT seed FROM masked_analysis", [], |row| row.get(0))
        .unwrap();
    let mut codes = ["C01", "C02", "C03"].map(str::to_owned);
    fairhearing::blinding::Seed::new(seed)
        .graphs()
        .shuffle(&mut codes);
    let mut rows = file
        .prepare("SELECT code FROM masked_graph JOIN child ON child.id = child_id ORDER BY number")
        .unwrap();
    let drawn: Vec<String> = rows
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert_eq!(drawn, codes);
}

#[test]
fn only_a_closed_round_and_a_researcher_who_saw_no_result_will_do() {
    let open = Study::with().sealed();
    let code = account(&open, "Ada", "researcher", &[]);
    assert!(refusal(begin(&open, &code)).contains("round spring is open"));
    let (study, ada) = closed(Labels::plain());
    let paul = account(&study, "Paul", "preparer", &[]);
    assert!(refusal(begin(&study, &paul)).contains("Paul is a preparer"));
    assert!(refusal(begin(&study, "A-nobody00")).contains("no account"));
    assert!(refusal(mark(&study, 1, None)).contains("no masked analysis"));
    // Another round of the same children is unlocked by Ada: she has seen what they can do.
    let again = study.with.clone().round("summer");
    study.seal(&again).unwrap();
    let summer = RoundName::new("summer").unwrap();
    app::close(&study.workspace, &summer, Now::read()).unwrap();
    let desk = Desk::of(&study);
    let cookie = desk.sign_in("Ada");
    let signed_in = [("cookie", cookie.as_str())];
    desk.post("/desk/rounds/summer/unlock", "sure=yes", &signed_in);
    let said = refusal(begin(&study, &ada));
    assert!(
        said.contains("Ada has seen results of the same children, in round summer"),
        "{said}"
    );
    let bea = account(&study, "Bea", "researcher", &[]);
    begin(&study, &bea).unwrap();
}

#[test]
fn unlocking_before_the_finish_is_warned_of_and_told() {
    let planned = "[masked_analysis]\nplanned = true";
    for (begun, wanted) in [
        (
            true,
            "the round was unlocked before its masked analysis was finished",
        ),
        (
            false,
            "the round was unlocked without the masked analysis that was planned",
        ),
    ] {
        let (study, ada) = closed_with(Labels::plain(), planned);
        if begun {
            begin(&study, &ada).unwrap();
            mark(&study, 2, Some(4)).unwrap();
        }
        let folder = study.folder().display().to_string();
        let unlock = ["unlock", "--workspace", &folder, "--round", "spring"];
        let refused = run(&unlock, "");
        assert!(
            refused.refusal().contains("--without-masked"),
            "{}",
            refused.err
        );
        let done = run(&[&unlock[..], &["--without-masked"]].concat(), "");
        assert_eq!(done.status, 0, "{}", done.err);
        let unlocked = app::unlocked(&study.workspace, &spring()).unwrap();
        let found = app::findings(&study.workspace, &unlocked).unwrap().round;
        let deviations = deviations_of(&found);
        assert!(deviations.contains(wanted), "{deviations}");
        assert!(!deviations.contains("not planned"), "{deviations}");
        assert_eq!(found.masked.is_some(), begun);
        nothing_is_wrong_with(&study);
    }
}

#[test]
fn a_child_that_is_erased_takes_its_graph_and_mark_along() {
    let (study, ada) = closed(Labels::plain());
    begin(&study, &ada).unwrap();
    for graph in 1..=3 {
        mark(&study, graph, Some(3)).unwrap();
    }
    let out = study.folder().join("to-judge");
    let state = app::masked_state(&study.workspace, &spring()).unwrap();
    let graphs = app::masked_graphs(&study.workspace, &spring(), &ada).unwrap();
    app::write_folder(&out, &fairhearing::folder::masked_graphs(&state, &graphs)).unwrap();
    let code = ChildCode::new("C02").unwrap();
    app::erase_child(&study.workspace, &code, Now::read()).unwrap();
    nothing_is_wrong_with(&study);
    assert!(!out.join("graph-1.svg").exists() && !out.join("marks.csv").exists());
    let state = finish(&study).unwrap().begun.unwrap();
    assert_eq!((state.marked, state.graphs), (2, 2));
    let stopped = ChildCode::new("C03").unwrap();
    app::stop_using_child(&study.workspace, &stopped, Now::read()).unwrap();
    let graphs = app::masked_graphs(&study.workspace, &spring(), &ada).unwrap();
    assert_eq!(graphs.len(), 1);
    app::unlock(&study.workspace, &spring(), Now::read()).unwrap();
    nothing_is_wrong_with(&study);
}

#[test]
fn a_row_that_was_touched_is_found() {
    let (study, ada) = closed(Labels::plain());
    begin(&study, &ada).unwrap();
    mark(&study, 1, Some(4)).unwrap();
    nothing_is_wrong_with(&study);
    let place = tempfile::tempdir().unwrap();
    let copy = place.path().join("copy");
    app::back_up(&study.workspace, &copy, Now::read()).unwrap();
    let changes = [
        (
            "UPDATE masked_graph SET before_point = 5 WHERE number = 1",
            "a mark of a masked analysis is not as the log tells it",
        ),
        (
            "UPDATE masked_graph SET marked_ms = 7 WHERE number = 1",
            "a mark of a masked analysis is not as the log tells it",
        ),
        (
            "UPDATE masked_graph SET sure = NULL, before_point = NULL, marked_ms = NULL, mark_salt = NULL",
            "a mark of a masked analysis was noted, and is gone",
        ),
        (
            "UPDATE masked_graph SET number = number + 10",
            "a graph of a masked analysis is not as the log tells it",
        ),
        (
            "DELETE FROM masked_graph WHERE number = 2",
            "a graph of a masked analysis was noted, and is gone",
        ),
        (
            "UPDATE masked_analysis SET seed = zeroblob(32)",
            "the masked analysis of round spring is not as the log tells it",
        ),
        (
            "UPDATE masked_analysis SET analyst = 'A-somebody'",
            "the masked analysis of round spring is not as the log tells it",
        ),
        (
            "UPDATE masked_analysis SET finished_ms = 7",
            "the masked analysis of round spring is not as the log tells it",
        ),
    ];
    for (number, (change, wanted)) in changes.into_iter().enumerate() {
        let folder = place.path().join(format!("{number}"));
        app::restore(&copy, &folder).unwrap();
        let workspace = Workspace::open(&folder).unwrap();
        let touched = Connection::open(folder.join("fairhearing.db")).unwrap();
        touched.execute(change, []).unwrap();
        drop(touched);
        let findings = app::verify(&workspace, &[]).unwrap().findings.join("\n");
        assert!(findings.contains(wanted), "{change}: {findings}");
    }
}

#[test]
fn the_commands_do_the_whole_of_it() {
    let (study, _) = closed(Labels::plain());
    let folder = study.folder().display().to_string();
    let out = study.folder().join("to-judge");
    let table = out.join("marks.csv");
    let masked = |arguments: &[&str]| {
        let common = ["--workspace", &folder, "--round", "spring", "--json"];
        run(&[&["masked"], arguments, &common].concat(), "")
    };
    let unsaid = masked(&["begin", "--analyst", "Ada"]);
    assert!(unsaid.refusal().contains("--blind"), "{}", unsaid.err);
    let stranger = masked(&["begin", "--analyst", "Zoe", "--blind"]);
    assert!(stranger.refusal().contains("no account with the name Zoe"));
    let begun = masked(&["begin", "--analyst", "Ada", "--blind"]).json();
    assert_eq!(begun["begun"]["graphs"], 3);
    masked(&["graphs", "--out", out.to_str().unwrap()]).json();
    let form = std::fs::read_to_string(&table).unwrap();
    assert_eq!(
        form.replace('\r', ""),
        "graph,points,before,sure\n1,6,,\n2,6,,\n3,6,,\n"
    );
    std::fs::write(
        &table,
        "graph,before,sure\n1,4,certain\n2,never,guess\n3,,sure\n",
    )
    .unwrap();
    let wrong = masked(&["mark", "--marks", table.to_str().unwrap()]);
    let said = wrong.refusal();
    assert!(
        said.contains("before") && said.contains("certain, probable, guess"),
        "{said}"
    );
    std::fs::write(
        &table,
        "graph,before,sure\n1,4,certain\n2,none,guess\n3,,\n",
    )
    .unwrap();
    let state = masked(&["mark", "--marks", table.to_str().unwrap()]).json();
    assert_eq!(state["begun"]["marked"], 2);
    std::fs::write(&table, "graph,before,sure\n3,2,probable\n").unwrap();
    masked(&["mark", "--marks", table.to_str().unwrap()]).json();
    let state = masked(&["finish"]).json();
    assert_eq!(state["begun"]["finished"], true);
    assert_eq!(masked(&["show"]).json(), state);
    nothing_is_wrong_with(&study);
}
