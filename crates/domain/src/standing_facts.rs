//! What holds of a kitchen whoever comes: told once, read before every visit.

use std::collections::BTreeMap;

use crate::text::Words;
use crate::word_list;

word_list! {
    /// What one has to know before one goes to a kitchen. Stands in the order in which one needs it.
    pub enum StandingFact {
        /// Where to park and unload.
        Parking = "parking",
        /// Who lets one in, and where the key is.
        GettingIn = "getting_in",
        /// When the kitchen cannot be disturbed, or the machine cannot be spared.
        QuietHours = "quiet_hours",
        /// Where electricity, water, gas and steam are shut off.
        ShutOffs = "shut_offs",
        /// Who may sign for the work.
        WhoSigns = "who_signs",
        Other = "other",
    }
}

/// The facts that are known, in words.
pub type StandingFacts = BTreeMap<StandingFact, Words>;
