//! The brief as a form, over plain HTTP: what is saved, what is refused and where it is said.
#![cfg(feature = "page")]

mod page_client;

use page_client::{Answer, DAY, Served, serve};

/// A brief with comments everywhere, in an order of its own.
const RICH: &str = r#"# Mine: do not lose this line.

title = "Rich" # the heading
region = "us"
days = 1 # for a start
# what it may cost
budget = "90 USD/week"
diet = ["vegetarian"] # all of them
likes = [
  "oatmeal_water", # for breakfast
  "banana",        # any time
]

# about the body
[person]
sex = "female"
age = 30
height = "5 ft 6 in" # measured in spring
weight = "61 kg"

[activity]
level = "active"

# the first one
[[phase]]
kind = "gain"
surplus = "300 kcal" # slowly
weeks = 8

# then rest
[[phase]]
kind = "hold" # on purpose
weeks = 2

[[pantry]]
what = "white_rice" # the big bag
amount = "2 kg"
"#;

/// The part of a page between a mark and the next end.
fn part<'a>(page: &'a str, from: &str, to: &str) -> &'a str {
    let at = page.find(from).unwrap_or_else(|| panic!("no {from} in the page"));
    let rest = &page[at..];
    &rest[..rest.find(to).unwrap_or(rest.len())]
}

fn save(s: &Served, fields: &[(&str, &str)]) -> Answer {
    let seen = s.seen("/b/a/brief");
    let mut all = vec![("seen", seen.as_str())];
    all.extend(fields);
    s.post("/b/a/brief", &all)
}

/// Lines that are in one text and not in the other.
fn changed(before: &str, after: &str) -> (Vec<String>, Vec<String>) {
    let only = |a: &str, b: &str| -> Vec<String> {
        a.lines()
            .filter(|l| !b.lines().any(|m| m == *l))
            .map(str::to_string)
            .collect()
    };
    (only(before, after), only(after, before))
}

/// Every control of a form as a browser would send it.
fn sent(page: &str) -> Vec<(String, String)> {
    let form = part(page, "<form id=\"form\"", "</form>");
    let attribute = |tag: &str, name: &str| -> Option<String> {
        let at = tag.find(&format!(" {name}=\""))? + name.len() + 3;
        let text = &tag[at..];
        let text = text.split('"').next()?;
        Some(
            text.replace("&quot;", "\"")
                .replace("&lt;", "<")
                .replace("&gt;", ">")
                .replace("&amp;", "&"),
        )
    };
    let mut all = Vec::new();
    let mut rest = form;
    while let Some(at) = rest.find('<') {
        rest = &rest[at..];
        let tag = &rest[..rest.find('>').unwrap()];
        if tag.starts_with("<input") {
            let marked = attribute(tag, "type").as_deref() != Some("checkbox") || tag.contains(" checked");
            if let (Some(name), true) = (attribute(tag, "name"), marked) {
                all.push((name, attribute(tag, "value").unwrap_or_default()));
            }
        } else if tag.starts_with("<select") {
            let inner = part(rest, "<select", "</select>");
            let chosen = inner
                .split("<option")
                .find(|o| o.split('>').next().unwrap().contains(" selected"));
            let value = chosen.and_then(|o| attribute(o.split('>').next().unwrap(), "value"));
            all.push((attribute(tag, "name").unwrap(), value.unwrap_or_default()));
        }
        rest = &rest[1..];
    }
    all
}

fn send(s: &Served, fields: &[(String, String)]) -> Answer {
    let all: Vec<(&str, &str)> = fields.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect();
    s.post("/b/a/brief", &all)
}

fn with(mut fields: Vec<(String, String)>, place: &str, text: &str) -> Vec<(String, String)> {
    let field = fields.iter_mut().find(|(k, _)| k == place);
    field.unwrap_or_else(|| panic!("no field {place}")).1 = text.to_string();
    fields
}

#[test]
fn saving_what_is_there_changes_nothing() {
    for text in [RICH, include_str!("full.toml"), include_str!("least.toml"), DAY] {
        let s = serve(&[("a", text)]);
        let page = s.get("/b/a/brief").body;
        let fields = sent(&page);
        assert!(fields.len() > 40, "only {} controls", fields.len());
        let answer = send(&s, &fields);
        // A brief that has mistakes against its kitchen is not written, and stays as it is too.
        assert!([303, 422].contains(&answer.status), "{}", answer.status);
        assert_eq!(s.file("a.toml"), text);
    }
}

