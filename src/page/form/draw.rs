//! The form as it is drawn.

use super::check::{Checked, Hope, Said, beside};
use super::fields::{
    self, ACTIVITY, AIM, COOKING, FIRST, Field, HOUR, Kind, LOCK, LOCK_ITEM, MEMBER, MEMBER_MORE,
    MEMBER_SCREEN, OUTPUT, PANTRY, PERSON, PHASE, PHASE_MORE, Pick, SLOT, TARGET, TASTE, USUAL, at, options,
};
use super::typed::{Typed, label};
use crate::brief::SCREEN_QUESTIONS;
use crate::diagnostic::{Diagnostic, any_error};
use crate::energy::{Gate, GateAction};
use crate::kitchen::Kitchen;
use crate::nutrient::Nutrient;
use crate::page::folder::Sheet;
use crate::page::frame::{Room, line_of, messages};
use crate::ready::Larder;
use crate::report::amount::{kcal, styled};
use crate::report::form::{style, units};
use crate::report::words;
use maud::{Markup, html};

/// What is told above the form.
#[derive(Debug)]
pub enum Note {
    /// There are mistakes.
    Mistakes,
    /// The text in the box has mistakes.
    TextMistakes,
    /// The file was changed elsewhere: place, the file's, mine.
    Changed(Vec<(String, String, String)>),
    /// The file was changed elsewhere while its text was edited.
    TextChanged,
}

/// All that is drawn.
pub struct Scene<'a> {
    larder: &'a Larder,
    sheet: &'a Sheet,
    typed: Typed,
    readable: bool,
    checked: &'a Checked,
    kitchen: Option<&'a Kitchen>,
    /// Messages by field.
    pub said: Said<'a>,
    /// Told above the form.
    pub note: Option<Note>,
    /// The list in which a row was added or taken away.
    pub touched: Option<String>,
    /// A text that was edited by hand, with its messages.
    pub raw: Option<&'a Checked>,
    /// Whether the file is another than the one the form was drawn from.
    pub stale: bool,
}

impl<'a> Scene<'a> {
    /// A form; without `typed` the text is no TOML and only the text can be edited.
    pub fn new(
        larder: &'a Larder,
        sheet: &'a Sheet,
        typed: Option<Typed>,
        checked: &'a Checked,
    ) -> Scene<'a> {
        let readable = typed.is_some();
        let typed = typed.unwrap_or_default();
        Scene {
            kitchen: larder.catalogue.kitchen(typed.one("region")),
            said: beside(checked, &typed),
            larder,
            sheet,
            typed,
            readable,
            checked,
            note: None,
            touched: None,
            raw: None,
            stale: false,
        }
    }

    fn said(&self, place: &str) -> &[&'a Diagnostic] {
        self.said.get(place).map_or(&[], Vec::as_slice)
    }

    fn wrong(&self, place: &str) -> bool {
        self.said(place).iter().any(|d| d.is_error())
    }

    /// How many mistakes belong to a group.
    fn mistakes(&self, places: &[&str]) -> usize {
        let here = |p: &str| {
            places
                .iter()
                .any(|g| p == *g || p.strip_prefix(g).is_some_and(|r| r.starts_with('.')))
        };
        let all = self.said.iter().filter(|(p, _)| here(p)).flat_map(|(_, d)| d);
        all.filter(|d| d.is_error()).count()
    }
}

/// A place as a part of an `id`.
pub fn id(place: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    place.chars().map(plain).collect()
}

/// A message beside its field; drawn empty too, so that it can come while somebody types.
fn slot(s: &Scene, place: &str, swap: bool) -> Markup {
    told(&id(place), s.said(place), swap)
}

/// What to do, as a sentence.
pub fn sentence(help: &str) -> String {
    let end = if help.ends_with(['.', '?', '!']) { "" } else { "." };
    format!("{}{end}", words::capital(help))
}

