//! Who comes in: the checks that keep other sites, other names for this machine and oversized posts out.

use axum::Router;
use axum::extract::connect_info::{ConnectInfo, Connected};
use axum::extract::{DefaultBodyLimit, Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::{Next, from_fn, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use axum::serve::IncomingStream;
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use tokio::net::TcpListener;

/// Largest body of a request, bytes: far above any brief or log.
pub const MOST_BYTES: usize = 1 << 20;

/// What a page may load and whom it may talk to: itself. No inline script or style, no frame.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
     connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

/// The names under which a page on this address may be asked for. A name that only resolves to this machine is none
/// of them, so that a site cannot reach the page by pointing its own name here.
pub fn hosts(address: SocketAddr) -> Vec<String> {
    let port = address.port();
    ["127.0.0.1", "localhost", "[::1]"]
        .map(|name| match port {
            // A browser leaves port 80 out.
            80 => name.to_string(),
            port => format!("{name}:{port}"),
        })
        .to_vec()
}

/// A router behind the door.
pub fn guard(rooms: Router, hosts: Vec<String>) -> Router {
    rooms
        .layer(DefaultBodyLimit::max(MOST_BYTES))
        .layer(from_fn_with_state(Arc::new(hosts), check))
}

/// The end of a connection that is on this machine, by which its listener was reached.
#[derive(Clone, Copy, Debug)]
pub struct Own(Option<SocketAddr>);

impl Connected<IncomingStream<'_, TcpListener>> for Own {
    fn connect_info(stream: IncomingStream<'_, TcpListener>) -> Own {
        Own(stream.io().local_addr().ok())
    }
}

impl Own {
    /// Whether a host is this end, by its number: no name is, so that a name that another site points here opens
    /// nothing.
    fn is(self, host: &str) -> bool {
        let bare = host.trim_start_matches('[').trim_end_matches(']');
        let named = host
            .parse::<SocketAddr>()
            // A browser leaves port 80 out.
            .or_else(|_| bare.parse::<IpAddr>().map(|ip| SocketAddr::new(ip, 80)));
        match (named, self.0) {
            (Ok(named), Some(own)) => {
                named.port() == own.port() && named.ip().to_canonical() == own.ip().to_canonical()
            }
            _ => false,
        }
    }
}

/// A router behind the door of a listener for other machines of the house, which is asked for by its number alone.
pub fn guard_house(rooms: Router) -> Router {
    rooms
        .layer(DefaultBodyLimit::max(MOST_BYTES))
        .layer(from_fn(check_house))
}

async fn check_house(ConnectInfo(own): ConnectInfo<Own>, request: Request, next: Next) -> Response {
    let refused = refusal(&request, |host| own.is(host));
    answer(refused, request, next).await
}

/// One header as text; `None` when it is missing, not text, or there is more than one.
fn one(headers: &HeaderMap, name: header::HeaderName) -> Option<&str> {
    let mut all = headers.get_all(name).iter();
    let first = all.next()?;
    if all.next().is_some() {
        return None;
    }
    first.to_str().ok()
}

/// Why a request stays outside.
fn refusal(request: &Request, known: impl Fn(&str) -> bool) -> Option<(StatusCode, &'static str)> {
    let headers = request.headers();
    let host = one(headers, header::HOST).filter(|h| known(h));
    let Some(host) = host else {
        return Some((
            StatusCode::MISDIRECTED_REQUEST,
            "this page answers only under its own address",
        ));
    };
    let length = headers.get(header::CONTENT_LENGTH);
    if length
        .and_then(|l| l.to_str().ok()?.parse::<usize>().ok())
        .is_some_and(|l| l > MOST_BYTES)
    {
        return Some((StatusCode::PAYLOAD_TOO_LARGE, "more than this page takes"));
    }
    let site = headers.get("sec-fetch-site").and_then(|s| s.to_str().ok());
    if *request.method() == Method::GET || *request.method() == Method::HEAD {
        let navigates = headers.get("sec-fetch-mode").is_none_or(|m| m == "navigate");
        return (matches!(site, Some("cross-site" | "same-site")) && !navigates)
            .then_some((StatusCode::FORBIDDEN, "another site may not load this"));
    }
    let own = one(headers, header::ORIGIN)
        .and_then(|o| o.strip_prefix("http://"))
        .is_some_and(|o| o == host);
    (!own || !matches!(site, None | Some("same-origin"))).then_some((
        StatusCode::FORBIDDEN,
        "only this page itself may change anything here",
    ))
}

async fn check(State(hosts): State<Arc<Vec<String>>>, request: Request, next: Next) -> Response {
    let refused = refusal(&request, |host| hosts.iter().any(|known| known == host));
    answer(refused, request, next).await
}

/// The answer, with what every one of them carries.
async fn answer(refused: Option<(StatusCode, &'static str)>, request: Request, next: Next) -> Response {
    let mut response = match refused {
        Some((status, why)) => (status, why).into_response(),
        None => next.run(request).await,
    };
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "same-origin"),
        (header::X_FRAME_OPTIONS, "DENY"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.insert(
        "cross-origin-opener-policy",
        HeaderValue::from_static("same-origin"),
    );
    headers.insert(
        "cross-origin-resource-policy",
        HeaderValue::from_static("same-origin"),
    );
    headers
        .entry(header::CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-store"));
    response
}
