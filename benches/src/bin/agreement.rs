//! Agreement and consensus on rounds of practice's size; writes each round as CSV for the libraries beside, and prints
//! one JSON object a line: what, on which round, seconds, value.

use std::fs::File;
use std::io::BufWriter;
use std::io::Write;
use std::path::Path;

use fairhearing::stats::agreement::AlphaScale;
use fairhearing::stats::agreement::IccTable;
use fairhearing::stats::agreement::Workspace;
use fairhearing::stats::agreement::fleiss_kappa;
use fairhearing::stats::agreement::krippendorff_alpha;
use fairhearing::stats::consensus::Config;
use fairhearing::stats::consensus::dawid_skene;
use fairhearing::stats::consensus::dawid_skene_from_shares;
use fairhearing::stats::table::Table;
use fairhearing::stats::tally::Tally;
use fairhearing_benches::Judgement;
use fairhearing_benches::round;
use fairhearing_benches::timed;

fn main() {
    let folder = std::env::args().nth(1).expect("a folder for the rounds");
    for (name, tokens, judged_by, listeners) in [
        ("complete", 2_000, 15, 15),
        ("small", 2_000, 15, 100),
        ("large", 40_000, 9, 400),
    ] {
        let judgements = round(tokens, judged_by, listeners, 11);
        write(&Path::new(&folder).join(format!("{name}.csv")), &judgements);
        // A library gets its matrix or frame ready made, and so do alpha and kappa here; the latent class and the
        // intraclass correlations begin, as their libraries do, with the rows.
        let table = || Table::new(tokens as usize, listeners as usize, 2, &judgements).expect("a table");

        let ready = table();
        let (seconds, alpha) = timed(|| {
            let tally = Tally::of(&ready);
            krippendorff_alpha(tally.weighted(), AlphaScale::Nominal, &mut Workspace::default())
        });
        say("alpha", name, seconds, alpha.expect("alpha exists"));

        let likelihood = Config { prior: 0.0, tolerance: 1e-14, most_iterations: 5000 };
        let (seconds, fit) = timed(|| dawid_skene_from_shares(&table(), likelihood));
        say("latent class", name, seconds, fit.expect("a fit").prevalence[1]);
        let (seconds, fit) = timed(|| dawid_skene(&table(), likelihood));
        say("latent class, four starts", name, seconds, fit.expect("a fit").prevalence[1]);

        if name == "complete" {
            let (seconds, icc) = timed(|| {
                let squares = IccTable::of(&table(), &[0.0, 1.0]).expect("mean squares");
                squares.forms(0.95).map(|form| form.expect("a form").estimate)
            });
            say("icc", name, seconds, icc[1]);
            let (seconds, kappa) = timed(|| fleiss_kappa(Tally::of(&ready).weighted()));
            say("fleiss", name, seconds, kappa.expect("kappa exists").estimate);
        }
    }
}

fn say(what: &str, round: &str, seconds: f64, value: f64) {
    println!("{}", serde_json::json!({"what": what, "round": round, "seconds": seconds, "value": value}));
}

fn write(path: &Path, judgements: &[Judgement]) {
    let mut file = BufWriter::new(File::create(path).expect("a file for a round"));
    writeln!(file, "item,rater,value").expect("the file takes it");
    for (item, rater, value) in judgements {
        writeln!(file, "{item},{rater},{value}").expect("the file takes it");
    }
}
