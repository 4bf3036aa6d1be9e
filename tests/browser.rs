//! The page in a real browser: what a client, a coach and a student do, from the first click to the print.
//!
//! Left out of a plain `cargo test`: chromium and its driver must be there. Every test fails on an error or a
//! warning in the console of the browser.
#![cfg(feature = "page")]

mod browser_client;
mod page_client;

use browser_client::Browser;
use page_client::{DAY, serve};
use serde_json::json;

#[tokio::test]
#[ignore = "needs chromium and its driver"]
async fn the_list_plans_all_and_is_sound_on_every_screen() {
    let second = DAY.replace("One day", "Another day");
    let s = serve(&[("a", DAY), ("b", &second)]);
    let b = Browser::open(&s.host).await;
    b.go("/").await;
    b.click("#all button").await;
    b.until(
        "both planned",
        "return document.querySelectorAll('.standing.planned').length === 2",
    )
    .await;
    for (width, dark) in [(360, false), (360, true), (1280, false), (1280, true)] {
        b.screen(width, 900, dark).await;
        b.go("/").await;
        b.sound(&format!("list {width} {dark}")).await;
    }
    b.close().await;
}

#[tokio::test]
#[ignore = "needs chromium and its driver"]
async fn every_room_is_sound_on_every_screen() {
    let s = serve(&[("a", DAY)]);
    let b = Browser::open(&s.host).await;
    b.go("/b/a/week").await;
    b.sound("before the week is planned").await;
    b.click("#main button").await;
    b.until("a planned week", "return document.querySelector('#days')")
        .await;
    let mut faults = String::new();
    for (width, dark) in [(360, false), (360, true), (1280, false), (1280, true)] {
        b.screen(width, 900, dark).await;
        for room in ["brief", "week", "give-and-take", "months", "lists"] {
            b.go(&format!("/b/a/{room}")).await;
            // What is folded away is looked at too.
            b.run("for (const d of document.querySelectorAll('details')) d.open = true")
                .await;
            tokio::time::sleep(std::time::Duration::from_millis(700)).await;
            faults += &b.faults(&format!("{room} {width} {dark}")).await;
            b.quiet().await;
        }
        b.go("/new").await;
        faults += &b.faults(&format!("new {width} {dark}")).await;
    }
    assert!(faults.is_empty(), "{faults}");
    b.close().await;
}

#[tokio::test]
#[ignore = "needs chromium and its driver"]
async fn a_client_goes_from_the_form_to_the_week_to_the_shop() {
    let s = serve(&[]);
    let b = Browser::open(&s.host).await;
    b.go("/").await;
    b.click("a.main").await;
    for (field, text) in [
        ("#f-name", "mine"),
        ("#f-person-age", "30"),
        ("#f-person-height", "5 ft 6 in"),
        ("#f-person-weight", "134 lb"),
        ("#f-phase-0-amount", "300 kcal"),
        ("#f-budget", "70 USD/week"),
    ] {
        b.fill(field, text).await;
    }
    b.run("document.querySelector('#f-region').value = 'us'; document.querySelector('#f-phase-0-kind').value = 'gain'; document.querySelector('#f-person-sex').value = 'female'")
        .await;
    b.click("#form button.main").await;
    b.until(
        "the form of the new brief",
        "return location.pathname === '/b/mine/brief'",
    )
    .await;
    assert!(s.file("mine.toml").contains("5 ft 6 in"));
    b.go("/b/mine/week").await;
    b.click("#main button").await;
    b.until(
        "seven days",
        "return document.querySelectorAll('#days article').length === 7",
    )
    .await;
    b.click("nav.rooms a[href$='/lists']").await;
    b.until("the list", "return document.querySelector('#ticklist')")
        .await;
    b.click("#tick-0").await;
    let first = "return document.querySelector('#tick-0').checked";
    assert_eq!(b.run(first).await, json!(true));
    // The tick is kept by the server: another look at the page shows it.
    tokio::time::sleep(std::time::Duration::from_millis(500)).await;
    b.go("/b/mine/lists").await;
    assert_eq!(b.run(first).await, json!(true));
    b.close().await;
}

