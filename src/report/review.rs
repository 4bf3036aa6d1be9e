//! A review for people and machines: text with a chart, JSON, and the chart for SVG.
//!
//! Takes a [`Review`], gives text. Computes nothing but differences of printed figures.

use super::amount::{fixed, signed};
use super::chart::{Axis, Chart, Line, Mark};
use super::targets::{WIDTH, care, gates_json, left, line, right, rounded, targets_json, wrapped};
use crate::brief::Scope;
use crate::energy::reestimate::Estimate;
use crate::energy::{Gate, GateAction};
use crate::forecast::kind_word;
use crate::review::{Found, Next, Review, Standing, date};
use crate::targets::Strength;
use serde_json::{Value, json};
use unicode_width::UnicodeWidthStr;

impl Standing {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Standing::OnCourse => "on course: the planned rate lies within two standard errors of the trend",
            Standing::Faster => "faster than planned",
            Standing::Slower => "slower than planned",
            Standing::CannotSay => "cannot be said yet",
        }
    }
}

/// The review as text of 80 columns, with a chart.
pub fn text(r: &Review) -> String {
    let mut out = String::new();
    let title = format!("{}: review of {}", r.title, date(r.today));
    line(&mut out, &title);
    line(&mut out, &"=".repeat(title.width().clamp(1, WIDTH)));
    out.push('\n');
    wrapped(&mut out, "", &where_it_stands(r));
    wrapped(&mut out, "How it goes: ", r.standing.words());
    if !r.lacking.is_empty() {
        out.push_str("\nToo little data\n");
        for what in &r.lacking {
            wrapped(&mut out, "  - ", what);
        }
        wrapped(&mut out, "  ", NOISE);
    }
    if !r.weigh_ins.is_empty() {
        out.push('\n');
        out.push_str(&chart(r).text(WIDTH));
    }
    if let Some(f) = &r.found {
        found(&mut out, f);
    }
    if let Some(n) = &r.next {
        next(&mut out, n);
    }
    out.push_str("\nRemarks\n");
    for note in &r.notes {
        wrapped(&mut out, "  ", note);
    }
    if let Some(outliers) = outliers(r) {
        wrapped(&mut out, "  ", &outliers);
    }
    wrapped(&mut out, "  ", SCALE);
    out
}

/// Phase, week, weigh-ins and intake of a review in a sentence.
pub(crate) fn where_it_stands(r: &Review) -> String {
    format!(
        "Phase {} ({}), week {}; {} weigh-ins since it began; intake known for {} of {} days, mean {} kcal (planned \
         {}).",
        r.place.0 + 1,
        kind_word(r.kind),
        r.place.1,
        r.weigh_ins.iter().filter(|w| w.used).count(),
        r.eaten.known,
        r.eaten.days,
        fixed(r.eaten.mean, 0),
        fixed(r.eaten.planned, 0)
    )
}

/// Why little data changes nothing.
pub(crate) const NOISE: &str = "Two weeks of weigh-ins alone cannot tell 300 kcal a day from noise; nothing is changed \
    until there is more. Keep to the plan.";

/// On which scale the expenditure stands.
pub(crate) const SCALE: &str = "The expenditure stands on this log's own scale: logged intakes run 280 to 365 kcal a day \
    low on average (PLoS ONE 8:e76632, 2013), and a plan on the same scale makes up for it. General education for \
    healthy adults, not medical advice.";

/// What the ± of the expenditures is.
pub(crate) const ERROR: &str = "Mean intake less the energy of the tissue trend (Forbes, at this body fat); ± is one \
    standard error: noise of the scale, days without a logged intake, water and body fat.";

/// Weigh-ins that are left out, in a sentence.
pub(crate) fn outliers(r: &Review) -> Option<String> {
    let outliers: Vec<String> = r
        .weigh_ins
        .iter()
        .filter(|w| !w.used)
        .map(|w| format!("line {}: {}, {} kg", w.line, date(w.day), fixed(w.kg, 1)))
        .collect();
    (!outliers.is_empty()).then(|| format!("Left out: {}.", outliers.join("; ")))
}

fn a_week(kg_per_day: f64) -> String {
    signed(7.0 * kg_per_day, 2)
}

/// The trend against the plan, and the weight of now.
pub(crate) fn rate(f: &Found) -> String {
    format!(
        "{} ± {} kg a week, planned {}; {} kg now by the trend",
        a_week(f.trend.kg_per_day),
        fixed(7.0 * f.trend.error_kg_per_day, 2),
        a_week(f.planned_kg_per_day),
        fixed(f.weight_now, 1)
    )
}

