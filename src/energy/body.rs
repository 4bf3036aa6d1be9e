//! The body-weight model: fat, lean tissue, fluid, glycogen and adaptation, day by day.
//!
//! Takes a body at balance and a sequence of intakes, gives a trajectory; inverted, it gives the
//! intake for a goal. Hall et al., Quantification of the effect of energy imbalance on bodyweight,
//! Lancet 378:826-837, 2011, and its web appendix. Constants in `model.toml`. Inside, bare numbers
//! with a unit suffix; adults only, fat above about 2 kg.

use super::EnergyError;
use super::composition::essential_fat;
use super::data::{self, Fluid};
use crate::person::{Person, Sex};
use crate::units::{Kcal, Kilograms};

/// The step of integration used when nothing else is asked, days.
pub const STEP_DAYS: f64 = 0.5;

/// A body at energy balance, from which a simulation starts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body0 {
    /// Sex.
    pub sex: Sex,
    /// Age, years.
    pub age: f64,
    /// Height, m.
    pub height_m: f64,
    /// Body mass, kg.
    pub weight_kg: f64,
    /// Fat, kg.
    pub fat_kg: f64,
    /// Resting expenditure at the start.
    pub resting: Kcal,
    /// Total expenditure, which is the intake at balance.
    pub expenditure: Kcal,
    /// Share of the balance intake that is carbohydrate, 0..1.
    pub carbohydrate_share: f64,
}

impl Body0 {
    /// A person's body with its fat, resting and total expenditure, at the usual carbohydrate share.
    pub fn new(person: &Person, fat: Kilograms, resting: Kcal, expenditure: Kcal) -> Body0 {
        Body0 {
            sex: person.sex,
            age: f64::from(person.age),
            height_m: person.height.metres(),
            weight_kg: person.weight.0,
            fat_kg: fat.0,
            resting,
            expenditure,
            carbohydrate_share: data::model().carbohydrate_share.value,
        }
    }
}

/// A stretch of days at one intake.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PhaseInput {
    /// How many days.
    pub days: u32,
    /// Energy eaten a day.
    pub intake: Kcal,
    /// Share of the intake that is carbohydrate, 0..1.
    pub carbohydrate_share: f64,
    /// Change of activity against the balance before the first phase, kJ per kg of body mass a day.
    pub delta_change_kj_per_kg: f64,
    /// Change of dietary sodium against the balance, mg a day.
    pub sodium_change_mg: f64,
    /// Effect of resistance training (a proposal, section "resistance training"); `None` is the
    /// published model.
    pub training: Option<LeanShift>,
    /// Share of a surplus that is stored: 1 is the published model, other figures are the spread
    /// between people in overfeeding trials. A deficit is met by tissue in full.
    pub storage: f64,
}

impl PhaseInput {
    /// Days at an intake, everything else as at balance.
    pub fn new(days: u32, intake: Kcal) -> PhaseInput {
        PhaseInput {
            days,
            intake,
            carbohydrate_share: data::model().carbohydrate_share.value,
            delta_change_kj_per_kg: 0.0,
            sodium_change_mg: 0.0,
            training: None,
            storage: 1.0,
        }
    }
}

/// A shift of the model by resistance training. Not published as an equation: a proposal of this
/// project, to be shown as a second bound beside the model and labelled so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LeanShift {
    /// Lean tissue added by training while gaining, kg a week; its energy is taken from the surplus.
    Added(f64),
    /// While losing: lean loss multiplied by this share; fat supplies the rest.
    Kept(f64),
}