#[test]
fn only_what_was_changed_changes_and_comments_stay() {
    let s = serve(&[("a", RICH)]);
    let fields = sent(&s.get("/b/a/brief").body);
    let fields = with(fields, "person.height", "170 cm");
    let fields = with(fields, "phase.1.weeks", "3");
    let answer = send(&s, &fields);
    assert_eq!(answer.status, 303, "{}", answer.body);
    assert_eq!(answer.header("location"), Some("/b/a/brief?saved"));
    let expected = RICH
        .replace("\"5 ft 6 in\" # measured", "\"170 cm\" # measured")
        .replace("weeks = 2\n", "weeks = 3\n");
    assert_eq!(s.file("a.toml"), expected);
}

#[test]
fn a_post_with_one_field_changes_one_field() {
    let s = serve(&[("a", RICH)]);
    assert_eq!(save(&s, &[("budget", "80 USD/week")]).status, 303);
    assert_eq!(s.file("a.toml"), RICH.replace("90 USD/week", "80 USD/week"));
    // Emptied, the line goes and the others stay.
    assert_eq!(save(&s, &[("budget", "")]).status, 303);
    let (gone, new) = changed(RICH, &s.file("a.toml"));
    assert!(gone.contains(&"budget = \"90 USD/week\"".to_string()), "{gone:?}");
    assert!(new.is_empty(), "{new:?}");
    assert!(s.file("a.toml").starts_with("# Mine: do not lose this line.\n"));
}

#[test]
fn numbers_marks_and_lists_are_written_as_the_file_has_them() {
    let s = serve(&[("a", DAY)]);
    let answer = save(
        &s,
        &[
            ("has", "diet"),
            ("diet", "vegetarian"),
            ("diet", "gluten_free"),
            ("has", "screen"),
            ("screen.gout", "true"),
            ("seed", "12"),
            ("activity.level", ""),
            ("activity.pal", "1,75"),
            ("cooking.days", "1"),
        ],
    );
    assert_eq!(answer.status, 303, "{}", answer.body);
    let file = s.file("a.toml");
    for line in [
        "diet = [\"vegetarian\", \"gluten_free\"]",
        "gout = true",
        "seed = 12",
        "pal = 1.75",
        "days = [1]",
    ] {
        assert!(file.lines().any(|l| l == line), "no {line} in {file}");
    }
    assert!(!file.contains("level ="), "{file}");
    assert!(
        file.contains("# An invented person.") && file.contains("# slowly"),
        "{file}"
    );
}

#[test]
fn the_size_of_a_phase_stands_under_the_key_its_unit_asks_for() {
    let s = serve(&[("a", DAY)]);
    for (kind, amount, line) in [
        ("gain", "0.3 %/week", "rate = \"0.3 %/week\""),
        ("lose", "350 kcal", "deficit = \"350 kcal\""),
        ("gain", "62 kg", "goal_weight = \"62 kg\""),
    ] {
        let answer = save(
            &s,
            &[
                ("has", "phase"),
                ("phase.0.was", "0"),
                ("phase.0.kind", kind),
                ("phase.0.amount", amount),
                ("phase.0.weeks", "8"),
            ],
        );
        assert_eq!(answer.status, 303, "{}", answer.body);
        let file = s.file("a.toml");
        let size = file
            .lines()
            .filter(|l| l.contains("# slowly"))
            .collect::<Vec<_>>();
        assert_eq!(size, [format!("{line} # slowly")], "{file}");
    }
}