/// Messages under an id.
pub fn told(id: &str, said: &[&Diagnostic], swap: bool) -> Markup {
    let wrong = said.iter().any(|d| d.is_error());
    html! {
        div.told id={ "e-" (id) } data-wrong=(wrong) hx-swap-oob=[swap.then_some("true")] {
            @for d in said {
                p.wrong[d.is_error()].mind[!d.is_error()] {
                    strong { @if d.is_error() { "Mistake: " } @else { "Mind: " } }
                    (d.message) "."
                    @if let Some(help) = &d.help { " " span.help { (sentence(help)) } }
                }
            }
        }
    }
}

fn hint(place: &str, f: &Field) -> Markup {
    html! { @if !f.hint.is_empty() { p.hint id={ "h-" (id(place)) } { (f.hint) } } }
}

/// What describes a control: its hint and its messages.
pub fn described(place: &str, f: &Field) -> String {
    let e = format!("e-{}", id(place));
    if f.hint.is_empty() {
        e
    } else {
        format!("h-{} {e}", id(place))
    }
}

/// A field under `outer`.
fn field(s: &Scene, outer: &str, f: &Field) -> Markup {
    let place = at(outer, f.key);
    let invalid = s.wrong(&place).then_some("true");
    let near = described(&place, f);
    match f.kind {
        Kind::Many(pick) => many(s, &place, f, pick),
        Kind::Items | Kind::Things => texts(s, &place, f),
        Kind::Flag => html! {
            div.field.flag {
                label { input type="checkbox" id={ "f-" (id(&place)) } name=(place) value="true" checked[s.typed.on(&place)] aria-describedby=(near) aria-invalid=[invalid]; " " (f.label) }
                (hint(&place, f)) (slot(s, &place, false))
            }
        },
        Kind::Pick(pick) => html! {
            div.field {
                label for={ "f-" (id(&place)) } { (f.label) }
                (select(s.larder, s.kitchen, &place, s.typed.one(&place), pick, &near, invalid))
                (hint(&place, f)) (slot(s, &place, false))
            }
        },
        kind => html! {
            div.field {
                label for={ "f-" (id(&place)) } { (f.label) }
                input type="text" id={ "f-" (id(&place)) } name=(place) value=(s.typed.raw(&place)) autocomplete="off"
                    inputmode=[numeric(kind)] list=[listed(kind)] aria-describedby=(near) aria-invalid=[invalid];
                (hint(&place, f)) (slot(s, &place, false))
            }
        },
    }
}

fn numeric(kind: Kind) -> Option<&'static str> {
    match kind {
        Kind::Whole => Some("numeric"),
        Kind::Number => Some("decimal"),
        _ => None,
    }
}

fn listed(kind: Kind) -> Option<&'static str> {
    match kind {
        Kind::Item | Kind::Items => Some("kitchen-items"),
        Kind::Thing | Kind::Things => Some("kitchen-products"),
        _ => None,
    }
}

/// A choice of one; what is there and not to be chosen stays, as it is written.
pub fn select(
    larder: &Larder,
    kitchen: Option<&Kitchen>,
    place: &str,
    now: &str,
    pick: Pick,
    near: &str,
    invalid: Option<&str>,
) -> Markup {
    let [common, rare] = options(pick, larder, kitchen);
    let known = common.iter().chain(&rare).any(|(word, _)| word == now);
    let one = |(word, name): &(String, String)| {
        html! { option value=(word) selected[word == now] { (name) } }
    };
    html! {
        select id={ "f-" (id(place)) } name=(place) aria-describedby=(near) aria-invalid=[invalid] {
            option value="" selected[now.is_empty()] { @if pick == Pick::Kitchens { "choose" } @else { "–" } }
            @if !known && !now.is_empty() { option value=(now) selected { "as written: " (now) } }
            @if rare.is_empty() { @for o in &common { (one(o)) } }
            @else {
                optgroup label="With targets of the tool" { @for o in &common { (one(o)) } }
                optgroup label="Others" { @for o in &rare { (one(o)) } }
            }
        }
    }
}

