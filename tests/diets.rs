//! Diets and allergies that can be trusted: what each leaves out, judged here again from the ingredients, for every
//! kitchen; meat and milk apart in a meal; and the finished plan checked once more.

use std::collections::BTreeSet;
use std::num::NonZeroUsize;
use std::sync::OnceLock;

use platewright::brief::{self, Brief};
use platewright::diagnostic::Diagnostic;
use platewright::energy;
use platewright::foods::{FoodId, FoodTable};
use platewright::kitchen::{Catalogue, Item};
use platewright::model::build::{Built, Pieces, build, disliked};
use platewright::model::linear::expand;
use platewright::plan::{FoodGrams, Work, breaches, plan};
use platewright::prices::PriceList;
use platewright::solve::search::{Effort, search};
use platewright::targets;

fn table() -> &'static FoodTable {
    static TABLE: OnceLock<FoodTable> = OnceLock::new();
    TABLE.get_or_init(FoodTable::bundled)
}

fn catalogue() -> &'static Catalogue {
    static CATALOGUE: OnceLock<Catalogue> = OnceLock::new();
    CATALOGUE.get_or_init(|| Catalogue::bundled(table()).expect("the bundled catalogue has no problem"))
}

fn text(region: &str, days: u32, top: &str) -> String {
    format!(
        "title = \"Invented\"\nregion = \"{region}\"\ndays = {days}\nobjective = \"closeness\"\n{top}\n[person]\nsex = \"female\"\nage = 30\n\
         height = \"168 cm\"\nweight = \"61 kg\"\n[activity]\nlevel = \"active\"\n[[phase]]\nkind = \"hold\"\n"
    )
}

fn read(text: &str) -> Brief {
    brief::parse(text).unwrap_or_else(|e| panic!("{e:?}\n{text}")).0
}

/// What a test does with the pieces of a brief.
fn with<T>(brief: &Brief, then: impl FnOnce(Pieces, &energy::EnergyBudget) -> T) -> T {
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

fn built(brief: &Brief) -> Result<Built, Vec<Diagnostic>> {
    with(brief, |p, _| build(p))
}

/// Flags of an item, from the ingredients file and its own list.
fn flags(i: &Item) -> BTreeSet<String> {
    let mut all: BTreeSet<String> = i.contains.iter().cloned().collect();
    for c in &i.foods {
        let food = &catalogue().ingredients[&FoodId::new(c.food.as_str())];
        all.extend(food.contains.iter().cloned());
    }
    all
}

/// Animals by the flags of the catalogue.
const MEAT: [&str; 5] = ["beef", "pork", "lamb", "poultry", "other_meat"];
const SEA: [&str; 3] = ["fish", "crustacean", "mollusc"];

/// What each diet must never hold, written down here by itself: common practice of each.
fn never(diet: &str) -> Vec<&'static str> {
    let meat_and_fish = || [&MEAT[..], &SEA[..], &["gelatine", "rennet"]].concat();
    match diet {
        "omnivore" => vec![],
        "vegetarian" => [meat_and_fish(), vec!["egg"]].concat(),
        "ovo_lacto_vegetarian" | "eggetarian" => meat_and_fish(),
        "pescatarian" => [&MEAT[..], &["gelatine", "rennet"]].concat(),
        "vegan" => [meat_and_fish(), vec!["egg", "milk", "honey"]].concat(),
        "jain" => [
            meat_and_fish(),
            vec![
                "egg",
                "honey",
                "alcohol",
                "onion_garlic",
                "root",
                "mushroom",
                "brinjal",
            ],
        ]
        .concat(),
        "sattvic" => [
            meat_and_fish(),
            vec!["egg", "alcohol", "onion_garlic", "mushroom"],
        ]
        .concat(),
        "no_onion_garlic" => vec!["onion_garlic"],
        "no_beef" => vec!["beef", "gelatine"],
        "no_pork" => vec!["pork", "gelatine"],
        "halal" => vec!["pork", "alcohol", "gelatine"],
        "kosher" => vec!["pork", "crustacean", "mollusc", "unscaled_fish", "gelatine"],
        "gluten_free" => vec!["gluten", "wheat"],
        "lactose_free" => vec!["milk"],
        "no_alcohol" => vec!["alcohol"],
        "no_caffeine" => vec!["caffeine"],
        other => panic!("the diet `{other}` is new: write down here what it must never hold"),
    }
}

