//! Closed lists whose members are stored and sent as words.

/// Why a text is no member of a closed list.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("is one of {}", .accepted.join(", "))]
pub struct NotListed {
    pub accepted: &'static [&'static str],
}

/// A closed list whose members are stored and sent as words: `word_list! { /// doc pub enum X { A = "a" } }`.
#[macro_export]
macro_rules! word_list {
    ($(#[$doc:meta])* pub enum $name:ident { $($(#[$member_doc:meta])* $member:ident = $word:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Deserialize)]
        #[serde(try_from = "String")]
        pub enum $name { $($(#[$member_doc])* $member),+ }

        impl $name {
            pub const ALL: &'static [Self] = &[$(Self::$member),+];
            pub const WORDS: &'static [&'static str] = &[$($word),+];

            pub fn word(self) -> &'static str {
                match self { $(Self::$member => $word),+ }
            }
        }

        impl std::str::FromStr for $name {
            type Err = $crate::word_list::NotListed;

            fn from_str(word: &str) -> Result<Self, Self::Err> {
                match word {
                    $($word => Ok(Self::$member),)+
                    _ => Err($crate::word_list::NotListed { accepted: Self::WORDS }),
                }
            }
        }

        impl TryFrom<String> for $name {
            type Error = $crate::word_list::NotListed;

            fn try_from(word: String) -> Result<Self, Self::Error> {
                word.parse()
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str(self.word())
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                formatter.write_str(self.word())
            }
        }
    };
}
