//! The energy room against the world outside. Each module heads its values with citation and tag.

#[path = "truth/energy/bodies.rs"]
mod bodies;
#[path = "truth/energy/budgets.rs"]
mod budgets;
#[path = "truth/energy/composition.rs"]
mod composition;
#[path = "truth/energy/expenditure.rs"]
mod expenditure;
#[path = "truth/energy/people.rs"]
mod people;
#[path = "truth/energy/reestimate.rs"]
mod reestimate;
#[path = "truth/energy/resting.rs"]
mod resting;
#[path = "truth/energy/rules.rs"]
mod rules;
#[path = "truth/energy/trials.rs"]
mod trials;
