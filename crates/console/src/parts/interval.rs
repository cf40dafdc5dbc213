//! A figure with its limits as a dot on a line: never as a bar, which says more than is known.

use askama::Template;

const WIDTH: f64 = 180.0;
const MARGIN: f64 = 6.0;

/// A dot between its limits on an axis from nothing to `most`, and where it was a year before.
#[derive(Debug, Clone, Template)]
#[template(path = "parts/interval.html")]
pub(crate) struct Interval {
    label: String,
    value: String,
    lower: String,
    upper: String,
    /// A limit that is not known runs off the axis.
    is_open: bool,
    before: Option<String>,
}

/// Its template escapes what it is given.
impl askama::filters::HtmlSafe for Interval {}

/// What is drawn; values of one kind.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Drawn {
    pub value: f64,
    pub lower: Option<f64>,
    pub upper: Option<f64>,
    pub before: Option<f64>,
    /// Where the axis ends, above zero.
    pub most: f64,
}

impl Interval {
    pub fn of(drawn: Drawn, label: String) -> Self {
        let place = |value: f64| {
            let share = if drawn.most > 0.0 { (value / drawn.most).clamp(0.0, 1.0) } else { 0.0 };
            format!("{:.1}", MARGIN + share * (WIDTH - 2.0 * MARGIN))
        };
        Self {
            label,
            value: place(drawn.value),
            lower: place(drawn.lower.unwrap_or(0.0)),
            upper: place(drawn.upper.unwrap_or(drawn.most)),
            is_open: drawn.lower.is_none() || drawn.upper.is_none(),
            before: drawn.before.map(place),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_beyond_the_axis_stays_on_it() {
        let drawn = Drawn { value: 3.0, lower: Some(1.0), upper: None, before: Some(0.0), most: 2.0 };
        let interval = Interval::of(drawn, String::new());
        assert_eq!((interval.value.as_str(), interval.lower.as_str()), ("174.0", "90.0"));
        assert_eq!((interval.upper.as_str(), interval.before.as_deref()), ("174.0", Some("6.0")));
        assert!(interval.is_open);
    }
}
