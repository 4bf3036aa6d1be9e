//! The page in a real browser: what a client, a coach and a student do, from the first click to the print.
//!
//! Left out of a plain `cargo test`: chromium and its driver must be there. Every test fails on an error or a
//! warning in the console of the browser.
#![cfg(feature = "page")]

mod browser_client;
mod page_client;

use browser_client::Browser;
use page_client::{DAY, serve};

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
