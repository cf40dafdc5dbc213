//! The one sign: whatever has a limit is drawn alike, so that a column of scales is read downwards.
//!
//! Fixed stops: what is healthy between one and two thirds, limits as posts at one and five sixths, the ends four times beyond;
//! between them logarithmic, or linear where the quantity is graded so. Past the end stands an arrow. Shape and word carry the
//! verdict, colour only supports.

use askama::Template;
use domain::equipment::Bounds;
use domain::evidence::Censored;
use domain::quantity::Scale as Spacing;

/// Where things stand, in the units of the picture.
const WIDTH: f64 = 240.0;
/// Room for an arrow at either end.
const MARGIN: f64 = 10.0;

/// A scale, ready to be drawn.
#[derive(Debug, Clone, Template)]
#[template(path = "parts/scale.html")]
pub(crate) struct Scale {
    /// What it says, for whoever does not see it.
    pub label: String,
    /// Of the reading's verdict, for its colour.
    pub tone: Tone,
    /// Where the healthy interval begins, and how wide it is.
    healthy: Option<(String, String)>,
    posts: Vec<String>,
    read: Option<Mark>,
    last_healthy: Option<String>,
}

/// Its template escapes what it is given, so it stands in others as it is.
impl askama::filters::HtmlSafe for Scale {}

/// Whether what is drawn is in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tone {
    Good,
    Doubtful,
    Bad,
    Plain,
}

impl Tone {
    pub const fn class(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Doubtful => "doubtful",
            Self::Bad => "bad",
            Self::Plain => "plain",
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
struct Mark {
    at: String,
    from: String,
    to: String,
    beyond: Option<Side>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Left,
    Right,
}

/// A reading beside what it is held against, all in one unit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reading {
    pub value: f64,
    /// Twice the standard uncertainty.
    pub spread: f64,
    pub censored: Option<Censored>,
    pub healthy: Bounds,
    pub limit: Bounds,
    pub last_healthy: Option<f64>,
    pub spacing: Spacing,
}

impl Scale {
    /// None where there is nothing to hold the reading against.
    pub fn of_reading(reading: &Reading, tone: Tone, label: String) -> Option<Self> {
        let stops = Stops::of_bounds(reading.healthy, reading.limit, reading.spacing)?;
        let (low, high) = match reading.censored {
            None => (reading.value - reading.spread, reading.value + reading.spread),
            Some(Censored::AtLeast) => (reading.value, f64::INFINITY),
            Some(Censored::AtMost) => (f64::NEG_INFINITY, reading.value),
        };
        Some(stops.draw(reading.value, (low, high), reading.last_healthy, tone, label))
    }

