//! The lists for the other machines of a house, only where that is asked for: a second listener that knows nothing but
//! the lists of the briefs and their ticks, each under a key that nobody guesses.

use super::{Asked, Said, again, sight, ticked};
use crate::page::door;
use crate::page::folder::{Refusal, Shared};
use crate::page::frame::{EDITION, SETTINGS, asset};
use axum::Router;
use axum::extract::{Form, Path, Query, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::get;
use maud::{DOCTYPE, Markup, html};
use std::io;
use std::net::{IpAddr, SocketAddr, UdpSocket};
use std::sync::Arc;
use tokio::net::TcpListener;

/// A brief and the key of its lists.
#[derive(Clone, Debug)]
struct Door {
    name: String,
    key: String,
}

/// The briefs whose lists are open to the house.
#[derive(Clone, Debug)]
pub struct House {
    folder: Shared,
    doors: Arc<Vec<Door>>,
    listening: SocketAddr,
}

/// 128 bits of the operating system, in hexadecimal.
fn key() -> io::Result<String> {
    let mut bytes = [0_u8; 16];
    getrandom::fill(&mut bytes).map_err(|e| io::Error::other(format!("no random key to be had: {e}")))?;
    Ok(bytes.iter().map(|b| format!("{b:02x}")).collect())
}

/// Whether two keys are the same, in a time that does not tell how far they are.
fn same(a: &str, b: &str) -> bool {
    a.len() == b.len() && a.bytes().zip(b.bytes()).fold(0, |all, (x, y)| all | (x ^ y)) == 0
}

/// An address of this machine by which others reach it, for a listener on all of them: the one that a packet to
/// elsewhere would leave by. Nothing is sent; the far addresses are those of documents (RFC 5737, RFC 3849).
fn reachable(listening: SocketAddr) -> SocketAddr {
    if !listening.ip().is_unspecified() {
        return listening;
    }
    let way = |from: &str, to: &str| -> Option<IpAddr> {
        let socket = UdpSocket::bind(from).ok()?;
        socket.connect(to).ok()?;
        Some(socket.local_addr().ok()?.ip()).filter(|ip| !ip.is_unspecified())
    };
    let four = || way("0.0.0.0:0", "192.0.2.1:9");
    let six = || way("[::]:0", "[2001:db8::1]:9");
    let ip = if listening.is_ipv4() {
        four()
    } else {
        four().or_else(six)
    };
    SocketAddr::new(ip.unwrap_or(listening.ip()), listening.port())
}

impl House {
    /// Opens a listener for the lists of the briefs that the folder has now, each under a new key.
    ///
    /// # Errors
    /// An address that is not this machine's, a port that is taken, and a folder that cannot be read.
    pub async fn open(folder: Shared, on: SocketAddr) -> io::Result<(House, TcpListener)> {
        let listener = TcpListener::bind(on).await.map_err(|e| {
            io::Error::other(format!(
                "--lists-on {on}: cannot be opened: {e}; name an address of this machine and a free port, or 0.0.0.0 \
                 for all of its addresses"
            ))
        })?;
        let names = folder
            .names()
            .map_err(|_| io::Error::other("the folder of briefs cannot be listed"))?;
        let doors: io::Result<Vec<Door>> = names
            .into_iter()
            .map(|name| Ok(Door { name, key: key()? }))
            .collect();
        let house = House {
            folder,
            doors: Arc::new(doors?),
            listening: listener.local_addr()?,
        };
        Ok((house, listener))
    }

    /// Each brief with the whole address of its lists.
    pub fn addresses(&self) -> Vec<(String, String)> {
        let at = reachable(self.listening);
        let of = |d: &Door| (d.name.clone(), format!("http://{at}/{}", d.key));
        self.doors.iter().map(of).collect()
    }

    /// The name of the brief that a key opens.
    fn name(&self, key: &str) -> Result<String, Shut> {
        let mut open = self.doors.iter().filter(|d| same(&d.key, key));
        open.next().map(|d| d.name.clone()).ok_or(Shut)
    }

    /// Serves the lists.
    ///
    /// # Errors
    /// A listener that fails.
    pub async fn serve(self, listener: TcpListener) -> io::Result<()> {
        let rooms = Router::new()
            .route("/{key}", get(show))
            .route("/{key}/ticks", get(poll).post(tick))
            .route("/{key}/assets/{file}", get(own_asset))
            .fallback(|| async { Shut })
            .with_state(self);
        let service = door::guard_house(rooms).into_make_service_with_connect_info::<door::Own>();
        axum::serve(listener, service).await
    }
}

/// The answer to everything without a key; it says nothing of what there is.
struct Shut;

impl IntoResponse for Shut {
    fn into_response(self) -> Response {
        (StatusCode::NOT_FOUND, "Nothing is here.\n").into_response()
    }
}

/// A refusal without the ways of the page at home.
fn refused(refusal: Refusal) -> Response {
    let (status, words) = match refusal {
        Refusal::Wrong(what) => (StatusCode::BAD_REQUEST, format!("{what}.\n")),
        Refusal::Missing(_) => return Shut.into_response(),
        _ => (
            StatusCode::CONFLICT,
            "The brief cannot be read at the moment; see the page at home.\n".to_string(),
        ),
    };
    (status, words).into_response()
}

/// A page that leads nowhere but to itself.
fn page(title: &str, base: &str, main: &Markup) -> Html<String> {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="robots" content="noindex";
                meta name="htmx-config" content=(SETTINGS);
                title { (title) }
                link rel="icon" href="data:,";
                link rel="stylesheet" href={ (base) "/assets/page.css?" (*EDITION) };
                link rel="stylesheet" href={ (base) "/assets/lists.css?" (*EDITION) };
                script src={ (base) "/assets/htmx.js?" (*EDITION) } defer {}
                script src={ (base) "/assets/page.js?" (*EDITION) } defer {}
            }
            body.app.house {
                header.top { h1 { (title) } }
                main #main { (main) }
            }
        }
    };
    Html(page.into_string())
}

