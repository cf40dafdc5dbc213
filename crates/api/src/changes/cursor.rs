//! Where a reader of the feed stands, sealed.

use application::changes::{Place, Stand};
use domain::id::PersonId;
use serde::{Deserialize, Serialize};

use crate::problem::Problem;
use crate::state::ApiState;

/// A place, and whose orders bounded what was told up to it.
#[derive(Serialize, Deserialize)]
struct Cursor {
    place: Place,
    only_of: Option<PersonId>,
}

const FEED: &str = "changes";

/// The stand in a cursor that came in this parameter or header.
pub fn open(state: &ApiState, parameter: &str, cursor: &str) -> Result<Stand, Problem> {
    let Cursor { place, only_of } = state.cursor_key.open(&FEED, parameter, cursor)?;
    Ok(Stand { place, only_of })
}

pub fn seal(state: &ApiState, Stand { place, only_of }: Stand) -> Result<String, Problem> {
    state.cursor_key.seal(&FEED, &Cursor { place, only_of })
}
