//! Has the program built again when a data file under `foods/` comes, goes or changes: the folders are
//! embedded whole, and the compiler alone only notices changes of files that it knew.

fn main() {
    println!("cargo:rerun-if-changed=foods");
}
