//! Who somebody is to the service company, and what a token may be used for.

use crate::word_list;

word_list! {
    /// What somebody does in the service company.
    pub enum Role {
        Technician = "technician",
        Dispatcher = "dispatcher",
        Manager = "manager",
        Administrator = "administrator",
        /// Another program: finance, inventory.
        Integration = "integration",
    }
}

word_list! {
    /// What a token may be used for, within what its person's role allows.
    pub enum Scope {
        Read = "read",
        Write = "write",
        /// People, tokens, the catalogue.
        Administer = "administer",
    }
}
