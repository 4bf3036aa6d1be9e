//! The days as a page: plates with their amounts, each day against its floors and ceilings, and what may be asked.

use super::change::{Offers, anchor, bounds, can_take, meal_name};
use super::note::Note;
use crate::brief::{Brief, Scope};
use crate::kitchen::Catalogue;
use crate::nutrient::Nutrient;
use crate::page::folder::Sheet;
use crate::page::frame::{Room, escaped};
use crate::plan::{Day, Eaten, Meal, Plan, Way};
use crate::ready::Ready;
use crate::report::amount::{self, styled};
use crate::report::chart::place as figure;
use crate::report::form::{style, units};
use crate::report::swap::offered;
use crate::report::words::{self, capital, counted, from_pot, glued, how_good};
use crate::report::{html as sheet_of, words::plan_ways};
use crate::swap::{Offer, Place};
use itertools::Itertools;
use maud::{Markup, html};

pub(super) use crate::report::html::DAY_NUTRIENTS as DAY;

/// Days shown at once.
const SHOWN: u32 = 7;

/// What a week is drawn from.
pub(super) struct View<'a> {
    pub(super) sheet: &'a Sheet,
    pub(super) ready: &'a Ready,
    pub(super) plan: &'a Plan,
    /// Whether the brief is still the one it was made from.
    pub(super) fresh: bool,
    pub(super) note: Option<&'a Note>,
    pub(super) catalogue: &'a Catalogue,
    /// The first day shown.
    pub(super) from: u32,
    /// Whether a change can be taken back.
    pub(super) undo: bool,
}

/// Draws with figures told as a brief wants them.
pub(super) fn told(brief: &Brief, draw: impl FnOnce() -> Markup) -> Markup {
    styled(style(brief), draw)
}

/// What the days cost, in words.
pub(super) fn cost_told(plan: &Plan) -> String {
    let days = counted(plan.days.len(), "day");
    match plan.cost {
        Some(cost) => format!("{days} for {}", sheet_of::pay(plan, cost)),
        None => days,
    }
}

fn action(sheet: &Sheet, what: &str) -> String {
    format!("/b/{}/{what}", escaped(&sheet.name))
}

/// A form of one button that posts the text it was made from.
fn one(sheet: &Sheet, at: &str, what: Option<&str>, word: &str, class: &str, id: &str) -> Markup {
    let address = action(sheet, at);
    html! {
        form.one method="post" action=(address) hx-post=(address) hx-target="#main" hx-select="#main" hx-swap="outerHTML" hx-select-oob="#said" {
            input type="hidden" name="seen" value=(sheet.digest);
            @if let Some(what) = what { input type="hidden" name="do" value=(what); }
            button #(id) class=(class) data-waiting="Working …" { (word) }
        }
    }
}

/// Takes the last change back.
pub(super) fn undo(sheet: &Sheet) -> Markup {
    one(
        sheet,
        "undo",
        None,
        "Take back the last change",
        "plain",
        "take-back",
    )
}

/// Back to the days.
pub(super) fn back(sheet: &Sheet) -> Markup {
    html! { p { a.button href=(Room::Week.of(&sheet.name)) { "Back to the meals" } } }
}

/// The page of a brief that has no week yet.
pub(super) fn invite(sheet: &Sheet, ready: &Ready) -> Markup {
    let days = counted(ready.brief.days as usize, "day");
    told(&ready.brief, || {
        html! {
            section.invite {
                p { "No meals are planned for this brief as it stands: " (days) ", " (amount::kcal(ready.energy.intake.0)) " a day to eat." }
                (one(sheet, "week/plan", None, if ready.brief.days == 7 { "Plan the week" } else { "Plan the days" }, "main", "plan"))
                (crate::page::frame::messages(&sheet.text, &ready.remarks))
            }
        }
    })
}

