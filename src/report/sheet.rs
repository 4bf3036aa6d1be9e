//! A plan as a spreadsheet: week, totals, shopping, foods, targets, and what to cook and what is left where
//! there is any.
//!
//! Takes a [`Plan`], gives the bytes of an `.xlsx` file. Amounts are numbers and totals are formulas over them, so
//! that a changed amount moves its meal, its day and the mean. Each formula also carries our own value.

use crate::brief::Scope;
use crate::nutrient::Nutrient;
use crate::plan::{Eaten, Plan};
use crate::report::words::{capital, from_pot, joined, scope, to_cook};
use itertools::Itertools;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, Formula, Workbook, Worksheet, XlsxError, utility,
};
use std::collections::HashMap;

/// Row of the first line under the heads.
const TOP: u32 = 3;
/// First column of `Foods` with a nutrient.
const NUTRIENTS_AT: u16 = 5;
/// Column of `Week` with the id of the item.
const ID_AT: u16 = 8 + SHOWN.len() as u16;
/// Nutrients shown for each line of the week.
const SHOWN: [Nutrient; 5] = [
    Nutrient::ENERGY,
    Nutrient::PROTEIN,
    Nutrient::FAT,
    Nutrient::CARBOHYDRATE,
    Nutrient::FIBRE,
];

struct Looks {
    head: Format,
    title: Format,
    input: Format,
    one: Format,
    three: Format,
    money: Format,
    wrap: Format,
    bold: Format,
}

/// The plan as the bytes of an `.xlsx` file.
///
/// # Errors
/// Texts longer than a cell holds, or more rows than a sheet has.
pub fn plan(plan: &Plan) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    // A fixed date, so that the same plan gives the same bytes.
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(
        &DocProperties::new()
            .set_title(&plan.title)
            .set_creation_datetime(&made),
    );
    let looks = Looks {
        head: Format::new()
            .set_bold()
            .set_text_wrap()
            .set_border_bottom(rust_xlsxwriter::FormatBorder::Thin),
        title: Format::new().set_bold().set_font_size(14.0),
        input: Format::new()
            .set_num_format("0.00")
            .set_background_color("#FFF6DD"),
        one: Format::new().set_num_format("#,##0.0"),
        three: Format::new().set_num_format("#,##0.###"),
        money: Format::new().set_num_format("#,##0.00"),
        wrap: Format::new().set_text_wrap(),
        bold: Format::new().set_bold().set_num_format("#,##0.0"),
    };
    let lines: Vec<Line> = plan
        .days
        .iter()
        .flat_map(|d| {
            d.meals.iter().flat_map(move |m| {
                m.items.iter().map(move |item| Line {
                    day: d.day,
                    slot: &m.slot_name,
                    form: &m.form,
                    item,
                })
            })
        })
        .collect();
    let foods: Vec<&Eaten> = lines.iter().map(|l| l.item).unique_by(|i| &i.id).collect();
    let nutrients: Vec<Nutrient> = SHOWN
        .into_iter()
        .chain(plan.standings.iter().map(|s| s.target.nutrient))
        .unique()
        .collect();
    week(book.add_worksheet(), plan, &looks, &lines, &foods, &nutrients)?;
    totals(
        book.add_worksheet(),
        plan,
        &looks,
        lines.len(),
        foods.len(),
        &nutrients,
    )?;
    shopping(book.add_worksheet(), plan, &looks)?;
    foods_sheet(book.add_worksheet(), plan, &looks, &foods, &nutrients)?;
    targets(book.add_worksheet(), plan, &looks)?;
    if !plan.cooking.is_empty() {
        cooking(book.add_worksheet(), plan, &looks)?;
    }
    if !plan.left.is_empty() {
        left(book.add_worksheet(), plan, &looks)?;
    }
    book.save_to_buffer()
}

struct Line<'a> {
    day: u32,
    slot: &'a str,
    form: &'a str,
    item: &'a Eaten,
}

fn unit_of(plan: &Plan) -> String {
    plan.currency.map_or_else(String::new, |c| format!(", {c}"))
}

fn number(d: Decimal) -> f64 {
    d.to_f64().unwrap_or(0.0)
}

fn formula(text: String, value: f64) -> Formula {
    Formula::new(text).set_result(format!("{value}"))
}

