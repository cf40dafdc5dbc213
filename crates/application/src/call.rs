//! Calls: taken with the orders that they open, answered with what the machine's past says.

mod answer;
mod create;
mod intake;
mod list;
mod read;

pub use answer::AnswerCall;
pub use create::TakeCall;
pub use intake::{EarlierOrders, Intake};
pub use list::ListCalls;
pub use read::ReadCall;
pub use store::call::{Answer as TriageAnswer, Call, NewAnswer, NewCall};
