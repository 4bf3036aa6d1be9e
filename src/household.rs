//! The household: who eats the same meals as the person of the brief, and how much of them.
//!
//! Takes a brief and the energy of its person, gives each member's energy, targets and portion. A portion is the
//! member's intake over the person's, or what the brief states; every amount on the plates is multiplied by it.

use crate::brief::{Brief, Member};
use crate::diagnostic::{Diagnostic, any_error};
use crate::energy::{self, EnergyBudget, GateAction};
use crate::targets::{self, Target};

/// A member with energy and targets.
#[derive(Clone, Debug)]
pub struct Seat {
    /// How the member is called.
    pub title: String,
    /// Energy, with the gates that fired.
    pub energy: EnergyBudget,
    /// The member's own floors and ceilings; those that the brief sets are for its person only.
    pub targets: Vec<Target>,
}

impl Seat {
    /// Whether a safety gate stops the member: no meals are planned for them.
    pub fn stopped(&self) -> bool {
        self.energy.gates.iter().any(|g| g.action == GateAction::Stop)
    }
}

/// A member's energy and targets, derived as for a brief of their own with the kitchen and diets of this one.
///
/// # Errors
/// As [`energy::budget`] and [`targets::derive`].
pub fn seat(brief: &Brief, member: &Member) -> Result<Seat, Vec<Diagnostic>> {
    let own = Brief {
        title: member.title.clone(),
        person: member.person.clone(),
        screen: member.screen.clone(),
        activity: member.activity.clone(),
        equation: None,
        phases: vec![member.phase.clone()],
        targets: Vec::new(),
        household: Vec::new(),
        ..brief.clone()
    };
    let named = |problems: Vec<Diagnostic>| -> Vec<Diagnostic> {
        problems
            .into_iter()
            .map(|d| Diagnostic {
                message: format!("{}: {}", member.title, d.message),
                ..d
            })
            .collect()
    };
    let energy = energy::budget(&own).map_err(named)?;
    let (targets, problems) = targets::derive(&own, &energy);
    if any_error(&problems) {
        return Err(named(problems));
    }
    Ok(Seat {
        title: member.title.clone(),
        energy,
        targets,
    })
}

/// Settles the portion of each member: as stated, else the member's intake over the person's; 0 for a member
/// whom a safety gate stops. From then on [`Brief::portions`] counts them.
///
/// # Errors
/// All mistakes of all members.
pub fn settle(brief: &mut Brief, energy: &EnergyBudget) -> Result<(), Vec<Diagnostic>> {
    let mut portions = Vec::new();
    let mut problems = Vec::new();
    for m in &brief.household {
        match seat(brief, m) {
            Ok(s) if s.stopped() => portions.push(0.0),
            Ok(s) => portions.push(m.portion.unwrap_or(s.energy.intake.0 / energy.intake.0)),
            Err(more) => problems.extend(more),
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    for (m, portion) in brief.household.iter_mut().zip(portions) {
        m.portion = Some(portion);
    }
    Ok(())
}
