//! How hard a water is, in three words.

use crate::word_list;

word_list! {
    /// The ranges that a German household reads on its water bill (Wasch- und Reinigungsmittelgesetz of 2007, section 9).
    pub enum HardnessBand {
        /// Below 1.5 mmol/L of calcium and magnesium.
        Soft = "soft",
        /// From 1.5 to 2.5 mmol/L.
        Medium = "medium",
        /// Above 2.5 mmol/L.
        Hard = "hard",
    }
}

impl HardnessBand {
    /// Of a total hardness in mmol/L.
    pub fn of(millimoles_per_litre: f64) -> Self {
        match millimoles_per_litre {
            hardness if hardness < 1.5 => Self::Soft,
            hardness if hardness <= 2.5 => Self::Medium,
            _ => Self::Hard,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::HardnessBand::{self, Hard, Medium, Soft};

    /// The limits as section 9 of the act states them: less than 1.5, from 1.5 to 2.5, more than 2.5 mmol/L.
    #[test]
    fn the_bands_end_where_the_act_says() {
        let bands = [0.1, 1.49, 1.5, 2.5, 2.51, 6.0].map(HardnessBand::of);
        assert_eq!(bands, [Soft, Soft, Medium, Medium, Hard, Hard]);
    }
}
