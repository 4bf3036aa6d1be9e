//! To be filled.

use super::folder::Shared;
use axum::Router;

/// Routes of this room.
pub fn routes() -> Router<Shared> {
    Router::new()
}
