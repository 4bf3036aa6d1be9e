//! A swap changes what was asked for, keeps the rest, and says what changed.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::OnceLock;

use platewright::brief::{self, Brief};
use platewright::diagnostic::Diagnostic;
use platewright::energy::{self, EnergyBudget};
use platewright::foods::FoodTable;
use platewright::kitchen::Catalogue;
use platewright::model::build::Pieces;
use platewright::plan::{Plan, Work, plan};
use platewright::prices::PriceList;
use platewright::report::{self, amount::Units};
use platewright::swap::{
    Place, Swapped, Understood, Wish, changes, offers, read_plan, remake, rewrite, swap, understand,
};
use platewright::targets;

/// A third of the default effort.
const MOVES: u64 = 900_000;

fn table() -> &'static FoodTable {
    static TABLE: OnceLock<FoodTable> = OnceLock::new();
    TABLE.get_or_init(FoodTable::bundled)
}

fn catalogue() -> &'static Catalogue {
    static CATALOGUE: OnceLock<Catalogue> = OnceLock::new();
    CATALOGUE.get_or_init(|| Catalogue::bundled(table()).expect("the bundled catalogue has no problem"))
}

fn example(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("examples")
        .join(name)
        .join("brief.toml");
    std::fs::read_to_string(path).expect("an example")
}

fn read(text: &str) -> Brief {
    brief::parse(text).unwrap_or_else(|e| panic!("{e:?}")).0
}

fn with<T>(brief: &Brief, then: impl FnOnce(Pieces, &EnergyBudget) -> T) -> T {
    let energy = energy::budget(brief).expect("an energy budget");
    let (targets, _) = targets::derive(brief, &energy);
    let kitchen = catalogue().kitchen(&brief.region.value).expect("a kitchen");
    let prices = PriceList::bundled(&kitchen.id, catalogue()).expect("a sound list");
    then(
        Pieces {
            brief,
            intake_kcal: energy.intake.0,
            targets: &targets,
            kitchen,
            catalogue: catalogue(),
            table: table(),
            prices: prices.as_ref(),
        },
        &energy,
    )
}

fn week(brief: &Brief) -> Plan {
    let found = with(brief, |p, e| plan(p, e, Work::of(p.brief.days, Some(MOVES)))).expect("a plan");
    assert!(found.planned, "{:?} {:?}", found.conflict, found.misses);
    found
}

/// The default example with its plan, made once.
fn default() -> &'static (Brief, Plan) {
    static MADE: OnceLock<(Brief, Plan)> = OnceLock::new();
    MADE.get_or_init(|| {
        let brief = read(&example("surplus-on-a-budget"));
        let plan = week(&brief);
        (brief, plan)
    })
}

fn understood(brief: &Brief, before: &Plan, wish: &Wish) -> Result<Understood, Vec<Diagnostic>> {
    with(brief, |p, _| understand(wish, p, before))
}

fn done(brief: &Brief, before: &Plan, wish: &Wish) -> (Understood, Plan) {
    let u = understood(brief, before, wish).unwrap_or_else(|e| panic!("{e:?}"));
    let after = with(&u.brief, |p, e| {
        swap(p, e, before, &u, Work::of(p.brief.days, Some(MOVES)))
    })
    .unwrap_or_else(|e| panic!("{e:?}"));
    assert!(after.planned, "{wish:?}: {:?}", after.misses);
    (u, after)
}

fn eaten(p: &Plan) -> BTreeSet<&str> {
    p.days
        .iter()
        .flat_map(|d| &d.meals)
        .flat_map(|m| &m.items)
        .map(|e| e.id.as_str())
        .collect()
}

fn holding(p: &Plan, ids: &[&str]) -> usize {
    let holds = |m: &&platewright::plan::Meal| m.items.iter().any(|e| ids.contains(&e.id.as_str()));
    p.days.iter().flat_map(|d| &d.meals).filter(holds).count()
}

