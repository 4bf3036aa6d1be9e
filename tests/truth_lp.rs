//! Published diet problems with known optima, through the project's own reader, model and engine;
//! every continuous optimum also by a second solver.

mod lp;

#[path = "truth/textbook_diets/dinners.rs"]
mod dinners;
#[path = "truth/textbook_diets/goals.rs"]
mod goals;
#[path = "truth/textbook_diets/six_foods.rs"]
mod six_foods;
#[path = "truth/stigler/diet.rs"]
mod stigler;
