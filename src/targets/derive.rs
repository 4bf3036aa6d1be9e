//! From the tables to the targets of one person and one phase, and then the brief's own.

use super::data::{self, Rule, shown};
use super::overrides;
use super::{Strength, Target};
use crate::brief::{Brief, PhaseKind, Scope, energy_per_gram};
use crate::diagnostic::Diagnostic;
use crate::energy::EnergyBudget;
use crate::nutrient::Nutrient;
use crate::person::{Person, Training};

/// All targets of the first phase of a brief, and what in the brief's own targets cannot be
/// (errors) or deserves a word (warnings).
///
/// Order: energy and macronutrients by rule, then reference intakes, then what only the brief
/// sets. Ids are unique. Amounts relative to body mass or energy are resolved: everything is in
/// the nutrient's unit a day, or a meal for [`Scope::Meal`].
pub fn derive(brief: &Brief, energy: &EnergyBudget) -> (Vec<Target>, Vec<Diagnostic>) {
    let kind = brief.phases.first().map_or(PhaseKind::Hold, |p| p.kind);
    derive_phase(brief, kind, energy)
}

/// As [`derive()`], for a phase of another kind with its own energy.
pub fn derive_phase(brief: &Brief, kind: PhaseKind, energy: &EnergyBudget) -> (Vec<Target>, Vec<Diagnostic>) {
    let mut diagnostics = Vec::new();
    let basis = Basis::new(brief, kind, energy);
    let mut drafts = by_rule(&basis);
    make_compatible(&mut drafts, &basis, &mut diagnostics);
    by_reference(&mut drafts, brief, &basis);
    overrides::apply(&mut drafts, brief, &basis, &mut diagnostics);
    (finished(drafts), diagnostics)
}

/// What amounts are relative to.
pub(super) struct Basis<'a> {
    pub person: &'a Person,
    /// kcal a day.
    pub intake: f64,
    /// kg for rules by body mass.
    pub weight: f64,
    /// Said with amounts when `weight` is not the body mass.
    weight_note: Option<String>,
    /// kg, when known.
    fat_free_mass: Option<f64>,
    conditions: Vec<&'static str>,
    meatless: bool,
    plant_only: bool,
}

impl<'a> Basis<'a> {
    fn new(brief: &'a Brief, kind: PhaseKind, energy: &EnergyBudget) -> Basis<'a> {
        let person = &brief.person;
        let limit = |id| data::cutoff(id, person.sex);
        let fat_free_mass = energy.fat_free_mass_kg.map(|(kg, _)| kg);
        let body_fat = match (person.body_fat, fat_free_mass) {
            (Some(_), Some(kg)) if person.weight.0 > 0.0 => Some(1.0 - kg / person.weight.0),
            _ => None,
        };
        let mut conditions = vec![match kind {
            PhaseKind::Gain => "gain",
            PhaseKind::Hold => "hold",
            PhaseKind::Lose => "lose",
        }];
        conditions.push(match person.training {
            Training::None => "untrained",
            _ => "trained",
        });
        if limit("older").is_some_and(|years| f64::from(person.age) > years) {
            conditions.push("older");
        }
        if let (Some(fat), Some(limit)) = (body_fat, limit("lean"))
            && fat * 100.0 < limit
        {
            conditions.push("lean");
        }
        let metres = person.height.metres();
        let reference = limit("obese")
            .filter(|obese| person.bmi() >= *obese)
            .and_then(|_| limit("reference_bmi"))
            .map(|bmi| (bmi, bmi * metres * metres));
        let diets = data::diets();
        let any = |test: fn(&data::Diet) -> bool| {
            brief
                .diets
                .iter()
                .any(|d| diets.iter().any(|row| row.diet == d.value && test(row)))
        };
        Basis {
            person,
            intake: energy.intake.0,
            weight: reference.map_or(person.weight.0, |(_, kg)| kg),
            weight_note: reference.map(|(bmi, kg)| format!("of {kg:.0} kg, the weight at a BMI of {bmi:.0}")),
            fat_free_mass,
            conditions,
            meatless: any(|d| d.meatless == "yes"),
            plant_only: any(|d| d.plant_only == "yes"),
        }
    }

    fn meets(&self, rule: &Rule) -> bool {
        let when = rule.when.as_deref().unwrap_or_default();
        when.split_whitespace()
            .all(|word| self.conditions.contains(&word))
    }

    /// The amount of a rule in the nutrient's unit; `None` when what it is relative to is unknown.
    fn amount(&self, rule: &Rule, nutrient: Nutrient) -> Option<f64> {
        match rule.unit.as_str() {
            "g/kg" => Some(rule.value * self.weight),
            "g/kg FFM" => self.fat_free_mass.map(|kg| rule.value * kg),
            "% energy" => self.share(rule.value / 100.0, nutrient),
            "x intake" => Some(rule.value * self.intake),
            _ => Some(rule.value),
        }
    }

    /// A share of the day's energy in grams.
    pub fn share(&self, share: f64, nutrient: Nutrient) -> Option<f64> {
        energy_per_gram(nutrient).map(|kcal| share * self.intake / kcal)
    }
}

/// A bound with why and from where.
#[derive(Clone, Debug)]
pub(super) struct Bound {
    pub value: f64,
    pub reason: String,
    pub source: String,
    /// It is a published upper level or other limit of harm, not to be passed lightly.
    pub upper_level: bool,
}

/// A target in the making.
#[derive(Clone, Debug)]
pub(super) struct Draft {
    pub nutrient: Nutrient,
    pub scope: Scope,
    pub strength: Strength,
    pub floor: Option<Bound>,
    pub ceiling: Option<Bound>,
    pub centre: Option<f64>,
    pub from_brief: bool,
}

impl Draft {
    pub fn new(nutrient: Nutrient, scope: Scope, strength: Strength) -> Draft {
        Draft {
            nutrient,
            scope,
            strength,
            floor: None,
            ceiling: None,
            centre: None,
            from_brief: false,
        }
    }