/// EU Regulation 1169/2011, Annex II (14), and the nine of US law (FALCPA 2004, FASTER Act 2021), as flags; from memory.
const ALLERGENS: [&str; 16] = [
    "gluten",
    "crustacean",
    "egg",
    "fish",
    "peanut",
    "soy",
    "milk",
    "tree_nut",
    "celery",
    "mustard",
    "sesame",
    "sulphite",
    "lupin",
    "mollusc",
    "wheat",
    "shellfish",
];

#[test]
fn the_fourteen_and_the_nine_are_all_there() {
    let have: BTreeSet<&str> = catalogue().allergens.iter().map(|a| a.id.as_str()).collect();
    assert_eq!(have, ALLERGENS.into_iter().collect());
    for a in &catalogue().allergens {
        match a.id.as_str() {
            "shellfish" => assert_eq!(a.excludes, ["crustacean", "mollusc"]),
            "gluten" => assert_eq!(a.excludes, ["gluten", "wheat"]),
            id => assert_eq!(a.excludes, [id]),
        }
    }
}

#[test]
fn every_diet_and_allergen_in_every_kitchen() {
    let mut filled = 0;
    for kitchen in &catalogue().kitchens {
        let slots: Vec<&str> = kitchen.slots.iter().map(|s| s.id.as_str()).collect();
        let diets = catalogue()
            .diets
            .iter()
            .map(|d| (format!("diet = [\"{}\"]", d.id), never(&d.id)));
        let allergies = catalogue().allergens.iter().map(|a| {
            let out = match a.id.as_str() {
                "shellfish" => vec!["crustacean", "mollusc"],
                "gluten" => vec!["gluten", "wheat"],
                id => vec![*ALLERGENS.iter().find(|x| **x == id).expect("listed")],
            };
            (format!("allergies = [\"{}\"]", a.id), out)
        });
        for (top, out) in diets.chain(allergies) {
            let brief = read(&text(&kitchen.id, 2, &top));
            let b = match built(&brief) {
                Ok(b) => b,
                Err(problems) => {
                    // A kitchen need not feed everyone, but then it says at which slot it ends.
                    for p in &problems {
                        assert!(
                            p.code == "kitchen-empty-slot" && slots.iter().any(|s| p.message.contains(s)),
                            "{}, {top}: {}",
                            kitchen.id,
                            p.message
                        );
                    }
                    continue;
                }
            };
            filled += 1;
            let mut items: BTreeSet<usize> = b.model.columns.iter().map(|c| c.item).collect();
            let effort = Effort {
                moves: 3_000,
                starts: 1,
                seed: 1,
                threads: NonZeroUsize::MIN,
            };
            let found = search(&b.model, &[], 30.0, effort, None);
            items.extend(
                (0..found.steps.len())
                    .filter(|&n| found.steps[n] > 0)
                    .map(|n| b.model.columns[n].item),
            );
            for i in items {
                let item = &catalogue().items[i];
                let has = flags(item);
                let bad: Vec<_> = out.iter().filter(|f| has.contains(**f)).collect();
                assert!(
                    bad.is_empty(),
                    "{}, {top}: `{}` holds {bad:?}",
                    kitchen.id,
                    item.id
                );
            }
            if top.contains("kosher") {
                for choice in &b.model.choices {
                    let c = &b
                        .model
                        .choices
                        .iter()
                        .position(|x| x.name == choice.name)
                        .expect("itself");
                    let eaten: Vec<&Item> = (0..found.steps.len())
                        .filter(|&n| found.steps[n] > 0 && b.model.columns[n].choice == *c)
                        .map(|n| &catalogue().items[b.model.columns[n].item])
                        .collect();
                    assert!(!meat_and_milk(&eaten), "{}: {eaten:?}", choice.name);
                }
            }
        }
    }
    assert!(filled > 40, "only {filled} pairs could be filled");
}

