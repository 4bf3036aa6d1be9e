//! Draws diagnostics over the text they are about: excerpt, caret, code and help.
//!
//! Takes a file's name, its text and the diagnostics, gives text with colour marks. Printed
//! through [`to_stderr`], the colour is dropped when standard error is no terminal or `NO_COLOR`
//! is set.

use crate::diagnostic::{Diagnostic, Severity};
use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};
use std::io::Write;

/// The diagnostics of a file as coloured text, one after the other, ending in a newline.
///
/// `path` is the name shown; `source` the text the spans point into (empty when there is none,
/// as for tables that name lines).
pub fn draw(path: &str, source: &str, diagnostics: &[Diagnostic]) -> String {
    render(
        &Renderer::styled().decor_style(DecorStyle::Ascii),
        path,
        source,
        diagnostics,
    )
}

/// As [`draw`], without colour.
pub fn draw_plain(path: &str, source: &str, diagnostics: &[Diagnostic]) -> String {
    render(
        &Renderer::plain().decor_style(DecorStyle::Ascii),
        path,
        source,
        diagnostics,
    )
}

/// Draws to standard error. A closed pipe is no failure.
pub fn to_stderr(path: &str, source: &str, diagnostics: &[Diagnostic]) {
    let _ = anstream::stderr().write_all(draw(path, source, diagnostics).as_bytes());
}

fn render(renderer: &Renderer, path: &str, source: &str, diagnostics: &[Diagnostic]) -> String {
    let mut out = String::new();
    for diagnostic in diagnostics {
        let level = match diagnostic.severity {
            Severity::Error => Level::ERROR,
            Severity::Warning => Level::WARNING,
            Severity::Note => Level::NOTE,
        };
        let title = level
            .primary_title(diagnostic.message.as_str())
            .id(diagnostic.code);
        let mut group = Group::with_title(title);
        if diagnostic.spans.is_empty() || source.is_empty() {
            let mut origin = Origin::path(path);
            if let Some(line) = diagnostic.line {
                origin = origin.line(line);
            }
            group = group.element(origin);
        } else {
            let mut snippet = Snippet::source(source).path(path);
            for (index, span) in diagnostic.spans.iter().enumerate() {
                let kind = if index == 0 {
                    AnnotationKind::Primary
                } else {
                    AnnotationKind::Context
                };
                let mut annotation = kind.span(inside(source, &span.range));
                if !span.label.is_empty() {
                    annotation = annotation.label(span.label.as_str());
                }
                snippet = snippet.annotation(annotation);
            }
            group = group.element(snippet);
        }
        if let Some(help) = &diagnostic.help {
            group = group.element(Level::HELP.message(help.as_str()));
        }
        out.push_str(&renderer.render(&[group]));
        out.push_str("\n\n");
    }
    if out.ends_with("\n\n") {
        out.pop();
    }
    out
}

/// A range within the text and between characters, whatever the diagnostic says.
fn inside(text: &str, range: &std::ops::Range<usize>) -> std::ops::Range<usize> {
    let mut start = range.start.min(text.len());
    while !text.is_char_boundary(start) {
        start -= 1;
    }
    let mut end = range.end.clamp(start, text.len());
    while !text.is_char_boundary(end) {
        end += 1;
    }
    start..end
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wild_spans_do_not_break_it() {
        let source = "größe = 1\n";
        for range in [0..99, 50..60, 3..3, 10..10, 11..11, 2..4] {
            let text = draw_plain("a.toml", source, &[Diagnostic::error("x", "m").at(range, "l")]);
            assert!(text.starts_with("error[x]: m\n"), "{text}");
        }
    }

    #[test]
    fn a_line_of_a_table_is_named() {
        let d = Diagnostic::error("bad-row", "no such unit")
            .on_line(7)
            .help("write g");
        let text = draw_plain("foods.csv", "", &[d]);
        assert!(text.contains("foods.csv:7"), "{text}");
        assert!(text.contains("help: write g"), "{text}");
    }

    #[test]
    fn only_the_styled_form_has_colour_marks() {
        let d = [Diagnostic::error("x", "m").at(0..1, "l")];
        assert!(draw("a", "b", &d).contains('\u{1b}'));
        assert!(!draw_plain("a", "b", &d).contains('\u{1b}'));
    }
}