    fn finish(self) -> Option<Target> {
        let join = |get: fn(&Bound) -> &String| {
            let mut parts: Vec<&str> = Vec::new();
            for part in [&self.floor, &self.ceiling].into_iter().flatten().map(get) {
                if !parts.contains(&part.as_str()) {
                    parts.push(part);
                }
            }
            parts.join("; ")
        };
        let (reason, source) = (join(|b| &b.reason), join(|b| &b.source));
        if self.floor.is_none() && self.ceiling.is_none() {
            return None;
        }
        Some(Target {
            id: format!("{}_{}", self.nutrient.id(), word(self.scope)),
            nutrient: self.nutrient,
            floor: self.floor.map(|b| b.value),
            ceiling: self.ceiling.map(|b| b.value),
            centre: self.centre,
            scope: self.scope,
            strength: self.strength,
            from_brief: self.from_brief,
            reason,
            source,
        })
    }
}

fn word(scope: Scope) -> &'static str {
    match scope {
        Scope::Meal => "meal",
        Scope::Day => "day",
        Scope::Mean => "mean",
    }
}

/// The targets in order (nutrient as first named, then scope, then floors before ceilings), with
/// unique ids: the first of a nutrient and scope keeps the plain one.
fn finished(drafts: Vec<Draft>) -> Vec<Target> {
    let order: Vec<Nutrient> = drafts.iter().map(|d| d.nutrient).collect();
    let mut drafts = drafts;
    drafts.sort_by_key(|d| {
        (
            order.iter().position(|n| *n == d.nutrient),
            d.scope,
            d.floor.is_none(),
        )
    });
    let mut targets: Vec<Target> = Vec::new();
    for mut target in drafts.into_iter().filter_map(Draft::finish) {
        if targets.iter().any(|t| t.id == target.id) {
            target.id.push_str(match (target.floor, target.ceiling) {
                (Some(_), None) => "_floor",
                (None, _) => "_ceiling",
                _ => "_band",
            });
        }
        targets.push(target);
    }
    targets
}

/// The draft of a nutrient, scope and strength, made when it is not there.
fn draft(drafts: &mut Vec<Draft>, n: Nutrient, scope: Scope, strength: Strength) -> &mut Draft {
    let found = drafts
        .iter()
        .position(|d| d.nutrient == n && d.scope == scope && d.strength == strength);
    let index = found.unwrap_or_else(|| {
        drafts.push(Draft::new(n, scope, strength));
        drafts.len() - 1
    });
    &mut drafts[index]
}

