//! The draw before treatment at the desk: read before it is drawn, drawn once, and the same as by command.

use fairhearing::app;
use fairhearing::app::Again;
use fairhearing::app::Now;
use serde_json::Value;

use crate::support::Staff;
use crate::support::Study;

const COHORTS: &str = "/desk/draw/design/cohorts";

/// Four children in the study's two cohorts.
const FOUR: &[(&str, &str)] = &[
    ("children", "C01\r\nC02\r\nC03\r\n\r\nC04"),
    ("treated", "sail, sun"),
    ("control", "ice"),
    ("cohorts", "cued"),
    ("cohorts", "free"),
    ("how", "simple"),
    ("keep", "20"),
    ("contrast-from", "baseline"),
    ("contrast-to", "treatment"),
    ("smallest-change", "15"),
    ("contrast-words", "all"),
    ("looks", "3"),
];

fn with<'a>(
    form: &[(&'a str, &'a str)],
    further: &[(&'a str, &'a str)],
) -> Vec<(&'a str, &'a str)> {
    let mut all: Vec<_> = form
        .iter()
        .filter(|(name, _)| !further.iter().any(|(other, _)| other == name))
        .copied()
        .collect();
    all.extend(further);
    all
}

/// The digest of the plan that stands above the button.
#[track_caller]
fn digest(page: &str) -> String {
    let (_, rest) = page
        .split_once("name=\"plan\" value=\"")
        .expect("the plan can be drawn");
    rest.split('"').next().unwrap().to_owned()
}

fn drawn(study: &Study) -> usize {
    let events = study.events();
    events
        .iter()
        .filter(|event| event.kind == "assignment drawn")
        .count()
}

/// The plan that was drawn last, as JSON.
fn plan_drawn(study: &Study) -> Value {
    serde_json::to_value(app::assigned(&study.workspace).unwrap().sheet.plan).unwrap()
}

/// Reads a form's plan, then draws it.
#[track_caller]
fn draw(desk: &Staff, address: &str, form: &[(&str, &str)], why: &[(&str, &str)]) {
    let read = desk.post(address, &with(form, &[("do", "preview")]));
    assert_eq!(read.status, 200, "{}", read.text());
    let digest = digest(&read.text());
    let mut sure = vec![("do", "draw"), ("sure", "yes"), ("plan", digest.as_str())];
    sure.extend(why);
    let answer = desk.post(address, &with(form, &sure));
    assert_eq!(
        (answer.status, answer.location.as_str()),
        (303, "/desk/draw/sheet"),
        "{}",
        answer.text()
    );
}

#[test]
fn a_draw_is_read_before_it_is_made_and_made_once() {
    let study = Study::with().made();
    let desk = Staff::of(&study);
    let form = desk.get(COHORTS).text();
    assert!(
        form.contains("value=\"cued\" checked") && form.contains(">treatment</option>"),
        "{form}"
    );
    let read = desk.post(COHORTS, &with(FOUR, &[("do", "preview")]));
    let said = read.text();
    // Two of four children can be chosen in six ways; the exact test over them reaches 1/6, two-sided 2/6.
    assert!(
        said.contains("can fall out in 6 ways")
            && said.contains("0.167 one-sided, 0.333 two-sided"),
        "{said}"
    );
    assert!(said.contains("it cannot fall to .05"));
    let plan = digest(&said);
    for (form, wanted) in [
        (
            with(FOUR, &[("do", "draw"), ("plan", &plan)]),
            "Before it is drawn",
        ),
        (
            with(
                FOUR,
                &[
                    ("do", "draw"),
                    ("sure", "yes"),
                    ("plan", &plan),
                    ("looks", "2"),
                ],
            ),
            "The form was changed after this was read",
        ),
    ] {
        let shown = desk.post(COHORTS, &form);
        assert_eq!(shown.status, 200);
        assert!(shown.text().contains(wanted), "{}", shown.text());
    }
    assert_eq!(drawn(&study), 0, "nothing is drawn unasked");

    draw(&desk, COHORTS, FOUR, &[]);
    assert_eq!(drawn(&study), 1);
    let sheet = desk.get("/desk/draw/sheet").text();
    let assigned = app::assigned(&study.workspace).unwrap();
    assert!(
        sheet.contains(&assigned.sheet.seal) && sheet.contains("C04"),
        "{sheet}"
    );
    let file = desk.get("/desk/draw/assignment.json");
    assert_eq!(file.bytes, app::write_assignment(&assigned.assignment));
    assert_eq!(
        app::verify(&study.workspace, &[]).unwrap().findings,
        Vec::<String>::new()
    );

    let again = desk.post(
        COHORTS,
        &with(
            FOUR,
            &[
                ("do", "draw"),
                ("sure", "yes"),
                ("plan", &plan),
                ("why", " "),
            ],
        ),
    );
    assert_eq!(again.status, 422);
    assert!(
        again.text().contains("A further draw needs a reason"),
        "{}",
        again.text()
    );
    assert_eq!(drawn(&study), 1);
    draw(&desk, COHORTS, FOUR, &[("why", "a family moved away")]);
    let overview = desk.get("/desk/draw").text();
    assert!(
        overview.contains("a family moved away") && overview.contains(&assigned.sheet.seal),
        "{overview}"
    );
}