/// Marks of which any may be set; words that are none of them are drawn too, so that they can be taken away.
fn many(s: &Scene, place: &str, f: &Field, pick: Pick) -> Markup {
    let [mut known, rare] = options(pick, s.larder, s.kitchen);
    let now = s.typed.many(place);
    known.extend(rare.into_iter().filter(|(word, _)| now.contains(&word.as_str())));
    let others = now.iter().filter(|w| !known.iter().any(|(k, _)| k == *w));
    let invalid = s.wrong(place).then_some("true");
    html! {
        fieldset.field.many id={ "f-" (id(place)) } tabindex="-1" aria-describedby=(described(place, f)) aria-invalid=[invalid] {
            legend { (f.label) }
            (hint(place, f))
            input type="hidden" name="has" value=(place);
            div.marks {
                @for (word, name) in &known {
                    label { input type="checkbox" name=(place) value=(word) checked[now.contains(&word.as_str())]; " " (name) }
                }
                @for word in others {
                    label { input type="checkbox" name=(place) value=(word) checked; " as written: " (word) }
                }
            }
            (slot(s, place, false))
        }
    }
}

/// Several texts, one a line.
fn texts(s: &Scene, place: &str, f: &Field) -> Markup {
    let now = s.typed.many(place);
    let blanks = s.typed.blanks(place).max(1);
    let near = described(place, f);
    let invalid = s.wrong(place).then_some("true");
    html! {
        fieldset.field.texts id={ "f-" (id(place)) } tabindex="-1" {
            legend { (f.label) }
            (hint(place, f))
            input type="hidden" name="has" value=(place);
            @for (n, text) in now.iter().copied().chain(std::iter::repeat_n("", blanks)).enumerate() {
                input type="text" name=(place) value=(text) autocomplete="off" list=[listed(f.kind)] aria-label={ (f.label) ", " (n + 1) }
                    aria-describedby=(near) aria-invalid=[invalid.filter(|_| !text.is_empty())]
                    autofocus[s.touched.as_deref() == Some(place) && n == now.len()];
            }
            (slot(s, place, false))
            (add(place, "another", false))
        }
    }
}

fn add(list: &str, what: &str, focus: bool) -> Markup {
    html! { button.plain name="do" value={ "add " (list) } id={ "add-" (id(list)) } autofocus[focus] { "Add " (what) } }
}

fn fields(s: &Scene, outer: &str, all: &[Field]) -> Markup {
    html! { @for f in all { (field(s, outer, f)) } }
}

/// A list of tables: its rows, each with a way to take it away, and a way to add one.
fn rows(s: &Scene, list: &str, one: &str, row: impl Fn(&str) -> Markup) -> Markup {
    let count = s.typed.rows(list);
    let touched = s.touched.as_deref();
    let fresh = touched == Some(list);
    let gone = touched
        .and_then(|t| t.strip_prefix(list)?.strip_prefix('.'))
        .is_some_and(|n| n.parse::<usize>().is_ok());
    html! {
        input type="hidden" name="has" value=(list);
        @for n in 0..count {
            @let place = format!("{list}.{n}");
            fieldset.line id={ "f-" (id(&place)) } tabindex="-1" autofocus[fresh && n + 1 == count] {
                legend { (words::capital(one)) " " (n + 1) }
                input type="hidden" name={ (place) ".was" } value=(s.typed.one(&format!("{place}.was")));
                div.fields { (row(&place)) }
                button.plain name="do" value={ "take " (place) } { "Take away" span.unseen { " " (one) " " (n + 1) } }
            }
        }
        div id={ "f-" (id(list)) } tabindex="-1" { (slot(s, list, false)) }
        p.add { (add(list, one, gone)) }
    }
}