/// Bounds of the resistance-training shift for a person, weak then strong; `None` without training
/// or outside its conditions (losing: protein of 1.6 g/kg and a deficit of 500 kcal at most).
/// A proposal: sources and tags in `policy.toml`, `lean_*`.
pub fn lean_shift_bounds(
    person: &Person,
    surplus: Kcal,
    protein_g_per_kg: f64,
) -> Option<(LeanShift, LeanShift)> {
    use crate::person::Training::{Advanced, Intermediate, None as Untrained, Novice};
    let p = data::policy();
    if person.training == Untrained {
        return None;
    }
    if surplus.0 < 0.0 {
        let fits = protein_g_per_kg >= p.lean_kept_protein.value && -surplus.0 <= p.deficit_keep_muscle.value;
        return fits.then_some((
            LeanShift::Kept(p.lean_kept_high.value),
            LeanShift::Kept(p.lean_kept_low.value),
        ));
    }
    let (low, high) = match person.training {
        Novice => (p.lean_novice_low.value, p.lean_novice_high.value),
        Intermediate => (p.lean_intermediate_low.value, p.lean_intermediate_high.value),
        Advanced | Untrained => (0.0, p.lean_advanced_high.value),
    };
    let k = if person.sex == Sex::Female {
        p.lean_female.value
    } else {
        1.0
    };
    Some((LeanShift::Added(low * k), LeanShift::Added(high * k)))
}

/// The state of a body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct State {
    /// Fat, kg.
    pub fat_kg: f64,
    /// Lean tissue without extracellular fluid and glycogen, kg.
    pub lean_kg: f64,
    /// Extracellular fluid, kg.
    pub fluid_kg: f64,
    /// Glycogen, kg (its water of 2.7 kg/kg not included).
    pub glycogen_kg: f64,
    /// Adaptive thermogenesis, kJ a day.
    pub adaptation_kj: f64,
}

impl State {
    /// Body mass, kg.
    pub fn weight_kg(&self) -> f64 {
        self.fat_kg
            + self.lean_kg
            + self.fluid_kg
            + self.glycogen_kg * (1.0 + data::model().glycogen_water.value)
    }
    /// Fat-free mass, kg: everything but fat.
    pub fn fat_free_kg(&self) -> f64 {
        self.weight_kg() - self.fat_kg
    }
    /// Body fat, share of body mass.
    pub fn fat_share(&self) -> f64 {
        self.fat_kg / self.weight_kg()
    }
}

/// The body on one day of a trajectory.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayState {
    /// Days since the start; 0 is the start.
    pub day: u32,
    /// Which phase led here, counted from 0.
    pub phase: usize,
    /// The body at the end of the day.
    pub state: State,
    /// Energy eaten that day.
    pub intake: Kcal,
    /// Energy spent at the end of the day.
    pub expenditure: Kcal,
}

/// Why a simulation ended early.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stopped {
    /// The day.
    pub day: u32,
    /// Body fat then, share of body mass.
    pub fat_share: f64,
    /// The share below which the model does not go.
    pub least_share: f64,
}

/// Daily states, the start first.
#[derive(Clone, Debug, PartialEq)]
pub struct Trajectory {
    /// One for each day, with day 0.
    pub days: Vec<DayState>,
    /// Set when body fat fell out of the model's range; the last day is the last valid one.
    pub stopped: Option<Stopped>,
}

impl Trajectory {
    /// The last state, which a trajectory always has unless it was built empty by hand.
    pub fn end(&self) -> Option<&DayState> {
        self.days.last()
    }
    /// The state at the end of a day.
    pub fn on_day(&self, day: u32) -> Option<&DayState> {
        self.days.iter().rev().find(|d| d.day == day)
    }
}

/// The model of one body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Model {
    c: Constants,
    start: State,
    sex: Sex,
    resting_kj: f64,
    balance_kj: f64,
    per_balance_carbohydrate: f64,
    delta_kj_per_kg: f64,
    constant_kj: f64,
    glycogen_k: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Constants {
    rho_l: f64,
    eta_l: f64,
    // Cost of building a unit of energy of tissue, and reciprocals: divisions would take half the time.
    build_f: f64,
    build_l: f64,
    per_rho_f: f64,
    per_rho_l: f64,
    per_rho_g: f64,
    per_na: f64,
    per_tau_at: f64,
    glycogen_whole: f64,
    gamma_f: f64,
    gamma_l: f64,
    c_kg: f64,
    xi_na: f64,
    xi_ci: f64,
    beta_at: f64,
    beta_tef: f64,
}