/// Two children, and what is compared.
const TWO: &[(&str, &str)] = &[
    ("children", "C01\nC02"),
    ("contrast-from", "baseline"),
    ("contrast-to", "treatment"),
    ("smallest-change", "12.5"),
    ("contrast-words", "treated"),
    ("contrast-last", "2"),
    ("looks", "1"),
];

const CONTRAST: &str = "[contrast]\nfrom = \"baseline\"\nto = \"treatment\"\nlast = 2\nwords = \"treated\"\n\
    smallest_change = 0.125\n";

/// Draws by the form of a design, and by a file, and compares the plans.
#[track_caller]
fn both_ways(design: &str, form: &[(&str, &str)], children: &str, draw_of: &str) {
    let (study, by_file) = (Study::with().made(), Study::with().made());
    let desk = Staff::of(&study);
    let address = format!("/desk/draw/design/{design}");
    draw(&desk, &address, &with(TWO, form), &[]);
    let path = by_file.folder().join("draw.toml");
    let text =
        format!("children = [{children}]\n[draw]\ndesign = \"{design}\"\n{draw_of}{CONTRAST}");
    std::fs::write(&path, text).unwrap();
    let day_one = Now::at_ms(1_748_851_200_000);
    app::assign(&by_file.workspace, &path, Again::No, day_one).unwrap();
    assert_eq!(plan_drawn(&study), plan_drawn(&by_file), "{design}");
}

#[test]
fn a_form_of_cohorts_draws_the_plan_that_the_command_reads_from_a_file() {
    let children = "{ code = \"C01\", age_months = 70, severity = \"severe\" }, \
        { code = \"C02\", age_months = 75, severity = \"mild\" }, \
        { code = \"C03\", age_months = 90, severity = \"severe\" }, \
        { code = \"C04\", age_months = 99, severity = \"mild, late\" }";
    let form = [
        (
            "children",
            "C01, 70, severe\nC02,75,mild\nC03, 90, severe\nC04, 99, mild, late",
        ),
        ("cohorts", "cued"),
        ("cohorts", "free"),
    ];
    let cohorts = "cohorts = [\"cued\", \"free\"]\n";
    for (further, draw_of) in [
        (
            vec![
                ("how", "stratified"),
                ("by", "age"),
                ("age-bounds", "84"),
                ("blocks", "left over"),
                ("keep", "20"),
            ],
            "how = \"stratified\"\nby = [\"age\"]\nage_bounds = [84]\n",
        ),
        (
            vec![
                ("how", "blocked"),
                ("blocks", "C01 C03\nC02, C04"),
                ("keep", "20"),
            ],
            "how = \"blocked\"\nblocks = [[\"C01\", \"C03\"], [\"C02\", \"C04\"]]\n",
        ),
        (
            vec![
                ("how", "minimised"),
                ("by", "age"),
                ("by", "severity"),
                ("keep", "4"),
            ],
            "how = \"minimised\"\nby = [\"age\", \"severity\"]\nkeep = 4\n",
        ),
    ] {
        let form = with(&form, &further);
        both_ways("cohorts", &form, children, &format!("{cohorts}{draw_of}"));
    }
}

