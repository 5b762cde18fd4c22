//! Closed sets of words.

/// Makes a closed set of words: an enum, each variant with its one spelling in JSON and on the page.
#[macro_export]
macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, ::serde::Serialize, ::serde::Deserialize)]
        #[allow(missing_docs)]
        pub enum $name { $(#[serde(rename = $word)] $variant),+ }
        impl $name {
            /// Every word of the set.
            pub const ALL: &'static [$name] = &[$($name::$variant),+];
            /// Returns the word as it is spelled.
            pub fn word(self) -> &'static str { match self { $($name::$variant => $word),+ } }
            /// Finds the variant by its spelling.
            pub fn from_word(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|v| v.word() == word)
            }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { f.write_str(self.word()) }
        }
    };
}
