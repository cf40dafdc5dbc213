//! What a group of parts says beside the others.

use super::study::Study;

/// Whether the parts of a group live as long as those of the other groups.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AgainstOthers {
    /// Too few lives or failures for the test to hold.
    TooFew,
    /// No difference beyond chance.
    Alike,
    Shorter,
    Longer,
}

/// Fewer lives are too few to compare.
const LEAST_LIVES: u32 = 10;
/// With fewer failures expected on one side, χ² does not hold (Cochran, 1954: five to a cell; from memory).
const LEAST_EXPECTED: f64 = 5.0;
/// One test in twenty finds a difference where there is none.
const CHANCE: f64 = 0.05;

impl Study {
    /// What the log-rank test against all other groups says when `tests` groups are so tested at once: each is held to so much
    /// more (Bonferroni), so that one study in twenty at most finds a difference where there is none. Of two groups each is the
    /// other's other: one test, told twice.
    pub fn beside_others(&self, tests: usize) -> AgainstOthers {
        let Some(test) = self.against_others else { return AgainstOthers::TooFew };
        let expected_of_others = f64::from(test.failures) - test.expected;
        if self.n < LEAST_LIVES || test.expected.min(expected_of_others) < LEAST_EXPECTED {
            return AgainstOthers::TooFew;
        }
        let tests = if tests == 2 { 1 } else { tests };
        if test.p * tests as f64 >= CHANCE {
            AgainstOthers::Alike
        } else if f64::from(test.observed) > test.expected {
            AgainstOthers::Shorter
        } else {
            AgainstOthers::Longer
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Life;
    use super::super::study::study;
    use super::*;

    /// So many parts, each failed a day after the other from this day on.
    fn failed(n: u32, from: u32) -> Vec<Life> {
        (0..n).map(|day| Life { entry: 0.0, exit: f64::from(from + day), failed: true }).collect()
    }

    fn says(groups: &[Vec<Life>]) -> Vec<AgainstOthers> {
        let studies = study(groups, 0.95, None).unwrap();
        studies.iter().flatten().map(|study| study.beside_others(groups.len())).collect()
    }

    #[test]
    fn a_difference_is_told_where_it_is_large_and_the_groups_are() {
        use AgainstOthers::{Alike, Longer, Shorter, TooFew};
        assert_eq!(says(&[failed(30, 10), failed(30, 100)]), [Shorter, Longer]);
        assert_eq!(says(&[failed(30, 10), failed(30, 10)]), [Alike, Alike]);
        assert_eq!(says(&[failed(9, 10), failed(60, 200)])[0], TooFew);
        // Many lives of which few failed say as little.
        let works = |n: u32| (0..n).map(|_| Life { entry: 0.0, exit: 50.0, failed: false });
        let few: Vec<Life> = failed(4, 10).into_iter().chain(works(40)).collect();
        assert_eq!(says(&[few.clone(), few]), [TooFew, TooFew]);
        assert_eq!(says(&[failed(30, 10)]), [TooFew]);
    }

    /// The same difference, just beyond chance for one test, is none among five.
    #[test]
    fn several_tests_at_once_are_each_held_to_more() {
        let groups = [failed(30, 10), failed(30, 15)];
        let studies = study(&groups, 0.95, None).unwrap();
        let first = studies[0].as_ref().unwrap();
        let p = first.against_others.unwrap().p;
        assert!((0.01..0.05).contains(&p), "{p}");
        assert_eq!(first.beside_others(1), AgainstOthers::Shorter);
        assert_eq!(first.beside_others(5), AgainstOthers::Alike);
    }
}