/// Why there is no plan: what cannot hold together.
pub(super) fn why(plan: &Plan) -> Markup {
    html! {
        p { (words::why_not(plan)) }
        @if !plan.conflict.is_empty() { ul { @for c in words::conflicts(plan) { li { (c) } } } }
        @if !plan.breaches.is_empty() {
            p { (words::AGAINST) }
            ul { @for b in words::breaches(plan) { li { (b) } } }
        }
    }
}

/// No plan: why, and the ways out, with a button where one change of the brief takes it.
pub(super) fn none(plan: &Plan, sheet: &Sheet, ready: &Ready) -> Markup {
    let of = |keep: fn(&Way) -> bool| -> Vec<usize> {
        (0..plan.ways.len()).filter(|&n| keep(&plan.ways[n])).collect()
    };
    // In the order and kinds of the words.
    let kinds = [
        of(|w| !w.together && !w.information),
        of(|w| w.together),
        of(|w| w.information),
    ];
    let takes = |n: &usize| can_take(&sheet.text, ready, &plan.ways[*n]);
    html! {
        section.stop aria-labelledby="stop" {
            h2 #stop { @if ready.stopped() { "A safety rule stops this phase" } @else { "No plan meets everything" } }
            (why(plan))
            @for (kind, which) in plan_ways(plan).iter().zip(kinds.iter().filter(|k| !k.is_empty())) {
                @let together = plan.ways[which[0]].together;
                @let information = plan.ways[which[0]].information;
                p { (kind.head) }
                ul.ways {
                    @for (way, n) in kind.ways.iter().zip(which) {
                        li {
                            (capital(way))
                            @if !together && !information && takes(n) {
                                (one(sheet, "week/change", Some(&format!("way {n}")), "Change the brief so", "", &format!("way-{n}")))
                            }
                        }
                    }
                }
                @if let Some(cost) = &kind.all { p { (cost) } }
                @if together && which.iter().all(takes) {
                    (one(sheet, "week/change", Some("way together"), "Make all of these changes", "", "way-together"))
                }
            }
            @if !plan.misses.is_empty() {
                p { (words::MISSED) }
                ul { @for m in words::misses(plan) { li { (m) } } }
            }
            p { a.button href=(Room::Brief.of(&sheet.name)) { "To the brief" } }
        }
        (details("Cautions", sheet_of::cautions(plan)))
    }
}

fn details(name: &str, inner: Markup) -> Markup {
    html! { details.more-of { summary { (name) } (inner) } }
}

/// The days of meals.
pub(super) fn week(v: &View) -> Markup {
    told(&v.ready.brief, || drawn(v))
}

