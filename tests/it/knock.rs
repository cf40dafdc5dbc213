//! Hard knocks. Here a short part of each; `scripts/knock` does them at full length and prints a table.

mod full;
mod hostile;
mod kills;
mod overload;

use std::time::{Duration, Instant};

/// How often: as the variable says, or a few times.
fn times(variable: &str, few: usize) -> usize {
    std::env::var(variable)
        .map_or(few, |text| text.parse().unwrap_or_else(|_| panic!("{variable} is no number")))
}

/// The end of the time that there is for one of the tests: `KNOCK_MINUTES` from now, if it is said.
struct Patience(Option<Instant>);

impl Patience {
    fn begin() -> Self {
        let minutes = times("KNOCK_MINUTES", 0);
        Self((minutes > 0).then(|| Instant::now() + Duration::from_secs(60 * minutes as u64)))
    }

    fn has_run_out(&self) -> bool {
        self.0.is_some_and(|end| Instant::now() > end)
    }
}

/// A line of the table.
pub fn tell(what: &str, tried: usize, came: &str) {
    println!("knock\t{what}\t{tried}\t{came}");
}

/// A line of the report: what was tried beyond the bars.
pub fn tell_beyond(what: &str, tried: usize, came: &str) {
    println!("beyond\t{what}\t{tried}\t{came}");
}

/// Nobody is slowed down for asking often.
const UNBOUNDED: [(&str, &str); 2] = [
    ("OVENWRIGHT_REQUESTS_PER_MINUTE", "4294967295"),
    ("OVENWRIGHT_STRANGER_REQUESTS_PER_MINUTE", "4294967295"),
];
