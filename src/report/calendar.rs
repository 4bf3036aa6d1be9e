//! A plan as a calendar, one event a meal (RFC 5545).
//!
//! Takes a [`Plan`] and the date of its first day, gives the text of an `.ics` file. Times are local to whoever
//! opens it. The same plan and date give the same bytes.

use crate::plan::{Eaten, Plan};
use crate::report::amount;
use crate::report::words::{cooking_line, from_pot};
use chrono::{Days, Duration, NaiveDate, NaiveDateTime, NaiveTime};
use icalendar::{Calendar, CalendarDateTime, Component, Event, EventLike, Property};
use itertools::Itertools;

/// When a slot begins and how long it takes, minutes after midnight and minutes. Common practice; people move
/// the events to their own hours.
const TIMES: [(&str, u32, u32); 6] = [
    ("breakfast", 450, 30),
    ("morning_snack", 630, 15),
    ("lunch", 780, 45),
    ("afternoon_snack", 960, 15),
    ("dinner", 1140, 45),
    ("evening_snack", 1260, 15),
];

/// A slot that is not among [`TIMES`] stands at noon for half an hour.
const OTHER: (u32, u32) = (720, 30);

/// The plan as a calendar that begins on the given date; `None` when its dates leave the calendar.
pub fn plan(plan: &Plan, start: NaiveDate) -> Option<String> {
    let mut calendar = Calendar::empty();
    // The library escapes the texts of events, not those of the calendar.
    let title = escaped(&plan.title);
    let head = [
        ("VERSION", "2.0"),
        ("PRODID", "-//Platewright//Plan//EN"),
        ("CALSCALE", "GREGORIAN"),
        ("NAME", &title),
        ("X-WR-CALNAME", &title),
    ];
    for (key, value) in head {
        calendar.append_property(Property::new(key, value));
    }
    let midnight = NaiveDateTime::new(start, NaiveTime::MIN).and_utc();
    for d in &plan.days {
        let date = start.checked_add_days(Days::new(u64::from(d.day.saturating_sub(1))))?;
        let mut cook_first = true;
        for m in d.meals.iter().filter(|m| !m.items.is_empty()) {
            let (at, long) = TIMES.iter().find(|t| t.0 == m.slot).map_or(OTHER, |t| (t.1, t.2));
            let begin = NaiveDateTime::new(date, NaiveTime::from_hms_opt(at / 60, at % 60, 0)?);
            let energy: f64 = m.items.iter().map(|i| i.kcal).sum();
            let mut lines = m.items.iter().map(eaten).collect_vec();
            lines.push(amount::kcal(energy));
            // What is cooked on a day stands in its first meal.
            if std::mem::take(&mut cook_first) {
                let dishes = plan.cooking.iter().filter(|c| c.day == d.day);
                lines.extend(dishes.map(|c| format!("To cook today: {}", cooking_line(c))));
            }
            let mut event = Event::new();
            event
                .uid(&format!("{}-{}-{}@platewright", date, m.slot, plan.search.seed))
                .timestamp(midnight)
                .summary(&clean(&format!("{}: {}", m.slot_name, m.form)))
                .description(&clean(&lines.join("\n")))
                .starts(CalendarDateTime::Floating(begin))
                .ends(CalendarDateTime::Floating(
                    begin + Duration::minutes(i64::from(long)),
                ));
            calendar.push(event.done());
        }
    }
    Some(calendar.done().to_string())
}

/// Text without control characters but the line end.
fn clean(text: &str) -> String {
    text.chars().filter(|c| !c.is_control() || *c == '\n').collect()
}

/// A text value as RFC 5545, section 3.3.11, writes it.
fn escaped(text: &str) -> String {
    let text = clean(text).replace('\\', "\\\\");
    text.replace(';', "\\;").replace(',', "\\,").replace('\n', "\\n")
}

fn eaten(i: &Eaten) -> String {
    let amount = amount::household(&i.serving, i.servings);
    let pot = from_pot(i).map_or_else(String::new, |p| format!("; {p}"));
    format!("{}: {amount} ({}){pot}", i.name, amount::grams(i.grams))
}