/// A group that is folded away; open with a mistake, and when one of its rows was just changed.
fn group(s: &Scene, name: &str, places: &[&str], body: Markup) -> Markup {
    let wrong = s.mistakes(places);
    let touched = s.touched.as_deref().is_some_and(|t| {
        places
            .iter()
            .any(|p| t == *p || t.strip_prefix(p).is_some_and(|r| r.starts_with('.')))
    });
    html! {
        details.group open[wrong > 0 || touched] {
            summary { h2 { (super::heading(name)) } " " (now(s, name, wrong, false)) }
            div.body { (body) }
        }
    }
}

/// What is in a group now, for its summary.
fn now(s: &Scene, name: &str, wrong: usize, swap: bool) -> Markup {
    html! {
        span.now id={ "s-" (name) } hx-swap-oob=[swap.then_some("true")] {
            @if wrong > 0 { strong.count { (words::counted(wrong, "mistake")) ". " } }
            (summary(s, name))
        }
    }
}

fn name_of(s: &Scene, pick: Pick, word: &str) -> String {
    let all = options(pick, s.larder, s.kitchen);
    let found = all
        .iter()
        .flatten()
        .find(|(w, _)| w == word)
        .map(|(_, name)| name.clone());
    found.unwrap_or_else(|| word.to_string())
}

fn named(s: &Scene, fields: &[Field], outer: &str, key: &str) -> String {
    let word = s.typed.one(&at(outer, key));
    match fields.iter().find(|f| f.key == key).map(|f| f.kind) {
        Some(Kind::Pick(pick)) => name_of(s, pick, word),
        _ => word.to_string(),
    }
}

fn joined(parts: impl IntoIterator<Item = String>, none: &str) -> String {
    let all: Vec<String> = parts.into_iter().filter(|p| !p.is_empty()).collect();
    if all.is_empty() {
        none.to_string()
    } else {
        all.join(", ")
    }
}

/// What is in a group now, in a few words.
fn summary(s: &Scene, name: &str) -> String {
    let t = &s.typed;
    let one = |place: &str| t.one(place).to_string();
    let each = |list: &str, tell: &dyn Fn(&str) -> String| {
        let all: Vec<String> = (0..t.rows(list)).map(|n| tell(&format!("{list}.{n}"))).collect();
        joined(all, "none")
    };
    match name {
        "person" => joined(
            [
                named(s, PERSON, "person", "sex"),
                one("person.age"),
                one("person.height"),
                one("person.weight"),
            ],
            "not said",
        ),
        "activity" => {
            let hours = match t.rows("hours") {
                0 => String::new(),
                n => format!("hours of {}", words::counted(n, "activity")),
            };
            let pal = match t.one("activity.pal") {
                "" => String::new(),
                pal => format!("{pal} times resting"),
            };
            joined(
                [
                    named(s, ACTIVITY, "activity", "level"),
                    pal,
                    one("activity.expenditure"),
                    hours,
                ],
                "not said",
            )
        }
        "screen" => {
            let yes = SCREEN_QUESTIONS
                .iter()
                .filter(|(q, _)| t.on(&format!("screen.{q}")));
            joined(yes.map(|(q, _)| q.replace('_', " ")), "none answered yes")
        }
        "aim" => {
            let days = match t.one("days") {
                "" => "7 days".to_string(),
                "1" => "1 day".to_string(),
                n => format!("{n} days"),
            };
            joined([one("title"), days, named(s, AIM, "", "objective")], "")
        }
        "taste" => {
            let without = t
                .many("allergies")
                .iter()
                .map(|a| name_of(s, Pick::Allergens, a))
                .collect::<Vec<_>>();
            let part = |word: &str, all: &[&str]| match all {
                [] => String::new(),
                all => format!("{word} {}", all.join(", ")),
            };
            let allergies = part(
                "allergic to",
                &without.iter().map(String::as_str).collect::<Vec<_>>(),
            );
            joined(
                [
                    allergies,
                    part("more of", &t.many("likes")),
                    part("never", &t.many("dislikes")),
                ],
                "nothing said",
            )
        }
        "slot" => match t.rows("slot") {
            0 => "as the kitchen has them".to_string(),
            _ => each("slot", &|r| {
                format!("{} {}", named(s, SLOT, r, "id"), one(&at(r, "share")))
            }),
        },
        "target" => match t.rows("target") {
            0 => "those of the tool".to_string(),
            _ => each("target", &|r| {
                let id = t.one(&at(r, "nutrient"));
                Nutrient::from_id(id).map_or_else(|| id.to_string(), |n| n.name().to_string())
            }),
        },
        "pantry" => each("pantry", &|r| one(&at(r, "what"))),
        "cooking" => match t.one("cooking.days") {
            "" => "every day".to_string(),
            days => format!("days {days}"),
        },
        "lock" => each("lock", &|r| {
            format!("{} of days {}", named(s, LOCK, r, "slot"), one(&at(r, "days")))
        }),
        "usual" => each("usual", &|r| one(&at(r, "item"))),
        "household" => match t.rows("household") {
            0 => "nobody else".to_string(),
            _ => each("household", &|r| one(&at(r, "title"))),
        },
        "output" => joined(
            OUTPUT.iter().map(|f| named(s, OUTPUT, "output", f.key)),
            "as usual",
        ),
        _ => String::new(),
    }
}