#[test]
fn a_form_within_children_draws_the_plan_that_the_command_reads_from_a_file() {
    let children = "{ code = \"C01\" }, { code = \"C02\" }";
    let conditions = [("condition-1", "cued"), ("condition-2", "free")];
    both_ways(
        "start-points",
        &[
            ("allowed", "C01: 4 5 6\r\nC02/a: 5, 7\r\nC02/b: 6 8"),
            ("drawn", "starts"),
            ("sets", "a: sail, sun\nb: soup"),
        ],
        children,
        "[draw.sets]\na = [\"sail\", \"sun\"]\nb = [\"soup\"]\n\
         [draw.allowed]\nC01 = [4, 5, 6]\n\"C02/a\" = [5, 7]\n\"C02/b\" = [6, 8]\n",
    );
    let order = [
        ("sessions", "8"),
        ("order", "longest-run"),
        ("longest-run", "2"),
    ];
    both_ways(
        "alternating",
        &with(&conditions, &order),
        children,
        "conditions = [\"cued\", \"free\"]\nsessions = 8\nlongest_run = 2\n",
    );
    both_ways(
        "word-sets",
        &with(&conditions, &[("sets", "a: sail, sun\nb: soup, ice")]),
        children,
        "conditions = [\"cued\", \"free\"]\n[draw.sets]\na = [\"sail\", \"sun\"]\nb = [\"soup\", \"ice\"]\n",
    );
}

#[test]
fn what_does_not_fit_is_said_at_its_field_and_nothing_is_lost() {
    let study = Study::with().made();
    let desk = Staff::of(&study);
    for (address, wrong, sentence) in [
        (
            COHORTS,
            ("children", ""),
            "List the children, one code a line.",
        ),
        (
            COHORTS,
            ("children", "C01, six"),
            "write the age in whole months",
        ),
        (
            COHORTS,
            ("cohorts", "cued"),
            "Choose two ways of treating or more.",
        ),
        (COHORTS, ("looks", "0"), "Write a whole number from 1"),
        (
            COHORTS,
            ("contrast-to", "baseline"),
            "The contrast compares `baseline` with itself",
        ),
        (
            COHORTS,
            ("children", "C01\nC01\nC02\nC03"),
            "The child `C01` is listed twice",
        ),
        (
            "/desk/draw/design/start-points",
            ("allowed", "C01 4 5"),
            "Write the case, a colon and its sessions",
        ),
        (
            "/desk/draw/design/start-points",
            ("allowed", "C01: 4 5\nC01: 6 7"),
            "“C01” stands here twice.",
        ),
        (
            "/desk/draw/design/word-sets",
            ("sets", "sail, sun"),
            "Write a name, a colon and the words",
        ),
        (
            "/desk/draw/design/alternating",
            ("sessions", "many"),
            "“many” does not fit here",
        ),
    ] {
        let answer = desk.post(
            address,
            &with(FOUR, &[wrong, ("do", "draw"), ("sure", "yes")]),
        );
        let page = answer.text();
        assert_eq!(answer.status, 422, "{sentence}");
        assert!(page.contains(sentence), "no “{sentence}” in {page}");
        assert!(
            page.contains("Nothing was drawn") && page.contains("sail, sun"),
            "{page}"
        );
    }
    assert_eq!(drawn(&study), 0);
    assert_eq!(desk.get("/desk/draw/design/phases").status, 404);
    assert_eq!(desk.get("/desk/draw/sheet").status, 404);
}
