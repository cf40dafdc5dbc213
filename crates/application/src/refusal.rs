//! Why a use case was not carried out, in words that say what would be right.

use domain::role::{Role, Scope};
use domain::work::Missing;
use store::StoreError;

/// One thing that is wrong with what was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// JSON Pointer (RFC 6901) into the body.
    pub pointer: String,
    pub detail: String,
    /// Where what would be right is found; a door says how to get there.
    pub listed: Option<Listed>,
}

/// A list of what there is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Listed {
    Models,
    Procedures,
    Faults,
}

impl Fault {
    pub fn at(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self { pointer: pointer.into(), detail: detail.into(), listed: None }
    }

    /// As [`Self::at`], of a name that a list has not.
    pub fn not_listed(pointer: impl Into<String>, detail: impl Into<String>, listed: Listed) -> Self {
        Self { listed: Some(listed), ..Self::at(pointer, detail) }
    }
}

impl From<domain::violation::Violation> for Fault {
    fn from(violation: domain::violation::Violation) -> Self {
        Self::at(violation.pointer, violation.detail)
    }
}

#[derive(Debug, thiserror::Error)]
pub enum Refusal {
    #[error("the token lacks the scope {needed}")]
    InsufficientScope { needed: Scope },
    #[error("a {role} may not do this; it takes one of {}", .allowed.iter().map(|role| role.word()).collect::<Vec<_>>().join(", "))]
    WrongRole { role: Role, allowed: &'static [Role] },
    #[error("there is no such {what}")]
    NotFound { what: &'static str },
    #[error("another {what} was created with this id; make a new id, or send the same body again")]
    IdTaken { what: &'static str },
    #[error("{detail}")]
    Conflict { detail: String },
    /// A move of an order that has to wait for these.
    #[error("not allowed now; what is missing: {}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Missing(Vec<Missing>),
    /// A move between states that is not allowed now, and what is missing for it.
    #[error("{detail}")]
    NotNow { detail: String, missing: Vec<String> },
    #[error(
        "somebody changed the {what} in the meantime; read it again and repeat the change on version {current}"
    )]
    Stale { what: &'static str, current: i64 },
    #[error("{} fault(s) in what was sent", .0.len())]
    Invalid(Vec<Fault>),
    #[error("the same request is still running; wait and repeat it")]
    KeyBusy,
    #[error("the key of this request was used for another one; take a new key")]
    KeyUsedForAnother,
    #[error("{0}")]
    Internal(String),
    #[error(transparent)]
    Store(StoreError),
}

impl Refusal {
    pub fn invalid(pointer: impl Into<String>, detail: impl Into<String>) -> Self {
        Self::Invalid(vec![Fault::at(pointer, detail)])
    }

    /// Whether it says what the caller could do otherwise; the rest is a failure of ours.
    pub fn is_for_the_caller(&self) -> bool {
        !matches!(self, Self::Internal(_) | Self::Store(_))
    }

    /// Whether the same may well go through a little later: the database cannot be reached now, or another request is under way.
    pub fn is_passing(&self) -> bool {
        matches!(self, Self::Store(StoreError::Unavailable(_)) | Self::KeyBusy)
    }

    /// Refuses if there is any fault.
    pub fn unless_faultless(faults: Vec<Fault>) -> Result<(), Self> {
        if faults.is_empty() { Ok(()) } else { Err(Self::Invalid(faults)) }
    }
}

impl From<StoreError> for Refusal {
    fn from(error: StoreError) -> Self {
        match &error {
            StoreError::Duplicate { constraint } => match explain(DUPLICATES, constraint) {
                Some((_, detail)) => Self::Conflict { detail: detail.to_owned() },
                None => Self::Store(error),
            },
            StoreError::Dangling { constraint } => match explain(DANGLING, constraint) {
                Some((pointer, detail)) => Self::invalid(pointer, detail),
                None => Self::Store(error),
            },
            _ => Self::Store(error),
        }
    }
}

type Explanation = (&'static str, &'static str, &'static str);

fn explain(table: &[Explanation], constraint: &str) -> Option<(&'static str, &'static str)> {
    table.iter().find(|row| row.0 == constraint).map(|row| (row.1, row.2))
}

/// Constraint, pointer, what a client is told when the constraint refuses a second one.
const DUPLICATES: &[Explanation] = &[
    ("customer_external_id_key", "/external_id", "another customer has this external_id"),
    ("part_number_key", "/number", "another part has this number"),
    ("branch_name_key", "/name", "another branch has this name"),
    ("sign_in_name", "/name", "somebody else signs in by this name; choose another"),
    ("site_external_id_key", "/external_id", "another site has this external_id"),
    ("appliance_serial", "/serial", "another appliance of this model has this serial number; search for it"),
    ("waiting_open", "/reason", "the order waits for this already; end that first"),
    ("learning_pkey", "", "another knowledge version is being learned; wait for its end"),
    ("learning_one_at_a_time", "", "another knowledge version is being learned; wait for its end"),
];

/// Constraint, pointer, what a client is told when the constraint finds nothing to point at.
const DANGLING: &[Explanation] = &[
    ("site_customer_id_fkey", "/customer_id", "no customer has this id"),
    ("contact_customer_id_fkey", "/customer_id", "no customer has this id"),
    ("contact_site_id_fkey", "/site_id", "no site has this id"),
    ("part_fit_position_fkey", "/fits", "names a position that is not in the list of positions"),
    ("site_branch_id_fkey", "/branch_id", "no branch has this id"),
    ("appliance_site_id_fkey", "/site_id", "no site has this id"),
    ("appliance_model_key_model_version_fkey", "/model/key", "no model has this key and version"),
    ("finding_position_fkey", "/position", "is not in the list of positions"),
    ("finding_failure_mode_fkey", "/failure_mode", "is not in the company's list of failure modes"),
    ("finding_mechanism_fkey", "/mechanism", "is not in the company's list of mechanisms"),
    ("finding_cause_fkey", "/cause", "is not in the company's list of causes"),
    ("finding_fault_fkey", "/fault", "there is no such version of a fault"),
    (
        "finding_test_run_run_fkey",
        "/test_run_ids",
        "names a test run that is not kept, or one of another machine",
    ),
    ("action_taken_position_fkey", "/position", "is not in the list of positions"),
    ("action_taken_action_fkey", "/action", "is not in the company's list of actions"),
    ("part_line_finding_fkey", "/finding_id", "the order has no such finding"),
    ("part_line_position_fkey", "/position", "is not in the list of positions"),
    ("approval_contact_id_fkey", "/contact_id", "no contact has this id"),
    ("call_site_id_fkey", "/site_id", "no site has this id"),
    ("work_order_site_id_fkey", "/site_id", "no site has this id"),
    ("work_order_call_id_fkey", "/call_id", "no call has this id"),
    ("work_order_signed_off_by_fkey", "/signed_off_by", "no contact has this id"),
    ("symptom_code_fkey", "/symptoms", "holds a symptom that is not in the company's list"),
    ("known_good_removal_reading_fkey", "/step", "the test run has no reading of this step"),
];