fn meat_and_milk(items: &[&Item]) -> bool {
    let any = |what: &[&str]| {
        items
            .iter()
            .any(|i| flags(i).iter().any(|f| what.contains(&f.as_str())))
    };
    any(&MEAT) && any(&["milk"])
}

/// In search, linear program and export alike: no form of a meal has columns of both, and none of both is lost.
#[test]
fn meat_and_milk_stand_in_different_shapes_of_a_form() {
    for kitchen in &catalogue().kitchens {
        let Ok(b) = built(&read(&text(&kitchen.id, 1, "diet = [\"kosher\"]"))) else {
            continue;
        };
        let plain = built(&read(&text(&kitchen.id, 1, ""))).expect("everything");
        let mut split = 0;
        for choice in &b.model.choices {
            for form in &choice.forms {
                let items: Vec<&Item> = form
                    .parts
                    .iter()
                    .flat_map(|p| &p.columns)
                    .map(|&n| &catalogue().items[b.model.columns[n].item])
                    .collect();
                assert!(
                    !meat_and_milk(&items),
                    "{}: {} {}",
                    kitchen.id,
                    choice.name,
                    form.name
                );
                split += u32::from(form.name != form.of);
            }
        }
        assert!(split > 0, "{}: no form was split", kitchen.id);
        // Meat stays, milk stays: in different shapes.
        let has = |b: &Built, what: &[&str]| {
            b.model.columns.iter().any(|c| {
                flags(&catalogue().items[c.item])
                    .iter()
                    .any(|f| what.contains(&f.as_str()))
            })
        };
        assert!(
            has(&b, &["milk"]) && has(&b, &["poultry", "beef", "lamb", "other_meat"]),
            "{}",
            kitchen.id
        );
        assert!(
            b.model
                .columns
                .iter()
                .all(|c| !meat_and_milk(&[&catalogue().items[c.item]]))
        );
        // Fish and egg go with milk as without the rule.
        let with_milk = |b: &Built, flag: &str| {
            b.model.choices.iter().flat_map(|c| &c.forms).any(|f| {
                let items: Vec<&Item> = f
                    .parts
                    .iter()
                    .flat_map(|p| &p.columns)
                    .map(|&n| &catalogue().items[b.model.columns[n].item])
                    .collect();
                let any = |what: &str| items.iter().any(|i| flags(i).contains(what));
                any(flag) && any("milk")
            })
        };
        for flag in ["fish", "egg"] {
            assert_eq!(
                with_milk(&b, flag),
                with_milk(&plain, flag),
                "{}: {flag} with milk",
                kitchen.id
            );
        }
        let names: Vec<String> = expand(&b.model, false)
            .variables
            .into_iter()
            .map(|v| v.name)
            .collect();
        let unique: BTreeSet<&String> = names.iter().collect();
        assert_eq!(
            unique.len(),
            names.len(),
            "{}: two variables of one name",
            kitchen.id
        );
    }
}

#[test]
fn a_kosher_week_is_planned_and_stands_the_check() {
    let brief = read(&text(
        "us",
        7,
        "diet = [\"kosher\"]\nlikes = [\"chicken_breast\"]",
    ));
    let week = with(&brief, |p, e| plan(p, e, Work::of(7, Some(1_000_000)))).expect("a plan");
    assert!(week.breaches.is_empty(), "{:?}", week.breaches);
    assert!(week.planned, "{:?} {:?}", week.conflict, week.misses);
    let mut with_meat = 0;
    for m in week.days.iter().flat_map(|d| &d.meals) {
        let items: Vec<&Item> = m
            .items
            .iter()
            .map(|e| catalogue().items.iter().find(|i| i.id == e.id).expect("known"))
            .collect();
        assert!(!meat_and_milk(&items), "{:?}", m);
        with_meat += u32::from(
            items
                .iter()
                .any(|i| flags(i).iter().any(|f| MEAT.contains(&f.as_str()))),
        );
    }
    assert!(with_meat > 0, "chicken is liked, so a week has some");
}