#[test]
fn rows_are_added_and_taken_away_without_scripting() {
    let s = serve(&[("a", RICH)]);
    let mut fields = sent(&s.get("/b/a/brief").body);
    fields.push(("do".into(), "add phase".into()));
    let page = send(&s, &fields);
    assert_eq!(page.status, 200);
    assert_eq!(s.file("a.toml"), RICH, "adding a row writes nothing");
    let mut fields = with(sent(&page.body), "phase.2.kind", "lose");
    fields.push(("do".into(), "take phase.1".into()));
    let page = send(&s, &fields);
    assert_eq!(s.file("a.toml"), RICH, "taking a row away writes nothing");
    let fields = sent(&page.body);
    assert!(
        fields.contains(&("phase.1.kind".into(), "lose".into())),
        "{fields:?}"
    );
    assert_eq!(send(&s, &fields).status, 303);
    let file = s.file("a.toml");
    assert_eq!(file.matches("[[phase]]").count(), 2);
    assert!(
        file.contains("kind = \"lose\"") && !file.contains("on purpose"),
        "{file}"
    );
    assert!(
        file.contains("# slowly") && file.contains("# the big bag"),
        "{file}"
    );
}

#[test]
fn a_fixed_meal_with_its_items() {
    let s = serve(&[("a", DAY)]);
    let mut fields = sent(&s.get("/b/a/brief").body);
    fields.push(("do".into(), "add lock".into()));
    let mut fields = sent(&send(&s, &fields).body);
    fields.push(("do".into(), "add lock.0.items".into()));
    let fields = sent(&send(&s, &fields).body);
    let fields = with(fields, "lock.0.days", "1");
    let fields = with(fields, "lock.0.slot", "breakfast");
    let fields = with(fields, "lock.0.items.0.item", "Banana");
    let fields = with(fields, "lock.0.items.0.servings", "0,5");
    let answer = send(&s, &fields);
    assert_eq!(answer.status, 303, "{}", answer.body);
    let file = s.file("a.toml");
    assert!(
        file.contains("items = [{ item = \"banana\", servings = 0.5 }]"),
        "{file}"
    );
    assert!(
        file.contains("[[lock]]\ndays = [1]\nslot = \"breakfast\"\n"),
        "{file}"
    );
}

#[test]
fn all_mistakes_stand_beside_their_fields_at_once_and_what_was_typed_stays() {
    let s = serve(&[("a", RICH)]);
    let fields = sent(&s.get("/b/a/brief").body);
    let fields = with(fields, "person.height", "168");
    let fields = with(fields, "person.age", "thirty");
    let fields = with(fields, "budget", "lots");
    let fields = with(fields, "phase.1.weeks", "500");
    let fields = with(fields, "pantry.0.amount", "2 buckets");
    let answer = send(&s, &fields);
    assert_eq!(answer.status, 422);
    assert_eq!(s.file("a.toml"), RICH, "nothing is written");
    let page = &answer.body;
    for (place, typed, message) in [
        ("person-height", "168", "`height` cannot be read"),
        ("person-age", "thirty", "`age` must be a whole number"),
        ("budget", "lots", "`budget` cannot be read"),
        ("phase-1-weeks", "500", "`weeks` must be 1 to 104"),
        ("pantry-0-amount", "2 buckets", "`amount` cannot be read"),
    ] {
        let told = part(page, &format!("id=\"e-{place}\""), "</div>");
        assert!(told.contains(message), "{place}: {told}");
        let field = part(page, &format!("id=\"f-{place}\""), ">");
        assert!(field.contains(&format!("value=\"{typed}\"")), "{field}");
        assert!(field.contains("aria-invalid=\"true\""), "{field}");
        assert!(
            field.contains(&format!("e-{place}\"")) || field.contains(&format!("e-{place} ")),
            "{field}"
        );
        let summary = part(page, "id=\"summary\"", "</section>");
        assert!(summary.contains(&format!("href=\"#f-{place}\"")), "{summary}");
    }
    let summary = part(page, "id=\"summary\"", "</section>");
    assert!(summary.contains("5 mistakes"), "{summary}");
    assert!(part(page, "id=\"summary\"", ">").contains("autofocus"));
    // The field that is right says nothing.
    assert!(!part(page, "id=\"e-person-weight\"", "</div>").contains("Mistake"));
    // Its group is open.
    let before = &page[..page.find("id=\"f-person-height\"").unwrap()];
    let group = &before[before.rfind("<details").unwrap()..];
    assert!(group.split('>').next().unwrap().contains(" open"), "{group}");
}