fn start(
    sheet: &mut Worksheet,
    name: &str,
    title: &str,
    note: &str,
    heads: &[String],
    looks: &Looks,
    frozen: u16,
) -> Result<(), XlsxError> {
    sheet.set_name(name)?;
    sheet.write_string_with_format(0, 0, title, &looks.title)?;
    sheet.write_string(1, 0, note)?;
    for (c, h) in heads.iter().enumerate() {
        sheet.write_string_with_format(TOP - 1, c as u16, h, &looks.head)?;
    }
    sheet.set_freeze_panes(TOP, frozen)?;
    sheet.set_landscape();
    sheet.set_print_fit_to_pages(1, 0);
    sheet.set_repeat_rows(TOP - 1, TOP - 1)?;
    Ok(())
}

fn nutrient_head(n: Nutrient) -> String {
    format!("{}, {}", n.name(), n.unit().label())
}

fn week(
    sheet: &mut Worksheet,
    plan: &Plan,
    looks: &Looks,
    lines: &[Line],
    foods: &[&Eaten],
    nutrients: &[Nutrient],
) -> Result<(), XlsxError> {
    let mut heads: Vec<String> = ["Day", "Meal", "Form", "Item", "Servings", "One serving", "Grams"]
        .map(String::from)
        .to_vec();
    heads.extend(SHOWN.map(nutrient_head));
    heads.push(format!("Cost{}", unit_of(plan)));
    heads.push("Id".into());
    heads.push("Note".into());
    let note = "Change a number under Servings: grams, nutrients, cost and the sheet Totals follow.";
    let state = if plan.planned {
        ""
    } else {
        " (nearest, not a plan)"
    };
    start(
        sheet,
        "Week",
        &format!("{}{state}", plan.title),
        note,
        &heads,
        looks,
        4,
    )?;
    for (c, w) in [6.0, 16.0, 26.0, 34.0, 9.0, 20.0, 9.0].into_iter().enumerate() {
        sheet.set_column_width(c as u16, w)?;
    }
    let row_of: HashMap<&str, u32> = foods
        .iter()
        .enumerate()
        .map(|(n, f)| (f.id.as_str(), TOP + n as u32 + 1))
        .collect();
    for (n, l) in lines.iter().enumerate() {
        let r = TOP + n as u32;
        let i = l.item;
        let food = row_of.get(i.id.as_str()).copied().unwrap_or(TOP + 1);
        let amount = format!("$E{}", r + 1);
        sheet.write_number(r, 0, f64::from(l.day))?;
        sheet.write_string(r, 1, l.slot)?;
        sheet.write_string(r, 2, l.form)?;
        sheet.write_string(r, 3, &i.name)?;
        sheet.write_number_with_format(r, 4, i.servings, &looks.input)?;
        sheet.write_string(r, 5, &i.serving)?;
        let grams = formula(format!("={amount}*Foods!$D${food}"), i.grams);
        sheet.write_formula_with_format(r, 6, grams, &looks.one)?;
        for (k, nutrient) in SHOWN.into_iter().enumerate() {
            let at = nutrients.iter().position(|x| *x == nutrient).unwrap_or(0) as u16 + NUTRIENTS_AT;
            let column = utility::column_number_to_name(at);
            let value = i.amounts.get(nutrient.index()).copied().unwrap_or(0.0);
            let f = formula(format!("={amount}*Foods!${column}${food}"), value);
            sheet.write_formula_with_format(r, 7 + k as u16, f, &looks.one)?;
        }
        if let Some(cost) = i.cost {
            let f = formula(format!("={amount}*Foods!$E${food}"), number(cost));
            sheet.write_formula_with_format(r, 7 + SHOWN.len() as u16, f, &looks.money)?;
        }
        sheet.write_string(r, ID_AT, &i.id)?;
        if let Some(pot) = from_pot(i) {
            sheet.write_string(r, ID_AT + 1, pot)?;
        }
    }
    sheet.autofilter(TOP - 1, 0, TOP - 1 + lines.len() as u32, heads.len() as u16 - 1)?;
    Ok(())
}