#[test]
fn a_staple_of_the_default_example_keeps_seven_meals_of_ten() {
    let (brief, before) = default();
    let wish = Wish::Staple("rice".into(), Some("pasta".into()));
    let (u, after) = done(brief, before, &wish);
    let from: Vec<&str> = u.from.iter().map(|&i| catalogue().items[i].id.as_str()).collect();
    assert!(
        from.contains(&"white_rice") && from.contains(&"bowl_brown_rice"),
        "{from:?}"
    );
    assert!(holding(before, &from) > 0, "the default example eats rice");
    assert_eq!(holding(&after, &from), 0);
    let to: Vec<&str> = u.to.iter().map(|&i| catalogue().items[i].id.as_str()).collect();
    assert!(holding(&after, &to) > 0);
    let c = changes(before, &after);
    assert_eq!(c.meals, 35);
    assert!(
        10 * c.same >= 7 * c.meals,
        "{} of {} meals stay as they were",
        c.same,
        c.meals
    );
    assert_eq!(c.changed.len(), c.meals - c.same);
    // Nothing moves that need not: beside the meals with rice only a few, to make up for it.
    assert!(
        c.changed.len() <= holding(before, &from) + 3,
        "{} changed",
        c.changed.len()
    );
}

#[test]
fn the_same_swap_twice_is_the_same() {
    let (brief, before) = default();
    let wish = Wish::Without(vec!["peanuts".into()]);
    let (_, a) = done(brief, before, &wish);
    let (_, b) = done(brief, before, &wish);
    assert_eq!(a.days, b.days);
}

#[test]
fn without_an_allergen_none_of_it_is_left() {
    let (brief, before) = default();
    let (u, after) = done(brief, before, &Wish::Without(vec!["peanuts".into()]));
    assert_eq!(u.brief.allergies.last().map(|a| a.value.as_str()), Some("peanut"));
    for f in after
        .days
        .iter()
        .flat_map(|d| &d.meals)
        .flat_map(|m| &m.items)
        .flat_map(|e| &e.foods)
    {
        assert!(
            !catalogue().ingredients[&f.food].contains.contains("peanut"),
            "{}",
            f.name
        );
    }
    assert!(after.breaches.is_empty());
    let c = changes(before, &after);
    assert!(c.same * 2 > c.meals, "{} of {}", c.same, c.meals);
    let text = example("surplus-on-a-budget");
    let new = rewrite(&text, brief, &u.edits);
    let again = read(&new);
    assert_eq!(
        again
            .allergies
            .iter()
            .map(|a| a.value.as_str())
            .collect::<Vec<_>>(),
        ["peanut"]
    );
    assert_eq!(again.region.value, brief.region.value);
}

/// Something the plan does not eat: no meal moves.
#[test]
fn what_is_not_eaten_changes_nothing() {
    let (brief, before) = default();
    let have = eaten(before);
    let other = catalogue()
        .items
        .iter()
        .find(|i| i.regions.iter().any(|r| r == "us") && !have.contains(i.id.as_str()) && i.has_role("fruit"))
        .expect("a fruit that is not eaten");
    let (_, after) = done(brief, before, &Wish::Without(vec![other.id.clone()]));
    let c = changes(before, &after);
    assert_eq!((c.same, c.changed.len()), (c.meals, 0), "{:?}", c.changed);
    assert!(c.shopping.is_empty());
}

#[test]
fn another_region_keeps_days_slots_and_energies() {
    let (brief, before) = default();
    let u = understood(brief, before, &Wish::Region("north_india".into())).expect("understood");
    assert!(
        u.brief.budget.is_none() && !u.notes.is_empty(),
        "a budget in USD says nothing about INR"
    );
    let after = with(&u.brief, |p, e| {
        swap(p, e, before, &u, Work::of(p.brief.days, Some(2 * MOVES)))
    })
    .expect("a plan");
    assert!(after.planned, "{:?}", after.misses);
    assert_eq!(after.kitchen, "north_india");
    let kcal = |m: &platewright::plan::Meal| m.items.iter().map(|e| e.kcal).sum::<f64>();
    let mut off = 0.0;
    let mut all = 0.0;
    for (a, b) in before.days.iter().zip(&after.days) {
        for m in &a.meals {
            let other = b.meals.iter().find(|o| o.slot == m.slot).expect("the same slot");
            off += (kcal(m) - kcal(other)).abs();
            all += kcal(m);
        }
    }
    assert!(
        off / all < 0.12,
        "energy of meals moved by {:.0} %",
        100.0 * off / all
    );
    let new = read(&rewrite(&example("surplus-on-a-budget"), brief, &u.edits));
    assert!(new.region.value == "north_india" && new.budget.is_none());
}