/// The last check asks the ingredients, not the model: a plate changed after planning is caught.
#[test]
fn the_finished_plan_is_checked_from_its_ingredients() {
    let brief = read(&text(
        "us",
        1,
        "diet = [\"vegetarian\"]\nallergies = [\"peanut\"]",
    ));
    let mut day = with(&brief, |p, e| plan(p, e, Work::of(p.brief.days, Some(20_000))))
        .expect("a plan")
        .days;
    assert_eq!(breaches(&brief, catalogue(), &day), []);
    let plate = &mut day[0].meals[0].items[0];
    let food = |id: &str| FoodGrams {
        food: FoodId::new(id),
        name: "something".into(),
        grams: 5.0,
        cooking: None,
    };
    let was = plate.foods.clone();
    plate.foods.push(food("sr28:16398"));
    plate.foods.push(food("sr28:05064"));
    let found = breaches(&brief, catalogue(), &day);
    let rules: BTreeSet<&str> = found.iter().map(|b| b.rule.as_str()).collect();
    assert_eq!(rules, ["allergy peanut", "diet vegetarian"].into_iter().collect());
    assert!(
        found.iter().all(|b| b.day == 1 && b.slot == day[0].meals[0].slot),
        "{found:?}"
    );
    assert!(
        found.iter().any(|b| b.why.contains("chicken breast")),
        "{found:?}"
    );
    // What is not on record is excluded.
    let plate = &mut day[0].meals[0].items[0];
    plate.foods = was.clone();
    plate.foods.push(food("own:unknown"));
    let found = breaches(&brief, catalogue(), &day);
    assert_eq!(found.len(), 2, "one for each rule: {found:?}");
    let plate = &mut day[0].meals[0].items[0];
    plate.foods = Vec::new();
    assert_eq!(
        breaches(&brief, catalogue(), &day).len(),
        2,
        "a plate without ingredients is not clean"
    );
    // Meat and milk on two plates of one meal.
    let kosher = read(&text("us", 1, "diet = [\"kosher\"]"));
    for (n, e) in day[0].meals[0].items.iter_mut().enumerate() {
        e.foods = vec![food(["sr28:05064", "sr28:01077"].get(n).unwrap_or(&"sr28:09003"))];
    }
    let found = breaches(&kosher, catalogue(), &day);
    assert!(
        found
            .iter()
            .any(|b| b.why.contains("in one meal") && b.item.contains(" and ")),
        "{found:?}"
    );
}

#[test]
fn a_fixed_meal_against_the_diet_is_a_mistake_of_the_brief() {
    let lock =
        "[[lock]]\nday = 1\nslot = \"dinner\"\nitems = [ { item = \"chicken_breast\", servings = 1 } ]\n";
    let problems = built(&read(&(text("us", 1, "diet = [\"vegan\"]") + lock))).expect_err("a mistake");
    assert!(
        problems
            .iter()
            .any(|p| p.code == "brief-lock-diet" && p.message.contains("poultry")),
        "{problems:?}"
    );
    built(&read(&(text("us", 1, "") + lock))).expect("without the diet it may stand");
}

