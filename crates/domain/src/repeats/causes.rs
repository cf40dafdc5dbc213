//! Causes that stand out: what is found in one kitchen more often than in the others.

use super::RepeatsError;
use super::listing::{MOST_FALSE, benjamini_hochberg};
use crate::measures::{MeasureError, fisher};
use crate::text::Key;

/// How often a cause was found, here and in all other kitchens together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CauseCount {
    pub cause: Key,
    pub here: u32,
    pub elsewhere: u32,
}

/// A cause beside the other kitchens'.
#[derive(Debug, Clone, PartialEq)]
pub struct CauseStanding {
    pub count: CauseCount,
    /// Faults of which a cause is known, here and elsewhere.
    pub of_here: u32,
    pub of_elsewhere: u32,
    /// How unlikely a difference so large or larger is by chance (Fisher's exact test); none without other kitchens.
    pub chance: Option<f64>,
    /// The smallest rate of false discoveries at which it would be one, among the kitchen's causes.
    pub q: Option<f64>,
    /// Found twice or more, in a larger share than elsewhere, and no more doubtful than the list of kitchens allows.
    pub stands_out: bool,
}

/// Each cause of one kitchen, the surest first.
///
/// Exact odds against the fleet, and the list's own limit of false entries ([`MOST_FALSE`]) for their q.
pub fn causes_beside(counts: &[CauseCount]) -> Result<Vec<CauseStanding>, CauseError> {
    let sum = |of: &dyn Fn(&CauseCount) -> u32| {
        counts.iter().fold(0_u32, |sum, count| sum.saturating_add(of(count)))
    };
    let (of_here, of_elsewhere) = (sum(&|count| count.here), sum(&|count| count.elsewhere));
    let found = counts.iter().filter(|count| count.here > 0);
    let tests = found
        .clone()
        .map(|count| fisher((count.here, of_here), (count.elsewhere, of_elsewhere)))
        .collect::<Result<Vec<_>, _>>()?;
    let chances: Vec<f64> = tests.iter().copied().flatten().collect();
    let mut adjusted = benjamini_hochberg(&chances)?.into_iter();
    let share = |part: u32, of: u32| if of == 0 { 0.0 } else { f64::from(part) / f64::from(of) };
    let standing = |(count, chance): (&CauseCount, Option<f64>)| {
        let q = chance.and_then(|_| adjusted.next());
        let is_more = share(count.here, of_here) > share(count.elsewhere, of_elsewhere);
        CauseStanding {
            count: count.clone(),
            of_here,
            of_elsewhere,
            chance,
            q,
            stands_out: count.here >= 2 && is_more && q.is_some_and(|q| q <= MOST_FALSE),
        }
    };
    let mut standings: Vec<CauseStanding> = found.zip(tests).map(standing).collect();
    standings.sort_by(|one, other| {
        let doubt = |standing: &CauseStanding| standing.q.unwrap_or(1.0);
        doubt(one).total_cmp(&doubt(other)).then(other.count.here.cmp(&one.count.here))
    });
    Ok(standings)
}

/// Why causes cannot be compared.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CauseError {
    #[error(transparent)]
    Measure(#[from] MeasureError),
    #[error(transparent)]
    Repeats(#[from] RepeatsError),
}

#[cfg(test)]
mod tests {
    use super::*;

    fn count(cause: &str, here: u32, elsewhere: u32) -> CauseCount {
        CauseCount { cause: Key::new(cause).unwrap(), here, elsewhere }
    }

    /// Chance of each 2 × 2 table computed with scipy 1.17.1 (stats.fisher_exact): [4, 1, 11, 89] and [1, 4, 89, 11].
    #[test]
    fn a_cause_of_four_in_five_stands_out_and_a_usual_one_does_not() {
        let standings = causes_beside(&[count("wear", 1, 89), count("pipe_debris", 4, 11)]).unwrap();
        assert_eq!(standings[0].count.cause.as_str(), "pipe_debris");
        let chance = standings[0].chance.unwrap();
        assert!((chance - 0.0013033570632905664).abs() < 1e-9, "{chance}");
        assert_eq!((standings[0].stands_out, standings[1].stands_out), (true, false), "{standings:?}");
        assert_eq!((standings[0].of_here, standings[0].of_elsewhere), (5, 100));
    }

    #[test]
    fn one_finding_and_a_lone_kitchen_say_nothing() {
        let once = causes_beside(&[count("vermin", 1, 0), count("wear", 0, 500)]).unwrap();
        assert!(!once[0].stands_out && once[0].chance.is_some_and(|chance| chance < 0.01));
        let alone = causes_beside(&[count("wear", 7, 0)]).unwrap();
        assert_eq!((alone[0].chance, alone[0].q, alone[0].stands_out), (None, None, false));
        assert_eq!(causes_beside(&[]).unwrap(), []);
    }
}
