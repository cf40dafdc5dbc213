//! How a list of terms is made: an enumeration with a key and a description for each entry.

/// One entry of a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Term {
    pub key: &'static str,
    pub description: &'static str,
}

/// One list by name. A company may add its own entries to some lists; the others are closed, because
/// the computation depends on each of their entries.
#[derive(Debug, Clone, Copy)]
pub struct List {
    pub name: &'static str,
    pub may_be_extended: bool,
    pub terms: &'static [Term],
}

/// A key that is not in the list.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{key}' is no {list}; one of: {known}")]
pub struct UnknownTerm {
    pub list: &'static str,
    pub key: String,
    pub known: String,
}

macro_rules! terms {
    ($(#[$doc:meta])* $name:ident is $list:literal { $($variant:ident $key:literal $description:literal)+ }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        pub enum $name {
            $(#[doc = $description] #[serde(rename = $key)] $variant,)+
        }

        impl $name {
            pub const ALL: &[Self] = &[$(Self::$variant),+];
            pub const TERMS: &[$crate::vocabulary::Term] =
                &[$($crate::vocabulary::Term { key: $key, description: $description }),+];

            pub const fn key(self) -> &'static str {
                Self::TERMS[self as usize].key
            }

            pub const fn description(self) -> &'static str {
                Self::TERMS[self as usize].description
            }
        }

        impl std::str::FromStr for $name {
            type Err = $crate::vocabulary::UnknownTerm;

            fn from_str(key: &str) -> Result<Self, Self::Err> {
                Self::ALL.iter().copied().find(|term| term.key() == key).ok_or_else(|| {
                    let known: Vec<_> = Self::TERMS.iter().map(|term| term.key).collect();
                    $crate::vocabulary::UnknownTerm { list: $list, key: key.into(), known: known.join(", ") }
                })
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                formatter.write_str(self.key())
            }
        }
    };
}

pub(crate) use terms;