fn drawn(v: &View) -> Markup {
    let plan = v.plan;
    let last = plan.days.iter().map(|d| d.day).max().unwrap_or(1);
    let from = (v.from.clamp(1, last) - 1) / SHOWN * SHOWN + 1;
    let to = (from + SHOWN - 1).min(last);
    let shown: Vec<&Day> = plan
        .days
        .iter()
        .filter(|d| (from..=to).contains(&d.day))
        .collect();
    let unmet = words::joined(&plan.standings).iter().filter(|s| !s.met()).count();
    let bounds_name = match unmet {
        0 => "All floors and ceilings, each of them met".to_string(),
        1 => "All floors and ceilings; one reference is not met".to_string(),
        n => format!("All floors and ceilings; {n} references are not met"),
    };
    let change = action(v.sheet, "week/change");
    html! {
        div #week {
            @if !v.fresh {
                section.older {
                    p { strong { "Made from an older brief. " } "The brief was changed since; these meals may not keep to it." }
                    (one(v.sheet, "week/plan", None, "Plan again", "main", "plan"))
                }
            }
            (sheet_of::facts(plan, units(&v.ready.brief, &kitchen_units(v))))
            (standing(v))
            @if v.fresh { (changed(v, from)) }
            div.row.week-ways {
                @if v.fresh {
                    (one(v.sheet, "week/change", Some("again"), "Plan the rest anew", "", "again"))
                    span.help { "What is locked stays." }
                }
                @if v.undo { (undo(v.sheet)) }
            }
            @if last > SHOWN {
                nav.weeks aria-label="Which days" {
                    @for first in (1..=last).step_by(SHOWN as usize) {
                        a href={ (Room::Week.of(&v.sheet.name)) "?from=" (first) } aria-current=[(first == from).then_some("true")] { "Days " (first) " to " ((first + SHOWN - 1).min(last)) }
                    }
                }
            }
            nav.jump aria-label="Days" { @for d in &shown { a href={ "#day-" (d.day) } { "Day " (d.day) } } }
            h2.unseen { "Days" }
            @if v.fresh {
                form #days method="post" action=(change) hx-post=(change) hx-target="#main" hx-select="#main" hx-swap="outerHTML" hx-select-oob="#said" {
                    input type="hidden" name="seen" value=(v.sheet.digest);
                    @for d in &shown { (day(v, d)) }
                }
            } @else {
                div #days { @for d in &shown { (day(v, d)) } }
            }
            p.fine { "Amounts as eaten. A solid line is a floor, a double line a ceiling; a dotted pair holds for the mean of the days only. General education for healthy adults, not medical advice; check labels for allergens." }
            @if !plan.household.is_empty() { (sheet_of::household(plan)) }
            (details(&bounds_name, sheet_of::bounds(plan)))
            (details("Where each nutrient comes from", sheet_of::givers(plan)))
            (details("Cost, day by day, and how good it is", sheet_of::cost(plan)))
            (details(&format!("Cautions ({})", plan.cautions.len()), sheet_of::cautions(plan)))
            (details("Why each floor and ceiling stands where it does", sheet_of::sources(plan)))
        }
    }
}

fn kitchen_units(v: &View) -> String {
    let kitchen = v.catalogue.kitchen(&v.plan.kitchen);
    kitchen.map_or_else(String::new, |k| k.units.clone())
}

/// How good the week is, where it came from, what it costs against the budget.
fn standing(v: &View) -> Markup {
    let plan = v.plan;
    let s = &plan.search;
    let what = match s.objective {
        "cost" => "the cheapest that can exist",
        "closeness" => "the nearest to the centre of the targets that can exist",
        _ => "the nearest to the usual week that can exist",
    };
    let good = match (s.proved, s.gap) {
        (true, _) => capital(&format!(
            "{} (proven).",
            what.replace("that can exist", "there can be")
        )),
        (false, Some(gap)) => format!("Within {} of {what} (proven).", glued(&amount::at_most(gap))),
        (false, None) => how_good(plan),
    };
    html! {
        div.standing {
            p { strong { (good) } " " (words::costs(plan).iter().filter(|c| c.starts_with("Budget")).join(" ")) }
            @if v.note.is_some_and(|n| n.kept) && v.fresh {
                p.help { "Kept from the last week where possible; " code { "plan" } " from the brief alone gives another." }
            }
        }
    }
}

/// What the last change did.
fn changed(v: &View, from: u32) -> Markup {
    let Some(note) = v.note.filter(|n| !n.lines.is_empty()) else {
        return html! {};
    };
    html! {
        section #changed aria-labelledby="changed-head" {
            h2 #changed-head { "What changed" }
            p { (note.said) }
            details open[note.lines.len() <= 6] {
                summary { (counted(note.lines.len(), "meal")) }
                ul {
                    @for (day, slot, line) in &note.lines {
                        @let place = Place { day: *day, slot: slot.clone() };
                        @let near = (from..from + SHOWN).contains(day);
                        li {
                            @if near { a href={ "#" (anchor(&place)) } { (capital(&meal_name(&place))) } }
                            @else { (capital(&meal_name(&place))) }
                            ": " (line)
                        }
                    }
                }
                @for more in &note.more { p.fine { (more) } }
            }
        }
    }
}

