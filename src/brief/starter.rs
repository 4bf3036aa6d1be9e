//! A commented starter brief that reads back without a mistake.

use super::{PhaseKind, SCREEN_QUESTIONS};
use crate::person::Sex;
use std::fmt::Write;

/// What a starter brief is filled with. Texts stand in the brief as given.
#[derive(Clone, Debug, PartialEq)]
pub struct StarterOptions {
    /// Kitchen id.
    pub region: String,
    /// Sex for equations.
    pub sex: Sex,
    /// Age, years.
    pub age: u32,
    /// Height with its unit, such as `168 cm`.
    pub height: String,
    /// Weight with its unit, such as `61 kg`.
    pub weight: String,
    /// What the first phase does.
    pub phase: PhaseKind,
    /// Diet ids; empty for everything.
    pub diets: Vec<String>,
    /// Budget with currency, such as `65 USD/week`; `None` for no limit.
    pub budget: Option<String>,
}

impl Default for StarterOptions {
    fn default() -> Self {
        StarterOptions {
            region: "us".to_string(),
            sex: Sex::Female,
            age: 30,
            height: "168 cm".to_string(),
            weight: "61 kg".to_string(),
            phase: PhaseKind::Gain,
            diets: Vec::new(),
            budget: None,
        }
    }
}

/// A text as a TOML string.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_string()).to_string()
}

/// A starter brief with a comment for every key. It reads back with [`super::parse`] when the
/// options themselves are sound.
pub fn starter(options: &StarterOptions) -> String {
    let mut out = String::new();
    // Writing to a String cannot fail.
    let _ = write_starter(&mut out, options);
    out
}

