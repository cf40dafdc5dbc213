//! Times as people read and write them: in the kitchen's zone, and as long ago.

use chrono::{Datelike, LocalResult, NaiveDate, NaiveDateTime, TimeDelta, TimeZone};
use chrono_tz::Tz;
use domain::time::Timestamp;

/// A kitchen's zone; UTC where its name is none that is known here.
pub(crate) fn zone(name: &str) -> Tz {
    name.parse().unwrap_or(Tz::UTC)
}

/// `14:05` today, else `Thu 3 Dec 14:05`, with the year if it is another.
pub(crate) fn clock(zone: Tz, at: Timestamp, now: Timestamp) -> String {
    let (at, now) = (at.instant().with_timezone(&zone), now.instant().with_timezone(&zone));
    let time = at.format("%H:%M").to_string();
    if at.date_naive() == now.date_naive() {
        return time;
    }
    let key = if at.year() == now.year() { "clock-this-year" } else { "clock-other-year" };
    dated(key, at.date_naive(), time)
}

/// `3 Dec`, with the year if it is another.
pub(crate) fn day(day: NaiveDate, now: Timestamp) -> String {
    let key = if day.year() == now.instant().year() { "day-this-year" } else { "day-other-year" };
    dated(key, day, String::new())
}

/// `Dec 2026`, above a column.
pub(crate) fn month(day: NaiveDate) -> String {
    dated("month-heading", day, String::new())
}

/// A day in the order in which the language puts its parts.
fn dated(key: &str, day: NaiveDate, time: String) -> String {
    let word = |list: &str, form: &str| {
        wording::term(list, &day.format(form).to_string().to_lowercase()).into_owned()
    };
    let variables = [
        ("weekday", word("weekday", "%a").into()),
        ("day", day.day().to_string().into()),
        ("month", word("month", "%b").into()),
        ("year", day.year().to_string().into()),
        ("time", time.into()),
    ];
    wording::say_with(key, &variables)
}

/// `40 min`, `5 h`, `2 d`: as coarse as it is long.
pub(crate) fn span(span: TimeDelta) -> String {
    let minutes = span.num_minutes().abs();
    match minutes {
        0..90 => wording::say_with("span-minutes", &[("count", minutes.into())]),
        90..2880 => wording::say_with("span-hours", &[("count", ((minutes + 30) / 60).into())]),
        _ => wording::say_with("span-days", &[("count", ((minutes + 720) / 1440).into())]),
    }
}

/// Since then.
pub(crate) fn since(at: Timestamp, now: Timestamp) -> String {
    span(now.instant() - at.instant())
}

/// As a field of a form holds it.
pub(crate) fn field(zone: Tz, at: Timestamp) -> String {
    at.instant().with_timezone(&zone).format("%Y-%m-%dT%H:%M").to_string()
}

/// What a field of a form says. An hour that comes twice, when clocks are set back, is the first of the two; one that is left out
/// when they are set on is none.
pub(crate) fn of_field(zone: Tz, text: &str) -> Option<Timestamp> {
    let local = NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M")
        .or_else(|_| NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M:%S"))
        .ok()?;
    match zone.from_local_datetime(&local) {
        LocalResult::Single(at) | LocalResult::Ambiguous(at, _) => Timestamp::new(at.to_utc()).ok(),
        LocalResult::None => None,
    }
}

/// When something happened that is told to the minute: in the last second of it that has passed, so that it comes after whatever
/// was noted in that minute before. A minute that is still to come stays what it is.
pub(crate) fn in_minute(minute: Timestamp, now: Timestamp) -> Timestamp {
    let last = Timestamp::new(minute.instant() + TimeDelta::seconds(59)).unwrap_or(minute);
    last.min(now).max(minute)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    #[test]
    fn times_are_told_in_the_kitchens_zone() {
        let now = at("2026-07-01T12:00:00Z");
        let lisbon = zone("Europe/Lisbon");
        assert_eq!(clock(lisbon, at("2026-07-01T07:05:00Z"), now), "08:05");
        assert_eq!(clock(lisbon, at("2026-12-03T07:05:00Z"), now), "Thu 3 Dec 07:05");
        assert_eq!(clock(lisbon, at("2025-12-03T07:05:00Z"), now), "3 Dec 2025 07:05");
        assert_eq!(clock(zone("Nowhere/At-all"), at("2026-07-01T07:05:00Z"), now), "07:05");
        assert_eq!(day(at("2026-12-03T07:05:00Z").instant().date_naive(), now), "Thu 3 Dec");
        wording::speaking_now(wording::Language::German, || {
            assert_eq!(clock(lisbon, at("2026-07-01T07:05:00Z"), now), "08:05");
            assert_eq!(clock(lisbon, at("2026-12-03T07:05:00Z"), now), "Do 3.12. 07:05");
            assert_eq!(clock(lisbon, at("2025-12-03T07:05:00Z"), now), "3.12.2025 07:05");
            assert_eq!(month(at("2026-12-03T07:05:00Z").instant().date_naive()), "12/2026");
        });
    }

    #[test]
    fn spans_are_as_coarse_as_they_are_long() {
        for (minutes, said) in
            [(0, "0 min"), (89, "89 min"), (-40, "40 min"), (300, "5 h"), (2879, "48 h"), (4320, "3 d")]
        {
            assert_eq!(span(TimeDelta::minutes(minutes)), said);
        }
    }

    #[test]
    fn a_field_is_read_as_it_is_written() {
        let lisbon = zone("Europe/Lisbon");
        let summer = at("2026-07-01T07:05:00Z");
        assert_eq!(of_field(lisbon, &field(lisbon, summer)), Some(summer));
        // Clocks there are set on at 01:00 on 29 March and back at 02:00 on 25 October 2026.
        assert_eq!(of_field(lisbon, "2026-03-29T01:30"), None);
        assert_eq!(of_field(lisbon, "2026-10-25T01:30"), Some(at("2026-10-25T00:30:00Z")));
        assert_eq!(of_field(lisbon, "tomorrow"), None);
    }

    #[test]
    fn what_happened_this_minute_comes_after_what_was_noted_in_it() {
        let minute = at("2026-04-22T09:15:00Z");
        assert_eq!(in_minute(minute, at("2026-04-22T09:15:20Z")), at("2026-04-22T09:15:20Z"));
        assert_eq!(in_minute(minute, at("2026-04-22T09:40:00Z")), at("2026-04-22T09:15:59Z"));
        assert_eq!(in_minute(minute, at("2026-04-22T08:00:00Z")), minute);
    }
}