fn by_rule(basis: &Basis) -> Vec<Draft> {
    let mut drafts = Vec::new();
    for rule in data::rules().iter().filter(|rule| basis.meets(rule)) {
        let (Some(nutrient), Some(scope)) = (Nutrient::from_id(&rule.nutrient), data::scope(&rule.scope))
        else {
            continue;
        };
        let Some(mut value) = basis.amount(rule, nutrient) else {
            continue;
        };
        let strength = if rule.strength == "must" {
            Strength::Must
        } else {
            Strength::Should
        };
        let mut reason = rule.reason.clone();
        if rule.unit == "g/kg"
            && let Some(note) = &basis.weight_note
        {
            reason = format!("{reason} ({note})");
        }
        if nutrient == Nutrient::PROTEIN
            && rule.unit != "% energy"
            && basis.plant_only
            && let Some(factor) = data::cutoff("plant_factor", basis.person.sex)
        {
            value *= factor;
            reason = format!("{reason}, times {factor} for plant protein only");
        }
        let draft = draft(&mut drafts, nutrient, scope, strength);
        let bound = Bound {
            value,
            reason,
            source: rule.source.clone(),
            upper_level: nutrient == Nutrient::SODIUM && rule.bound == "ceiling",
        };
        match rule.bound.as_str() {
            "floor" if draft.floor.as_ref().is_none_or(|b| value > b.value) => {
                draft.floor = Some(bound);
            }
            "ceiling" if draft.ceiling.as_ref().is_none_or(|b| value < b.value) => {
                draft.ceiling = Some(bound);
            }
            "centre" => draft.centre = Some(value),
            _ => {}
        }
    }
    drafts
}

/// Makes the bands of protein, fat and carbohydrate admit the whole of the energy together.
///
/// The fat floor stays within the middle of its band; the protein ceiling keeps its distance over
/// the protein floor; a protein floor for which there is no
/// room beside the floors of fat and carbohydrate is lowered, at most to the allowance; the soft
/// carbohydrate floor falls away where protein takes its place; the centre of carbohydrate is
/// what protein and fat leave. Rules of this project.
fn make_compatible(drafts: &mut Vec<Draft>, basis: &Basis, diagnostics: &mut Vec<Diagnostic>) {
    use Nutrient as N;
    use Strength::{Must, Should};
    let sex = basis.person.sex;
    let room = data::cutoff("macro_room", sex).unwrap_or(100.0) / 100.0 * basis.intake;
    let kcal = |n: Nutrient, grams: f64| energy_per_gram(n).unwrap_or(0.0) * grams;
    let floor_of = |drafts: &[Draft], n, scope, strength| {
        drafts
            .iter()
            .find(|d| d.nutrient == n && d.scope == scope && d.strength == strength)
            .and_then(|d| d.floor.as_ref())
            .map_or(0.0, |b| b.value)
    };
    // A heavy person on little energy: the floor by body mass stays within the middle of the band.
    let middle = draft(drafts, N::FAT, Scope::Mean, Should)
        .centre
        .unwrap_or(f64::INFINITY);
    if let Some(floor) = &mut draft(drafts, N::FAT, Scope::Day, Must).floor
        && floor.value > middle
    {
        floor.value = middle;
        floor.reason = format!("{}, lowered to the middle of the AMDR", floor.reason);
    }
    let fat = kcal(N::FAT, floor_of(drafts, N::FAT, Scope::Day, Must));
    let carbohydrate = kcal(
        N::CARBOHYDRATE,
        floor_of(drafts, N::CARBOHYDRATE, Scope::Mean, Must),
    );
    let allowance = data::rules()
        .iter()
        .filter(|r| r.nutrient == N::PROTEIN.id() && r.bound == "floor" && r.when.is_none())
        .filter_map(|r| basis.amount(r, N::PROTEIN))
        .fold(0.0, f64::max);
    let most = ((room - fat - carbohydrate) / 4.0).max(allowance);
    let protein = draft(drafts, N::PROTEIN, Scope::Day, Must);
    if let Some(floor) = &mut protein.floor
        && floor.value > most
    {
        let wanted = shown(floor.value, N::PROTEIN);
        floor.value = most;
        floor.reason = format!(
            "{}, lowered to what the energy leaves beside fat and carbohydrate",
            floor.reason
        );
        diagnostics.push(
            Diagnostic::warning(
                "target-protein-lowered",
                format!(
                    "there is no room for {wanted} protein in {:.0} kcal: {} is planned",
                    basis.intake,
                    shown(most, N::PROTEIN)
                ),
            )
            .help("a smaller deficit leaves more room"),
        );
    }
    let floor = protein.floor.as_ref().map_or(0.0, |b| b.value);
    let mut centre = protein.centre.map(|c| c.max(floor));
    let least = floor * data::cutoff("protein_room", sex).unwrap_or(1.0);
    let mean = draft(drafts, N::PROTEIN, Scope::Mean, Must);
    if let Some(ceiling) = &mut mean.ceiling {
        if ceiling.value < least {
            ceiling.value = least;
            ceiling.reason = format!("{}, raised to leave room over the floor", ceiling.reason);
        }
        centre = centre.map(|c| c.min(ceiling.value));
    }
    draft(drafts, N::PROTEIN, Scope::Day, Must).centre = centre;

    let soft_fat = kcal(N::FAT, floor_of(drafts, N::FAT, Scope::Mean, Should)).max(fat);
    let soft = draft(drafts, N::CARBOHYDRATE, Scope::Mean, Should);
    let soft_floor = soft.floor.as_ref().map_or(0.0, |b| b.value);
    if kcal(N::PROTEIN, floor) + soft_fat + kcal(N::CARBOHYDRATE, soft_floor) > room {
        soft.floor = None;
    }
    // Carbohydrate takes what protein and fat leave, within its band; fat takes any rest.
    let protein = kcal(N::PROTEIN, centre.unwrap_or(floor));
    let fat_centre = draft(drafts, N::FAT, Scope::Mean, Should).centre.unwrap_or(0.0);
    let soft = draft(drafts, N::CARBOHYDRATE, Scope::Mean, Should);
    let most = soft
        .ceiling
        .as_ref()
        .map_or(f64::INFINITY, |b| kcal(N::CARBOHYDRATE, b.value));
    let share = (basis.intake - protein - kcal(N::FAT, fat_centre))
        .min(most)
        .max(carbohydrate);
    soft.centre = Some(share / kcal(N::CARBOHYDRATE, 1.0));
    let rest = (basis.intake - protein - share) / kcal(N::FAT, 1.0);
    draft(drafts, N::FAT, Scope::Mean, Should).centre = Some(fat_centre.max(rest));
}