#[test]
fn offers_are_ranked_and_can_stand() {
    let (brief, before) = default();
    let wish = Wish::Staple("rice".into(), None);
    let u = understood(brief, before, &wish).expect("understood");
    assert!(u.offers);
    let all = with(&u.brief, |p, _| offers(p, before, &u)).expect("offers");
    assert!((2..=6).contains(&all.len()), "{all:?}");
    let from: BTreeSet<&str> = u.from.iter().map(|&i| catalogue().items[i].id.as_str()).collect();
    for o in &all {
        assert!(
            !from.contains(o.id.as_str()) && o.meals > 0 && o.meals <= o.of,
            "{o:?}"
        );
        assert!(
            o.distance.is_finite() && o.cost_change.is_some() && o.servings > 0.0,
            "{o:?}"
        );
    }
    // None that stands in as many meals is both dearer and further away than the next.
    for w in all.windows(2).filter(|w| w[0].meals == w[1].meals) {
        assert!(
            !(w[0].cost_change > w[1].cost_change && w[0].distance > w[1].distance),
            "{w:?}"
        );
    }
    // The first one is a swap that works.
    let (_, after) = done(
        brief,
        before,
        &Wish::Staple("rice".into(), Some(all[0].id.clone())),
    );
    assert!(eaten(&after).contains(all[0].id.as_str()));
    let c = changes(before, &after);
    assert!(
        10 * c.same >= 7 * c.meals,
        "{} of {} meals stay as they were",
        c.same,
        c.meals
    );
}

/// Rice and flatbread stand in parts of their own in a North Indian meal: one may come for the other all the same.
#[test]
fn a_staple_may_give_way_to_one_of_another_part() {
    let brief = read(&example("north-indian-vegetarian"));
    let before = week(&brief);
    let u = understood(&brief, &before, &Wish::Staple("rice".into(), None)).expect("understood");
    let all = with(&u.brief, |p, _| offers(p, &before, &u)).expect("offers");
    assert!(all.iter().any(|o| o.of > 0), "the week has no rice: {all:?}");
    let staple = |id: &str| {
        catalogue()
            .items
            .iter()
            .any(|i| i.id == id && i.has_role("staple"))
    };
    assert!(all.iter().all(|o| staple(&o.id)), "{all:?}");
    assert!(
        all.iter().any(|o| ["chapati", "phulka"].contains(&o.id.as_str())),
        "{all:?}"
    );
}

#[test]
fn examples_take_the_first_offer_for_their_commonest_staple() {
    for name in [
        "losing-with-protein",
        "north-indian-vegetarian",
        "vegan-on-a-budget",
        "close-to-the-centre",
    ] {
        let brief = read(&example(name));
        let before = week(&brief);
        let mut count: Vec<(usize, &str)> = catalogue()
            .items
            .iter()
            .filter(|i| i.has_role("staple"))
            .map(|i| (holding(&before, &[i.id.as_str()]), i.id.as_str()))
            .collect();
        count.sort_unstable();
        let (times, id) = *count.last().expect("staples");
        let u = understood(&brief, &before, &Wish::Staple(id.into(), None)).expect("understood");
        let all = with(&u.brief, |p, _| offers(p, &before, &u)).expect("offers");
        let first = all.first().unwrap_or_else(|| panic!("{name}: nothing for {id}"));
        let (_, after) = done(&brief, &before, &Wish::Staple(id.into(), Some(first.id.clone())));
        let c = changes(&before, &after);
        assert_eq!(holding(&after, &[id]), 0);
        assert!(
            c.changed.len() <= times + 7,
            "{name}, {id} to {}: {} changed, {times} had it",
            first.id,
            c.changed.len()
        );
    }
}