fn constants() -> Constants {
    let m = data::model();
    Constants {
        rho_l: m.rho_lean.value,
        eta_l: m.eta_lean.value,
        build_f: m.eta_fat.value / m.rho_fat.value,
        build_l: m.eta_lean.value / m.rho_lean.value,
        per_rho_f: 1.0 / m.rho_fat.value,
        per_rho_l: 1.0 / m.rho_lean.value,
        per_rho_g: 1.0 / m.rho_glycogen.value,
        per_na: 1.0 / m.sodium_concentration.value,
        per_tau_at: 1.0 / m.adaptive_days.value,
        glycogen_whole: 1.0 + m.glycogen_water.value,
        gamma_f: m.gamma_fat.value,
        gamma_l: m.gamma_lean.value,
        c_kg: m.forbes.value * m.rho_lean.value / m.rho_fat.value,
        xi_na: m.sodium_excretion.value,
        xi_ci: m.sodium_carbohydrate.value,
        beta_at: m.adaptive_share.value,
        beta_tef: m.thermic_share.value,
    }
}

/// Fat, lean, fluid, glycogen, adaptation: rates a day.
type Rates = [f64; 5];

impl Model {
    /// The model of a body, or why the body lies outside its range.
    pub fn new(body: &Body0) -> Result<Model, EnergyError> {
        let c = constants();
        let m = data::model();
        let Fluid {
            constant,
            per_year,
            per_m,
            per_kg,
            ..
        } = match body.sex {
            Sex::Male => &m.ecf_male,
            Sex::Female => &m.ecf_female,
        };
        let fluid_kg = constant + per_year * body.age + per_m * body.height_m + per_kg * body.weight_kg;
        let glycogen_kg = m.glycogen_start.value;
        let lean_kg = body.weight_kg - body.fat_kg - fluid_kg - glycogen_kg * (1.0 + m.glycogen_water.value);
        let start = State {
            fat_kg: body.fat_kg,
            lean_kg,
            fluid_kg,
            glycogen_kg,
            adaptation_kj: 0.0,
        };
        let numbers = [
            body.age,
            body.height_m,
            body.weight_kg,
            body.fat_kg,
            body.carbohydrate_share,
        ];
        let share = body.fat_kg / body.weight_kg;
        if numbers.iter().any(|x| !x.is_finite() || *x <= 0.0)
            || body.carbohydrate_share > 1.0
            || !(body.resting.0 > 0.0 && body.expenditure.0 > 0.0)
            || lean_kg <= 0.0
            || fluid_kg <= 0.0
            || share < essential_fat(body.sex)
            || body.fat_kg < m.least_fat.value
        {
            return Err(EnergyError::OutsideModel {
                weight_kg: body.weight_kg,
                fat_percent: 100.0 * share,
                least_percent: 100.0 * essential_fat(body.sex),
            });
        }
        let (resting_kj, balance_kj) = (body.resting.kj(), body.expenditure.kj());
        let delta_kj_per_kg = ((1.0 - c.beta_tef) * balance_kj - resting_kj) / body.weight_kg;
        let constant_kj =
            balance_kj - c.gamma_f * body.fat_kg - c.gamma_l * lean_kg - delta_kj_per_kg * body.weight_kg;
        let balance_carbohydrate_kj = body.carbohydrate_share * balance_kj;
        Ok(Model {
            c,
            start,
            sex: body.sex,
            resting_kj,
            balance_kj,
            per_balance_carbohydrate: 1.0 / balance_carbohydrate_kj,
            delta_kj_per_kg,
            constant_kj,
            glycogen_k: balance_carbohydrate_kj / (glycogen_kg * glycogen_kg),
        })
    }

    /// The body at balance.
    pub fn start(&self) -> State {
        self.start
    }
    /// Activity at balance, kJ per kg of body mass a day.
    pub fn delta_kj_per_kg(&self) -> f64 {
        self.delta_kj_per_kg
    }
    /// Expenditure that depends on neither tissue nor activity, kJ a day.
    pub fn constant_kj(&self) -> f64 {
        self.constant_kj
    }
    /// The intake at balance.
    pub fn balance(&self) -> Kcal {
        Kcal::from_kj(self.balance_kj)
    }

