//! Random numbers that are the same in every run.

/// Steele's splitmix64: a fixed sequence for each seed.
pub struct Uniform(pub u64);

impl Uniform {
    /// In (0, 1).
    pub fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (((z ^ (z >> 31)) >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    pub fn poisson(&mut self, mean: f64) -> u32 {
        let (mut n, mut term, u) = (0, (-mean).exp(), self.next());
        let mut reached = term;
        while reached < u && n < 1000 {
            n += 1;
            term *= mean / f64::from(n);
            reached += term;
        }
        n
    }
}
