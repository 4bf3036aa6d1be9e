//! A claim: a TOML file that says how somebody's weight changed, what was eaten and how they trained.
//!
//! Takes text, gives a [`Claim`] or every mistake in it, as strictly as a brief.

use super::read::{ACTIVITY, PERSON, TRAININGS, activity, body_mass, energy, parse_with, person, required};
use super::table::{Field, Keys, Reader, Table, short};
use super::{Activity, Read};
use crate::diagnostic::Diagnostic;
use crate::person::{Person, Training};
use crate::units::{self, Kcal, Kilograms};
use std::ops::Range;
use toml::de::DeTable;

const TOP: Keys = Keys {
    name: "the claim",
    keys: &["title", "person", "activity", "stage"],
};
const STAGE: Keys = Keys {
    name: "[[stage]]",
    keys: &["weeks", "end_weight", "end_body_fat", "intake", "training"],
};
const ALL: &[&Keys] = &[&TOP, &PERSON, &ACTIVITY, &STAGE];

/// A commented claim to fill in.
pub const STARTER: &str = r#"# A claim: how somebody's weight is said to have changed. Lines after a # are comments.
title = "A claim"

[person]
sex = "male"               # for the published equations
age = 34
height = "182 cm"          # cm, m, or ft and in
weight = "78 kg"           # at the start; kg, lb, or st and lb
# body_fat = "17 %"        # at the start, if known; or neck, waist and (women) hip
training = "intermediate"  # how they trained: none, novice, intermediate or advanced

[activity]                 # leave the table out when nothing is known of it
level = "active"           # inactive, low_active, active or very_active; or pal, hours, expenditure

[[stage]]                  # repeat for stretches that follow
weeks = 16
end_weight = "87 kg"       # what was reached
# end_body_fat = "15 %"    # if stated
intake = "3900 kcal"       # what was eaten a day, if stated
"#;

/// A stretch of weeks of a claim.
#[derive(Clone, Debug, PartialEq)]
pub struct Stage {
    /// How long.
    pub weeks: u32,
    /// Body mass said to be reached.
    pub end_weight: Option<Kilograms>,
    /// Body fat said to be reached, share of body mass.
    pub end_body_fat: Option<f64>,
    /// Energy said to be eaten a day.
    pub intake: Option<Kcal>,
    /// Resistance training in it; `None` is the person's.
    pub training: Option<Training>,
    /// Where it stands.
    pub span: Range<usize>,
}

/// A claimed change of body weight.
#[derive(Clone, Debug, PartialEq)]
pub struct Claim {
    /// Heading of the output.
    pub title: String,
    /// Who, at the start.
    pub person: Person,
    /// How active besides what is unknown; `None` when the claim does not say.
    pub activity: Option<Activity>,
    /// In order; at least one.
    pub stages: Vec<Stage>,
}

/// Reads a claim. Gives it with its warnings, or every mistake and warning in order of place.
pub fn parse(text: &str) -> Result<(Claim, Vec<Diagnostic>), Vec<Diagnostic>> {
    parse_with(text, read)
}

fn read(r: &mut Reader, tree: &DeTable) -> Option<Claim> {
    let top = r.open(tree, 0..0, &TOP, ALL);
    let title = top
        .get("title")
        .and_then(|f| r.text(f))
        .map(|t: Read<String>| t.value);
    let who = match top.get("person") {
        Some(f) => r.table(f, &PERSON, ALL).and_then(|t| person(r, &t)),
        None => {
            r.missing(
                None,
                "the claim",
                "person",
                "add a table [person] with sex, age, height, weight at the start, and body_fat if known",
            );
            None
        }
    };
    let activity = top
        .get("activity")
        .and_then(|f| r.table(f, &ACTIVITY, ALL))
        .and_then(|t| activity(r, &t));
    let field = top.get("stage");
    let stages: Vec<Stage> = field.map_or_else(Vec::new, |f| {
        let tables = r.tables(f, &STAGE, ALL);
        tables.iter().filter_map(|t| stage(r, t)).collect()
    });
    if stages.is_empty() && r.diagnostics.is_empty() {
        r.missing(
            None,
            "the claim",
            "stage",
            "add a table [[stage]] with weeks, end_weight and, if known, intake",
        );
    }
    Some(Claim {
        title: title.unwrap_or_else(|| "A claim".to_string()),
        person: who?,
        activity,
        stages,
    })
}

fn stage(r: &mut Reader, t: &Table) -> Option<Stage> {
    let weeks = required(r, t, "weeks", "write weeks = 16").and_then(|f| r.whole(f, 1..=104, "16"));
    let end_weight = t.get("end_weight").map(|f| body_mass(r, f, "70 kg"));
    let end_body_fat = t.get("end_body_fat").map(|f: Field| {
        r.quantity(f, "15 %", units::share)
            .and_then(|s| r.within(f, s * 100.0, 2.0..=70.0, "%", short))
            .map(|percent| percent / 100.0)
    });
    let intake = t
        .get("intake")
        .map(|f| energy(r, f, "3000 kcal", 300.0, 15_000.0));
    let training = t.get("training").and_then(|f| r.choice(f, TRAININGS));
    if end_weight.is_none() && intake.is_none() {
        r.report(
            Diagnostic::error(
                "claim-nothing-said",
                "the stage says neither what was reached nor what was eaten",
            )
            .at(t.range(), "nothing to judge")
            .help("add end_weight = \"70 kg\", or intake = \"3000 kcal\", or both"),
        );
    }
    if let (Some(fat), None) = (t.get("end_body_fat"), &end_weight) {
        r.report(
            Diagnostic::error(
                "claim-fat-without-weight",
                "a body fat needs the weight it was measured at",
            )
            .at(fat.range(), "share of what weight?")
            .help("add end_weight = \"70 kg\""),
        );
    }
    // A value that could not be read has been reported: the stage is not judged without it.
    Some(Stage {
        weeks: weeks? as u32,
        end_weight: match end_weight {
            Some(read) => Some(read?),
            None => None,
        },
        end_body_fat: match end_body_fat {
            Some(read) => Some(read?),
            None => None,
        },
        intake: match intake {
            Some(read) => Some(read?),
            None => None,
        },
        training,
        span: t.range(),
    })
}