/// Reference intakes as soft floors, upper levels that apply to food as hard ceilings, both of
/// the mean of the days.
fn by_reference(drafts: &mut Vec<Draft>, brief: &Brief, basis: &Basis) {
    let dri = data::dri();
    let mut ceilings = Vec::new();
    for intake in data::intakes() {
        // Ages below the first adult band are stopped by a gate; the youngest band stands in.
        let age = brief.person.age.max(19);
        let row = dri
            .iter()
            .find(|r| r.nutrient == intake.dri && r.fits(brief.person.sex, age));
        let Some(row) = row else { continue };
        if let (Some(nutrient), Some(published)) =
            (intake.floor.as_deref().and_then(Nutrient::from_id), row.rda_or_ai)
        {
            let mut value = published * intake.factor;
            let mut reason = match row.kind.as_str() {
                "AI" => "adequate intake (AI)".to_string(),
                _ => "recommended allowance (RDA)".to_string(),
            };
            if let Some(per) = intake.most_per_1000_kcal {
                value = value.min(per * basis.intake / 1000.0);
            }
            if basis.meatless
                && let Some(factor) = intake.vegetarian_factor
            {
                value *= factor;
            }
            if let Some(note) = &intake.note
                && (!note.starts_with("without meat") || basis.meatless)
            {
                reason = format!("{reason}; {note}");
            }
            let bound = Bound {
                value,
                reason,
                source: row.source.clone(),
                upper_level: false,
            };
            draft(drafts, nutrient, Scope::Mean, Strength::Should).floor = Some(bound);
        }
        if let (Some(nutrient), Some(published)) =
            (intake.ceiling.as_deref().and_then(Nutrient::from_id), row.ul)
        {
            ceilings.push((
                nutrient,
                Bound {
                    value: published * intake.factor,
                    reason: "upper level (UL)".to_string(),
                    source: row.source.clone(),
                    upper_level: true,
                },
            ));
        }
    }
    for (nutrient, bound) in ceilings {
        draft(drafts, nutrient, Scope::Mean, Strength::Must).ceiling = Some(bound);
    }
}
