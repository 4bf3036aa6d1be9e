//! Every kind of mistake in a brief, as it is drawn. One broken brief each in `tests/errors`.
#![cfg(feature = "cli")]

use platewright::{brief, cli::draw::draw_plain};
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::fs;

#[test]
fn mistakes_are_drawn() {
    let mut files: Vec<_> = fs::read_dir("tests/errors")
        .expect("the folder of broken briefs")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    let mut drawn = BTreeSet::new();
    for path in files {
        let name = path
            .file_stem()
            .and_then(|n| n.to_str())
            .expect("a name")
            .to_string();
        let text = fs::read_to_string(&path).expect("readable");
        let (refused, diagnostics) = match brief::parse(&text) {
            Ok((_, warnings)) => (false, warnings),
            Err(mistakes) => (true, mistakes),
        };
        assert!(!diagnostics.is_empty(), "{name} is not broken");
        assert_eq!(refused, !name.ends_with("-warning"), "{name}");
        assert!(
            diagnostics.iter().all(|d| d.help.is_some()),
            "{name} does not say what to do"
        );
        drawn.extend(diagnostics.iter().map(|d| d.code));
        let drawing = draw_plain(&format!("{name}.toml"), &text, &diagnostics);
        insta::with_settings!({ snapshot_path => "errors", prepend_module_to_snapshot => false,
            omit_expression => true }, {
            insta::assert_snapshot!(name, drawing);
        });
    }
    // Every code of the reader has its broken brief.
    let source = concat!(
        include_str!("../src/brief/read.rs"),
        include_str!("../src/brief/table.rs")
    );
    let codes: BTreeSet<&str> = source
        .split('"')
        .filter(|word| word.starts_with("brief-") && !word.contains(' '))
        .collect();
    let without: Vec<_> = codes.difference(&drawn).collect();
    assert!(without.is_empty(), "no broken brief for {without:?}");
}

proptest! {
    /// Whatever is wrong, and with whatever characters, it can be drawn.
    #[test]
    fn any_mistake_can_be_drawn(
        at in 0usize..1300, length in 0usize..60, patch in "[\\PC\\n\t\"'\\[\\]{}=#]{0,16}"
    ) {
        let mut text: Vec<char> = include_str!("full.toml").chars().collect();
        let at = at.min(text.len());
        let end = (at + length).min(text.len());
        text.splice(at..end, patch.chars());
        let text: String = text.into_iter().collect();
        if let Err(mistakes) = brief::parse(&text) {
            prop_assert!(draw_plain("brief.toml", &text, &mistakes).starts_with("error["));
        }
    }
}
