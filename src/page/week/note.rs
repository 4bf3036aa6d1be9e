//! What is to be said of the week that is kept: how it came about and what changed last. Kept beside the brief under
//! the digest of its text, so that it is never said of another.

use crate::page::folder::{Folder, Refusal, Sheet};
use serde::{Deserialize, Serialize};

/// How many texts of a brief have a note at most.
const MOST: usize = 60;

/// The file among those that the page keeps.
const FILE: &str = "notes.json";

/// What is said of the week of one text of the brief.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Note {
    /// Whether it was made by keeping what was there.
    pub(super) kept: bool,
    /// What was done last, a sentence.
    pub(super) said: String,
    /// What changed in the meals, each with its day and slot.
    pub(super) lines: Vec<(u32, String, String)>,
    /// What changed in cost and amounts, sentences.
    pub(super) more: Vec<String>,
}

impl Note {
    /// A week made anew.
    pub(super) fn said(said: String) -> Note {
        Note {
            said,
            ..Note::default()
        }
    }
}

fn all(folder: &Folder, name: &str) -> Vec<(String, Note)> {
    let kept = folder.recall(name, FILE);
    kept.and_then(|text| serde_json::from_str(&text).ok())
        .unwrap_or_default()
}

/// The note of a text; `None` when there is none.
pub(super) fn read(folder: &Folder, sheet: &Sheet) -> Option<Note> {
    let mut notes = all(folder, &sheet.name).into_iter();
    notes
        .find(|(digest, _)| *digest == sheet.digest)
        .map(|(_, note)| note)
}

/// Keeps a note for a text.
///
/// # Errors
/// A folder that cannot be written.
pub(super) fn write(folder: &Folder, sheet: &Sheet, note: Note) -> Result<(), Refusal> {
    let mut notes = all(folder, &sheet.name);
    notes.retain(|(digest, _)| *digest != sheet.digest);
    notes.push((sheet.digest.clone(), note));
    let over = notes.len().saturating_sub(MOST);
    notes.drain(..over);
    let text = serde_json::to_string(&notes).map_err(|e| Refusal::Wrong(e.to_string()))?;
    folder.keep(&sheet.name, FILE, &text)
}

/// Says something of a text whose week is as it was.
///
/// # Errors
/// A folder that cannot be written.
pub(super) fn say(folder: &Folder, sheet: &Sheet, said: String) -> Result<(), Refusal> {
    let kept = read(folder, sheet).is_some_and(|n| n.kept);
    write(
        folder,
        sheet,
        Note {
            kept,
            ..Note::said(said)
        },
    )
}
