//! Randomness that is the same everywhere: ChaCha with eight rounds, seeded by a number and a stream,
//! and functions of `libm`, whose results do not depend on the platform's mathematics library.

use domain::time::Timestamp;
use rand::rngs::ChaCha8Rng;
use rand::{RngExt as _, SeedableRng as _};
use rand_distr::{Distribution as _, Exp1, Gamma, Poisson, StandardNormal};
use uuid::Uuid;

/// One stream of chance. Streams of one seed are independent, so that a branch of the company, or a
/// kitchen of a planted fleet, does not change when another is added.
#[derive(Debug)]
pub struct Random(ChaCha8Rng);

impl Random {
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(stream);
        Self(generator)
    }

    /// Uniform on [0, 1).
    pub fn uniform(&mut self) -> f64 {
        self.0.random()
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Below `bound`, which must not be zero.
    pub fn below(&mut self, bound: usize) -> usize {
        ((self.uniform() * bound as f64) as usize).min(bound - 1)
    }

    /// As [`Random::below`], for days, hours and minutes.
    pub fn whole(&mut self, bound: i64) -> i64 {
        ((bound as f64 * self.uniform()) as i64).min(bound - 1)
    }

    pub fn chance(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    pub fn normal(&mut self, mean: f64, deviation: f64) -> f64 {
        let z: f64 = StandardNormal.sample(&mut self.0);
        mean + deviation * z
    }

    /// With median 1 and `deviation` on the log scale.
    pub fn factor(&mut self, deviation: f64) -> f64 {
        libm::exp(self.normal(0.0, deviation))
    }

    pub fn exponential(&mut self) -> f64 {
        Exp1.sample(&mut self.0)
    }

    /// Gamma with mean 1; a shape that is not positive gives 1 (no spread).
    pub fn gamma_of_mean_one(&mut self, shape: f64) -> f64 {
        Gamma::new(shape, 1.0 / shape).map_or(1.0, |gamma| gamma.sample(&mut self.0))
    }

    /// A count; a mean that is not positive gives none.
    pub fn poisson(&mut self, mean: f64) -> u32 {
        Poisson::new(mean).map_or(0, |poisson| poisson.sample(&mut self.0) as u32)
    }

    pub fn pick<'a, T>(&mut self, choices: &'a [T]) -> &'a T {
        &choices[self.below(choices.len())]
    }

    /// The index of one of `weights`, with a probability in proportion to it.
    pub fn weighted(&mut self, weights: &[f64]) -> usize {
        let mut left = self.uniform() * weights.iter().sum::<f64>();
        for (index, weight) in weights.iter().enumerate() {
            left -= weight;
            if left < 0.0 {
                return index;
            }
        }
        weights.len().saturating_sub(1)
    }

    /// An id that could have been made at that time, by RFC 9562, 5.7.
    pub fn id<Id: TryFrom<Uuid>>(&mut self, made_at: Timestamp) -> Id {
        let milliseconds = made_at.instant().timestamp_millis().unsigned_abs();
        let tail: [u8; 10] = self.0.random();
        match Id::try_from(uuid::Builder::from_unix_timestamp_millis(milliseconds, &tail).into_uuid()) {
            Ok(id) => id,
            Err(_) => unreachable!("a UUID built as version 7 is of version 7"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::id::TestRunId;

    /// RFC 8439's generator fixes the bytes; these values fix how this crate turns them into numbers.
    #[test]
    fn a_seed_gives_the_same_numbers_for_ever() {
        let mut random = Random::new(7, 3);
        let drawn: Vec<_> = (0..4).map(|_| random.uniform()).collect();
        let mut again = Random::new(7, 3);
        assert_eq!(drawn, (0..4).map(|_| again.uniform()).collect::<Vec<_>>());
        assert!((drawn[0] - Random::new(7, 4).uniform()).abs() > 1e-9, "another stream is another sequence");
    }

    #[test]
    fn moments_are_those_asked_for() {
        let mut random = Random::new(1, 0);
        let n = 40_000;
        let mean = |draw: &mut dyn FnMut() -> f64| (0..n).map(|_| draw()).sum::<f64>() / f64::from(n);
        assert!((mean(&mut || random.normal(5.0, 2.0)) - 5.0).abs() < 0.05);
        assert!((mean(&mut || random.gamma_of_mean_one(4.0)) - 1.0).abs() < 0.02);
        assert!((mean(&mut || f64::from(random.poisson(2.5))) - 2.5).abs() < 0.05);
        assert!((mean(&mut || random.weighted(&[1.0, 0.0, 3.0]) as f64) - 1.5).abs() < 0.03);
        assert!((random.gamma_of_mean_one(0.0) - 1.0).abs() < 1e-12);
        assert_eq!(random.poisson(-1.0), 0);
    }

    #[test]
    fn ids_carry_their_time() {
        let at: Timestamp = "2024-05-06T07:08:09Z".parse().unwrap();
        let id: TestRunId = Random::new(1, 1).id(at);
        assert!(id.to_string().starts_with(&format!("{:012x}", at.instant().timestamp_millis())[..8]));
    }
}