#[test]
fn a_plan_written_as_json_is_made_again() {
    let (brief, before) = default();
    let text = report::json::plan(before).to_string();
    let days = read_plan(&text).expect("a plan");
    let again = with(brief, |p, e| remake(p, e, &days)).expect("the same plan");
    assert_eq!(again.days, before.days);
    assert_eq!((again.cost, again.till), (before.cost, before.till));
    assert!(again.planned);
    for bad in [
        "",
        "[]",
        "{\"schema\": 2}",
        "{\"schema\": 1, \"outcome\": \"planned\"}",
    ] {
        assert_eq!(read_plan(bad).expect_err("no plan").code, "swap-plan-file");
    }
    // A plan of another brief is refused by the meal that does not fit.
    let vegan = read(&example("vegan-on-a-budget"));
    let problems = with(&vegan, |p, e| remake(p, e, &days)).expect_err("another brief");
    assert!(
        problems.iter().all(|d| d.code == "swap-other-plan"),
        "{problems:?}"
    );
}

#[test]
fn wrong_names_are_told_what_may_be_meant() {
    let (brief, before) = default();
    let help = |wish: Wish| {
        let problems = understood(brief, before, &wish).expect_err("a mistake");
        problems
            .iter()
            .map(|d| format!("{} {}", d.message, d.help.clone().unwrap_or_default()))
            .collect::<Vec<_>>()
            .join("\n")
    };
    assert!(help(Wish::Staple("rcie".into(), Some("pastta".into()))).contains("`rice`"));
    assert!(
        help(Wish::Item("peanut buter".into(), None))
            .to_lowercase()
            .contains("peanut")
    );
    assert!(help(Wish::Without(vec!["penuts".into()])).contains("peanut"));
    assert!(help(Wish::Region("north_idnia".into())).contains("`north_india`"));
}

#[test]
fn text_and_json_tell_the_differences_first() {
    let (brief, before) = default();
    let wish = Wish::Without(vec!["peanuts".into()]);
    let (u, after) = done(brief, before, &wish);
    let swapped = Swapped {
        said: u.said.clone(),
        before: before.clone(),
        changes: Some(changes(before, &after)),
        after: Some(after),
        offers: Vec::new(),
    };
    let text = report::swap::text(&swapped, Units::Metric);
    let place = |w: &str| text.find(w).unwrap_or_else(|| panic!("no `{w}` in\n{text}"));
    assert!(place("Meals that changed") < place("Day 1\n"));
    assert!(place("Shopping list, what changed") < place("Day 1\n"));
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    let json = report::swap::json(&swapped);
    assert_eq!(json["before"], report::json::plan(before));
    assert_eq!(json["changes"]["meals"], 35);
    assert!(json["after"]["days"].as_array().is_some_and(|d| d.len() == 7));
}