    /// Energy that goes into glycogen, kJ a day.
    fn glycogen_kj(&self, s: &State, ci_kj: f64) -> f64 {
        ci_kj - self.glycogen_k * s.glycogen_kg * s.glycogen_kg
    }

    fn lean_share(&self, s: &State) -> f64 {
        self.c.c_kg / (self.c.c_kg + s.fat_kg)
    }

    /// Energy spent at a state under an intake. \[kcal/day\]
    pub fn expenditure(&self, s: &State, input: &PhaseInput) -> Kcal {
        Kcal::from_kj(self.expenditure_kj(s, input))
    }

    fn expenditure_kj(&self, s: &State, input: &PhaseInput) -> f64 {
        let ei_kj = input.intake.kj();
        let stored_kj = self.glycogen_kj(s, input.carbohydrate_share * ei_kj);
        self.spent_kj(s, input, ei_kj, stored_kj)
    }

    /// (upkeep + βTEF·ΔEI + AT + (EI − stored)·a) / (1 + a) with a = p·build_l + (1 − p)·build_f. Here
    /// `at_hand` is 1/(1 + a) with p = C/(C + F) put in, so that it does not wait for the division of p.
    fn spent_kj(&self, s: &State, input: &PhaseInput, ei_kj: f64, stored_kj: f64) -> f64 {
        let c = &self.c;
        let sum = c.c_kg + s.fat_kg;
        let at_hand = sum / (sum * (1.0 + c.build_f) + c.c_kg * (c.build_l - c.build_f));
        let rest = self.upkeep_kj(s, input.delta_change_kj_per_kg)
            + c.beta_tef * (ei_kj - self.balance_kj)
            + s.adaptation_kj;
        rest * at_hand + (ei_kj - stored_kj) * (1.0 - at_hand)
    }

    fn upkeep_kj(&self, s: &State, delta_change: f64) -> f64 {
        self.constant_kj
            + self.c.gamma_f * s.fat_kg
            + self.c.gamma_l * s.lean_kg
            + (self.delta_kj_per_kg + delta_change)
                * (s.fat_kg + s.lean_kg + s.fluid_kg + s.glycogen_kg * self.c.glycogen_whole)
    }

    /// The change of activity when the physical activity level goes from one figure to another.
    /// \[kJ per kg of body mass a day\]
    ///
    /// (1 − βTEF)·ΔPAL·RMR/BW, the difference of two starts of the model.
    pub fn delta_change(&self, from_pal: f64, to_pal: f64) -> f64 {
        (1.0 - self.c.beta_tef) * (to_pal - from_pal) * self.resting_kj / self.start.weight_kg()
    }

    /// The intake that would hold a body as it is, once adaptation has settled. \[kcal/day\]
    ///
    /// Solves EI = EE with dF = dL = dG = 0 and AT = βAT·ΔEI. At the start it is the balance intake.
    pub fn holding_intake(&self, s: &State, delta_change_kj_per_kg: f64) -> Kcal {
        let beta = self.c.beta_tef + self.c.beta_at;
        Kcal::from_kj((self.upkeep_kj(s, delta_change_kj_per_kg) - beta * self.balance_kj) / (1.0 - beta))
    }

    /// Resting expenditure at a state: tissue upkeep falls and rises with it. \[kcal/day\]
    ///
    /// Start value plus γF·ΔF + γL·ΔL + AT (the resting part of the model's own terms).
    pub fn resting(&self, s: &State) -> Kcal {
        Kcal::from_kj(
            self.resting_kj
                + self.c.gamma_f * (s.fat_kg - self.start.fat_kg)
                + self.c.gamma_l * (s.lean_kg - self.start.lean_kg)
                + s.adaptation_kj,
        )
    }