    /// How much of something with a limit is spent: minutes of a promise, money. None without a limit.
    pub fn of_spent(spent: f64, limit: f64, tone: Tone, label: String) -> Option<Self> {
        if !(limit > 0.0 && spent.is_finite()) {
            return None;
        }
        let stops = Stops {
            places: vec![(0.0, 0.0), (0.75 * limit, 2.0 / 3.0), (limit, 5.0 / 6.0), (4.0 * limit, 1.0)],
            healthy: Some((0.0, 2.0 / 3.0)),
            posts: vec![5.0 / 6.0],
            spacing: Spacing::Linear,
        };
        Some(stops.draw(spent, (spent, spent), None, tone, label))
    }
}

/// Values with their places between 0 and 1, rising.
struct Stops {
    places: Vec<(f64, f64)>,
    healthy: Option<(f64, f64)>,
    posts: Vec<f64>,
    spacing: Spacing,
}

impl Stops {
    fn of_bounds(healthy: Bounds, limit: Bounds, spacing: Spacing) -> Option<Self> {
        if healthy.is_open() && limit.is_open() {
            return None;
        }
        // A limit that equals the edge of what is healthy stands on the edge.
        let place = |limit: Option<f64>, edge: Option<f64>, apart: f64, at_edge: f64| {
            limit.map(|limit| (limit, if edge == Some(limit) { at_edge } else { apart }))
        };
        let lower = place(limit.lower, healthy.lower, 1.0 / 6.0, 1.0 / 3.0);
        let upper = place(limit.upper, healthy.upper, 5.0 / 6.0, 2.0 / 3.0);
        let edges = (healthy.lower.map(|low| (low, 1.0 / 3.0)), healthy.upper.map(|high| (high, 2.0 / 3.0)));
        let mut stops: Vec<(f64, f64)> = [lower, edges.0, edges.1, upper].into_iter().flatten().collect();
        stops.sort_by(|a, b| a.1.total_cmp(&b.1));
        stops.dedup_by(|a, b| a.0.total_cmp(&b.0).is_eq());
        if stops.windows(2).any(|pair| pair[0].0 >= pair[1].0) {
            return None;
        }
        let (first, last) = (stops.first()?.0, stops.last()?.0);
        let spacing = if first > 0.0 { spacing } else { Spacing::Linear };
        let (below, above) = match spacing {
            Spacing::Logarithmic => (first / 4.0, last * 4.0),
            Spacing::Linear => {
                let width = if last > first { last - first } else { (first.abs() / 2.0).max(1.0) };
                (first - 4.0 * width, last + 4.0 * width)
            }
        };
        stops.insert(0, (below, 0.0));
        stops.push((above, 1.0));
        let healthy = (!healthy.is_open())
            .then_some((edges.0.map_or(0.0, |edge| edge.1), edges.1.map_or(1.0, |edge| edge.1)));
        Some(Self {
            places: stops,
            healthy,
            posts: [lower, upper].into_iter().flatten().map(|post| post.1).collect(),
            spacing,
        })
    }

    /// Between 0 and 1, or beyond an end.
    fn place(&self, value: f64) -> Result<f64, Side> {
        let scaled = |value: f64| match self.spacing {
            Spacing::Logarithmic => value.max(f64::MIN_POSITIVE).ln(),
            Spacing::Linear => value,
        };
        let (Some(first), Some(last)) = (self.places.first(), self.places.last()) else {
            return Err(Side::Right);
        };
        if value < first.0 {
            return Err(Side::Left);
        }
        if value > last.0 {
            return Err(Side::Right);
        }
        let between = self.places.windows(2).find(|pair| value <= pair[1].0);
        between.map_or(Ok(1.0), |pair| {
            let (from, to) = (scaled(pair[0].0), scaled(pair[1].0));
            Ok(pair[0].1 + (pair[1].1 - pair[0].1) * (scaled(value) - from) / (to - from))
        })
    }

