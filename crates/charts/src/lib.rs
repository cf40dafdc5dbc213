//! Charts as SVG: for a page, in the page's colours, and as a file of its own.
//!
//! A chart never stands alone: it has a title and a description for whoever does not see it, and a table of its values
//! beside it. Series differ by dash as well as by colour, so that they are told apart in black and white. There is neither
//! style nor script in it, as the pages' policy asks.

mod columns;
mod intervals;
mod picture;
mod steps;
mod survival;

pub use columns::columns;
pub use intervals::{Interval, MOST_INTERVALS, intervals};
pub use picture::Picture;
pub use steps::{Step, Steps, steps};
pub use survival::{Lives, survival};

/// What a chart says in words.
#[derive(Debug, Clone)]
pub struct Words {
    /// Of this chart alone on its page: names what is inside it.
    pub id: &'static str,
    pub title: String,
    /// What there is to be seen.
    pub description: String,
}

/// One axis: what it shows, from where to where, and how its numbers are written.
#[derive(Debug, Clone)]
pub struct Axis {
    pub label: String,
    pub from: f64,
    pub to: f64,
    pub written: fn(f64) -> String,
}
