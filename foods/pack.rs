//! Rebuilds `foods/sr28/sr28.bin` from the original files beside it.
fn main() {}