/// Several kitchens have an item of the name.
#[test]
fn a_name_is_kept_as_the_item_of_the_kitchen_and_a_dislike_as_the_name() {
    for (region, id) in [("us", "almonds"), ("uk", "almonds_handful")] {
        let text = DAY.replace("region = \"us\"", &format!("region = \"{region}\""));
        let s = serve(&[("a", &text)]);
        assert_eq!(save(&s, &[("has", "likes"), ("likes", "Almonds")]).status, 303);
        assert!(
            s.file("a.toml").contains(&format!("likes = [\"{id}\"]")),
            "{}",
            s.file("a.toml")
        );
        // It is shown by its name again.
        assert!(s.get("/b/a/brief").body.contains("value=\"Almonds\""));
        let s = serve(&[("a", &text)]);
        assert_eq!(
            save(&s, &[("has", "dislikes"), ("dislikes", "Almonds")]).status,
            303
        );
        assert!(
            s.file("a.toml").contains("dislikes = [\"Almonds\"]"),
            "{}",
            s.file("a.toml")
        );
    }
}

#[test]
fn a_mistake_against_the_kitchen_stands_beside_its_field() {
    let s = serve(&[("a", RICH)]);
    let answer = save(
        &s,
        &[
            ("has", "dislikes"),
            ("dislikes", "moon dust"),
            ("region", "atlantis"),
        ],
    );
    assert_eq!(answer.status, 422);
    assert!(part(&answer.body, "id=\"e-region\"", "</div>").contains("there is no kitchen `atlantis`"));
    let answer = save(&s, &[("has", "dislikes"), ("dislikes", "moon dust")]);
    let told = part(&answer.body, "id=\"e-dislikes\"", "</div>");
    assert!(told.contains("`moon dust` is no item or product"), "{told}");
    let answer = save(&s, &[("equation", "cunningham_1991")]);
    let told = part(&answer.body, "id=\"e-equation\"", "</div>");
    assert!(told.contains("needs body fat"), "{told}");
    assert_eq!(s.file("a.toml"), RICH);
}

#[test]
fn two_tabs_are_told_apart_and_the_second_may_save_over() {
    let s = serve(&[("a", RICH)]);
    let first = sent(&s.get("/b/a/brief").body);
    let second = with(first.clone(), "person.weight", "64 kg");
    assert_eq!(send(&s, &with(first, "person.height", "170 cm")).status, 303);
    let answer = send(&s, &second);
    assert_eq!(answer.status, 409);
    let file = s.file("a.toml");
    assert!(
        file.contains("170 cm") && file.contains("61 kg"),
        "nothing is written: {file}"
    );
    let told = part(&answer.body, "id=\"summary\"", "</section>");
    for word in [
        "Person: Height",
        "170 cm",
        "5 ft 6 in",
        "Person: Weight now",
        "64 kg",
        "61 kg",
    ] {
        assert!(told.contains(word), "no {word} in {told}");
    }
    assert!(!told.contains("Budget"), "what is alike is not told: {told}");
    assert!(answer.body.contains("Save mine over it") && answer.body.contains("Take the file"));
    // The form that came back writes mine over it.
    let again = sent(&answer.body);
    assert!(again.contains(&("person.weight".into(), "64 kg".into())));
    assert_eq!(send(&s, &again).status, 303);
    assert_eq!(
        s.file("a.toml"),
        RICH.replace("weight = \"61 kg\"", "weight = \"64 kg\"")
    );
}

#[test]
fn the_line_says_energy_and_whether_a_plan_can_exist() {
    let s = serve(&[("a", DAY)]);
    let line = |fields: &[(&str, &str)]| s.post("/b/a/brief/check", fields).body;
    let open = line(&[]);
    let place = s.get("/b/a/brief").body;
    let place = part(&place, "id=\"live\"", ">");
    assert!(place.contains("role=\"status\" aria-live=\"polite\""), "{place}");
    assert!(
        open.contains("A plan can exist") && open.contains("fractions of servings"),
        "{open}"
    );
    assert!(open.contains("kcal</span> a day to eat"), "{open}");
    let none = line(&[("budget", "0.20 USD/day")]);
    assert!(none.contains("No plan:") && none.contains("budget"), "{none}");
    assert!(!none.contains("A plan can exist"), "{none}");
    let wrong = line(&[("person.height", "168"), ("had", "budget")]);
    assert!(wrong.contains("1 mistake"), "{wrong}");
    let told = part(&wrong, "id=\"e-person-height\"", "</div>");
    assert!(
        told.contains("hx-swap-oob") && told.contains("cannot be read"),
        "{told}"
    );
    // A message that was there is taken away.
    assert!(part(&wrong, "id=\"e-budget\"", "</div>").contains("data-wrong=\"false\""));
    for page in [&open, &none, &wrong] {
        assert!(!page.to_lowercase().contains("optimal"), "{page}");
    }
    assert_eq!(s.file("a.toml"), DAY, "looking writes nothing");
}

