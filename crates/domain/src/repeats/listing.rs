//! Which cells to put on a list that people act on, without filling it with chance.

use super::RepeatsError;

/// The mean chance of a false entry at which a list ends.
pub const MOST_FALSE: f64 = 0.08;

/// Only cells that could show an excess are considered: those that expect this many failures or more.
/// Never by the number seen, which would choose the lucky and the unlucky.
pub const LEAST_EXPECTED: f64 = 1.0;

/// Indices of the listed cells, the surest first: ranked by the probability that the rate is more than
/// twice the fleet's and cut where the mean of 1 − P over the list would pass [`MOST_FALSE`].
///
/// Source: Bayesian false discovery rate (Newton and others, Biostatistics, 2004); the limit is the project's own.
///
/// ```
/// let listed = domain::repeats::listing::list(&[0.80, 0.99, 0.10, 0.95])?;
/// assert_eq!(listed, [1, 3]); // (0.01 + 0.05)/2 ≤ 0.08 < (0.01 + 0.05 + 0.20)/3
/// # Ok::<(), domain::repeats::RepeatsError>(())
/// ```
pub fn list(probabilities: &[f64]) -> Result<Vec<usize>, RepeatsError> {
    check_probabilities(probabilities)?;
    let mut ranked: Vec<usize> = (0..probabilities.len()).collect();
    ranked.sort_by(|a, b| probabilities[*b].total_cmp(&probabilities[*a]));
    let mut doubt = 0.0;
    let listed = ranked
        .iter()
        .zip(1_u32..)
        .take_while(|(index, place)| {
            doubt += 1.0 - probabilities[**index];
            doubt / f64::from(*place) <= MOST_FALSE
        })
        .count();
    ranked.truncate(listed);
    Ok(ranked)
}

/// Benjamini and Hochberg's adjusted p-value for each p-value: the smallest false discovery rate at
/// which it would be rejected. Against an identical fleet, in which no kitchen differs.
///
/// Source: Benjamini and Hochberg, Journal of the Royal Statistical Society B, 1995.
pub fn benjamini_hochberg(p: &[f64]) -> Result<Vec<f64>, RepeatsError> {
    check_probabilities(p)?;
    let m = p.len() as f64;
    let mut falling: Vec<usize> = (0..p.len()).collect();
    falling.sort_by(|a, b| p[*b].total_cmp(&p[*a]));
    let mut q = vec![1.0; p.len()];
    let mut least: f64 = 1.0;
    for (place, index) in falling.into_iter().enumerate() {
        least = least.min(p[index] * m / (m - place as f64));
        q[index] = least;
    }
    Ok(q)
}

fn check_probabilities(probabilities: &[f64]) -> Result<(), RepeatsError> {
    match probabilities.iter().find(|p| !(0.0..=1.0).contains(*p)) {
        Some(&actual) => {
            let (name, allowed) = ("a probability", "from 0 to 1");
            Err(RepeatsError::Parameter { name, allowed, actual })
        }
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_sure_gives_an_empty_list_and_bad_probabilities_an_error() {
        assert_eq!(list(&[0.5, 0.9]).unwrap(), Vec::<usize>::new());
        assert_eq!(list(&[]).unwrap(), Vec::<usize>::new());
        assert!(list(&[f64::NAN]).is_err() && benjamini_hochberg(&[1.2]).is_err());
    }

    #[test]
    fn adjusted_values_rise_with_the_p_values() {
        let q = benjamini_hochberg(&[0.04, 0.01, 0.03, 0.9]).unwrap();
        for (q, expected) in q.into_iter().zip([0.16 / 3.0, 0.04, 0.16 / 3.0, 0.9]) {
            assert!((q - expected).abs() < 1e-15, "{q}");
        }
    }
}