    fn rates(&self, s: &State, input: &PhaseInput) -> Rates {
        let c = &self.c;
        let ei_kj = input.intake.kj();
        let ci_kj = input.carbohydrate_share * ei_kj;
        let stored_kj = self.glycogen_kj(s, ci_kj);
        let p = self.lean_share(s);
        let mut surplus_kj = ei_kj - self.spent_kj(s, input, ei_kj, stored_kj) - stored_kj;
        if surplus_kj > 0.0 {
            surplus_kj *= input.storage;
        }
        let (df, dl) = match input.training {
            Some(LeanShift::Added(kg_per_week)) if surplus_kj > 0.0 => {
                let most = surplus_kj / (c.rho_l + c.eta_l);
                let added = (kg_per_week / 7.0).clamp(0.0, most);
                let rest = surplus_kj - (c.rho_l + c.eta_l) * added;
                ((1.0 - p) * rest * c.per_rho_f, p * rest * c.per_rho_l + added)
            }
            Some(LeanShift::Kept(share)) if surplus_kj < 0.0 => {
                let lean_kj = p * surplus_kj * share.clamp(0.0, 1.0);
                ((surplus_kj - lean_kj) * c.per_rho_f, lean_kj * c.per_rho_l)
            }
            _ => ((1.0 - p) * surplus_kj * c.per_rho_f, p * surplus_kj * c.per_rho_l),
        };
        let dfluid = (input.sodium_change_mg
            - c.xi_na * (s.fluid_kg - self.start.fluid_kg)
            - c.xi_ci * (1.0 - ci_kj * self.per_balance_carbohydrate))
            * c.per_na;
        let dat = (c.beta_at * (ei_kj - self.balance_kj) - s.adaptation_kj) * c.per_tau_at;
        [df, dl, dfluid, stored_kj * c.per_rho_g, dat]
    }

    fn step(&self, s: &State, input: &PhaseInput, h: f64) -> State {
        let k1 = self.rates(s, input);
        let k2 = self.rates(&moved(s, &k1, h / 2.0), input);
        let k3 = self.rates(&moved(s, &k2, h / 2.0), input);
        let k4 = self.rates(&moved(s, &k3, h), input);
        let sum: Rates = std::array::from_fn(|i| k1[i] + 2.0 * (k2[i] + k3[i]) + k4[i]);
        moved(s, &sum, h / 6.0)
    }

    /// The body after one day, by Runge-Kutta of fourth order in equal steps of at most `dt` days.
    fn day(&self, s: &State, input: &PhaseInput, dt: f64) -> State {
        let steps = if dt > 0.0 && dt < 1.0 {
            (1.0 / dt).ceil().min(1000.0)
        } else {
            1.0
        };
        let mut state = *s;
        for _ in 0..steps as u32 {
            state = self.step(&state, input, 1.0 / steps);
        }
        state
    }

    fn in_range(&self, s: &State) -> bool {
        s.fat_kg >= data::model().least_fat.value
            && s.lean_kg > 0.0
            && s.fat_share() >= essential_fat(self.sex)
    }

    /// Runs phases from a state, counting days from `first_day`. Stops where body fat leaves the
    /// model's range (3 % in men, 10 % in women, or 2 kg). `dt` above one day counts as one day.
    pub fn run(&self, from: State, first_day: u32, phases: &[PhaseInput], dt: f64) -> Trajectory {
        let mut days = Vec::new();
        let (mut state, mut day) = (from, first_day);
        if let Some(first) = phases.first() {
            days.push(self.day_state(day, 0, state, first));
        }
        for (number, input) in phases.iter().enumerate() {
            for _ in 0..input.days {
                let next = self.day(&state, input, dt);
                if !self.in_range(&next) {
                    let stopped = Stopped {
                        day: day + 1,
                        fat_share: next.fat_share(),
                        least_share: essential_fat(self.sex),
                    };
                    return Trajectory {
                        days,
                        stopped: Some(stopped),
                    };
                }
                state = next;
                day += 1;
                days.push(self.day_state(day, number, state, input));
            }
        }
        Trajectory { days, stopped: None }
    }