#[tokio::test]
#[ignore = "needs chromium and its driver"]
async fn a_locked_meal_stays_when_the_rest_is_planned_again_and_undo_takes_it_back() {
    let s = serve(&[("a", DAY)]);
    let b = Browser::open(&s.host).await;
    b.go("/b/a/week").await;
    b.click("#main button").await;
    b.until("a week", "return document.querySelector('#days')").await;
    let plate = "return document.querySelector('#d1-breakfast ul').innerText";
    let before = b.run(plate).await;
    b.click("#m-d1-breakfast").await;
    b.click("button[value='lock 1 breakfast']").await;
    b.until(
        "the lock",
        "return document.querySelector(\"button[value^='unlock 1 breakfast']\")",
    )
    .await;
    assert!(s.file("a.toml").contains("[[lock]]"));
    assert!(s.file("a.toml").contains("# slowly"), "comments stay");
    b.click("#again").await;
    b.until(
        "another week",
        "return document.querySelector('#said').innerText.trim() !== '' && !document.querySelector('.htmx-request')",
    )
    .await;
    let names = |v: &serde_json::Value| v.as_str().unwrap_or_default().replace(char::is_whitespace, "");
    assert!(names(&b.run(plate).await).contains(&names(&before)[..10]));
    let text = s.file("a.toml");
    b.go("/b/a/week").await;
    b.click("form[action$='/undo'] button").await;
    b.until(
        "the undo",
        "return document.querySelector('#said').innerText.trim() !== ''",
    )
    .await;
    assert_ne!(s.file("a.toml"), text);
    b.close().await;
}

#[tokio::test]
#[ignore = "needs chromium and its driver"]
async fn a_mistake_stands_beside_its_field_and_takes_the_focus_to_the_summary() {
    let s = serve(&[("a", DAY)]);
    let b = Browser::open(&s.host).await;
    b.go("/b/a/brief").await;
    b.fill("#f-phase-0-weeks", "400").await;
    b.click("#form button.main").await;
    b.until(
        "the mistake",
        "return document.querySelector('#f-phase-0-weeks').getAttribute('aria-invalid') === 'true'",
    )
    .await;
    let said = b
        .run("return document.querySelector('#e-phase-0-weeks').innerText")
        .await;
    assert!(said.as_str().unwrap().contains("104"), "{said}");
    assert_eq!(
        b.run("return document.querySelector('#f-phase-0-weeks').value")
            .await,
        json!("400")
    );
    assert!(s.file("a.toml").contains("weeks = 8"), "nothing is written");
    b.refused(422).await;
    b.close().await;
}

#[tokio::test]
#[ignore = "needs chromium and its driver"]
async fn groups_that_were_open_stay_open_when_a_row_is_added() {
    let s = serve(&[("a", DAY)]);
    let b = Browser::open(&s.host).await;
    b.go("/b/a/brief").await;
    let open = "return document.querySelectorAll('details.group[open]').length";
    b.run("for (const group of document.querySelectorAll('details.group')) group.open = true")
        .await;
    let all = b.run(open).await;
    assert!(all.as_u64().unwrap() > 3, "{all}");
    // The bar with the buttons may lie over it.
    b.run("document.querySelector('#add-target').click()").await;
    b.until("the row", "return document.querySelector('#f-target-0')")
        .await;
    assert_eq!(b.run(open).await, all);
    b.close().await;
}

#[tokio::test]
#[ignore = "needs chromium and its driver"]
async fn a_handle_is_dragged_and_the_price_moves() {
    let s = serve(&[("a", DAY)]);
    let b = Browser::open(&s.host).await;
    b.go("/b/a/give-and-take").await;
    let handle = "h-protein-day-floor-r";
    b.until(
        "the first answer",
        &format!("const h = document.getElementById('{handle}'); return !h.disabled && !h.hidden && /USD/.test(document.querySelector('#main').innerText)"),
    )
    .await;
    let before = b.text().await;
    let moves = format!(
        "const h = document.getElementById('{handle}'); h.value = h.max * 0.9; h.dispatchEvent(new Event('input', {{ bubbles: true }})); return true"
    );
    b.run(&moves).await;
    tokio::time::sleep(std::time::Duration::from_millis(1500)).await;
    assert_ne!(b.text().await, before, "the answer follows the handle");
    b.click("#plan").await;
    b.until("the override", "return location.hash === '#planned'")
        .await;
    assert!(s.file("a.toml").contains("[[target]]"));
    b.close().await;
}

#[tokio::test]
#[ignore = "needs chromium and its driver"]
async fn two_tabs_on_one_brief_do_not_write_over_each_other() {
    let s = serve(&[("a", DAY)]);
    let b = Browser::open(&s.host).await;
    b.go("/b/a/brief").await;
    let first = b.page.window().await.unwrap();
    let second = b.page.new_window(true).await.unwrap();
    b.page.switch_to_window(second.handle).await.unwrap();
    b.go("/b/a/brief").await;
    b.fill("#f-phase-0-weeks", "10").await;
    b.click("#form button.main").await;
    b.until(
        "the saving",
        "return document.querySelector('#said').innerText.trim() !== ''",
    )
    .await;
    assert!(s.file("a.toml").contains("weeks = 10"));
    b.page.switch_to_window(first).await.unwrap();
    b.fill("#f-phase-0-weeks", "12").await;
    b.click("#form button.main").await;
    b.until("the warning", "return /changed/.test(document.body.innerText)")
        .await;
    assert!(
        s.file("a.toml").contains("weeks = 10"),
        "the other tab's text stands"
    );
    assert_eq!(
        b.run("return document.querySelector('#f-phase-0-weeks').value")
            .await,
        json!("12"),
        "what was typed is still there"
    );
    b.refused(409).await;
    b.close().await;
}

