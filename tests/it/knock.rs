//! Hard knocks. Here a short part of each; `scripts/knock` does them at full length and prints a table.

mod hostile;
mod kills;
mod overload;

/// How often: as the variable says, or a few times.
fn times(variable: &str, few: usize) -> usize {
    std::env::var(variable)
        .map_or(few, |text| text.parse().unwrap_or_else(|_| panic!("{variable} is no number")))
}

/// A line of the table.
fn tell(what: &str, tried: usize, came: &str) {
    println!("knock\t{what}\t{tried}\t{came}");
}

/// Nobody is slowed down for asking often.
const UNBOUNDED: [(&str, &str); 2] = [
    ("OVENWRIGHT_REQUESTS_PER_MINUTE", "4294967295"),
    ("OVENWRIGHT_STRANGER_REQUESTS_PER_MINUTE", "4294967295"),
];