fn day(v: &View, d: &Day) -> Markup {
    let total = |n: Nutrient| d.totals.get(n.index()).copied().unwrap_or(0.0);
    html! {
        article.table aria-labelledby={ "day-" (d.day) } {
            div.dayhead {
                h3 #{ "day-" (d.day) } { "Day " (d.day) }
                p.daysum {
                    strong { (amount::nutrient(Nutrient::ENERGY, total(Nutrient::ENERGY))) }
                    @if let Some(c) = d.cost { span { (sheet_of::pay(v.plan, c)) } }
                }
                ul.marks {
                    (mark(v.plan, Nutrient::ENERGY, total(Nutrient::ENERGY)))
                    @for n in DAY { (mark(v.plan, n, total(n))) }
                }
            }
            div.plates { @for m in &d.meals { (plate(v, d.day, m)) } }
        }
    }
}

/// A day's total of a nutrient between its floor and its ceiling.
fn mark(plan: &Plan, n: Nutrient, value: f64) -> Markup {
    let (floor, ceiling, scope) = bounds(plan, n).unwrap_or((None, None, Scope::Day));
    let top = [Some(value), ceiling, floor.map(|f| f * 1.25)]
        .into_iter()
        .flatten()
        .fold(1e-9f64, f64::max)
        * 1.06;
    let x = |v: f64| figure((v / top * 120.0).clamp(0.0, 120.0));
    let bound = |name: &str, b: Option<f64>| b.map(|b| format!("{name} {}", amount::nutrient(n, b)));
    let over = if scope == Scope::Mean {
        ", over the mean of the days"
    } else {
        ""
    };
    let between = [bound("floor", floor), bound("ceiling", ceiling)]
        .into_iter()
        .flatten()
        .join(", ");
    let class = if scope == Scope::Mean {
        "gauge mean"
    } else {
        "gauge"
    };
    html! {
        li {
            span.name { (n.name()) }
            span.value { (amount::nutrient(n, value)) }
            svg class=(class) viewBox="0 0 120 14" preserveAspectRatio="none" role="img" aria-label={ (between) (over) } {
                path.base d="M0 7H120" {}
                rect.span x="0" y="4" height="6" width=(x(value)) {}
                @if let Some(f) = floor { path.floor d={ "M" (x(f)) " 0V14" } {} }
                @if let Some(c) = ceiling { path.ceiling d={ "M" (x(c)) " 0V14M" (x(c + top * 0.022)) " 0V14" } {} }
            }
        }
    }
}

fn plate(v: &View, day: u32, m: &Meal) -> Markup {
    let place = Place {
        day,
        slot: m.slot.clone(),
    };
    let lock = place.locked(&v.ready.brief).filter(|_| v.fresh);
    let whole = lock.is_some_and(|l| !l.others);
    // Where nearly all is new, a mark at each says nothing.
    let named = |n: &Note| n.kept && n.lines.iter().any(|(d, s, _)| *d == day && *s == m.slot);
    let new = v.fresh && v.note.is_some_and(named);
    let at = format!("{day} {}", m.slot);
    html! {
        section.plate.locked[whole].new[new] #(anchor(&place)) {
            h4 { (m.slot_name) span.kcal { (amount::kcal(sheet_of::meal_kcal(m))) } }
            @if v.fresh {
                details.acts name="act" {
                    summary #{ "m-" (anchor(&place)) } { span.form { (m.form) } @if whole { (locked()) } @if new { span.badge { "changed" } } }
                    div.buttons {
                        @if whole { (ask(&format!("unlock {at}"), "Unlock this meal")) }
                        @else {
                            (ask(&format!("lock {at}"), "Lock this meal"))
                            (ask(&format!("meal {at}"), "Another meal here"))
                        }
                    }
                }
            } @else { p.form { (m.form) } }
            ul { @for i in &m.items { (item(v, &place, i, lock.map(|l| l.others))) } }
        }
    }
}

/// The mark of what is locked: a shape and a word.
fn locked() -> Markup {
    html! {
        span.lock {
            svg viewBox="0 0 12 14" aria-hidden="true" { path d="M3 6V4a3 3 0 0 1 6 0v2" fill="none" {} rect x="1" y="6" width="10" height="7" {} }
            "locked"
        }
    }
}