/// The groups that are folded away, with the places that belong to each.
const FOLDED: &[(&str, &[&str])] = &[
    ("person", &["person"]),
    ("activity", &["activity", "hours"]),
    ("screen", &["screen"]),
    ("aim", &["title", "days", "objective", "seed", "equation"]),
    ("taste", &["allergies", "likes", "dislikes"]),
    ("slot", &["slot"]),
    ("target", &["target"]),
    ("pantry", &["pantry"]),
    ("cooking", &["cooking"]),
    ("lock", &["lock"]),
    ("usual", &["usual"]),
    ("household", &["household"]),
    ("output", &["output"]),
];

fn body(s: &Scene, name: &str) -> Markup {
    match name {
        "person" => html! { div.fields { (fields(s, "person", PERSON)) } },
        "activity" => html! {
            p.hint { "One of these four: a level, a figure, a measured expenditure, or the hours of a day." }
            div.fields { (fields(s, "activity", ACTIVITY)) }
            h3 { "Hours of a day" }
            (rows(s, "hours", "activity", |row| fields(s, row, HOUR)))
        },
        "screen" => html! {
            p.hint { "Mark what is so. Some answers stop a plan that changes weight, others ask for a clinician's word first: this is general education for healthy adults, not medical advice." }
            input type="hidden" name="has" value="screen";
            div.asked id="f-screen" tabindex="-1" {
                @for (question, words) in SCREEN_QUESTIONS {
                    @let place = format!("screen.{question}");
                    label { input type="checkbox" name=(place) value="true" checked[s.typed.on(&place)]; " " (words) }
                }
            }
            (slot(s, "screen", false))
        },
        "aim" => html! { div.fields { (fields(s, "", AIM)) } },
        "taste" => html! { (fields(s, "", TASTE)) },
        "slot" => html! {
            p.hint { "Meals not named share what is left of the day's energy." }
            (rows(s, "slot", "meal", |row| fields(s, row, SLOT)))
        },
        "target" => html! {
            p.hint { "What is set here must be met, and takes the place of the tool's own floor or ceiling." }
            (rows(s, "target", "target", |row| fields(s, row, TARGET)))
        },
        "pantry" => rows(s, "pantry", "thing at home", |row| fields(s, row, PANTRY)),
        "cooking" => html! {
            p.hint { "With days named, dishes that keep are cooked in batches on them." }
            div.fields { (fields(s, "cooking", COOKING)) }
        },
        "lock" => rows(s, "lock", "fixed meal", |row| {
            html! {
                (fields(s, row, LOCK))
                div.inner { (rows(s, &format!("{row}.items"), "item", |item| fields(s, item, LOCK_ITEM))) }
            }
        }),
        "usual" => html! {
            p.hint { "What is eaten now, for a plan nearest the usual week." }
            (rows(s, "usual", "item", |row| fields(s, row, USUAL)))
        },
        "household" => html! {
            p.hint { "Others who eat the same meals, each in a portion of their own." }
            (rows(s, "household", "member", |row| html! {
                (fields(s, row, MEMBER)) (fields(s, row, PERSON)) (fields(s, row, MEMBER_MORE))
                details.more open[s.wrong(&at(row, "screen"))] {
                    summary { "Referral questions: " (words::counted(s.typed.many(&at(row, "screen")).len(), "yes answer")) }
                    (fields(s, row, MEMBER_SCREEN))
                }
            }))
        },
        "output" => html! { div.fields { (fields(s, "output", OUTPUT)) } },
        _ => html! {},
    }
}