fn totals(
    sheet: &mut Worksheet,
    plan: &Plan,
    looks: &Looks,
    lines: usize,
    foods: usize,
    nutrients: &[Nutrient],
) -> Result<(), XlsxError> {
    let mut heads = vec!["Nutrient".to_string(), "Unit".to_string()];
    heads.extend(plan.days.iter().map(|d| format!("Day {}", d.day)));
    heads.extend(
        [
            "Mean",
            "Floor of the mean",
            "Ceiling of the mean",
            "Mean against them",
        ]
        .map(String::from),
    );
    let note = "Sums over the sheet Week; unknown contents count as nothing.";
    start(sheet, "Totals", "Totals of the days", note, &heads, looks, 2)?;
    sheet.set_column_width(0, 24)?;
    let days = plan.days.len() as u16;
    let name = utility::column_number_to_name;
    let id = name(ID_AT);
    let (first, last) = (TOP + 1, TOP + lines.max(1) as u32);
    let (food_first, food_last) = (TOP + 1, TOP + foods.max(1) as u32);
    let mut sum_row = |r: u32,
                       label: &str,
                       unit: &str,
                       column: String,
                       values: &[f64],
                       look: &Format|
     -> Result<(), XlsxError> {
        sheet.write_string(r, 0, label)?;
        sheet.write_string(r, 1, unit)?;
        for (d, day) in plan.days.iter().enumerate() {
            let f = format!(
                "=SUMPRODUCT(SUMIFS(Week!$E${first}:$E${last},Week!$A${first}:$A${last},{},Week!${id}${first}:${id}${last},Foods!$A${food_first}:$A${food_last}),Foods!${column}${food_first}:${column}${food_last})",
                day.day
            );
            sheet.write_formula_with_format(
                r,
                2 + d as u16,
                formula(f, values.get(d).copied().unwrap_or(0.0)),
                look,
            )?;
        }
        let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
        let f = format!(
            "=AVERAGE({}{}:{}{})",
            name(2),
            r + 1,
            name(1 + days.max(1)),
            r + 1
        );
        sheet.write_formula_with_format(r, 2 + days, formula(f, mean), &looks.bold)?;
        Ok(())
    };
    for (k, n) in nutrients.iter().enumerate() {
        let values: Vec<f64> = plan
            .days
            .iter()
            .map(|d| d.totals.get(n.index()).copied().unwrap_or(0.0))
            .collect();
        let column = name(NUTRIENTS_AT + k as u16);
        sum_row(
            TOP + k as u32,
            n.name(),
            n.unit().label(),
            column,
            &values,
            &looks.three,
        )?;
    }
    let money = TOP + nutrients.len() as u32;
    let costs: Option<Vec<f64>> = plan.days.iter().map(|d| d.cost.map(number)).collect();
    if let Some(costs) = &costs {
        let unit = plan.currency.map_or_else(String::new, |c| c.to_string());
        sum_row(
            money,
            "Cost of what is eaten",
            &unit,
            "E".into(),
            costs,
            &looks.money,
        )?;
    }
    for (k, n) in nutrients.iter().enumerate() {
        let r = TOP + k as u32;
        let of_mean = joined(&plan.standings);
        let Some(t) = of_mean
            .iter()
            .map(|s| &s.target)
            .find(|t| t.nutrient == *n && t.scope == Scope::Mean)
        else {
            continue;
        };
        if let Some(f) = t.floor {
            sheet.write_number_with_format(r, 3 + days, f, &looks.three)?;
        }
        if let Some(c) = t.ceiling {
            sheet.write_number_with_format(r, 4 + days, c, &looks.three)?;
        }
        let (mean, floor, ceiling) = (name(2 + days), name(3 + days), name(4 + days));
        let row = r + 1;
        // The tolerance of the plan's own check, one part in a million.
        let f = format!(
            "=IF(AND({floor}{row}<>\"\",{mean}{row}<{floor}{row}*(1-0.000001)),\"below the floor\",IF(AND({ceiling}{row}<>\"\",{mean}{row}>{ceiling}{row}*(1+0.000001)),\"above the ceiling\",\"inside\"))"
        );
        let mean = plan.mean.get(n.index()).copied().unwrap_or(0.0);
        let low = t.floor.is_some_and(|f| mean < f * (1.0 - 1e-6));
        let high = t.ceiling.is_some_and(|c| mean > c * (1.0 + 1e-6));
        let word = if low {
            "below the floor"
        } else if high {
            "above the ceiling"
        } else {
            "inside"
        };
        sheet.write_formula(r, 5 + days, Formula::new(f).set_result(word))?;
    }
    sheet.set_column_width(5 + days, 18)?;
    Ok(())
}

