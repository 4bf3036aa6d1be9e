//! The local page: the same tool for people who use no terminal, over a folder of briefs.
//!
//! Routes and templates only; every figure comes from the library. The briefs in the folder stay the truth: what
//! the page changes it writes as TOML that the command line reads. Listens on this machine alone; only the lists can be
//! opened to others, on a listener of their own ([`lists::house`]).
//!
//! A room of the page is a file here with its own `routes`; [`folder`] holds what they share, [`door`] decides who
//! comes in, [`frame`] draws what stands around every room.

pub mod board;
pub mod door;
pub mod folder;
pub mod form;
pub mod frame;
pub mod lists;
pub mod months;
pub mod roster;
pub mod week;

use axum::Router;
use folder::{Folder, Shared};
use std::io;
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use tokio::net::TcpListener;

/// All rooms behind the door, for the addresses under which the page may be asked for.
pub fn router(shared: Shared, hosts: Vec<String>) -> Router {
    let rooms = Router::new()
        .merge(frame::routes())
        .merge(roster::routes())
        .merge(form::routes())
        .merge(week::routes())
        .merge(board::routes())
        .merge(months::routes())
        .merge(lists::routes())
        .fallback(frame::nothing_here)
        .with_state(shared);
    door::guard(rooms, hosts)
}

/// Opens the page over a folder on a port of this machine (0 takes a free one) and serves it until the process is
/// told to end. With `lists_on` the lists, and nothing else, are served on that address too. `announce` is called once
/// it listens: with the address, and with each brief and the address of its lists for the house.
///
/// # Errors
/// A folder that cannot be read, data that does not load, and a port that is taken.
pub fn serve(
    folder: &Path,
    port: u16,
    lists_on: Option<SocketAddr>,
    announce: impl FnOnce(SocketAddr, &[(String, String)]),
) -> io::Result<()> {
    let shared = Arc::new(Folder::open(folder)?);
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    runtime.block_on(async move {
        let listener = TcpListener::bind(("127.0.0.1", port)).await.map_err(|e| {
            io::Error::other(format!(
                "port {port} cannot be opened: {e}; name another with --port, or 0 for any"
            ))
        })?;
        let address = listener.local_addr()?;
        let mut doors = Vec::new();
        if let Some(on) = lists_on {
            let (house, listener) = lists::house::House::open(Arc::clone(&shared), on).await?;
            doors = house.addresses();
            tokio::spawn(house.serve(listener));
        }
        announce(address, &doors);
        axum::serve(listener, router(shared, door::hosts(address)))
            .with_graceful_shutdown(async {
                // Without a handler for it, the process just ends.
                let _ = tokio::signal::ctrl_c().await;
            })
            .await
    })
}