async fn show(State(house): State<House>, Path(key): Path<String>) -> Result<Response, Shut> {
    let name = house.name(&key)?;
    let base = format!("/{key}");
    let made = house.folder.ask(move |folder| -> Result<Html<String>, Refusal> {
        let sight = sight(folder, &name, None)?;
        let title = sight.sheet.title();
        let none = sight.week.as_ref().is_none_or(|w| w.plan.days.is_empty());
        let main = html! {
            @if none { p { "No week of meals is made yet. Whoever keeps the brief makes one on the page at home." } }
            @else if !sight.fresh() { p.fine { "The brief was changed since; these are the lists of the week made last." } }
            (sight.lists(&base, ""))
        };
        Ok(page(&title, &base, &main))
    });
    Ok(match made.await {
        Ok(Ok(html)) => html.into_response(),
        Ok(Err(refusal)) | Err(refusal) => refused(refusal),
    })
}

async fn poll(
    State(house): State<House>,
    Path(key): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Response, Shut> {
    let name = house.name(&key)?;
    let made = house
        .folder
        .ask(move |folder| again(folder, &name, &format!("/{key}"), &asked));
    Ok(made.await.and_then(|r| r).unwrap_or_else(refused))
}

async fn tick(
    State(house): State<House>,
    Path(key): Path<String>,
    Form(said): Form<Said>,
) -> Result<Response, Shut> {
    let name = house.name(&key)?;
    let made = house
        .folder
        .ask(move |folder| ticked(folder, &name, &format!("/{key}"), &said));
    Ok(made.await.and_then(|r| r).unwrap_or_else(refused))
}

async fn own_asset(
    State(house): State<House>,
    Path((key, file)): Path<(String, String)>,
) -> Result<Response, Shut> {
    house.name(&key)?;
    // The answer for a file that is not there would lead to the page at home.
    let found = asset(Path(file)).await;
    if found.status() == StatusCode::OK {
        Ok(found)
    } else {
        Err(Shut)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_long_and_never_the_same() {
        let (a, b) = (key().unwrap(), key().unwrap());
        assert_eq!(a.len(), 32);
        assert!(same(&a, &a) && !same(&a, &b) && !same(&a, &a[..31]) && !same(&a, ""));
    }
}