fn write_starter(out: &mut String, options: &StarterOptions) -> std::fmt::Result {
    let (word, size, title) = match options.phase {
        PhaseKind::Gain => ("gain", "surplus = \"300 kcal\"", "A phase of gaining"),
        PhaseKind::Hold => ("hold", "", "A phase of holding"),
        PhaseKind::Lose => ("lose", "deficit = \"400 kcal\"", "A phase of losing"),
    };
    let sex = match options.sex {
        Sex::Female => "female",
        Sex::Male => "male",
    };
    let diets: Vec<String> = options.diets.iter().map(|d| quoted(d)).collect();
    writeln!(
        out,
        "# A brief: who eats, what for, and what may stand on the plate."
    )?;
    writeln!(
        out,
        "# Lines after a # are comments. Remove the # of a line to use it."
    )?;
    writeln!(out)?;
    writeln!(out, "title = {}", quoted(title))?;
    writeln!(
        out,
        "region = {}              # whose kitchen: meals, foods, currency",
        quoted(&options.region)
    )?;
    writeln!(out, "days = 7                   # 1 to 28")?;
    writeln!(
        out,
        "objective = \"cost\"         # cost: cheapest; closeness: nearest the targets; usual: nearest [[usual]]"
    )?;
    match &options.budget {
        Some(budget) => writeln!(
            out,
            "budget = {}   # at most this; also per day, or for all days without /week",
            quoted(budget)
        )?,
        None => writeln!(
            out,
            "# budget = \"65 USD/week\"   # at most this; also per day, or for all days without /week"
        )?,
    }
    writeln!(
        out,
        "diet = [{}]                  # such as \"vegetarian\"; empty means everything",
        diets.join(", ")
    )?;
    writeln!(
        out,
        "allergies = []             # such as \"peanut\", \"milk\", \"gluten\""
    )?;
    writeln!(out, "likes = []                 # items wanted more often")?;
    writeln!(out, "dislikes = []              # items never wanted")?;
    writeln!(
        out,
        "seed = 1                   # another number tries another plan as good"
    )?;
    writeln!(
        out,
        "# equation = \"...\"         # id of the energy equation; left out, the default"
    )?;
    writeln!(out)?;
    writeln!(out, "[person]")?;
    writeln!(out, "sex = \"{sex}\"             # for the published equations")?;
    writeln!(out, "age = {}", options.age)?;
    writeln!(
        out,
        "height = {}          # cm, m, or ft and in",
        quoted(&options.height)
    )?;
    writeln!(
        out,
        "weight = {}           # kg, lb, or st and lb",
        quoted(&options.weight)
    )?;
    writeln!(
        out,
        "# body_fat = \"24 %\"        # if measured; or neck, waist and (women) hip in cm or in"
    )?;
    writeln!(
        out,
        "training = \"novice\"        # none, novice, intermediate or advanced: resistance training"
    )?;
    writeln!(
        out,
        "# population = \"international\"   # or south_asian, asian: other cut-offs for weight and waist"
    )?;
    writeln!(out)?;
    writeln!(
        out,
        "# Answer true where it is so. Some answers stop a plan that changes weight, others ask"
    )?;
    writeln!(
        out,
        "# for a clinician's word first: this is general education for healthy adults, not"
    )?;
    writeln!(out, "# medical advice.")?;
    writeln!(out, "[screen]")?;
    for (id, question) in SCREEN_QUESTIONS {
        writeln!(out, "# {question}")?;
        writeln!(out, "{id} = false")?;
    }
    writeln!(out)?;
    writeln!(out, "[activity]                 # one of these four")?;
    writeln!(
        out,
        "level = \"low_active\"       # inactive, low_active, active or very_active"
    )?;
    writeln!(out, "# pal = 1.75               # total over resting expenditure")?;
    writeln!(out, "# expenditure = \"2300 kcal\"   # a measured figure")?;
    writeln!(
        out,
        "# hours = {{ ... }}          # hours of a day by activity, summing to 24"
    )?;
    writeln!(out)?;
    writeln!(out, "[[phase]]                  # repeat for phases that follow")?;
    writeln!(out, "kind = \"{word}\"              # gain, hold or lose")?;
    if size.is_empty() {
        writeln!(
            out,
            "# surplus, deficit, rate or goal_weight size a phase that gains or loses"
        )?;
    } else {
        writeln!(
            out,
            "{size}       # or rate = \"0.35 %/week\", or goal_weight = \"...\"; none takes the default"
        )?;
    }
    writeln!(out, "weeks = 12")?;
    writeln!(out)?;
    writeln!(
        out,
        "# [[slot]]                 # change how the day's energy is spread"
    )?;
    writeln!(out, "# id = \"breakfast\"")?;
    writeln!(out, "# share = \"25 %\"           # \"0 %\" drops the slot")?;
    writeln!(out)?;
    writeln!(
        out,
        "# [[target]]               # set a floor or ceiling of your own"
    )?;
    writeln!(out, "# nutrient = \"protein\"")?;
    writeln!(
        out,
        "# floor = \"1.8 g/kg\"       # or \"110 g\", or \"25 % energy\"; ceiling likewise; off = true drops it"
    )?;
    writeln!(
        out,
        "# scope = \"day\"            # meal, day, or mean of the days"
    )?;
    writeln!(out)?;
    writeln!(out, "# [[pantry]]               # what is at home already")?;
    writeln!(out, "# what = \"white_rice\"")?;
    writeln!(out, "# amount = \"2 kg\"")?;
    writeln!(
        out,
        "# keeps_days = 200         # how long it still keeps, when you know"
    )?;
    writeln!(out)?;
    writeln!(
        out,
        "# [cooking]                # days with time to cook; dishes that keep are cooked in batches"
    )?;
    writeln!(out, "# days = [1, 4]")?;
    writeln!(
        out,
        "# quick_minutes = 20       # work for a meal on the other days"
    )?;
    writeln!(out)?;
    writeln!(out, "# [[lock]]                 # a meal that is fixed")?;
    writeln!(out, "# days = [1, 3]")?;
    writeln!(out, "# slot = \"morning_snack\"")?;
    writeln!(out, "# items = [ {{ item = \"banana\", servings = 1 }} ]")?;
    writeln!(out)?;
    writeln!(
        out,
        "# [[usual]]                # the usual week, for objective = \"usual\""
    )?;
    writeln!(out, "# item = \"banana\"")?;
    writeln!(out, "# times = 5                # a week")?;
    writeln!(out, "# servings = 1             # or grams = 200")?;
    writeln!(out)?;
    writeln!(
        out,
        "# [[household]]            # someone who eats the same meals, in their own portions"
    )?;
    writeln!(out, "# title = \"Second\"")?;
    writeln!(out, "# sex = \"male\"")?;
    writeln!(out, "# age = 40")?;
    writeln!(out, "# height = \"180 cm\"")?;
    writeln!(out, "# weight = \"80 kg\"")?;
    writeln!(out, "# level = \"active\"         # or pal = 1.75")?;
    writeln!(
        out,
        "# kind = \"hold\"            # a phase of their own, with its size; to hold when left out"
    )?;
    writeln!(
        out,
        "# screen = []              # ids of the questions above that they answer yes"
    )?;
    writeln!(
        out,
        "# portion = 1.2            # of each amount; left out, their intake over yours"
    )?;
    writeln!(out)?;
    writeln!(out, "# [output]                 # how figures are told to people")?;
    writeln!(out, "# energy = \"kcal\"          # or kJ")?;
    writeln!(out, "# decimal = \".\"            # or \",\"")?;
    writeln!(
        out,
        "# units = \"metric\"         # or us; left out, the kitchen's"
    )
}