/// What the table's own name of a food says, its flags must say too. Common knowledge; the word is looked for in the
/// first words of the name, and `but` are names that the word misleads about.
#[test]
fn foods_carry_the_flags_that_their_names_say() {
    let words: [(&str, &[&str], &[&str]); 46] = [
        ("carrot", &["root"], &[]),
        ("potato", &["root"], &[]),
        ("beet", &["root"], &["beet greens"]),
        ("radish", &["root"], &["radish seeds"]),
        ("turnip", &["root"], &["turnip greens"]),
        ("cassava", &["root"], &[]),
        ("yam", &["root"], &[]),
        ("taro", &["root"], &["taro leaves"]),
        ("ginger", &["root"], &["ginger, ground"]),
        ("onion", &["onion_garlic", "root"], &[]),
        ("garlic", &["onion_garlic", "root"], &[]),
        ("leek", &["onion_garlic"], &[]),
        ("shallot", &["onion_garlic", "root"], &[]),
        ("chive", &["onion_garlic"], &[]),
        ("mushroom", &["mushroom"], &[]),
        ("eggplant", &["brinjal"], &[]),
        ("honey", &["honey"], &["honeydew", "melons"]),
        ("gelatin", &["gelatine"], &[]),
        (
            "milk",
            &["milk"],
            &[
                "soymilk",
                "almond milk",
                "beverages, almond milk",
                "coconut milk",
                "nuts, coconut milk",
            ],
        ),
        ("cheese", &["milk"], &[]),
        ("yogurt", &["milk"], &[]),
        (
            "butter",
            &["milk"],
            &["butterbur", "nuts,", "peanut butter", "squash", "seeds,"],
        ),
        ("egg", &["egg"], &["eggplant"]),
        ("peanut", &["peanut"], &[]),
        ("almond", &["tree_nut"], &[]),
        ("walnut", &["tree_nut"], &[]),
        ("cashew", &["tree_nut"], &[]),
        ("pistachio", &["tree_nut"], &[]),
        ("hazelnut", &["tree_nut"], &[]),
        ("sesame", &["sesame"], &[]),
        ("mustard", &["mustard"], &[]),
        ("celery", &["celery"], &[]),
        ("soy", &["soy"], &[]),
        ("tofu", &["soy"], &[]),
        ("wheat", &["wheat", "gluten"], &["buckwheat"]),
        ("barley", &["gluten"], &[]),
        ("rye", &["gluten"], &[]),
        ("oats", &["gluten"], &[]),
        ("beef", &["beef"], &[]),
        ("pork", &["pork"], &[]),
        ("bacon", &["pork"], &[]),
        ("lard", &["pork"], &[]),
        ("lamb", &["lamb"], &[]),
        ("chicken", &["poultry"], &[]),
        ("turkey", &["poultry"], &[]),
        ("wine", &["alcohol"], &["vinegar"]),
    ];
    let mut faults = Vec::new();
    for i in catalogue().ingredients.values() {
        let Some(food) = table().food(&i.food) else {
            continue;
        };
        let name = food.name.to_lowercase();
        let head: Vec<&str> = name
            .split(|c: char| !c.is_alphabetic())
            .filter(|w| !w.is_empty())
            .take(3)
            .collect();
        for (word, need, but) in &words {
            let says = head.iter().any(|w| {
                w == word || w.strip_suffix('s') == Some(word) || w.strip_suffix("es") == Some(word)
            });
            if !says || but.iter().any(|b| name.starts_with(b)) {
                continue;
            }
            for flag in need.iter().filter(|f| !i.contains.contains(**f)) {
                faults.push(format!("{} `{}` ({}) lacks `{flag}`", i.food, food.name, i.short));
            }
        }
        // Fish without fins and scales, which kosher leaves out.
        let scaleless = [
            "catfish",
            "eel",
            "shark",
            "swordfish",
            "monkfish",
            "sturgeon",
            "turbot",
            "roe",
            "caviar",
            "skate",
        ];
        if food.group.starts_with("Finfish")
            && scaleless.iter().any(|w| name.contains(w))
            && !i.contains.contains("unscaled_fish")
        {
            faults.push(format!("{} `{}` lacks `unscaled_fish`", i.food, food.name));
        }
        // Every animal group of the table has its flag.
        let group: &[&str] = match food.group.as_str() {
            "Poultry Products" => &["poultry"],
            "Beef Products" => &["beef"],
            "Pork Products" => &["pork"],
            "Finfish and Shellfish Products" => &["fish", "crustacean", "mollusc"],
            "Lamb, Veal, and Game Products" => &["lamb", "beef", "other_meat"],
            "Dairy and Egg Products" => &["milk", "egg"],
            _ => &[],
        };
        if !group.is_empty() && !group.iter().any(|f| i.contains.contains(*f)) {
            faults.push(format!(
                "{} `{}` of {} lacks one of {group:?}",
                i.food, food.name, food.group
            ));
        }
    }
    assert!(
        faults.is_empty(),
        "{} faults:\n{}",
        faults.len(),
        faults.join("\n")
    );
}