    /// The body at the end of every week (seven days) of phases, the start first. Shorter where body
    /// fat leaves the model's range.
    pub fn weeks(&self, from: State, phases: &[PhaseInput], dt: f64) -> Vec<DayState> {
        let mut weeks = Vec::new();
        let (mut state, mut day) = (from, 0_u32);
        if let Some(first) = phases.first() {
            weeks.push(self.day_state(0, 0, state, first));
        }
        for (number, input) in phases.iter().enumerate() {
            for _ in 0..input.days {
                let next = self.day(&state, input, dt);
                if !self.in_range(&next) {
                    return weeks;
                }
                state = next;
                day += 1;
                if day.is_multiple_of(7) {
                    weeks.push(self.day_state(day, number, state, input));
                }
            }
        }
        weeks
    }

    fn day_state(&self, day: u32, phase: usize, state: State, input: &PhaseInput) -> DayState {
        DayState {
            day,
            phase,
            state,
            intake: input.intake,
            expenditure: self.expenditure(&state, input),
        }
    }

    /// The body after a phase; `None` when body fat leaves the model's range on the way.
    fn end(&self, from: &State, input: &PhaseInput, dt: f64) -> Option<State> {
        let mut state = *from;
        for _ in 0..input.days {
            state = self.day(&state, input, dt);
            if !self.in_range(&state) {
                return None;
            }
        }
        Some(state)
    }

    /// The constant intake that brings a body to a mass after some days. \[kcal/day\]
    ///
    /// Regula falsi (Illinois) on intake between nothing and four times the balance; `like` gives the
    /// days and everything but the intake. `Err` when no intake in that range does it or body fat
    /// would leave the model's range.
    pub fn intake_for(&self, from: State, like: &PhaseInput, goal: Kilograms) -> Result<Kcal, EnergyError> {
        // Distance to the goal, kg; `None` where fat left the range: lighter than any goal inside it.
        let miss = |intake: f64| {
            let input = PhaseInput {
                intake: Kcal(intake),
                ..*like
            };
            Some(self.end(&from, &input, 1.0)?.weight_kg() - goal.0)
        };
        let unreachable = EnergyError::GoalOutOfReach {
            goal_kg: goal.0,
            days: like.days,
        };
        let (mut low, mut high) = (0.0, 4.0 * self.balance().0);
        let (mut low_miss, mut high_miss) = match (miss(low), miss(high)) {
            (at_low, Some(at_high))
                if like.days > 0
                    && goal.0.is_finite()
                    && at_high >= 0.0
                    && at_low.is_none_or(|m| m <= 0.0) =>
            {
                (at_low, at_high)
            }
            _ => return Err(unreachable),
        };
        let mut kept = 0_i32; // ends kept in a row: below zero the low one, above the high one
        for _ in 0..100 {
            if high - low < 1e-6 {
                break;
            }
            let middle = match low_miss {
                Some(m) if high_miss > m => high - high_miss * (high - low) / (high_miss - m),
                _ => (low + high) / 2.0,
            };
            match miss(middle) {
                Some(m) if m.abs() < 1e-7 => return Ok(Kcal(middle)),
                Some(m) if m > 0.0 => {
                    (high, high_miss) = (middle, m);
                    if kept < 0 {
                        low_miss = low_miss.map(|l| l / 2.0);
                    }
                    kept = -1;
                }
                m => {
                    (low, low_miss) = (middle, m);
                    if kept > 0 {
                        high_miss /= 2.0;
                    }
                    kept = 1;
                }
            }
        }
        match miss(high) {
            Some(m) if m.abs() < 0.01 => Ok(Kcal(high)),
            _ => Err(unreachable),
        }
    }
}

fn moved(s: &State, k: &Rates, h: f64) -> State {
    State {
        fat_kg: s.fat_kg + h * k[0],
        lean_kg: s.lean_kg + h * k[1],
        fluid_kg: s.fluid_kg + h * k[2],
        glycogen_kg: s.glycogen_kg + h * k[3],
        adaptation_kj: s.adaptation_kj + h * k[4],
    }
}

/// Daily states of a body through phases.
///
/// `dt` step in days, at most one (0.25 and 1.0 agree to 1e-4 kg).
pub fn simulate(body: &Body0, phases: &[PhaseInput], dt: f64) -> Result<Trajectory, EnergyError> {
    let model = Model::new(body)?;
    Ok(model.run(model.start(), 0, phases, dt))
}