/// The whole room.
pub fn room(s: &Scene) -> Markup {
    let brief = Room::Brief.of(&s.sheet.name);
    html! {
        div.brief #brief {
            @if let Some(note) = &s.note { (noted(s, note, &brief)) }
            @if s.readable {
                div #watch hx-post={ (brief) "/check" } hx-trigger="load, input from:#form delay:300ms, change from:#form delay:300ms" hx-include="#form" hx-target="#live" hx-swap="innerHTML" hx-sync="this:replace" {}
                div.columns-2 {
                    (standing(s))
                    (form(s, &brief))
                }
            } @else {
                section.stop { h2 { "The text of this brief cannot be read" } (messages(&s.checked.text, &s.checked.problems)) }
            }
            (raw(s, &brief))
        }
    }
}

fn form(s: &Scene, brief: &str) -> Markup {
    let over = matches!(s.note, Some(Note::Changed(_)));
    let word = if over { "Save mine over it" } else { "Save" };
    let more = |row: &str| {
        PHASE_MORE
            .iter()
            .any(|f| !s.typed.one(&at(row, f.key)).is_empty())
    };
    html! {
        form #form method="post" action=(brief) hx-post=(brief) hx-target="#brief" hx-select="#brief" hx-swap="outerHTML show:none" hx-select-oob="#said" novalidate {
            // The first button of a form is the one that the Enter key presses.
            button.unseen tabindex="-1" aria-hidden="true" { (word) }
            input type="hidden" name="seen" value=(s.sheet.digest);
            (had(s, false))
            datalist #kitchen-items { @for name in fields::items(s.larder, s.kitchen) { option value=(name); } }
            datalist #kitchen-products { @for name in fields::products(s.larder) { option value=(name); } }
            section.first {
                div.fields { @for f in FIRST.iter().filter(|f| !matches!(f.kind, Kind::Many(_))) { (field(s, "", f)) } }
                @for f in FIRST.iter().filter(|f| matches!(f.kind, Kind::Many(_))) {
                    details.group.inline open[s.wrong(f.key)] {
                        summary { h2 { (f.label) } " " (diets(s, false)) }
                        div.body { (field(s, "", f)) }
                    }
                }
                h2 { "What the phases do" }
                (rows(s, "phase", "phase", |row| html! {
                    (fields(s, row, PHASE))
                    details.more open[more(row) || PHASE_MORE.iter().any(|f| s.wrong(&at(row, f.key)))] {
                        summary { "Training and activity of its own" }
                        div.fields { (fields(s, row, PHASE_MORE)) }
                    }
                }))
            }
            @for (name, places) in FOLDED { (group(s, name, places, body(s, name))) }
            div.save {
                button.main id="save" data-waiting="Saving …" { (word) }
                a.button href=(brief) { @if over { "Take the file's" } @else { "Back to what is saved" } }
            }
        }
    }
}

