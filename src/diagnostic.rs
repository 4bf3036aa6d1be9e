//! What is wrong with an input: severity, code, message, place and help. Draws nothing.
//!
//! Takes nothing, gives the one type in which every reader reports every mistake at once.
//! A terminal, a page or JSON draw it as they like.

use std::ops::Range;

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// Worth knowing; nothing is refused.
    Note,
    /// Suspicious; the work goes on.
    Warning,
    /// The input is refused.
    Error,
}

/// A place in a source text, with a label to print beside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Span {
    /// Byte range in the source text.
    pub range: Range<usize>,
    /// What stands there or was expected; may be empty.
    pub label: String,
}

/// One mistake or remark about an input.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// How bad it is.
    pub severity: Severity,
    /// A stable code, such as `brief-unknown-key`, kebab-case, one per kind of mistake.
    pub code: &'static str,
    /// One sentence: what was read and what was expected.
    pub message: String,
    /// Where, most important first; empty when no place is known.
    pub spans: Vec<Span>,
    /// For tables: line (1-based) and column name, when there are no spans to point with.
    pub line: Option<usize>,
    /// What to do about it.
    pub help: Option<String>,
}

impl Diagnostic {
    /// An error with a code and a message.
    pub fn error(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Severity::Error, code, message)
    }
    /// A warning with a code and a message.
    pub fn warning(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Severity::Warning, code, message)
    }
    /// A note with a code and a message.
    pub fn note(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Severity::Note, code, message)
    }
    fn new(severity: Severity, code: &'static str, message: impl Into<String>) -> Self {
        Self {
            severity,
            code,
            message: message.into(),
            spans: Vec::new(),
            line: None,
            help: None,
        }
    }
    /// Points at a byte range of the source with a label.
    pub fn at(mut self, range: Range<usize>, label: impl Into<String>) -> Self {
        self.spans.push(Span {
            range,
            label: label.into(),
        });
        self
    }
    /// Names the line of a table file, 1-based.
    pub fn on_line(mut self, line: usize) -> Self {
        self.line = Some(line);
        self
    }
    /// Says what to do.
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
    /// Whether this refuses the input.
    pub fn is_error(&self) -> bool {
        self.severity == Severity::Error
    }
}

/// Whether any of them refuses the input.
pub fn any_error(diagnostics: &[Diagnostic]) -> bool {
    diagnostics.iter().any(Diagnostic::is_error)
}

/// The candidate closest to a misspelt word, if one is close enough to suggest.
///
/// Close enough: Jaro-Winkler similarity of at least 0.8, compared in lower case.
pub fn suggestion<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    candidates
        .into_iter()
        .map(|c| (strsim::jaro_winkler(&word, &c.to_lowercase()), c))
        .filter(|(score, _)| *score >= 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, c)| c)
}