fn shopping(sheet: &mut Worksheet, plan: &Plan, looks: &Looks) -> Result<(), XlsxError> {
    let unit = unit_of(plan);
    let heads = [
        "Section",
        "Product",
        "Needed, g",
        "At home, g",
        "Packs",
        "In a pack, g",
        "To buy, g",
        "Left over, g",
    ]
    .map(String::from)
    .into_iter()
    .chain([
        format!("Cost{unit}"),
        "Price".into(),
        "First eaten, day".into(),
        "Keeps, days".into(),
    ])
    .collect_vec();
    start(
        sheet,
        "Shopping",
        "Shopping list",
        "Grams as bought; whole packs where goods are sold in packs.",
        &heads,
        looks,
        2,
    )?;
    sheet.set_column_width(0, 12)?;
    sheet.set_column_width(1, 38)?;
    for (n, p) in plan.shopping.iter().enumerate() {
        let r = TOP + n as u32;
        let row = r + 1;
        sheet.write_string(r, 0, capital(&p.section))?;
        sheet.write_string(r, 1, &p.name)?;
        sheet.write_number_with_format(r, 2, p.needed_grams, &looks.one)?;
        sheet.write_number_with_format(r, 3, p.home_grams, &looks.one)?;
        match (p.packs, p.pack_grams) {
            (Some(packs), Some(grams)) => {
                sheet.write_number(r, 4, f64::from(packs))?;
                sheet.write_number_with_format(r, 5, grams, &looks.one)?;
                sheet.write_formula_with_format(
                    r,
                    6,
                    formula(format!("=E{row}*F{row}"), p.buy_grams),
                    &looks.one,
                )?;
            }
            _ => {
                sheet.write_number_with_format(r, 6, p.buy_grams, &looks.one)?;
            }
        }
        let left = formula(format!("=MAX(0,G{row}+D{row}-C{row})"), p.left_over_grams);
        sheet.write_formula_with_format(r, 7, left, &looks.one)?;
        if let Some(c) = p.cost {
            sheet.write_number_with_format(r, 8, number(c), &looks.money)?;
        }
        let price = match (p.cost, p.invented) {
            (None, _) => "none known",
            (_, true) => "invented",
            _ => "published",
        };
        sheet.write_string(r, 9, price)?;
        sheet.write_number(r, 10, f64::from(p.first_day))?;
        sheet.write_number(r, 11, f64::from(p.keeps_days))?;
    }
    let r = TOP + plan.shopping.len() as u32;
    if let Some(till) = plan.till.filter(|_| !plan.shopping.is_empty()) {
        sheet.write_string_with_format(r, 1, "At the till", &looks.bold)?;
        let f = formula(format!("=SUM(I{}:I{r})", TOP + 1), number(till));
        sheet.write_formula_with_format(r, 8, f, &looks.money)?;
    }
    Ok(())
}

fn foods_sheet(
    sheet: &mut Worksheet,
    plan: &Plan,
    looks: &Looks,
    foods: &[&Eaten],
    nutrients: &[Nutrient],
) -> Result<(), XlsxError> {
    let mut heads = ["Id", "Item", "One serving", "Grams"].map(String::from).to_vec();
    heads.push(format!("Cost{}", unit_of(plan)));
    heads.extend(nutrients.iter().copied().map(nutrient_head));
    let note = "What one serving holds, from the USDA National Nutrient Database for Standard Reference, Release 28.";
    start(sheet, "Foods", "Items of the plan", note, &heads, looks, 2)?;
    sheet.set_column_width(0, 22)?;
    sheet.set_column_width(1, 34)?;
    sheet.set_column_width(2, 20)?;
    for (n, f) in foods.iter().enumerate() {
        let r = TOP + n as u32;
        sheet.write_string(r, 0, &f.id)?;
        sheet.write_string(r, 1, &f.name)?;
        sheet.write_string(r, 2, &f.serving)?;
        sheet.write_number_with_format(r, 3, f.grams / f.servings, &looks.one)?;
        if let Some(c) = f.cost {
            sheet.write_number_with_format(r, 4, number(c) / f.servings, &looks.three)?;
        }
        for (k, nutrient) in nutrients.iter().enumerate() {
            let v = f.amounts.get(nutrient.index()).copied().unwrap_or(0.0) / f.servings;
            sheet.write_number_with_format(r, NUTRIENTS_AT + k as u16, v, &looks.three)?;
        }
    }
    Ok(())
}