/// The places that have a message, so that the next answer can take it away.
fn had(s: &Scene, swap: bool) -> Markup {
    let places: Vec<&str> = s.said.keys().map(String::as_str).collect();
    html! { input type="hidden" #had name="had" value=(places.join(" ")) hx-swap-oob=[swap.then_some("true")]; }
}

/// The diets that are marked, for the summary.
fn diets(s: &Scene, swap: bool) -> Markup {
    let marked = s
        .typed
        .many("diet")
        .iter()
        .map(|d| name_of(s, Pick::Diets, d))
        .collect::<Vec<_>>();
    html! { span.now #s-diet hx-swap-oob=[swap.then_some("true")] { (joined(marked, "everything")) } }
}

/// The text of the file, to be edited by hand.
fn raw(s: &Scene, brief: &str) -> Markup {
    let (text, problems): (&str, &[Diagnostic]) = match s.raw {
        Some(raw) => (&raw.text, &raw.problems),
        None => (&s.sheet.text, &[]),
    };
    let wrong = any_error(problems);
    html! {
        details.group.raw open[s.raw.is_some() || !s.readable] {
            summary { h2 { "The file as text" } " " span.now { (words::counted(text.lines().count(), "line")) } }
            form method="post" action={ (brief) "/text" } {
                input type="hidden" name="seen" value=(s.sheet.digest);
                label for="text" { "The brief as it stands in the file, with its comments" }
                div #e-text { (messages(text, problems)) }
                // A line end after the tag is not part of the text.
                textarea #text name="text" rows="24" spellcheck="false" aria-describedby="e-text" aria-invalid=[wrong.then_some("true")] { "\n" (text) }
                p { button data-waiting="Saving …" { @if matches!(s.note, Some(Note::TextChanged)) { "Save mine over it" } @else { "Save the text" } } }
            }
        }
    }
}

/// What is told above the form, with the focus on it.
fn noted(s: &Scene, note: &Note, brief: &str) -> Markup {
    html! {
        section.stop.told-first #summary tabindex="-1" autofocus aria-labelledby="summary-head" {
            @match note {
                Note::Mistakes => {
                    @let all = s.said.iter().flat_map(|(p, d)| d.iter().map(move |d| (p, d))).filter(|(_, d)| d.is_error());
                    @let all: Vec<_> = all.collect();
                    h2 #summary-head { (words::counted(all.len(), "mistake")) "; nothing was written" }
                    ul {
                        @for (place, d) in all {
                            li {
                                @if place.is_empty() {
                                    (d.message) "." @if let Some(line) = line_of(&s.checked.text, d) { " Line " (line) "." }
                                    @if let Some(help) = &d.help { " " span.help { (sentence(help)) } }
                                } @else { a href={ "#f-" (id(place)) } { (label(place, &s.typed)) } ": " (d.message) "." }
                            }
                        }
                    }
                }
                Note::TextMistakes => { h2 #summary-head { "The text has mistakes; nothing was written" } p { a href="#text" { "See them at the text." } } }
                Note::TextChanged => {
                    h2 #summary-head { "The file changed meanwhile; nothing was written" }
                    p { "It was changed elsewhere while you edited its text. Yours stands in the box below; saving it now writes it over the file." }
                    p { a.button href=(brief) { "Take the file's" } " " a href="#text" { "Go to the text" } }
                }
                Note::Changed(differences) => {
                    h2 #summary-head { "The file changed meanwhile; nothing was written" }
                    p { "It was changed elsewhere, perhaps in another window or by hand. What you typed still stands below." }
                    @if differences.is_empty() { p { "All fields are as you typed them." } }
                    @else {
                        div.wide { table {
                            thead { tr { th { "Field" } th { "In the file" } th { "Yours" } } }
                            tbody { @for (place, file, mine) in differences {
                                tr { th scope="row" { (label(place, &s.typed)) } td { @if file.is_empty() { "–" } @else { (file) } } td { @if mine.is_empty() { "–" } @else { (mine) } } }
                            } }
                        } }
                    }
                    p.row { button.main form="form" { "Save mine over it" } " " a.button href=(brief) { "Take the file's" } }
                }
            }
        }
    }
}

/// The line that says energy and whether a plan can exist, with the safety gates.
fn standing(s: &Scene) -> Markup {
    html! {
        aside.standing aria-label="How it stands" {
            div #live role="status" aria-live="polite" { (line(s, false)) }
            (care(s, false))
        }
    }
}

/// The safety gates, and what belongs to no field.
fn care(s: &Scene, swap: bool) -> Markup {
    let gates = s.checked.ready.as_ref().map_or(&[][..], |r| &r.energy.gates);
    html! {
        div #care hx-swap-oob=[swap.then_some("true")] {
            @for gate in gates { (gate_of(gate)) }
            @for d in s.said("") {
                p.wrong[d.is_error()].mind[!d.is_error()] {
                    strong { @if d.is_error() { "Mistake: " } @else { "Mind: " } } (d.message) "."
                    @if let Some(line) = line_of(&s.checked.text, d) { " Line " (line) "." }
                    @if let Some(help) = &d.help { " " span.help { (sentence(help)) } }
                }
            }
        }
    }
}

/// `solved` asks the linear program, which takes longer than a page may; without it the page asks once it is open.
fn line(s: &Scene, solved: bool) -> Markup {
    let mistakes = s.checked.problems.iter().filter(|d| d.is_error()).count();
    let energy = s.checked.ready.as_ref().map(|r| {
        let of = s.kitchen.map_or("metric", |k| k.units.as_str());
        styled(style(&r.brief), || {
            (
                kcal(r.energy.intake.0),
                words::spent(&r.energy, units(&r.brief, of)),
            )
        })
    });
    html! {
        @if s.stale { p.wrong { strong { "The file changed meanwhile. " } "Saving will show what differs first." } }
        @if let Some((eat, spent)) = &energy {
            p.eat { span.figure { (eat) } " a day to eat" }
            p { (spent) }
        }
        @if mistakes > 0 {
            p.verdict.no { strong { (words::counted(mistakes, "mistake")) "." } " Whether a plan can exist is told once there is none." }
        } @else if s.checked.ready.as_ref().is_some_and(crate::ready::Ready::stopped) {
            p.verdict.no { strong { "No plan is made:" } " a safety rule stops it." }
        } @else if !solved {
            p.verdict { "Whether a plan can exist is being worked out." }
        } @else {
            @match s.checked.hope(s.larder) {
                Some(Hope::Open(short)) => {
                    p.verdict.yes { strong { "A plan can exist" } " for fractions of servings." }
                    @if !short.is_empty() {
                        p { "These foods do not reach:" }
                        ul { @for row in &short { li { (row) } } }
                    }
                }
                Some(Hope::None(conflict)) => {
                    p.verdict.no { strong { "No plan:" } @if conflict.len() == 1 { " this cannot hold." } @else { " these cannot hold together." } }
                    ul { @for row in &conflict { li { (row) } } }
                    p { "Give way in one of them, or see the ways out on " a href=(Room::Week.of(&s.sheet.name)) { "Meals" } " after saving." }
                }
                Some(Hope::Unknown(why)) => p.verdict { "Whether a plan can exist is not known: " (why) "." },
                None => {}
            }
        }
    }
}

fn gate_of(gate: &Gate) -> Markup {
    let stop = gate.action == GateAction::Stop;
    html! {
        section.gate.stops[stop] {
            h2 { @if stop { "Stop" } @else { "Take care" } }
            p { (words::capital(&gate.why)) }
            p { strong { "Instead: " } (gate.instead) }
            p.fine { "Source: " (gate.source) }
        }
    }
}

/// The parts that change while somebody types.
pub fn live(s: &Scene, before: &str) -> Markup {
    // Places whose message may have gone, and those that have one.
    let mut places: Vec<&str> = before
        .split(' ')
        .chain(s.said.keys().map(String::as_str))
        .collect();
    places.retain(|p| !p.is_empty());
    places.sort_unstable();
    places.dedup();
    html! {
        (line(s, true))
        (care(s, true))
        (diets(s, true))
        @for (name, places) in FOLDED { (now(s, name, s.mistakes(places), true)) }
        (had(s, true))
        @for place in &places { (slot(s, place, true)) }
    }
}