#[tokio::test]
#[ignore = "needs chromium and its driver"]
async fn a_week_is_planned_with_the_keyboard_alone() {
    let s = serve(&[("a", DAY)]);
    let b = Browser::open(&s.host).await;
    b.go("/").await;
    let press = |key: &'static str, text: &'static str| {
        let b = &b;
        async move {
            for kind in ["keyDown", "keyUp"] {
                let text = if kind == "keyDown" { text } else { "" };
                b.browser("Input.dispatchKeyEvent", json!({ "type": kind, "key": key, "code": key, "text": text, "windowsVirtualKeyCode": if key == "Tab" { 9 } else { 13 } }))
                    .await;
            }
        }
    };
    // To the brief's link, into it, then to the button that plans.
    let at = "const e = document.activeElement; return (e.getAttribute('href') || '') + ' ' + e.textContent";
    for step in ["/b/a/week", "Plan"] {
        let mut found = false;
        for _ in 0..40 {
            press("Tab", "").await;
            let here = b.run(at).await;
            if here
                .as_str()
                .is_some_and(|h| h.contains(step) && !h.contains("Give"))
            {
                let shown = b
                    .run("const s = getComputedStyle(document.activeElement); return s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2")
                    .await;
                assert_eq!(shown, json!(true), "the focus is seen on {here}");
                found = true;
                break;
            }
        }
        assert!(found, "{step} is reached by Tab");
        press("Enter", "\r").await;
        b.until(
            "the next page",
            "return location.pathname === '/b/a/week' && document.readyState === 'complete'",
        )
        .await;
    }
    b.until("a week", "return document.querySelector('#days')").await;
    b.close().await;
}

#[tokio::test]
#[ignore = "needs chromium and its driver"]
async fn the_week_prints_without_its_controls() {
    let s = serve(&[("a", DAY)]);
    let b = Browser::open(&s.host).await;
    b.go("/b/a/week").await;
    b.click("#main button").await;
    b.until("a week", "return document.querySelector('#days')").await;
    for room in ["week", "lists"] {
        b.go(&format!("/b/a/{room}")).await;
        b.browser("Emulation.setEmulatedMedia", json!({ "media": "print" }))
            .await;
        let shown = b
            .run("return [...document.querySelectorAll('button,nav,.button')].filter((e) => e.getClientRects().length).map((e) => e.outerHTML.slice(0, 80)).join(' | ')")
            .await;
        assert_eq!(shown, json!(""), "{room}");
        let pdf = b.browser("Page.printToPDF", json!({})).await;
        assert!(pdf["data"].as_str().is_some_and(|d| d.len() > 10_000));
        b.browser("Emulation.setEmulatedMedia", json!({ "media": "" }))
            .await;
    }
    b.close().await;
}

#[tokio::test]
#[ignore = "needs chromium and its driver"]
async fn fifty_tabs_that_plan_at_once_all_finish_and_pages_are_still_answered() {
    let names: Vec<String> = (0..50).map(|n| format!("b{n}")).collect();
    let briefs: Vec<(&str, &str)> = names.iter().map(|n| (n.as_str(), DAY)).collect();
    let s = serve(&briefs);
    std::thread::scope(|scope| {
        let (s, names) = (&s, &names);
        let hands: Vec<_> = names
            .iter()
            .map(|n| {
                scope.spawn(move || {
                    let seen = s.seen(&format!("/b/{n}/week"));
                    s.post(&format!("/b/{n}/week/plan"), &[("seen", &seen)]).status
                })
            })
            .collect();
        // Meanwhile the list is answered at once.
        std::thread::sleep(std::time::Duration::from_millis(300));
        let begun = std::time::Instant::now();
        assert_eq!(s.get("/").status, 200);
        let took = begun.elapsed();
        for hand in hands {
            assert_eq!(hand.join().unwrap(), 303);
        }
        println!("the list took {took:?} while fifty weeks were made");
    });
    assert_eq!(s.get("/").body.matches("standing planned").count(), 50);
}