#[test]
fn a_safety_rule_that_stops_says_why_what_instead_and_where_it_stands() {
    let s = serve(&[("a", DAY)]);
    let stop = s.post("/b/a/brief/check", &[("screen.pregnancy", "true")]).body;
    let gate = part(&stop, "class=\"gate stops\"", "</section>");
    assert!(
        gate.contains("Stop") && gate.contains("Instead:") && gate.contains("Source:"),
        "{gate}"
    );
    assert!(
        stop.contains("No plan is made") && !stop.contains("A plan can exist"),
        "{stop}"
    );
    // It is no mistake of the brief: it may be written, and says so afterwards too.
    assert_eq!(save(&s, &[("screen.pregnancy", "true")]).status, 303);
    assert!(s.get("/b/a/brief").body.contains("class=\"gate stops\""));
}

#[test]
fn hostile_text_stays_text() {
    let bad = "</textarea><script>alert(1)</script>\" onfocus=\"x";
    let s = serve(&[("a", DAY)]);
    let answer = save(&s, &[("title", bad)]);
    assert_eq!(answer.status, 303, "{}", answer.body);
    let page = s.get("/b/a/brief").body;
    assert!(
        !page.contains("<script>alert") && !page.contains("\" onfocus=\"x"),
        "it got out"
    );
    assert!(page.contains("&lt;script&gt;alert(1)"), "it is shown");
    assert_eq!(
        page.matches("<textarea").count(),
        page.matches("</textarea>").count()
    );
    for place in ["region", "person.sex", "person.height", "equation", "objective"] {
        let page = save(&s, &[(place, bad)]).body;
        assert!(
            !page.contains("<script>alert") && !page.contains("\" onfocus=\"x"),
            "{place}"
        );
        assert!(page.contains("&lt;script&gt;alert(1)"), "{place} is shown");
    }
    let page = save(&s, &[("has", bad), (bad, bad), ("phase.0.<b>", bad), ("do", bad)]).body;
    assert!(!page.contains("<script>alert"), "names are text too");
    let page = s
        .post("/new", &[("name", bad), ("person.height", bad), ("diet", bad)])
        .body;
    assert!(!page.contains("<script>alert"), "a new one");
}

#[test]
fn posts_made_by_hand_break_nothing() {
    let s = serve(&[("a", DAY)]);
    for fields in [
        vec![("has", "phase")],
        vec![("phase.99999999999.kind", "gain")],
        vec![("has", "phase"), ("phase.7.kind", "gain"), ("phase.7.was", "900")],
        vec![
            ("has", "phase"),
            ("phase.0.was", "0"),
            ("phase.1.was", "0"),
            ("phase.0.kind", "hold"),
            ("phase.1.kind", "hold"),
        ],
        vec![("do", "take phase.5")],
        vec![("do", "add nothing")],
        vec![("do", "take ")],
        vec![("has", "hours"), ("hours.0.what", "a.b"), ("hours.0.hours", "24")],
        vec![("has", ""), ("", "x")],
        vec![("person", "x"), ("phase", "y")],
    ] {
        let answer = save(&s, &fields);
        assert!(
            [200, 303, 422].contains(&answer.status),
            "{fields:?}: {}",
            answer.status
        );
        assert_eq!(s.get("/b/a/brief").status, 200, "{fields:?}");
    }
}