fn targets(sheet: &mut Worksheet, plan: &Plan, looks: &Looks) -> Result<(), XlsxError> {
    let heads = [
        "Nutrient",
        "Unit",
        "Over",
        "Floor",
        "Ceiling",
        "Set by the brief",
        "Reason",
        "Source",
    ]
    .map(String::from);
    start(
        sheet,
        "Targets",
        "Floors and ceilings",
        "Each with its reason and where the figure comes from.",
        &heads,
        looks,
        1,
    )?;
    for (c, w) in [24.0, 8.0, 11.0, 11.0, 11.0, 11.0, 46.0, 70.0]
        .into_iter()
        .enumerate()
    {
        sheet.set_column_width(c as u16, w)?;
    }
    for (n, s) in plan.standings.iter().enumerate() {
        let (r, t) = (TOP + n as u32, &s.target);
        sheet.write_string(r, 0, t.nutrient.name())?;
        sheet.write_string(r, 1, t.nutrient.unit().label())?;
        sheet.write_string(r, 2, scope(t.scope))?;
        if let Some(f) = t.floor {
            sheet.write_number_with_format(r, 3, f, &looks.three)?;
        }
        if let Some(c) = t.ceiling {
            sheet.write_number_with_format(r, 4, c, &looks.three)?;
        }
        sheet.write_string(r, 5, if t.from_brief { "yes" } else { "no" })?;
        sheet.write_string_with_format(r, 6, &t.reason, &looks.wrap)?;
        sheet.write_string_with_format(r, 7, &t.source, &looks.wrap)?;
    }
    Ok(())
}

fn cooking(sheet: &mut Worksheet, plan: &Plan, looks: &Looks) -> Result<(), XlsxError> {
    let heads = [
        "Cook on day",
        "Dish",
        "Servings",
        "Times the recipe",
        "Work, min",
        "In all, min",
        "Good until day",
        "For the meals",
    ]
    .map(String::from);
    let note = "Whole or half recipes; what is not eaten at once goes into the refrigerator.";
    start(sheet, "Cooking", "Cooking list", note, &heads, looks, 2)?;
    sheet.set_column_width(1, 34)?;
    sheet.set_column_width(7, 60)?;
    for (n, c) in plan.cooking.iter().enumerate() {
        let r = TOP + n as u32;
        sheet.write_number(r, 0, f64::from(c.day))?;
        sheet.write_string(r, 1, &c.name)?;
        sheet.write_number_with_format(r, 2, c.servings, &looks.three)?;
        sheet.write_number_with_format(r, 3, c.batches, &looks.three)?;
        sheet.write_number(r, 4, c.minutes)?;
        sheet.write_number(r, 5, c.total_minutes)?;
        sheet.write_number(r, 6, f64::from(c.keep_until))?;
        sheet.write_string_with_format(r, 7, to_cook(c).meals, &looks.wrap)?;
    }
    Ok(())
}

fn left(sheet: &mut Worksheet, plan: &Plan, looks: &Looks) -> Result<(), XlsxError> {
    let heads = ["Product", "Left, g", "Keeps, days more"].map(String::from);
    let note = "After the last day, of what was bought and of what was at home; 0 or less is past its days.";
    start(sheet, "Left over", "Left over", note, &heads, looks, 1)?;
    sheet.set_column_width(0, 38)?;
    for (n, l) in plan.left.iter().enumerate() {
        let r = TOP + n as u32;
        sheet.write_string(r, 0, &l.name)?;
        sheet.write_number_with_format(r, 1, l.grams, &looks.one)?;
        sheet.write_number(r, 2, l.keeps_days as f64)?;
    }
    Ok(())
}