/// The check of the trend.
pub(crate) fn check(f: &Found) -> Option<String> {
    f.robust_kg_per_day.map(|slope| {
        format!(
            "{} kg a week by the median of all pairs, as a check",
            a_week(slope)
        )
    })
}

/// What moved on the scale.
pub(crate) fn moved(f: &Found) -> String {
    format!(
        "Since the phase began the scale moved {} kg: {} kg tissue, {} kg glycogen and fluid by the model, most of it \
         in the first two weeks.",
        signed(f.moved.scale, 1),
        signed(f.moved.tissue, 1),
        signed(f.moved.water, 1)
    )
}

/// The expenditures found, each with what it rests on, kcal a day and its error.
pub(crate) fn expenditures(f: &Found) -> [(&'static str, String, String); 3] {
    let row = |what, e: &Estimate| (what, fixed(e.kcal.0, 0), fixed(e.error.0, 0));
    [
        row("equation and model before any weigh-in", &f.prior),
        row("weigh-ins and intake alone", &f.observed),
        row("both, weighted by their precision", &f.together),
    ]
}

/// What holds the weight of now.
pub(crate) fn holding(f: &Found) -> String {
    format!(
        "To hold the weight of now: {} kcal a day, expected {}{}.",
        fixed(f.holding.kcal.0, 0),
        fixed(f.holding_before.0, 0),
        if (f.holding_uncapped.0 - f.holding.kcal.0).abs() > 0.5 {
            format!(
                "; the figures say {}, but one review moves it by 150 at most",
                fixed(f.holding_uncapped.0, 0)
            )
        } else {
            String::new()
        }
    )
}

fn found(out: &mut String, f: &Found) {
    out.push_str("\nTrend, without the modelled water\n");
    line(out, &format!("  {}", rate(f)));
    if let Some(check) = check(f) {
        line(out, &format!("  {check}"));
    }
    wrapped(out, "  ", &moved(f));
    out.push_str("\nExpenditure over these days, kcal a day\n");
    for (what, kcal, error) in expenditures(f) {
        line(
            out,
            &format!("  {} {} ± {error}", left(what, 36), right(&kcal, 6)),
        );
    }
    wrapped(out, "  ", ERROR);
    out.push('\n');
    wrapped(out, "", &holding(f));
}

/// Whether one of the rules stops.
pub(crate) fn stops(gates: &[Gate]) -> bool {
    gates.iter().any(|g| g.action == GateAction::Stop)
}

/// What to eat next week, first the figure; when a safety rule stops it, only that.
pub(crate) fn next_words(n: &Next) -> Vec<String> {
    if stops(&n.energy.gates) {
        return vec![
            "A safety rule stops the next week as the brief has it: no intake is proposed. See below for why, and for \
             what would be acceptable."
                .into(),
        ];
    }
    let phase = if n.new_phase {
        format!(", first week of the next phase ({})", kind_word(n.kind))
    } else {
        format!(" ({})", kind_word(n.kind))
    };
    let mut words = vec![format!(
        "eat {} kcal a day{phase}, {} against {}",
        fixed(n.intake, 0),
        signed(n.intake - n.intake_before, 0),
        fixed(n.intake_before, 0)
    )];
    if n.capped {
        words.push(
            "The change is held at 150 kcal a day for one week (a proposal of this project): trends are noisy, and \
             the next review moves it on."
                .into(),
        );
    }
    for t in n
        .targets
        .iter()
        .filter(|t| t.strength == Strength::Must && t.scope != Scope::Meal)
    {
        let wanted = ["protein", "fat", "carbohydrate"].contains(&t.nutrient.id());
        if let (true, Some(floor)) = (wanted, t.floor) {
            words.push(format!(
                "{} from {} {} ({})",
                t.nutrient.name(),
                fixed(floor, 0),
                t.nutrient.unit().label(),
                t.reason
            ));
        }
    }
    words
}

fn next(out: &mut String, n: &Next) {
    out.push_str("\nNext week\n");
    for words in next_words(n) {
        wrapped(out, "  ", &words);
    }
    if !n.energy.gates.is_empty() {
        out.push_str("\nCare\n");
        care(out, &n.energy.gates);
    }
}

/// The weigh-ins with their trend and what was planned.
pub fn chart(r: &Review) -> Chart {
    let from = r.weigh_ins.first().map_or(r.start, |w| w.day);
    let x = |day: i64| (day - from) as f64;
    let mut lines = vec![Line {
        name: "weigh-ins".into(),
        points: r
            .weigh_ins
            .iter()
            .filter(|w| w.used)
            .map(|w| (x(w.day), w.kg))
            .collect(),
        dots: true,
        ..Line::default()
    }];
    if !r.line.is_empty() {
        let band = r.found.as_ref().map_or_else(Vec::new, |f| {
            // Two standard errors of a line's height, least at its middle.
            let n = f.trend.count.max(1) as f64;
            let middle = r.line.len() as f64 / 2.0;
            let error = |i: usize| {
                let far = i as f64 - middle;
                let slope = f.trend.error_kg_per_day * far;
                2.0 * libm::sqrt(f.trend.noise_kg * f.trend.noise_kg / n + slope * slope)
            };
            let rows = r.line.iter().enumerate();
            rows.map(|(i, (day, kg))| (x(*day), kg - error(i), kg + error(i)))
                .collect()
        });
        lines.push(Line {
            name: "trend".into(),
            points: r.line.iter().map(|(day, kg)| (x(*day), *kg)).collect(),
            band,
            dots: false,
        });
    }
    lines.push(Line {
        name: "planned".into(),
        points: r
            .planned
            .iter()
            .filter(|(day, _)| *day <= r.today + 1)
            .map(|(day, kg)| (x(*day), *kg))
            .collect(),
        ..Line::default()
    });
    Chart {
        title: format!("{}: weigh-ins", r.title),
        description: format!(
            "Weigh-ins from {} to {} with their trend and the planned course.",
            date(from),
            date(r.today)
        ),
        x: Axis::new(&format!("Days since {}", date(from)), ""),
        y: Axis::new("Weight", "kg"),
        lines,
        marks: Vec::<Mark>::new(),
    }
}

fn estimate(e: &Estimate) -> Value {
    json!({ "kcal": rounded(e.kcal.0), "error_kcal": rounded(e.error.0) })
}

/// The review as JSON.
pub fn json(r: &Review) -> Value {
    json!({
        "schema": 1,
        "title": r.title,
        "outcome": if r.found.is_some() { "reviewed" } else { "too-little-data" },
        "start": date(r.start),
        "today": date(r.today),
        "phase": r.place.0 + 1,
        "week_of_phase": r.place.1,
        "kind": kind_word(r.kind),
        "standing": match r.standing {
            Standing::OnCourse => "on-course",
            Standing::Faster => "faster",
            Standing::Slower => "slower",
            Standing::CannotSay => "cannot-say",
        },
        "lacking": r.lacking,
        "weigh_ins": r.weigh_ins.iter().map(|w| json!({
            "line": w.line, "date": date(w.day), "kg": rounded(w.kg), "used": w.used,
        })).collect::<Vec<_>>(),
        "longest_gap_days": r.longest_gap,
        "intake": {
            "mean_kcal": rounded(r.eaten.mean), "error_kcal": rounded(r.eaten.error),
            "days_known": r.eaten.known, "days": r.eaten.days, "planned_kcal": rounded(r.eaten.planned),
        },
        "trend": r.found.as_ref().map(|f| json!({
            "tissue_kg_per_week": rounded(7.0 * f.trend.kg_per_day),
            "error_kg_per_week": rounded(7.0 * f.trend.error_kg_per_day),
            "robust_kg_per_week": f.robust_kg_per_day.map(|s| rounded(7.0 * s)),
            "planned_kg_per_week": rounded(7.0 * f.planned_kg_per_day),
            "noise_kg": rounded(f.trend.noise_kg),
            "weight_now_kg": rounded(f.weight_now),
            "scale_kg": rounded(f.moved.scale),
            "tissue_kg": rounded(f.moved.tissue),
            "water_kg": rounded(f.moved.water),
        })),
        "expenditure": r.found.as_ref().map(|f| json!({
            "prior": estimate(&f.prior),
            "observed": estimate(&f.observed),
            "together": estimate(&f.together),
            "holding_now": estimate(&f.holding),
            "holding_uncapped_kcal": rounded(f.holding_uncapped.0),
            "holding_expected_kcal": rounded(f.holding_before.0),
            "scale": "the log's own",
        })),
        "next": r.next.as_ref().map(|n| json!({
            "kind": kind_word(n.kind),
            "new_phase": n.new_phase,
            "intake_kcal": if stops(&n.energy.gates) { Value::Null } else { json!(rounded(n.intake)) },
            "intake_before_kcal": rounded(n.intake_before),
            "capped": n.capped,
            "gates": gates_json(&n.energy.gates),
            "targets": targets_json(&n.targets),
        })),
        "notes": r.notes,
        "cautions": ["expenditure on the log's own scale",
            "general education for healthy adults, not medical advice"],
    })
}