#[test]
fn the_text_itself_can_be_edited_with_the_same_checks() {
    let s = serve(&[("a", DAY)]);
    let seen = s.seen("/b/a/brief");
    let post = |text: &str, seen: &str| s.post("/b/a/brief/text", &[("seen", seen), ("text", text)]);
    let bad = DAY.replace("168 cm", "168").replace("days = 1", "days = 99");
    let answer = post(&bad.replace('\n', "\r\n"), &seen);
    assert_eq!(answer.status, 422);
    let told = part(&answer.body, "id=\"e-text\"", "</div>");
    assert!(
        told.contains("`height` needs its unit") || told.contains("`height` cannot be read"),
        "{told}"
    );
    assert!(
        told.contains("`days` must be 1 to 28") && told.contains("Line 4"),
        "{told}"
    );
    assert!(part(&answer.body, "<textarea", "</textarea>").contains("days = 99"));
    assert_eq!(s.file("a.toml"), DAY);
    let good = DAY.replace("days = 1", "days = 2");
    assert_eq!(post(&good.replace('\n', "\r\n"), &seen).status, 303);
    assert_eq!(s.file("a.toml"), good, "ends of lines stay");
    let late = post(DAY, &seen);
    assert_eq!(late.status, 409);
    assert_eq!(s.file("a.toml"), good);
    assert!(
        part(&late.body, "<textarea", "</textarea>").contains("days = 1\n"),
        "mine stays"
    );
}

#[test]
fn a_text_that_is_no_toml_is_shown_with_its_mistakes() {
    let s = serve(&[("a", "title = \"x\nregion = us\n")]);
    let answer = s.get("/b/a/brief");
    assert_eq!(answer.status, 200);
    assert!(answer.body.contains("this is not TOML"), "{}", answer.body);
    assert!(part(&answer.body, "<textarea", "</textarea>").contains("region = us"));
}

#[test]
fn a_new_brief_is_the_commented_starter() {
    let s = serve(&[]);
    assert_eq!(s.get("/new").status, 200);
    let fields = [
        ("name", "spring"),
        ("region", "north_india"),
        ("person.sex", "female"),
        ("person.age", "34"),
        ("person.height", "160 cm"),
        ("person.weight", "58 kg"),
        ("phase.0.kind", "hold"),
        ("phase.0.amount", ""),
        ("diet", "vegetarian"),
        ("budget", "1200 INR/week"),
    ];
    let answer = s.post("/new", &fields);
    assert_eq!(answer.status, 303, "{}", answer.body);
    assert_eq!(answer.header("location"), Some("/b/spring/brief"));
    let file = s.file("spring.toml");
    for word in [
        "region = \"north_india\"",
        "age = 34",
        "height = \"160 cm\"",
        "diet = [\"vegetarian\"]",
        "budget = \"1200 INR/week\"",
        "kind = \"hold\"",
        "# Lines after a # are comments.",
    ] {
        assert!(file.contains(word), "no {word} in {file}");
    }
    // Not over one that is there.
    let again = s.post("/new", &fields);
    assert_eq!(again.status, 422);
    assert!(part(&again.body, "id=\"e-name\"", "</div>").contains("already"));
    assert_eq!(s.file("spring.toml"), file);
}

#[test]
fn mistakes_of_a_new_brief_stand_beside_its_fields() {
    let s = serve(&[]);
    let answer = s.post(
        "/new",
        &[
            ("name", "../out"),
            ("region", ""),
            ("person.sex", "female"),
            ("person.age", "old"),
            ("person.height", "tall"),
            ("person.weight", "58 kg"),
            ("phase.0.kind", "gain"),
            ("phase.0.amount", "a lot"),
        ],
    );
    assert_eq!(answer.status, 422);
    for (place, message) in [
        ("name", "cannot be the name"),
        ("region", "lacks `region`"),
        ("person-age", "whole number"),
        ("person-height", "cannot be read"),
        ("phase-0-amount", "cannot be read"),
    ] {
        let told = part(&answer.body, &format!("id=\"e-{place}\""), "</div>");
        assert!(told.contains(message), "{place}: {told}");
    }
    assert!(part(&answer.body, "id=\"f-person-height\"", ">").contains("value=\"tall\""));
    assert!(part(&answer.body, "id=\"f-person-weight\"", ">").contains("value=\"58 kg\""));
    assert_eq!(std::fs::read_dir(s.folder.path()).unwrap().count(), 0);
}
