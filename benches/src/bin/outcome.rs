//! The whole of `outcome`, from two CSV files to JSON, beside one plain pass that reads and counts the same judgements;
//! and its cost for ten thousand, a hundred thousand and a million judgements. Exits 1 where an aim is missed.

use std::fmt::Write;
use std::process::ExitCode;

use fairhearing::analysis::OutcomeOptions;
use fairhearing::analysis::outcome;
use fairhearing::exchange::read_ratings;
use fairhearing::exchange::read_tokens;
use fairhearing_benches::round;
use fairhearing_benches::timed;

/// At most so many plain passes for the whole outcome.
const MOST_PASSES: f64 = 10.0;
/// The whole process, with the files it holds in memory, may take at most so many megabytes.
const MOST_MEGABYTES: f64 = 500.0;
/// A judgement of a million may cost at most so many times one of ten thousand.
const MOST_GROWTH: f64 = 2.0;

fn main() -> ExitCode {
    let mut missed = false;
    let mut each = Vec::new();
    for (name, tokens, judged_by) in
        [("10k", 1_200, 9), ("100k", 11_200, 9), ("360k", 40_000, 9), ("1M", 111_200, 9)]
    {
        let (ratings, tokens) = files(tokens, judged_by);
        let (pass, counted) = timed(|| plain_pass(&ratings));
        let (whole, bytes) = timed(|| {
            let ratings = read_ratings("ratings", ratings.as_bytes()).expect("ratings");
            let tokens = read_tokens("tokens", tokens.as_bytes()).expect("tokens");
            let found = outcome(&ratings, &tokens, None, &OutcomeOptions::default()).expect("an outcome");
            serde_json::to_string(&found).expect("JSON").len()
        });
        let passes = whole / pass;
        println!(
            "{name:>5}: {} judgements, plain pass {:.1} ms, outcome {:.1} ms ({bytes} bytes): {passes:.1} passes",
            counted[0] + counted[1],
            pass * 1e3,
            whole * 1e3
        );
        if name == "360k" {
            missed |= passes > MOST_PASSES;
            if let Some(megabytes) = most_memory() {
                println!("{name:>5}: at most {megabytes:.0} MB held");
                missed |= megabytes > MOST_MEGABYTES;
            }
        }
        each.push(whole / (counted[0] + counted[1]) as f64);
    }
    let growth = each[each.len() - 1] / each[0];
    println!("a judgement of a million costs {growth:.2} times one of ten thousand");
    missed |= growth > MOST_GROWTH;
    ExitCode::from(u8::from(missed))
}

/// The most memory that this process has held so far, in megabytes, where Linux tells it.
fn most_memory() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    let kilobytes: f64 = line.trim().trim_end_matches(" kB").parse().ok()?;
    Some(kilobytes / 1024.0)
}

/// Ratings and tokens as CSV: children of 8 sessions of 50 words (of 30 in the smallest).
fn files(n_tokens: u32, judged_by: u32) -> (String, String) {
    let words = if n_tokens < 10_000 { 30 } else { 50 };
    let mut ratings = String::from("token,listener,judgement\n");
    let mut tokens = String::from("token,child,session,phase,word\n");
    for token in 0..n_tokens {
        let session = token / words;
        let phase = if session % 8 < 4 { "baseline" } else { "treatment" };
        writeln!(tokens, "t{token:06},C{:04},{},{phase},w{:02}", session / 8, session % 8 + 1, token % words)
            .expect("memory");
    }
    for (token, listener, correct) in round(n_tokens, judged_by, 400, 11) {
        let judgement = if correct == 1 { "correct" } else { "distorted" };
        writeln!(ratings, "t{token:06},L{listener:03},{judgement}").expect("memory");
    }
    (ratings, tokens)
}

/// Reads every row and counts the two answers.
fn plain_pass(ratings: &str) -> [u64; 2] {
    let mut counted = [0, 0];
    let mut row = csv::ByteRecord::new();
    let mut reader = csv::Reader::from_reader(ratings.as_bytes());
    while reader.read_byte_record(&mut row).expect("a row") {
        counted[usize::from(row.get(2) == Some(b"correct"))] += 1;
    }
    counted
}