fn ask(what: &str, word: &str) -> Markup {
    html! { button name="do" value=(what) { (word) } }
}

/// An item with its amount; what may be asked of it is behind its name. `lock` says whether the meal's lock leaves
/// room for others.
fn item(v: &View, place: &Place, i: &Eaten, lock: Option<bool>) -> Markup {
    let c = v.catalogue;
    let fixed = |l: &crate::brief::Lock| {
        let kitchen = &v.ready.brief.region.value;
        let named = |word: &str| c.item_of(word, kitchen).is_some_and(|n| c.items[n].id == i.id);
        l.items.iter().any(|(what, _)| named(&what.value))
    };
    let fixed = lock.is_some() && place.locked(&v.ready.brief).is_some_and(fixed);
    let whole = lock == Some(false);
    let at = format!("{} {} {}", place.day, place.slot, i.id);
    let inner = html! {
        (i.name) " "
        span.qty { (amount::household(&i.serving, i.servings)) ", " (glued(&amount::grams(i.grams))) }
        @if let Some(pot) = from_pot(i) { span.pot { (pot) } }
        @if fixed && !whole { (locked()) }
    };
    html! {
        li {
            @if v.fresh {
                details.acts name="act" {
                    summary #{ (anchor(place)) "-" (i.id) } { (inner) }
                    div.buttons {
                        @if !whole && !fixed {
                            a.button href={ (Room::Week.of(&v.sheet.name)) "/instead?day=" (place.day) "&slot=" (escaped(&place.slot)) "&item=" (escaped(&i.id)) } { "Something else" }
                            (ask(&format!("lock {at}"), "Lock"))
                        }
                        @if fixed && !whole { (ask(&format!("unlock {at}"), "Unlock")) }
                        (ask(&format!("more {}", i.id), "More of this"))
                        (ask(&format!("never {}", i.id), "Never again"))
                    }
                }
            } @else { (inner) }
        }
    }
}

/// What could come in the place of an item.
pub(super) fn offers(sheet: &Sheet, o: &Offers) -> Markup {
    styled(o.style, || offered_page(sheet, o))
}

fn offered_page(sheet: &Sheet, o: &Offers) -> Markup {
    let change = action(sheet, "week/change");
    let at = format!("{} {} {}", o.place.day, o.place.slot, o.item.0);
    html! {
        section.offers {
            h2 { "Instead of " (o.item.1) }
            p { "Best first by cost and closeness together. The figures are before the rest is adapted; then everything else stays as close to this week as it can." }
            form method="post" action=(change) {
                input type="hidden" name="seen" value=(sheet.digest);
                h3 { "In the " (meal_name(&o.place)) }
                p.help { "What is chosen is locked in that meal." }
                (listed(o, &o.here, &format!("here {at}"), "Take it here"))
                @if o.meals > 1 {
                    h3 { "Everywhere, in " (counted(o.meals, "meal")) }
                    p.help { (o.item.1) " is then not wanted any more; the brief says so." }
                    (listed(o, &o.everywhere, &format!("everywhere {at}"), "Take it everywhere"))
                }
            }
            (back(sheet))
        }
    }
}

fn listed(o: &Offers, offers: &[Offer], what: &str, word: &str) -> Markup {
    html! {
        @if offers.is_empty() { p { "Nothing of this kitchen can stand there." } }
        @else {
            ul.offered {
                @for offer in offers {
                    @let (cost, energy, protein) = offered(offer, o.currency);
                    li {
                        div {
                            strong { (offer.name) } " "
                            span.qty { (amount::household(&offer.serving, offer.servings)) @if offer.of > 1 { " in " (offer.meals) " of " (offer.of) " meals" } }
                            span.change { (glued(&cost)) " · " (glued(&energy)) " · protein " (glued(&protein)) }
                        }
                        button name="do" value={ (what) " " (offer.id) } data-waiting="Working …" aria-label={ (word) ": " (offer.name) } { (word) }
                    }
                }
            }
        }
    }
}