    fn draw(
        &self,
        value: f64,
        (low, high): (f64, f64),
        last_healthy: Option<f64>,
        tone: Tone,
        label: String,
    ) -> Scale {
        let place = |value: f64| match self.place(value) {
            Ok(place) => place,
            Err(Side::Left) => 0.0,
            Err(Side::Right) => 1.0,
        };
        Scale {
            label,
            tone,
            healthy: self.healthy.map(|(from, to)| (x(from), figure((to - from) * (WIDTH - 2.0 * MARGIN)))),
            posts: self.posts.iter().map(|post| x(*post)).collect(),
            read: Some(Mark {
                at: x(place(value)),
                from: x(place(low)),
                to: x(place(high)),
                beyond: self.place(value).err(),
            }),
            last_healthy: last_healthy.and_then(|last| self.place(last).ok()).map(x),
        }
    }
}

fn x(place: f64) -> String {
    figure(MARGIN + place * (WIDTH - 2.0 * MARGIN))
}

fn figure(value: f64) -> String {
    format!("{value:.1}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(value: f64, healthy: Bounds, limit: Bounds) -> Reading {
        let spacing = Spacing::Logarithmic;
        Reading { value, spread: 0.0, censored: None, healthy, limit, last_healthy: None, spacing }
    }

    fn place(value: f64, healthy: Bounds, limit: Bounds) -> Result<f64, Side> {
        Stops::of_bounds(healthy, limit, Spacing::Logarithmic).unwrap().place(value)
    }

    #[test]
    fn the_stops_are_where_every_scale_has_them() {
        let (healthy, limit) = (Bounds::between(60.0, 80.0), Bounds::between(40.0, 95.0));
        for (value, wanted) in [
            (10.0, 0.0),
            (40.0, 1.0 / 6.0),
            (60.0, 1.0 / 3.0),
            (80.0, 2.0 / 3.0),
            (95.0, 5.0 / 6.0),
            (380.0, 1.0),
            // the middle on a logarithmic scale is the geometric mean
            ((60.0_f64 * 80.0).sqrt(), 0.5),
            (95.0 * 2.0, 5.0 / 6.0 + 1.0 / 12.0),
        ] {
            let found = place(value, healthy, limit).unwrap();
            assert!((found - wanted).abs() < 1e-9, "{value}: {found}, {wanted}");
        }
        assert_eq!(place(9.9, healthy, limit), Err(Side::Left));
        assert_eq!(place(381.0, healthy, limit), Err(Side::Right));
    }

    #[test]
    fn a_limit_on_the_edge_stands_on_the_edge_and_one_side_is_enough() {
        let on_edge =
            Stops::of_bounds(Bounds::between(10.0, 20.0), Bounds::at_most(20.0), Spacing::Logarithmic)
                .unwrap();
        assert_eq!(on_edge.posts, [2.0 / 3.0]);
        let alone =
            Stops::of_bounds(Bounds::default(), Bounds::at_least(12.0), Spacing::Logarithmic).unwrap();
        assert_eq!((alone.posts.as_slice(), alone.healthy), ([1.0 / 6.0].as_slice(), None));
        assert!((alone.place(12.0).unwrap() - 1.0 / 6.0).abs() < 1e-12);
        assert!(Stops::of_bounds(Bounds::default(), Bounds::default(), Spacing::Linear).is_none());
        // Nonsense on record is not drawn: a healthy interval beyond the limit.
        assert!(
            Stops::of_bounds(Bounds::between(30.0, 40.0), Bounds::at_most(20.0), Spacing::Linear).is_none()
        );
    }

    #[test]
    fn zero_and_less_are_placed_on_a_linear_scale() {
        let stops =
            Stops::of_bounds(Bounds::between(-5.0, 5.0), Bounds::default(), Spacing::Logarithmic).unwrap();
        assert!((stops.place(0.0).unwrap() - 0.5).abs() < 1e-12);
        let residue = reading(0.0, Bounds::default(), Bounds::at_most(2.0));
        let drawn = Scale::of_reading(&residue, Tone::Good, "0 mm".to_owned()).unwrap();
        assert_eq!(drawn.read.unwrap().beyond, Some(Side::Left), "nothing lies beyond every logarithm");
    }

    #[test]
    fn what_is_drawn_is_one_picture_without_style_and_says_what_it_shows() {
        let mut read = reading(148.0, Bounds::between(60.0, 80.0), Bounds::at_most(95.0));
        (read.spread, read.last_healthy) = (6.0, Some(71.0));
        let html = Scale::of_reading(&read, Tone::Bad, "148 s <fails>".to_owned()).unwrap().render().unwrap();
        assert!(!html.contains("style=") && !html.contains("<fails>"), "{html}");
        for part in [
            "role=\"img\"",
            "class=\"scale bad\"",
            "class=\"healthy\"",
            "class=\"post\"",
            "class=\"read\"",
            "class=\"last\"",
        ] {
            assert!(html.contains(part), "{part}: {html}");
        }
        let beyond = reading(4000.0, Bounds::between(60.0, 80.0), Bounds::at_most(95.0));
        let html = Scale::of_reading(&beyond, Tone::Bad, String::new()).unwrap().render().unwrap();
        assert!(html.contains("class=\"beyond\""), "{html}");
    }

    #[test]
    fn a_promise_is_spent_from_the_left_and_breaks_at_its_post() {
        let at =
            |spent: f64| Scale::of_spent(spent, 240.0, Tone::Plain, String::new()).unwrap().read.unwrap().at;
        assert_eq!(at(0.0), x(0.0));
        assert_eq!(at(240.0), x(5.0 / 6.0));
        assert_eq!(at(960.0), x(1.0));
        assert!(Scale::of_spent(1.0, 0.0, Tone::Plain, String::new()).is_none());
    }
}