/// Portions of 1,500, 2,500 and 4,500 kcal a day, common practice: rice at most 180, 300 and 500 g, chapati 3, 4 and 6
/// pieces, meat 120, 170 and 220 g, a heap of vegetables and a piece of fruit the same for all.
#[test]
fn portions_grow_by_role() {
    let item = |id: &str| {
        catalogue()
            .items
            .iter()
            .find(|i| i.id == id)
            .unwrap_or_else(|| panic!("{id}"))
    };
    let most = |id: &str, kcal: f64| catalogue().growth(item(id), kcal).most;
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a}, not {b}");
    for (id, small, large) in [
        ("rice_plain", 180.0 / 300.0, 500.0 / 300.0),
        ("chapati", 3.0 / 4.0, 6.0 / 4.0),
        ("chicken_breast", 120.0 / 170.0, 220.0 / 170.0),
        ("dal_masoor", 150.0 / 200.0, 300.0 / 200.0),
        ("bhindi", 1.0, 1.0),
        ("banana", 1.0, 1.0),
    ] {
        near(most(id, 1500.0), small);
        near(most(id, 2500.0), 1.0);
        near(most(id, 4500.0), large);
        near(most(id, 1000.0), small);
        near(most(id, 9000.0), large);
    }
    // Half way on a straight line; the least grows too, where the table says so.
    near(most("rice_plain", 3500.0), (300.0 + 500.0) / 2.0 / 300.0);
    near(catalogue().growth(item("chapati"), 4500.0).least, 4.0 / 2.0);
    near(catalogue().growth(item("bhindi"), 4500.0).least, 1.0);
    // Fruit comes more often, not in larger pieces.
    near(
        catalogue().growth(item("banana"), 4500.0).most_per_day,
        600.0 / 450.0,
    );
    let roles: BTreeSet<&str> = catalogue().items.iter().map(|i| i.roles[0].as_str()).collect();
    for role in roles {
        assert!(
            catalogue().portions.iter().any(|r| r.word == role),
            "no portions for `{role}`"
        );
    }
}

/// Kitchens share names, and one kitchen's id can be another's name (`pasta`).
#[test]
fn a_name_means_the_item_of_the_kitchen_and_a_dislike_every_item_called_so() {
    let c = catalogue();
    let mut shared = 0;
    for (n, item) in c.items.iter().enumerate() {
        for kitchen in &item.regions {
            for word in [item.name.clone(), item.name.to_ascii_uppercase()] {
                let found = &c.items[c.item_of(&word, kitchen).expect("a known name")];
                assert_eq!(found.name, item.name, "{kitchen}");
                assert!(found.regions.contains(kitchen), "{} in {kitchen}", found.id);
            }
            let found = c.item_of(&item.id, kitchen).expect("a known id");
            assert_eq!(c.items[found].id, item.id, "{kitchen}");
        }
        let hits = disliked(c, &item.name.to_lowercase());
        assert!(hits.contains(&n), "{}", item.id);
        shared += usize::from(hits.len() > 1);
    }
    assert!(shared > 100, "{shared}");
    let pasta: Vec<&str> = disliked(c, "pasta")
        .iter()
        .map(|&n| c.items[n].id.as_str())
        .collect();
    assert!(
        pasta.contains(&"pasta") && pasta.contains(&"pasta_plate"),
        "{pasta:?}"
    );
    let liked = |kitchen| c.items[c.item_of("pasta", kitchen).unwrap()].id.as_str();
    assert_eq!((liked("us"), liked("uk")), ("pasta", "pasta_plate"));
}
