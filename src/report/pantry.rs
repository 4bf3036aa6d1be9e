//! What a plan leaves over, as a list of what is at home that the next plan can start from.
//!
//! Takes a [`Plan`], gives the text of `[[pantry]]` tables as `docs/brief.md` describes them.

use crate::plan::Plan;
use crate::report::amount;
use std::fmt::Write as _;

/// The list as TOML. What is past its days is named in a comment and left out.
pub fn toml(plan: &Plan) -> String {
    let mut out = format!(
        "# What is left after day {} of a plan, as bought. Days are counted from the end of that plan.\ntitle = {}\n",
        plan.days.last().map_or(0, |d| d.day),
        quoted(&plan.title)
    );
    for l in &plan.left {
        let grams = amount::decimals(l.grams, 0);
        if l.keeps_days > 0 {
            let _ = write!(
                out,
                "\n[[pantry]]\nwhat = {}\namount = \"{grams} g\"\nkeeps_days = {}\n",
                quoted(&l.product),
                l.keeps_days
            );
        } else {
            let name = l.name.replace(char::is_control, " ");
            let _ = write!(out, "\n# past its days, left out: {name}, {grams} g\n");
        }
    }
    out
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}
