//! Has the program built anew when a file comes into, or leaves, a folder that is compiled in as a whole. Cargo alone sees
//! only changes of the files that were there before.

fn main() {
    for folder in ["src/web/assets", "src/web/listener/texts"] {
        println!("cargo::rerun-if-changed={folder}");
    }
}
