//! From which day to which, as typed.

use application::repeats::Window;
use chrono::NaiveDate;
use domain::time::Timestamp;

use crate::fields::Fields;

/// Both ends as they stand in their fields.
#[derive(Debug, Clone)]
pub(crate) struct TypedDays {
    pub from: String,
    pub to: String,
}

impl TypedDays {
    pub fn of(asked: &Fields) -> Self {
        Self { from: asked.raw("from").to_owned(), to: asked.raw("to").to_owned() }
    }

    /// As they were understood.
    pub fn taken(window: Window) -> Self {
        Self { from: window.first.to_string(), to: window.last.to_string() }
    }
}

/// The days, or what is wrong with them.
pub(crate) fn window(typed: &TypedDays, now: Timestamp) -> Result<Window, String> {
    let day = |text: &str| match text.trim() {
        "" => Ok(None),
        text => text.parse::<NaiveDate>().map(Some).map_err(|_| wording::say("repeats-fault-day")),
    };
    Window::of(day(&typed.from)?, day(&typed.to)?, now).map_err(|fault| {
        let variables = [("fault", fault.to_string().into())];
        match fault.is_of() {
            "to" => wording::say_with("repeats-fault-to", &variables),
            _ => wording::say_with("repeats-fault-from", &variables),
        }
    })
}
