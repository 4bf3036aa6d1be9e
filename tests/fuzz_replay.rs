//! Plays the seeds and every past find of the fuzz targets again, through the code of the targets.
//!
//! A file of `fuzz/seeds/TARGET/` or `fuzz/regressions/TARGET/` that breaks what `fuzz/bodies.rs` checks
//! fails with its name.

#[path = "../fuzz/bodies.rs"]
mod bodies;

use std::fs;
use std::panic::catch_unwind;
use std::path::Path;

/// Plays the files of a target.
fn play(target: &str, body: fn(&[u8])) {
    bodies::load();
    let mut played = 0;
    let mut broken = Vec::new();
    for kind in ["seeds", "regressions"] {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("fuzz")
            .join(kind)
            .join(target);
        // Not every target has a past find.
        let Ok(files) = fs::read_dir(&folder) else {
            continue;
        };
        let mut files: Vec<_> = files.map(|f| f.unwrap().path()).collect();
        files.sort();
        for file in files {
            let bytes = fs::read(&file).unwrap();
            played += 1;
            if catch_unwind(|| body(&bytes)).is_err() {
                broken.push(file);
            }
        }
    }
    assert!(played > 0, "no seeds of {target}");
    assert!(broken.is_empty(), "these break {target}: {broken:#?}");
}

macro_rules! replay {
    ($($target:ident)*) => {
        const TARGETS: &[&str] = &[$(stringify!($target)),*];
        $(
            #[test]
            fn $target() {
                play(stringify!($target), bodies::$target);
            }
        )*
    };
}

replay!(brief foods prices dishes log fdc claim pantry plan amounts);

/// A target of its own file has a body here, and no other has.
#[test]
fn no_target_is_left_out() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/fuzz_targets");
    let mut targets: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|f| f.unwrap().path().file_stem().unwrap().to_string_lossy().into())
        .collect();
    targets.sort();
    let mut here = TARGETS.to_vec();
    here.sort();
    assert_eq!(targets, here);
}