#[test]
fn the_command_swaps_writes_and_refuses() {
    let room = tempfile::tempdir().expect("a folder");
    let brief = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/surplus-on-a-budget/brief.toml");
    let run = |arguments: &[&str]| {
        std::process::Command::new(env!("CARGO_BIN_EXE_platewright"))
            .arg("swap")
            .arg(&brief)
            .args(arguments)
            .current_dir(room.path())
            .output()
            .expect("it runs")
    };
    let done = run(&[
        "--without",
        "peanuts",
        "--write",
        "new.toml",
        "--moves",
        "900000",
        "--format",
        "json",
    ]);
    assert_eq!(
        done.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    let value: serde_json::Value = serde_json::from_slice(&done.stdout).expect("JSON");
    assert_eq!(value["after"]["outcome"], "planned");
    let new = std::fs::read_to_string(room.path().join("new.toml")).expect("the changed brief");
    assert_eq!(read(&new).allergies.len(), 1);
    for (arguments, word) in [
        (vec!["--region", "north_indai"], "north_india"),
        (vec!["--staple", "rcie=pasta"], "rice"),
        (vec![], "required"),
        (vec!["--region", "us", "--without", "milk"], "cannot be used"),
    ] {
        let mut all = arguments.clone();
        all.extend(["--moves", "900000"]);
        let refused = run(&all);
        assert_eq!(refused.status.code(), Some(2), "{arguments:?}");
        assert!(
            String::from_utf8_lossy(&refused.stderr).contains(word),
            "{arguments:?}"
        );
    }
}

fn at(p: &Plan, place: &Place) -> Vec<(String, f64)> {
    let day = p.days.iter().find(|d| d.day == place.day).expect("the day");
    let meal = day.meals.iter().find(|m| m.slot == place.slot).expect("the meal");
    meal.items.iter().map(|e| (e.id.clone(), e.grams)).collect()
}

/// A staple that stands in several meals, with the first of them.
fn repeated(p: &Plan) -> (String, Place) {
    for d in &p.days {
        for m in &d.meals {
            for e in &m.items {
                let staple = catalogue()
                    .items
                    .iter()
                    .any(|i| i.id == e.id && i.has_role("staple"));
                if staple && holding(p, &[&e.id]) > 1 {
                    let place = Place {
                        day: d.day,
                        slot: m.slot.clone(),
                    };
                    return (e.id.clone(), place);
                }
            }
        }
    }
    panic!("no staple stands twice")
}

/// Every row is checked anew by `assemble`; what could be broken would be named.
fn sound(p: &Plan) {
    assert!(
        p.planned && p.misses.is_empty() && p.breaches.is_empty(),
        "{:?}",
        p.misses
    );
}

#[test]
fn a_swap_in_one_meal_leaves_the_item_where_else_it_stands() {
    let (brief, before) = default();
    let (item, place) = repeated(before);
    let asked = understood(brief, before, &Wish::ItemAt(item.clone(), None, place.clone())).expect("asked");
    assert!(asked.offers && asked.edits.is_empty());
    let all = with(&asked.brief, |p, _| offers(p, before, &asked)).expect("offers");
    assert!((1..=6).contains(&all.len()), "{all:?}");
    let there = at(before, &place);
    for o in &all {
        assert_eq!((o.meals, o.of), (1, 1), "{o:?}");
        assert!(there.iter().all(|(id, _)| *id != o.id), "{} is there", o.id);
    }
    let to = all[0].id.clone();
    let (u, after) = done(
        brief,
        before,
        &Wish::ItemAt(item.clone(), Some(to.clone()), place.clone()),
    );
    sound(&after);
    let now = at(&after, &place);
    assert!(
        now.iter().any(|(id, _)| *id == to) && now.iter().all(|(id, _)| *id != item),
        "{now:?}"
    );
    // Nothing of the brief changes, and the item stays elsewhere.
    assert_eq!(u.brief, *brief);
    assert!(holding(&after, &[&item]) > 0);
    let c = changes(before, &after);
    assert!(
        c.changed
            .iter()
            .any(|m| m.day == place.day && m.slot == place.slot)
    );
    // The rest keeps its meals: only a few give way to keep the totals.
    assert!(c.changed.len() <= 5, "{} meals changed", c.changed.len());
    // Of the meals that changed, only the one that was meant lost the item.
    for m in c
        .changed
        .iter()
        .filter(|m| m.day != place.day || m.slot != place.slot)
    {
        assert!(m.gone.iter().all(|e| e.id != item) || !m.come.is_empty(), "{m:?}");
    }
}

#[test]
fn another_meal_has_none_of_the_main_items() {
    let (brief, before) = default();
    for slot in ["breakfast", "dinner"] {
        let place = Place {
            day: 2,
            slot: slot.into(),
        };
        let (u, after) = done(brief, before, &Wish::Meal(place.clone()));
        sound(&after);
        let gone: Vec<&str> = u.from.iter().map(|&i| catalogue().items[i].id.as_str()).collect();
        assert!(!gone.is_empty());
        let now = at(&after, &place);
        assert!(
            !now.is_empty() && now.iter().all(|(id, _)| !gone.contains(&id.as_str())),
            "{now:?}"
        );
        let c = changes(before, &after);
        assert!(c.changed.len() <= 6, "{slot}: {} meals changed", c.changed.len());
    }
}

#[test]
fn more_of_an_item_brings_it_more_often() {
    let (brief, before) = default();
    let (id, times) = catalogue()
        .items
        .iter()
        .filter(|i| i.times >= 3 && (i.has_role("fruit") || i.has_role("vegetable")))
        .map(|i| (i.id.clone(), holding(before, &[&i.id])))
        .find(|(_, n)| (1..3).contains(n))
        .expect("a fruit or vegetable that is eaten once or twice");
    let (u, after) = done(brief, before, &Wish::More(id.clone()));
    sound(&after);
    assert_eq!(u.brief.likes.last().map(|l| l.value.as_str()), Some(id.as_str()));
    assert!(
        holding(&after, &[&id]) >= 3,
        "{id}: {times}, then {}",
        holding(&after, &[&id])
    );
    let c = changes(before, &after);
    assert!(2 * c.same > c.meals, "{} of {} stay", c.same, c.meals);
    let again = read(&rewrite(&example("surplus-on-a-budget"), brief, &u.edits));
    assert_eq!(again.likes.len(), 1);
}

#[test]
fn what_is_locked_stays_to_the_gram() {
    let (_, before) = default();
    let (item, place) = repeated(before);
    let meal = at(before, &place);
    let text = example("surplus-on-a-budget");
    let servings = |id: &str| {
        let all = before
            .days
            .iter()
            .flat_map(|d| d.meals.iter().map(move |m| (d, m)));
        all.filter(|(d, m)| d.day == place.day && m.slot == place.slot)
            .flat_map(|(_, m)| &m.items)
            .find(|e| e.id == id)
            .expect("it is there")
            .servings
    };
    let lock = |items: &[&str], others: bool| {
        let items: Vec<String> = items
            .iter()
            .map(|i| format!("{{ item = \"{i}\", servings = {} }}", servings(i)))
            .collect();
        format!(
            "{text}\nseed_here\n[[lock]]\nday = {}\nslot = \"{}\"\nitems = [{}]\nothers = {others}\n",
            place.day,
            place.slot,
            items.join(", ")
        )
        .replace("\nseed_here\n", "\n")
        .replacen("days = 7", "days = 7\nseed = 9", 1)
    };
    let whole: Vec<&str> = meal.iter().map(|(id, _)| id.as_str()).collect();
    let brief = read(&lock(&whole, false));
    let after = week(&brief);
    assert_eq!(at(&after, &place), meal);
    // One item of it stays, the others are free.
    let brief = read(&lock(&[&item], true));
    let after = week(&brief);
    let grams = |p: &Plan| at(p, &place).into_iter().find(|(id, _)| *id == item);
    assert_eq!(grams(&after), grams(before));
    assert!(at(&after, &place).len() > 1);
    // The plan that was is still one of this brief, with a bound of its own.
    let again = with(&brief, |p, e| remake(p, e, &before.days)).expect("the same plan");
    assert_eq!(again.days, before.days);
    sound(&again);
    let (cost, bound) = (again.search.value, again.search.bound.expect("a bound"));
    assert!(bound <= cost && again.search.objective == "cost");
    // And it is not swapped away.
    let wish = Wish::ItemAt(item.clone(), None, place.clone());
    let problems = understood(&brief, before, &wish).expect_err("locked");
    assert_eq!(problems[0].code, "swap-locked");
    // A lock that no meal has room for says so.
    let none = lock(&[&item], true).replace(&format!("\"{item}\""), "\"banana\"");
    if place.slot == "dinner" {
        let brief = read(&none);
        let problems =
            with(&brief, |p, e| plan(p, e, Work::of(p.brief.days, Some(1000)))).expect_err("no room");
        assert!(
            problems.iter().any(|d| d.code == "brief-lock-no-room"),
            "{problems:?}"
        );
    }
}

#[test]
fn a_place_without_the_item_is_told() {
    let (brief, before) = default();
    let place = Place {
        day: 1,
        slot: "breakfast".into(),
    };
    let have = at(before, &place);
    let other = catalogue()
        .items
        .iter()
        .find(|i| i.regions.iter().any(|r| r == "us") && have.iter().all(|(id, _)| *id != i.id))
        .expect("an item");
    let wish = Wish::ItemAt(other.id.clone(), None, place.clone());
    let problems = understood(brief, before, &wish).expect_err("not there");
    assert_eq!(problems[0].code, "swap-not-there");
    let wish = Wish::ItemAt(have[0].0.clone(), Some(have[0].0.clone()), place);
    let problems = understood(brief, before, &wish).expect_err("there already");
    assert_eq!(problems[0].code, "swap-there-already");
    let nowhere = Place {
        day: 9,
        slot: "supper".into(),
    };
    assert!(understood(brief, before, &Wish::Meal(nowhere)).is_err());
}
